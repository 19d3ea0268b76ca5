"""How commands are listed and read: in groups by what they are about; no option twice."""

from typing import Any

from typer.core import TyperCommand, TyperGroup

from energyplan.base.errors import EnergyPlanError

__all__ = ["Grouped", "Once"]

_LONGEST = 200  # characters of a command's first sentence


class Grouped(TyperGroup):
    """A group of commands whose help lists them under the headings that they were given."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands, heading by heading, in the order in which they were added."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for name in self.list_commands(ctx):
            command = self.get_command(ctx, name)
            if command is not None and not command.hidden:
                heading = getattr(command, "rich_help_panel", None)
                said = command.get_short_help_str(_LONGEST)
                groups.setdefault(heading if isinstance(heading, str) else "Commands", []).append((name, said))
        widest = max((len(name) for rows in groups.values() for name, _ in rows), default=0)
        for heading, rows in groups.items():
            with formatter.section(heading):
                formatter.write_dl([(name.ljust(widest), said) for name, said in rows])


class Once(TyperCommand):
    """A command that takes each option once, unless it is meant to be said several times."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the words of a command line; the same option twice is refused, a value in [brackets] may be left out."""
        given = [word.partition("=")[0] for word in args[: args.index("--") if "--" in args else None]]
        for parameter in self.params:
            names = [*parameter.opts, *parameter.secondary_opts] if getattr(parameter, "opts", None) else []
            said = [word for word in given if word in names and word.startswith("-")]
            if len(said) > 1 and not getattr(parameter, "multiple", False):
                raise EnergyPlanError(f"{said[0]} is given {len(said)} times; give it once")
            if str(getattr(parameter, "metavar", "")).startswith("[") and said:
                args = _with_value(args, said[0])
        return super().parse_args(ctx, args)


def _with_value(args: list[str], option: str) -> list[str]:
    """The words with an empty value for an option that stands without one."""
    place = args.index(option) + 1 if option in args else 0
    stands_alone = place and (place == len(args) or args[place].startswith("-"))
    return [*args[:place], "", *args[place:]] if stands_alone else args
