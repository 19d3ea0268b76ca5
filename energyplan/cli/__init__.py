"""The commands: parse, call one function, print."""

import atexit
import codecs
import gc
import io
import os
import sys
import unicodedata
from collections.abc import Callable
from typing import Annotated

import typer

from energyplan.base.errors import EnergyPlanError
from energyplan.cli.changes import batches, compare, power, savings, spread
from energyplan.cli.day import circuit, report, run_app, sheet, unattended
from energyplan.cli.learn import brewed, calibrate
from energyplan.cli.output import Grouped, Once
from energyplan.cli.prices import starts, tariffs
from energyplan.cli.schema import explain, new, schema

__all__ = ["app", "main"]

app = typer.Typer(
    name="energyplan",
    help="Plan what a brew day on an electric vessel takes: kWh, money, amps, and the power for each step.",
    cls=Grouped,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

GROUPS: dict[str, dict[str, Callable[..., None]]] = {
    "The day": {
        "report": report,
        "power": power,
        "savings": savings,
        "batches": batches,
        "compare": compare,
        "spread": spread,
    },
    "The circuit": {"circuit": circuit, "sheet": sheet, "unattended": unattended},
    "The money": {"starts": starts},
    "The brewery": {"new": new, "brewed": brewed, "calibrate": calibrate},
    "More": {"app": run_app, "explain": explain, "schema": schema},
}
for heading, commands in GROUPS.items():
    for name, command in commands.items():
        app.command(name, cls=Once, rich_help_panel=heading)(command)
app.add_typer(tariffs, name="tariff", rich_help_panel="The money")


def _version(asked: bool) -> None:  # noqa: FBT001 - called by the option
    if asked:
        from energyplan.base.constants import VERSION

        typer.echo(f"energyplan {VERSION}")
        raise typer.Exit


@app.callback()
def _before(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Plan what a brew day on an electric vessel takes: kWh, money, amps, and the power for each step."""


_PLAIN = {"°": " ", "Ω": "ohm", "−": "-", "–": "-", "·": ".", "×": "x", "±": "+/-", "→": "->", "€": "EUR", "µ": "u"}


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
        app()
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
