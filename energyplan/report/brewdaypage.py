"""What the page for the brew day says: the clock, the powers to set, kWh and cost, room for the meter's readings."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import SWITCH_ON
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.money import currency_decimals, shown_parts
from energyplan.base.units import Display
from energyplan.day.brewday import Phase
from energyplan.plan.model import Plan
from energyplan.report.clockrows import ClockRow, RowKind, clock_rows
from energyplan.report.sentences import (
    MAINS_CAUTION,
    day_sentence,
    power_sentence,
    strike_sentence,
    wort_sentence,
)

__all__ = ["brew_day_page", "clock_text", "set_power_w", "shown_costs"]

Document = dict[str, Any]

# At one moment: first what is done before a step, then the step's phase, then what happens in it.
_ORDER = {"end": 0, "do": 1, "phase": 2, "boil": 3, "within": 4}
_SHOWN_AS: dict[RowKind, Literal["do", "boil", "within", "end"]] = {
    "task": "do", "action": "do", "lid": "do", "watch": "boil", "addition": "within", "switch": "within",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row by the clock: a phase with its numbers, or something that a person does."""

    time_s: float
    kind: Literal["phase", "do", "boil", "within", "end"]
    cells: Document


def brew_day_page(answer: Answer, show: Display) -> Document:
    """Gather the page as plain texts, ready to be set.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    show : Display
        Units of amounts and temperatures.
    """
    plan = answer.day.plan
    # Python's sort is stable: rows of one moment and kind stay as the day lists them.
    rows = _together(sorted(_rows(answer, show), key=lambda row: (row.time_s, _ORDER[row.kind])))
    said = [strike_sentence(answer, show), wort_sentence(answer, show), power_sentence(answer, show)]
    return {
        "title": plan.title,
        "status": "Times and energies are estimates from the plan.",
        "answer": day_sentence(answer),
        "zone": answer.zone,
        "unit": show.temperature_unit,
        "currency": answer.price.line.currency if answer.price else None,
        "rows": [{"kind": row.kind, **row.cells} for row in rows],
        "totals": _totals(answer),
        "said": [sentence for sentence in said if sentence],
        "notes": list(answer.day.notes),
        "caution": MAINS_CAUTION,
    }


def set_power_w(plan: Plan, phase: Phase) -> float:
    """Power to set in a phase [W]: the step's cap, else all elements; 0 in a pause."""
    if phase.phase == "pause":
        return 0.0
    step = next(step for step in plan.steps if step.name == phase.step)
    cap_w = step.ramp_power_w if phase.phase == "ramp" else step.hold_power_w
    return sum(element.power_w for element in plan.vessel.elements) if cap_w is None else cap_w


def clock_text(answer: Answer, time_s: float) -> str:
    """Local clock at some seconds of the day: with the weekday off its first date, with the zone if the clock moves."""
    start, moment, finish = answer.clock(0.0), answer.clock(time_s), answer.clock(answer.day.duration_s)
    day = "" if moment.date() == start.date() else f"{moment:%a} "
    zone = "" if start.utcoffset() == finish.utcoffset() else f" {moment:%Z}"
    return f"{day}{moment:%H:%M}{zone}"


def shown_costs(answer: Answer) -> tuple[list[str], str, str] | None:
    """Costs of the phases, of all beside the vessel, and of the day, rounded so that they add up; None unpriced."""
    price = answer.price
    if price is None:
        return None
    decimals = currency_decimals(price.line.currency)
    parts = [price.of_phase(phase) for phase in answer.day.phases]
    *phases, beside = (str(part) for part in shown_parts([*parts, price.beside_vessel], decimals))
    return phases, beside, str(price.total.total.rounded(decimals))


def _rows(answer: Answer, show: Display) -> Iterator[_Row]:
    yield from _phase_rows(answer, show)
    for row in clock_rows(answer, show):
        if row.kind in _SHOWN_AS and row.words != SWITCH_ON:  # the first phase says when that is
            yield _do(answer, row.time_s, _words(answer, row), _SHOWN_AS[row.kind])
    yield _do(answer, answer.day.duration_s, "Done: switch off, read the meter", "end")


