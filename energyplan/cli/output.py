"""What commands share: arguments and options, reading the files, printing one face, and how help lists them."""

import contextlib
import json
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperCommand, TyperGroup

from energyplan.base.errors import EnergyPlanError, PlanError, TariffError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from zoneinfo import ZoneInfo

    from rich.console import RenderableType

    from energyplan.advice.answer import Answer
    from energyplan.advice.learned import Learned
    from energyplan.advice.pricing import Pricing
    from energyplan.advice.starts import Goal
    from energyplan.base.kinds import Style
    from energyplan.plan.model import Plan
    from energyplan.tariffs.tariff import Tariff
    from energyplan.telling.told import Told

__all__ = [
    "AllOption",
    "Asked",
    "BoilOption",
    "CleanOption",
    "FinishOption",
    "ForceOption",
    "Grouped",
    "JsonOption",
    "MonthOption",
    "Once",
    "PlanArgument",
    "ShowOption",
    "StartOption",
    "StrictOption",
    "TariffOption",
    "UnitsName",
    "UnitsOption",
    "When",
    "WholeOption",
    "WriteOption",
    "answered",
    "keep",
    "needed_tariff",
    "plan_of",
    "show",
    "style_of",
    "tariff_of",
    "tell",
]

UnitsName = Literal["metric", "us"]


PlanArgument = Annotated[str, typer.Argument(help="Plan file, or a packaged plan: demo, lakeside.", metavar="PLAN")]


TariffOption = Annotated[str | None, typer.Option("--tariff", help="Tariff file, or a packaged one such as demo.")]


MonthOption = Annotated[
    float | None,
    typer.Option("--month-kwh", help="What the month has used so far, kWh; for a tariff with steps by it.", min=0.0),
]


StartOption = Annotated[str | None, typer.Option("--start", help="Local start, such as 2026-12-05T08:30.")]


FinishOption = Annotated[
    str | None, typer.Option("--finish-by", help="The vessel done by then, such as 2026-12-05T17:00.")
]


CleanOption = Annotated[
    str | None, typer.Option("--clean-by", help="All cleaned up by then, such as 2026-12-05T18:00.")
]


BoilOption = Annotated[
    str | None, typer.Option("--boil-at", help="The (first) boil begins then, such as 2026-12-05T13:00.")
]


UnitsOption = Annotated[UnitsName, typer.Option("--units", help="Units of the display.")]


AllOption = Annotated[bool, typer.Option("--all", help="All that there is to say, not just a screen.")]


JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]


StrictOption = Annotated[bool, typer.Option("--strict", help="Exit 1 if a finding is over.")]


WriteOption = Annotated[
    str | None,
    typer.Option(
        "--write",
        metavar="[FILE]",
        help="Change the plan where its values stand; with a FILE, write a changed copy there instead.",
    ),
]


ForceOption = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]


WholeOption = Annotated[bool, typer.Option("--all", help="All of it, not one screen.")]


ShowOption = Annotated[str | None, typer.Option("--show", help="Parts of it, such as clock,room.")]


NARROWEST = 60


COMES_AT = {"--start": "start", "--finish-by": "finish", "--boil-at": "boil", "--clean-by": "end of cleaning"}


GOALS: "dict[str, Goal]" = {"--finish-by": "finish", "--boil-at": "boil", "--clean-by": "clean"}


class When:
    """The start as it was asked for: at most one of four ways."""

    def __init__(
        self,
        start: str | None = None,
        finish_by: str | None = None,
        boil_at: str | None = None,
        clean_by: str | None = None,
    ) -> None:
        given = {"--start": start, "--finish-by": finish_by, "--boil-at": boil_at, "--clean-by": clean_by}
        self.asked = {name: text for name, text in given.items() if text is not None}
        if len(self.asked) > 1:
            raise PlanError(f"{' and '.join(self.asked)} contradict each other; give one of them")

    @property
    def day(self) -> date | None:
        """The day that is asked about; None if none is, or what was asked for is no date."""
        with contextlib.suppress(StopIteration, ValueError):
            return date.fromisoformat(next(iter(self.asked.values())).strip()[:10])
        return None

    def resolve(self, plan: "Plan", zone: str) -> datetime:
        """The start in UTC; the next full quarter of an hour if nothing was asked for."""
        from energyplan.advice.answer import next_quarter
        from energyplan.tariffs.clock import local_to_utc

        if not self.asked:
            return next_quarter(datetime.now(UTC))
        (name, text), *_ = self.asked.items()
        moment = local_to_utc(text, zone, what=COMES_AT[name])
        if name == "--start":
            return moment
        from energyplan.advice.starts import start_for
        from energyplan.day.brewday import simulate

        return start_for(simulate(plan), GOALS[name], moment)


def plan_of(name: str, month_kwh: float | None = None) -> "Plan":
    """Read a plan, with the month's use so far if it is given on the command line."""
    from energyplan.plan.file import read_plan
    from energyplan.plan.model import HouseSupply

    plan = read_plan(name)
    if month_kwh is None:
        return plan
    supply = (plan.supply or HouseSupply()).model_copy(update={"month_kwh_so_far": month_kwh})
    return plan.model_copy(update={"supply": supply})


