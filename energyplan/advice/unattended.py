"""Whether a vessel may heat its water before anybody is up: a list of facts, and a refusal while one is missing.

It is never proposed as a saving. Being there is the better way, and nothing here can see the vessel.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Literal

import numpy as np

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError
from energyplan.circuits.check import check
from energyplan.day.appliances import VESSEL, on_the_circuit
from energyplan.day.brewday import BrewDay
from energyplan.day.tasks import wort_steps
from energyplan.physics.water import boiling_point_c, enthalpy_j_per_kg, pressure_at_altitude_pa
from energyplan.plan.model import Plan

__all__ = ["FACT_KEYS", "Fact", "Said", "UnattendedCheck", "may_start_unattended"]

State = Literal["yes", "no", "unknown"]
Result = Literal["refuse", "no objection found"]

# Common practice, no source.
MARGIN_M = 0.03  # of water above the elements, after whatever may go wrong
LOST_KWH_PER_KG = 0.627  # to boil a kilogram away: the latent heat at 100 °C, 2257 kJ/kg

#: What is asked, by the word for it; the first two are read from the plan alone.
QUESTIONS = {
    "water": "Only water is in the vessel until somebody comes: no grain, no wort.",
    "circuit": "Nothing is over a rating that you entered while the vessel heats.",
    "level": f"Water stands at least {100 * MARGIN_M:.0f} cm above the elements.",
    "valve": "The valve is shut and capped, and you saw no drop.",
    "lid": "The lid is on.",
    "lead": "There is no extension lead, or it is unwound to its end.",
    "rcd": "A residual current device protects the outlet, and you pressed its test button.",
    "pump": "The pump is off in this stretch, or primed and its hoses are tight.",
    "limit": "The current ends by itself after a number of kWh, whoever sleeps on.",
    "alarm": "A smoke alarm that works is in the room, and you would hear it.",
    "instructions": "The instructions of vessel, outlet and timer allow it.",
    "reach": "No child and no animal can get to it.",
}
FROM_PLAN = ("water", "circuit")
#: Words with which a person answers.
FACT_KEYS = tuple(key for key in QUESTIONS if key not in FROM_PLAN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the person says: facts that hold, facts that don't, and the kWh after which the current ends by itself."""

    yes: frozenset[str] = frozenset()
    no: frozenset[str] = frozenset()
    limit_kwh: float | None = None

    def __post_init__(self) -> None:
        for key in sorted(self.yes | self.no):
            if key not in FACT_KEYS:
                raise PlanError(f'"{key}" is no fact of the list; the words are {", ".join(FACT_KEYS)}')
        if both := sorted(self.yes & self.no):
            raise PlanError(f"{', '.join(both)}: answered yes and no; give one of them")
        if self.limit_kwh is not None and not (np.isfinite(self.limit_kwh) and self.limit_kwh > 0):
            raise PlanError(f"a limit of {self.limit_kwh:g} kWh: expected more than 0")

    def state(self, key: str) -> State:
        """The answer to one fact."""
        return "yes" if key in self.yes else "no" if key in self.no else "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One fact: its word, what must hold, whether it does, and why it is taken so."""

    key: str
    words: str
    state: State
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnattendedCheck:
    """The list, and whether it refuses: it does while any fact is unknown or no.

    ``until_s`` is when hands are needed first [s from the start]; ``energy_kwh`` what the vessel takes until then;
    ``power_after_w`` what it goes on taking if nobody comes; ``water_depth_m`` how deep the water stands.
    """

    result: Result
    facts: tuple[Fact, ...]
    until_s: float
    energy_kwh: float
    power_after_w: float
    water_depth_m: float

    @property
    def reasons(self) -> tuple[Fact, ...]:
        """The facts for which it is refused."""
        return tuple(fact for fact in self.facts if fact.state != "yes")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """What the facts are judged by."""

    day: BrewDay
    start: datetime
    zone: tzinfo
    said: Said
    until_s: float
    energy_kwh: float
    depth_m: float

    @property
    def plan(self) -> Plan:
        return self.day.plan


