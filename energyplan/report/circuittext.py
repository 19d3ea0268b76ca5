"""The circuit on the terminal and as JSON: findings, what would be enough, two days on one circuit."""

import dataclasses
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.answer import Answer
from energyplan.base.errors import PlanError
from energyplan.circuits.enough import Enough, LargestPower, enough, largest_power
from energyplan.circuits.findings import Finding
from energyplan.day.appliances import on_the_circuit
from energyplan.faces.charts.palette import SEVERITY_STYLES
from energyplan.report.plainvalues import plain
from energyplan.report.sentences import RATINGS_CAUTION, circuit_sentence
from energyplan.tariffs.clock import zone_of

if TYPE_CHECKING:
    from energyplan.circuits.stagger import Offset

__all__ = [
    "circuit_text",
    "enough_document",
    "enough_text",
    "house_document",
    "offset_document",
    "offset_text",
]


def circuit_text(answer: Answer, *, every: bool = False) -> RenderableType:
    """The circuit's findings, worst first; those that are ok in one line unless every one is wanted."""
    if answer.circuit is None:
        sentence = Text(circuit_sentence(answer))
        return Group(Text("Circuit", style="bold underline"), sentence, _finding_table(answer.findings, ()))
    checked = answer.circuit
    numbers = (
        f"{checked.peak_a:.1f} A with all elements on, {checked.longest_at_peak_min:.0f} min at the longest; "
        f"{checked.rms_60_min_a:.1f} A over the worst hour; {checked.voltage_drop_v:.1f} V "
        f"({checked.voltage_drop_frac:.1%}) lost in the leads."
    )
    told = [finding for finding in answer.findings if every or finding.severity != "ok"]
    fine = [finding for finding in answer.findings if finding not in told]
    return Group(Text("Circuit", style="bold underline"), Text(numbers), _finding_table(told, fine))


def house_document(answer: Answer) -> dict[str, Any] | None:
    """The day at the house's meter for JSON; None where neither contract nor peak charge was entered."""
    found = answer.house
    if found is None:
        return None
    ways = found.ways
    return {
        "base_load_w": found.house.base_w,
        "contract": plain(found.contract) if found.contract else None,
        "peak": plain(found.peak) if found.peak else None,
        "keeps_below": None if ways is None else plain(dataclasses.replace(ways, capped=None)),
        "findings": [dataclasses.asdict(finding) for finding in found.findings],
    }


def _finding_table(told: Iterable[Finding], fine: Iterable[Finding]) -> Table:
    table = Table.grid(padding=(0, 1, 0, 0))
    for finding in told:
        table.add_row(Text(finding.severity, style=SEVERITY_STYLES[finding.severity]), _finding(finding))
    if names := [finding.code.replace("_", " ") for finding in fine]:
        table.add_row(Text("ok"), Text(", ".join(names)))
    return table


def _finding(finding: Finding) -> Text:
    mend = f" {finding.mend.rstrip('.')}." if finding.mend else ""
    return Text.assemble(f"{finding.message}{mend} ", (f"[{finding.standard}]", "dim"))


def _sized(answer: Answer) -> tuple[Enough, LargestPower]:
    plan = answer.day.plan
    if plan.circuit is None:
        raise PlanError('the plan has no [circuit]; add at least voltage = "230 V"')
    loads = on_the_circuit(plan, answer.day.profiles)
    zone = zone_of(answer.zone)
    return (
        enough(loads, plan.circuit, plan.other_loads, answer.start, zone),
        largest_power(loads, plan.circuit, plan.other_loads, answer.start, zone),
    )


def enough_text(answer: Answer) -> RenderableType:
    """The smallest circuit for the plan, and the largest power for the circuit."""
    needs, most = _sized(answer)
    sentences = [_enough_sentence(needs), _most_sentence(most), RATINGS_CAUTION]
    return Group(Text("What would be enough", style="bold underline"), *(Text(sentence) for sentence in sentences))


def _enough_sentence(needs: Enough) -> str:
    if needs.breaker_a is None or needs.cable_mm2 is None:
        return f"For this day: {'; '.join(needs.reasons)}."
    outlets = f" and an outlet of {needs.outlet_a:g} A ({', '.join(needs.outlets)})" if needs.outlet_a else ""
    drop = f", losing {needs.voltage_drop_frac:.1%} on the way" if needs.voltage_drop_frac is not None else ""
    said = f"For this day: a {needs.breaker_a:g} A breaker on {needs.cable} cable{drop}{outlets}"
    return f"{said}; {'; '.join(needs.reasons)}."


def _most_sentence(most: LargestPower) -> str:
    if most.power_w is None:
        return f"The largest power is not known: {most.reason}."
    lasting = ""
    if most.lasting_power_w is not None and most.lasting_power_w < most.power_w:
        lasting = f", {most.lasting_power_w:.0f} W for 3 h and more"
    return f"This circuit takes elements of {most.power_w:.0f} W at a time{lasting}: {most.reason}."


def enough_document(answer: Answer) -> dict[str, Any]:
    """The same for ``circuit --json``."""
    needs, most = _sized(answer)
    return {
        "enough": dataclasses.asdict(needs),
        "largest_power": dataclasses.asdict(most),
        "house": house_document(answer),
    }


def _offset(first: Answer, second: Answer) -> "Offset":
    from energyplan.circuits.stagger import least_offset

    plan = first.day.plan
    if plan.circuit is None:
        raise PlanError("the first plan has no [circuit] to share")
    one, other = (on_the_circuit(answer.day.plan, answer.day.profiles) for answer in (first, second))
    return least_offset(one, other, plan.circuit, plan.other_loads, first.start, zone_of(first.zone))


def offset_text(first: Answer, second: Answer) -> RenderableType:
    """The least delay under which two days share the circuit of the first."""
    from energyplan.circuits.stagger import equal_caps_w

    found, plan = _offset(first, second), first.day.plan
    lines = [Text(f"{found.reason[:1].upper()}{found.reason[1:]}.")]
    if found.offset_min is not None:
        starts = first.clock(found.offset_min * 60)
        said = f"Start the second vessel {found.offset_min} min after the first, at {starts:%H:%M}."
        lines.insert(0, Text(said, style="bold"))
    if plan.circuit is not None:
        beside_a = sum(load.power_w for load in plan.other_loads) / plan.circuit.voltage_v
        cap_w = equal_caps_w(plan.circuit, 2, beside_a)
        lines.append(
            Text(
                f"With no delay each may have elements of {cap_w:.0f} W on at a time; only switched elements keep to "
                "that, pulsed ones draw their full current whatever the cap."
            )
        )
    return Group(*lines, Text(RATINGS_CAUTION, style="dim"))


def offset_document(first: Answer, second: Answer) -> dict[str, Any]:
    """The same for ``circuit --json``."""
    return {"offset": dataclasses.asdict(_offset(first, second))}
