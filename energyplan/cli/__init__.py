"""The commands: parse, call one function, print."""

import atexit
import codecs
import gc
import io
import os
import sys
import unicodedata
from importlib import import_module
from typing import Annotated

import typer

from energyplan.base.errors import EnergyPlanError
from energyplan.cli.output import Grouped, Once

__all__ = ["GROUPS", "made", "main"]

#: Headings of the help, with the commands below them and where each is.
GROUPS = {
    "The day": {
        "report": "day.report",
        "power": "changes.power",
        "savings": "changes.savings",
        "batches": "changes.batches",
        "compare": "changes.compare",
        "spread": "changes.spread",
    },
    "The circuit": {"circuit": "day.circuit", "sheet": "day.sheet", "unattended": "day.unattended"},
    "The money": {"starts": "prices.starts", "tariff": "prices.tariffs"},
    "The brewery": {"new": "schema.new", "brewed": "learn.brewed", "calibrate": "learn.calibrate"},
    "More": {"app": "day.run_app", "explain": "schema.explain", "schema": "schema.schema"},
}


def made(asked: str | None = None) -> typer.Typer:
    """The commands; where one of them is asked for, that one alone: the modules of the others are not read."""
    app = typer.Typer(
        name="energyplan", cls=Grouped, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None
    )
    app.callback()(_before)
    everything = [(heading, *one) for heading, commands in GROUPS.items() for one in commands.items()]
    for heading, name, place in [one for one in everything if one[1] == asked] or everything:
        module, _, function = place.partition(".")
        command = getattr(import_module(f"energyplan.cli.{module}"), function)
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=name, rich_help_panel=heading)
        else:
            app.command(name, cls=Once, rich_help_panel=heading)(command)
    return app


def _version(asked: bool) -> None:  # noqa: FBT001 - called by the option
    if asked:
        from energyplan.base.constants import VERSION

        sys.stdout.write(f"energyplan {VERSION}\n")
        raise typer.Exit


def _before(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Plan what a brew day on an electric vessel takes: kWh, money, amps, and the power for each step."""


_PLAIN = {
    "°": " ", "Ω": "ohm", "−": "-", "–": "-", "—": "-", "─": "-", "·": ".", "•": "*", "●": "*", "○": "o", "×": "x",
    "±": "+/-", "→": "->", "≤": "<=", "≥": ">=", "“": '"', "”": '"', "€": "EUR", "£": "GBP", "µ": "u", "μ": "u",
    "░": ".", "▒": ":", "▓": "+", "█": "#",
}  # fmt: skip


def _plain(error: UnicodeError) -> tuple[str, int]:
    """Characters for a terminal or a pipe that does not have the real ones: letters without accents, else "?"."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    told = []
    for one in error.object[error.start : error.end]:
        bare = unicodedata.normalize("NFKD", one)[:1]
        told.append(_PLAIN.get(one) or (bare if bare.isascii() else "?"))
    return "".join(told), error.end


def main() -> None:
    """Run a command; a mistake in the input ends in one message on stderr and exit 2."""
    # The matrices are small: threads of numpy's algebra would wait for each other longer than they compute.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # No plug-in of anybody's has a part in reading a plan; to look for one means to read all that is installed.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # A command lives for a moment: looking for cycles of garbage takes longer than the garbage takes room. At its end
    # everything goes at once, which leaves nothing to look for either.
    gc.disable()
    atexit.register(gc.freeze)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            codecs.register_error("energyplan.plain", _plain)
            stream.reconfigure(errors="energyplan.plain")
    try:
        made(next(iter(sys.argv[1:]), None))()
    except EnergyPlanError as error:
        from energyplan.base.kinds import Style
        from energyplan.base.sentence import refusal

        asks_us = "--units us" in " ".join(sys.argv).replace("--units=", "--units ")
        sys.stderr.write(f"{refusal(error, Style('us' if asks_us else 'metric'))}\n")
        sys.exit(2)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    finally:
        gc.enable()