def may_start_unattended(day: BrewDay, said: Said, *, start: datetime, zone: tzinfo) -> UnattendedCheck:
    """Go through the facts that must hold before a vessel heats with nobody there.

    Parameters
    ----------
    day : BrewDay
        The day; looked at from its start until the first moment that needs hands.
    said : Said
        What the person says.
    start : datetime
        Start of the day, with its offset from UTC.
    zone : tzinfo
        Clock of the other loads on the circuit.

    Notes
    -----
    A "no" that follows from the plan stands against any "yes". The limit in kWh must be so small that the elements
    stay covered even if the thermostat never switched off: what is left of it after heating all water to its boiling
    point may not boil away the water above the margin. Facts and margin are common practice, no source.
    """
    until_s = _until_s(day)
    profile = next(profile for profile in day.profiles if profile.name == VESSEL)
    lasted_s = np.diff(np.clip(profile.edges_s, 0.0, until_s))
    vessel, batch = day.plan.vessel, day.plan.batch
    case = _Case(
        day=day,
        start=start,
        zone=zone,
        said=said,
        until_s=until_s,
        energy_kwh=float((profile.mean_w * lasted_s).sum()) / JOULES_PER_KWH,
        depth_m=batch.water_l / 1000 / (np.pi / 4 * vessel.diameter_m**2),
    )
    facts = tuple(_fact(key, case) for key in QUESTIONS)
    before = [phase for phase in day.phases if phase.end_s <= until_s + 1e-6]
    return UnattendedCheck(
        result="refuse" if any(fact.state != "yes" for fact in facts) else "no objection found",
        facts=facts,
        until_s=until_s,
        energy_kwh=case.energy_kwh,
        power_after_w=before[-1].needed_w if before else 0.0,
        water_depth_m=case.depth_m,
    )


def _until_s(day: BrewDay) -> float:
    """When hands are needed first [s]: something goes in or out, or something boils; at the latest the day's end."""
    actions = [event.time_s for event in day.events if event.kind == "action"]
    boils = [phase.start_s for phase in day.phases if phase.phase == "boil"]
    return min([*actions, *boils, day.duration_s])


def _fact(key: str, case: _Case) -> Fact:
    state, why = _JUDGES.get(key, _as_said)(key, case)
    return Fact(key=key, words=QUESTIONS[key], state=state, why=why)


Judged = tuple[State, str]


def _as_said(key: str, case: _Case) -> Judged:
    state = case.said.state(key)
    return state, {"yes": "you said so", "no": "you said no", "unknown": "nobody has said so"}[state]


def _water(_key: str, case: _Case) -> Judged:
    plan = case.plan
    if case.until_s <= 0:
        return "no", "the plan begins with something that needs hands"
    if plan.batch.grain_kg <= 0 and (plan.batch.gravity or 1.0) > 1.0:
        return "no", "the plan has no grain but a gravity: the vessel begins with wort"
    wort = wort_steps(plan)
    if plan.batch.grain_kg > 0 and not any(action.kind == "add grain" for step in wort for action in step.before):
        return "no", 'no step of the plan says "add grain": the grain would be in from the start'
    return "yes", "as planned"


def _circuit(_key: str, case: _Case) -> Judged:
    plan = case.plan
    if plan.circuit is None:
        return "unknown", "the plan has no [circuit]"
    found = check(on_the_circuit(plan, case.day.profiles), plan.circuit, plan.other_loads, case.start, case.zone)
    over = [finding for finding in found.findings if finding.severity == "over"]
    return ("no", f"over: {over[0].message}") if over else ("yes", "within the ratings you entered, all day")


