"""Arguments and options that several commands share."""

from typing import Annotated, Literal

import typer

__all__ = [
    "AllOption",
    "BoilOption",
    "CleanOption",
    "FinishOption",
    "ForceOption",
    "JsonOption",
    "MonthOption",
    "PlanArgument",
    "ShowOption",
    "StartOption",
    "StrictOption",
    "TariffOption",
    "UnitsName",
    "UnitsOption",
    "WholeOption",
    "WriteOption",
]

UnitsName = Literal["metric", "us"]

PlanArgument = Annotated[str, typer.Argument(help="Plan file, or a packaged plan: demo, lakeside.", metavar="PLAN")]
TariffOption = Annotated[str | None, typer.Option("--tariff", help="Tariff file, or a packaged one such as demo.")]
MonthOption = Annotated[
    float | None,
    typer.Option("--month-kwh", help="What the month has used so far, kWh; for a tariff with steps by it.", min=0.0),
]
StartOption = Annotated[str | None, typer.Option("--start", help="Local start, such as 2026-12-05T08:30.")]
FinishOption = Annotated[str | None, typer.Option("--finish-by", help="Local time by which the vessel must be done.")]
CleanOption = Annotated[str | None, typer.Option("--clean-by", help="Local time by which all is cleaned up as well.")]
BoilOption = Annotated[str | None, typer.Option("--boil-at", help="Local time at which the boil should begin.")]
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
