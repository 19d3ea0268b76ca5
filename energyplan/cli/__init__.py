"""The commands: parse, call one function, print."""

import gc
import io
import os
import sys

import typer

from energyplan.base.errors import EnergyPlanError
from energyplan.cli.batches import batches
from energyplan.cli.changes import compare, savings, spread
from energyplan.cli.day import circuit, new, report, run_app
from energyplan.cli.explain import explain
from energyplan.cli.learn import calibrate
from energyplan.cli.powers import power
from energyplan.cli.prices import starts, tariffs
from energyplan.cli.sheets import sheet
from energyplan.cli.unattended import unattended

__all__ = ["app", "main"]

app = typer.Typer(
    name="energyplan",
    help="Plan what a brew day on an electric vessel takes: kWh, money, amps, and the power for each step.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)
app.command()(report)
app.command()(circuit)
app.command()(power)
app.command()(starts)
app.command()(savings)
app.command()(spread)
app.command()(compare)
app.command()(batches)
app.command()(calibrate)
app.command()(sheet)
app.command()(unattended)
app.command()(new)
app.command("app")(run_app)
app.command()(explain)
app.add_typer(tariffs, name="tariff")


def main() -> None:
    """Run a command; a mistake in the input ends in one message on stderr and exit 2."""
    # The matrices are small: threads of numpy's algebra would wait for each other longer than they compute.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A command lives for a moment: looking for cycles of garbage takes longer than the garbage takes room.
    gc.disable()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a pipe that knows no arrows and degrees gets question marks
    try:
        app()
    except EnergyPlanError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(2)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    finally:
        gc.enable()
