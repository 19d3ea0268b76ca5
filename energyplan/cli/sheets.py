"""The command that writes files to take along: sheet."""

import sys
from pathlib import Path
from typing import Annotated, Literal

import typer

from energyplan.cli.options import ForceOption, PlanArgument, StartOption, TariffOption, UnitsOption
from energyplan.cli.output import When, answered, style_of

__all__ = ["sheet"]


def sheet(
    plan: PlanArgument,
    *,
    output: Annotated[Path, typer.Option("-o", "--output", help="File to write: .pdf .ics .csv .png .svg")],
    tariff: TariffOption = None,
    start: StartOption = None,
    paper: Annotated[Literal["a4", "us-letter"], typer.Option(help="Paper of a PDF.")] = "a4",
    units: UnitsOption = "metric",
    force: ForceOption = False,
) -> None:
    """A page for the electrician and one for the brew day; a calendar, a table, a picture."""
    from energyplan.base.files import check_place, write_new
    from energyplan.faces.files import Making, ending_of, file_bytes
    from energyplan.telling.files import file_told

    check_place(output, force=force)
    ending = ending_of(output.name)
    found = answered(plan, tariff, When(start))
    content = file_bytes(file_told(found, ending), ending, Making(style=style_of(units), paper=paper))
    write_new(output, content, force=force)
    sys.stderr.write(f"{output} written\n")
