"""The machine-readable answer: one JSON document, unrounded, with SI suffixes."""

import dataclasses
from datetime import UTC, datetime, timedelta
from typing import Any

from energyplan.advice.answer import Answer
from energyplan.advice.power import PowerAdvice
from energyplan.advice.wholebatch import per_volume
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.circuits.check import CircuitCheck
from energyplan.day.brewday import Phase
from energyplan.plan.model import Plan
from energyplan.report.circuittext import house_document
from energyplan.report.peopletext import people_document
from energyplan.report.roomtext import room_document

__all__ = ["circuit_document", "plan_document", "power_document", "report_document"]

Document = dict[str, Any]


def report_document(answer: Answer) -> Document:
    """The document of ``report --json``."""
    return {
        "plan": plan_document(answer.day.plan),
        "start": _iso(answer.start),
        "time_zone": answer.zone,
        "phases": [_phase(answer, phase) for phase in answer.day.phases],
        "totals": _totals(answer),
        "events": [
            {"time": _at(answer, event.time_s), "step": event.step, "kind": event.kind, "text": event.text}
            for event in answer.day.events
        ],
        "people": people_document(answer),
        "room": room_document(answer),
        "circuit": circuit_document(answer.circuit) if answer.circuit else None,
        "house": house_document(answer),
        "power": power_document(answer.power),
        "notes": list(answer.day.notes),
    }


def plan_document(plan: Plan) -> Document:
    """The plan as it was understood, in SI units."""
    return plan.model_dump(mode="json", exclude_none=True)


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _at(answer: Answer, seconds: float) -> str:
    return _iso(answer.start + timedelta(seconds=seconds))


def _phase(answer: Answer, phase: Phase) -> Document:
    draw_w, draw_a = _draw(answer, phase)
    return {
        "step": phase.step,
        "phase": phase.phase,
        "start": _at(answer, phase.start_s),
        "end": _at(answer, phase.end_s),
        "minutes": phase.duration_s / 60,
        "from_c": phase.from_c,
        "to_c": phase.to_c,
        "lowest_c": phase.lowest_c,
        "energy_kwh": phase.energy_j / JOULES_PER_KWH,
        "heat_lost_kwh": phase.heat_lost_j / JOULES_PER_KWH,
        "evaporated_kg": phase.evaporated_kg,
        "mean_power_w": phase.mean_w,
        "draw_w": draw_w,
        "draw_a": draw_a,
        "cost": float(answer.price.of_phase(phase)) if answer.price else None,
    }


def _draw(answer: Answer, phase: Phase) -> tuple[float, float]:
    """Power and current of the vessel while its elements are on, at the plan's voltage."""
    volts = answer.day.plan.voltage_v
    draw_w = phase.heater_w_per_v2 * volts**2 + phase.other_w
    return draw_w, draw_w / volts


def _totals(answer: Answer) -> Document:
    day, cost = answer.day, answer.price.total.total if answer.price else None
    volume = per_volume(day.energy_kwh, day.wort.end_l, cost)
    by_kind = {f"{kind}_kwh": day.energy_of(kind) for kind in ("ramp", "hold", "boil")}
    return {
        "energy_kwh": day.energy_kwh,
        **by_kind,
        "other_kwh": day.energy_kwh - sum(by_kind.values()),
        "cost": None if cost is None else float(cost),
        "currency": answer.price.line.currency if answer.price else None,
        "minutes": day.duration_s / 60,
        "finish": _iso(answer.finish),
        "evaporated_kg": day.wort.evaporated_kg,
        "end_volume_l": day.wort.end_l,
        "carbon_g": answer.price.carbon_g if answer.price else None,
        "kwh_per_hl": volume.kwh_per_hl,
        "cost_per_l": volume.cost_per_l,
    }


def circuit_document(check: CircuitCheck) -> Document:
    """The circuit's numbers and findings."""
    numbers = (
        "peak_a",
        "limit_a",
        "continuous_a",
        "rms_60_min_a",
        "longest_at_peak_min",
        "voltage_drop_v",
        "voltage_drop_frac",
    )
    return {
        **{name: getattr(check, name) for name in numbers},
        "findings": [dataclasses.asdict(finding) for finding in check.findings],
    }


def power_document(advice: PowerAdvice) -> list[Document]:
    """One entry per hold and boil."""
    return [dataclasses.asdict(row) for row in advice.rows]