def _level(key: str, case: _Case) -> Judged:
    top_m = case.plan.vessel.element_top_m
    depth = f"{100 * case.depth_m:.0f} cm deep"
    if top_m is None:
        return "unknown", f"the water stands {depth}; how high the elements reach is not known ([vessel] element_top)"
    above_m = case.depth_m - top_m
    if above_m < MARGIN_M:
        return "no", f"the planned water stands {depth}, {100 * above_m:.1f} cm above the elements"
    state, why = _as_said(key, case)
    return state, f"{why}; as planned it stands {depth}, {100 * above_m:.0f} cm above them"


def _lid(key: str, case: _Case) -> Judged:
    steps = {phase.step for phase in case.day.phases if phase.start_s < case.until_s}
    open_at = [step.name for step in case.plan.steps if step.name in steps and step.lid_state != "on"]
    return ("no", f"the plan has it {_states(case, open_at)}") if open_at else _as_said(key, case)


def _states(case: _Case, names: list[str]) -> str:
    return ", ".join(f'{step.lid_state} at "{step.name}"' for step in case.plan.steps if step.name in names)


def _lead(key: str, case: _Case) -> Judged:
    circuit = case.plan.circuit
    if circuit is not None and circuit.extension is None and case.said.state(key) != "no":
        return "yes", "the plan has no lead"
    if circuit is not None and circuit.extension is not None and not circuit.extension.unwound:
        return "no", "the plan's lead is wound up"
    return _as_said(key, case)


def _rcd(key: str, case: _Case) -> Judged:
    circuit = case.plan.circuit
    if circuit is not None and circuit.residual_current_device is False:
        return "no", "the plan's circuit has none"
    return _as_said(key, case)


def _pump(key: str, case: _Case) -> Judged:
    steps = {phase.step for phase in case.day.phases if phase.start_s < case.until_s}
    runs = case.plan.vessel.pump_w > 0 and any(step.pump_runs for step in case.plan.steps if step.name in steps)
    if not runs and case.said.state(key) != "no":
        return "yes", "the plan has it off"
    return _as_said(key, case)


def _limit(key: str, case: _Case) -> Judged:
    limit_kwh, planned = case.said.limit_kwh, f"planned until somebody comes: {case.energy_kwh:.2f} kWh"
    if case.said.state(key) == "no":
        return "no", "you said no"
    if limit_kwh is None:
        return "unknown", f"no limit is given; {planned}"
    if limit_kwh < case.energy_kwh:
        return "no", f"{limit_kwh:g} kWh end before the water is hot; {planned}"
    top_m = case.plan.vessel.element_top_m
    if top_m is None:
        return "unknown", "whether it keeps the elements covered: how high they reach is not known"
    most_kwh = _covered_until_kwh(case.plan, case.depth_m - top_m - MARGIN_M)
    if limit_kwh > most_kwh:
        return "no", f"if nothing switched off, {most_kwh:.1f} kWh would boil the water down to the margin"
    return "yes", f"{limit_kwh:g} kWh leave the elements covered even if nothing switches off; {planned}"


def _covered_until_kwh(plan: Plan, above_m: float) -> float:
    """Energy that boils the water above the margin away, all loss but steam left out [kWh]: a low figure."""
    boils_c = float(boiling_point_c(pressure_at_altitude_pa(plan.site.altitude_m)))
    rise_j_per_kg = float(enthalpy_j_per_kg(boils_c) - enthalpy_j_per_kg(plan.batch.water_temperature_c))
    above_kg = max(above_m, 0.0) * np.pi / 4 * plan.vessel.diameter_m**2 * 1000
    return plan.batch.water_l * rise_j_per_kg / JOULES_PER_KWH + float(above_kg) * LOST_KWH_PER_KG


_JUDGES: Mapping[str, Callable[[str, _Case], Judged]] = {
    "water": _water,
    "circuit": _circuit,
    "level": _level,
    "lid": _lid,
    "lead": _lead,
    "rcd": _rcd,
    "pump": _pump,
    "limit": _limit,
}
