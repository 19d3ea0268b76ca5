"""The command that goes through what must hold before a vessel heats with nobody there."""

import re
import sys
from typing import Annotated

import typer

from energyplan.base.errors import PlanError
from energyplan.cli.options import JsonOption, PlanArgument, StartOption, StrictOption, UnitsOption
from energyplan.cli.output import When, tell

__all__ = ["unattended"]

HOW = 'Answer with --yes WORD or --no WORD, the limit with --limit "3 kWh".'
YesOption = Annotated[list[str] | None, typer.Option("--yes", help="A fact that holds, by its word; as often as due.")]
NoOption = Annotated[list[str] | None, typer.Option("--no", help="A fact that does not hold, by its word.")]
LimitOption = Annotated[str | None, typer.Option("--limit", help='After what the current ends, such as "3 kWh".')]
TopOption = Annotated[str | None, typer.Option("--element-top", help='How high the elements reach, such as "6 cm".')]


def unattended(
    plan: PlanArgument,
    *,
    start: StartOption = None,
    yes: YesOption = None,
    no: NoOption = None,
    limit: LimitOption = None,
    element_top: TopOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """What must hold before it heats with nobody there; refuses while a fact is unknown."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.unattended import FACT_KEYS, Said, may_start_unattended
    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan
    from energyplan.tariffs.clock import zone_of
    from energyplan.telling.unattended import unattended_told

    said = Said(yes=frozenset(yes or ()), no=frozenset(no or ()), limit_kwh=None if limit is None else _kwh(limit))
    read = read_plan(plan)
    if element_top is not None:
        from energyplan.base.units import LENGTH, read_quantity

        top_m = read_quantity(element_top, LENGTH)
        read = read.model_copy(update={"vessel": read.vessel.model_copy(update={"element_top_m": top_m})})
    zone = zone_name(read, None)
    moment = When(start).resolve(read, zone)
    found = may_start_unattended(simulate(read), said, start=moment, zone=zone_of(zone))
    tell(unattended_told(found, moment, zone), units, as_json=as_json)
    if not as_json and any(fact.key in FACT_KEYS for fact in found.reasons):
        sys.stdout.write(f"{HOW}\n")
    if strict and found.result == "refuse":
        raise typer.Exit(1)


def _kwh(text: str) -> float:
    """Read a limit in kWh."""
    match = re.fullmatch(r"\s*(\d{1,4}(?:\.\d+)?)\s*kWh\s*", text)
    if match is None:
        raise PlanError(f'--limit {text}: expected an energy such as "3 kWh"')
    return float(match[1])
