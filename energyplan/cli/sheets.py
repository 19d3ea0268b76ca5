"""The command that writes files to take along: sheet."""

import sys
from pathlib import Path
from typing import Annotated, Literal

import typer

from energyplan.cli.options import ForceOption, PlanArgument, StartOption, TariffOption, UnitsOption
from energyplan.cli.output import When, answered, display

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
    from energyplan.report.export import sheet_bytes

    check_place(output, force=force)
    found = answered(plan, tariff, When(start))
    content = sheet_bytes(found, output.name, show=display(units), paper=paper)
    write_new(output, content, force=force)
    sys.stderr.write(f"{output} written\n")