class Asked:
    """A plan as a command was asked about it: with its tariff, on its clock, from its start."""

    def __init__(
        self, plan: str, tariff: str | None = None, when: When | None = None, *, month_kwh: float | None = None
    ) -> None:
        self.name, self.when, self.names_a_tariff = plan, when or When(), tariff is not None
        self.plan, self.tariff = plan_of(plan, month_kwh), tariff_of(tariff, plan, self.when.day)
        self.unpriced: TariffError | None = None  # why the brewery's own prices don't reach the day

    @property
    def zone(self) -> str:
        """Name of the clock on which it is told."""
        from energyplan.tariffs.tariff import zone_name

        return zone_name(self.plan.site, self.tariff)

    @property
    def clock(self) -> "ZoneInfo":
        """That clock."""
        from energyplan.tariffs.clock import zone_of

        return zone_of(self.zone)

    @cached_property
    def start(self) -> datetime:
        """The start that was asked for, in UTC."""
        return self.when.resolve(self.plan, self.zone)

    @property
    def learned(self) -> "Learned | None":
        """What the brewed days of its brewery teach; None if none is kept."""
        from energyplan.plan.file import read_plan_files

        files = read_plan_files(self.name)
        if not files.brewery.brewed:
            return None
        from energyplan.advice.brewery import kept_days
        from energyplan.advice.learned import learn

        return learn(files.plan, kept_days(files, self.zone).days)

    def pricing(self, *, any_start: bool = False) -> "Pricing | None":
        """Prices around the start; with ``any_start`` every start of that local day is up for choice.

        Where those of the brewery don't reach the day there are none, and `noted` says why; those that were named must.
        """
        if self.tariff is None:
            return None
        from energyplan.advice.pricing import pricing_of
        from energyplan.day.brewday import simulate

        day = simulate(self.plan)
        with self.reaching():
            found = pricing_of(self.plan, self.tariff, self.start, any_start=any_start, lasts_s=day.duration_s)
            found.cost(day)
            return found
        return None

    @contextlib.contextmanager
    def reaching(self) -> "Iterator[None]":
        """Go on without a cost where the brewery's own prices do not reach the day."""
        try:
            yield
        except TariffError as error:
            if self.names_a_tariff:
                raise
            self.unpriced = error

    def noted(self, told: "Told") -> "Told":
        """What is told, with what its money leaves open: the month's use under a tariff with steps, prices that end."""
        from energyplan.tariffs.tariff import of_the_month
        from energyplan.telling.prices import no_cost_sentences, with_month_note

        told = replace(told, sentences=(*told.sentences, *no_cost_sentences(self.unpriced)))
        return with_month_note(told, None if self.tariff is None else of_the_month(self.tariff, self.plan.supply))


def answered(plan: str, tariff: str | None, when: When, *, month_kwh: float | None = None) -> "Answer":
    """Read the files and answer them."""
    from energyplan.advice.answer import answer

    asked = Asked(plan, tariff, when, month_kwh=month_kwh)
    return answer(asked.plan, asked.tariff, asked.start, asked.learned)


def keep(plan: str, after: "Plan", write: str, *, force: bool) -> None:
    """Write a changed plan: without a name where its values stand, else a copy; say what was written."""
    from energyplan.plan.file import read_plan_files
    from energyplan.plan.writing import write_copy, write_plan

    files, target = read_plan_files(plan), Path(write)
    own = [file.path.resolve() for file in (files.own, files.shared) if file is not None and file.path is not None]
    if write and target.resolve() not in own:
        left_out = " and ".join(write_copy(files, after, target, force=force))
        sys.stderr.write(f"{write} written{left_out and f', without {left_out}, of which this day has no use'}\n")
        return
    if write and not force:
        raise PlanError(f"{write}: is the plan's own file; say --write alone to change it, or name another for a copy")
    changed = [str(path) for path in write_plan(files, after)]
    sys.stderr.write(f"{' and '.join(changed)} changed\n" if changed else "nothing to change\n")


def tariff_of(
    name: str | None, plan: str | None = None, near: date | None = None, *, month_kwh: float | None = None
) -> "Tariff | None":
    """Read a tariff if one is named, else the one of the plan's brewery, if it names one.

    A gap in it is named by a date from ``near`` on, the day that is asked about; without it from today on.
    """
    if name is None and plan is not None:
        from energyplan.plan.file import read_plan_files

        name = read_plan_files(plan).tariff
    if name is None:
        return None
    from energyplan.tariffs.tarifffile import load_tariff

    found = load_tariff(name, near=near or datetime.now(UTC).date())
    return found if month_kwh is None else replace(found, month_kwh_so_far=month_kwh)


def needed_tariff(name: str | None, plan: str, near: date | None = None) -> "Tariff":
    """Read the tariff that a command can't do without: the one named, else that of the plan's brewery."""
    tariff = tariff_of(name, plan, near)
    if tariff is None:
        raise TariffError("a tariff is needed: give --tariff FILE, or --tariff demo")
    return tariff


def style_of(units: UnitsName) -> "Style":
    """How the terminal writes in a unit system."""
    from energyplan.base.kinds import Style

    return Style(units)


def show(found: "RenderableType | dict[str, Any] | list[Any] | None") -> None:
    """Print a document as JSON, anything else as text."""
    if found is None or isinstance(found, dict | list):
        sys.stdout.write(json.dumps(found, allow_nan=False, indent=1) + "\n")
        return
    from rich.console import Console

    from energyplan.faces.terminal import trimmed

    console = Console(highlight=False, markup=False, emoji=False)
    console.print(trimmed(console, found, max(console.width, NARROWEST)), end="")


def tell(told: "Told", units: UnitsName, *, everything: bool = False, as_json: bool = False) -> None:
    """Print a telling: as JSON, or on the terminal without its parts, which ``everything`` adds."""
    if as_json:
        from energyplan.faces.frames import document

        show(document(told))
        return
    from energyplan.faces.terminal import terminal

    shown = told if everything else replace(told, parts=())
    show(terminal(shown, style_of(units), detail=int(everything)))
    if told.parts and not everything:
        from rich.text import Text

        titles = ", ".join(str(part.title) for part in told.parts)
        show(Text(f"With --all also: {titles}.", style="dim"))


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