def _together(rows: list[_Row]) -> list[_Row]:
    """What is done at one time in one row, so that the day fits its page; phases keep theirs."""
    found: list[_Row] = []
    for row in rows:
        same = found and "phase" not in (row.kind, found[-1].kind) and "end" not in (row.kind, found[-1].kind)
        if same and row.cells["clock"] == found[-1].cells["clock"]:
            had = found.pop()
            found.append(_Row(time_s=had.time_s, kind=had.kind, cells={**had.cells, "words": _joined(had, row)}))
        else:
            found.append(row)
    return found


def _joined(first: _Row, second: _Row) -> str:
    return f"{first.cells['words']}; {second.cells['words']}"


def _words(answer: Answer, row: ClockRow) -> str:
    """A row's words: with the earliest that a watch may begin, and the end of what lasts."""
    said = row.words
    if row.kind == "watch" and (earliest := clock_text(answer, row.earliest_s)) != clock_text(answer, row.time_s):
        said = f"{said}, from {earliest} at the earliest"
    if row.kind == "switch" and (ends_s := _ends_s(answer, row.step)) is not None:
        said = f"{said}, until {clock_text(answer, ends_s)}"
    if row.minutes is not None:
        said = f"{said}, until {clock_text(answer, row.time_s + 60 * row.minutes)}"
    return said


def _ends_s(answer: Answer, name: str) -> float | None:
    """When another appliance of the day is switched off [s]."""
    ends_s = [float(profile.edges_s[-1]) for profile in answer.day.profiles[1:] if profile.name == name]
    return ends_s[0] if ends_s else None


def _do(answer: Answer, time_s: float, words: str, kind: Literal["do", "boil", "within", "end"]) -> _Row:
    return _Row(time_s=time_s, kind=kind, cells={"clock": clock_text(answer, time_s), "words": words})


def _phase_rows(answer: Answer, show: Display) -> Iterator[_Row]:
    advised = {(row.step, row.phase): row.advised_w for row in answer.power.rows}
    costs, energies = shown_costs(answer), _shown_energies(answer)
    for place, phase in enumerate(answer.day.phases):
        power_w = set_power_w(answer.day.plan, phase)
        advice_w = advised.get((phase.step, phase.phase))
        cells = {
            "clock": clock_text(answer, phase.start_s),
            "words": phase.step,
            "phase": phase.phase,
            "to": f"{show.temperature_number(phase.to_c):.0f}",
            "set": f"{power_w:.0f}" if power_w else "off",
            "advised": "" if advice_w is None else f"{advice_w:.0f}",
            "minutes": f"{phase.duration_s / 60:.0f}" if phase.duration_s >= 60 else "< 1",
            "kwh": energies[place],
            "cost": costs[0][place] if costs else "",
        }
        yield _Row(time_s=phase.start_s, kind="phase", cells=cells)


def _shown_energies(answer: Answer) -> list[str]:
    """Energy of the phases, then of the other appliances [kWh], rounded so that they add up to the day's."""
    phases = [phase.energy_j / JOULES_PER_KWH for phase in answer.day.phases]
    beside = [profile.energy_kwh for profile in answer.day.profiles[1:]]
    return [str(part) for part in shown_parts([*phases, *beside], 2)]


def _totals(answer: Answer) -> list[Document]:
    """Whatever else the day uses, and the day."""
    day, costs = answer.day, shown_costs(answer)
    beside_kwh = _shown_energies(answer)[len(day.phases) :]
    rows = [{"words": profile.name, "minutes": "", "kwh": energy, "cost": ""}
            for profile, energy in zip(day.profiles[1:], beside_kwh, strict=True)]  # fmt: skip
    if rows and costs:
        rows[0]["cost"] = costs[1]
    whole = {"words": "The day", "minutes": f"{day.duration_s / 60:.0f}", "kwh": f"{day.energy_kwh:.2f}"}
    return [*rows, {**whole, "cost": costs[2] if costs else ""}]
