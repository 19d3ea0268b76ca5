"""Whether a vessel may heat its water before anybody is up: a list of facts, and a refusal while one is missing.

It is never proposed as a saving. Being there is the better way, and nothing here can see the vessel.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import field
from datetime import datetime, timedelta, tzinfo
from typing import Any, Literal

import numpy as np

from energyplan.advice.people import HANDS_S, SAME_S, Moment, TaskSpan, people_day
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass
from energyplan.circuits.check import check
from energyplan.day.brewday import BrewDay
from energyplan.day.supply import SECOND_HEATER, VESSEL, on_the_circuit
from energyplan.day.tasks import wort_steps
from energyplan.physics.water import boiling_point_c, enthalpy_j_per_kg, pressure_at_altitude_pa
from energyplan.plan.model import Plan

__all__ = ["FACT_KEYS", "MARGIN_M", "Fact", "Said", "Stretch", "UnattendedCheck", "may_start_unattended"]

State = Literal["yes", "no", "unknown"]
Result = Literal["refuse", "no objection found"]

# Common practice, no source.
MARGIN_M = 0.03  # of water above the elements, after whatever may go wrong
LOST_KWH_PER_KG = 0.627  # to boil a kilogram away: the latent heat at 100 °C, 2257 kJ/kg
LONG_S = 3 * 3600.0  # a stretch without hands that nobody stays for [assumption]

#: Words for what must hold; the first four are read from the plan, two of them unless a person says more.
FACTS = (
    "water", "circuit", "heater", "later", "level", "valve", "lid", "lead", "rcd", "pump", "limit", "alarm",
    "instructions", "reach",
)  # fmt: skip
FROM_PLAN = ("water", "circuit")
#: Words with which a person answers.
FACT_KEYS = tuple(key for key in FACTS if key not in FROM_PLAN)


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
    """One fact: its word, whether it holds, and the case in which it was judged, with its numbers and names."""

    key: str
    state: State
    case: str
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch in which something heats and no hands are needed [s from the start].

    ``energy_kwh`` is what all that heats takes in it; ``second_heater`` says whether that is among it, ``steps`` names
    the steps.
    """

    from_s: float
    until_s: float
    energy_kwh: float
    second_heater: bool
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnattendedCheck:
    """The list, and whether it refuses: it does while any fact is unknown or no.

    ``stretch`` lasts from the start to the first moment that needs hands; ``later`` are further ones of hours, or
    outside the hours in which somebody is there. ``power_after_w`` is what the vessel goes on taking if nobody comes,
    ``water_depth_m`` how deep the water stands.
    """

    result: Result
    facts: tuple[Fact, ...]
    stretch: Stretch
    later: tuple[Stretch, ...]
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
    stretch: Stretch
    later: tuple[Stretch, ...]
    depth_m: float

    @property
    def plan(self) -> Plan:
        return self.day.plan


def may_start_unattended(day: BrewDay, said: Said, *, start: datetime, zone: tzinfo) -> UnattendedCheck:
    """Go through the facts that must hold before a vessel heats with nobody there.

    Parameters
    ----------
    day : BrewDay
        The day; looked at from its start until the first moment that needs hands, and in every later stretch of hours.
    said : Said
        What the person says.
    start : datetime
        Start of the day, with its offset from UTC.
    zone : tzinfo
        Clock of the other loads on the circuit, and of the brewer's hours.

    Notes
    -----
    A "no" that follows from the plan stands against any "yes". The limit in kWh must be so small that the elements
    stay covered even if the thermostat never switched off: what is left of it after heating all water to its boiling
    point may not boil away the water above the margin. Facts and margin are common practice, no source.
    """
    vessel, batch = day.plan.vessel, day.plan.batch
    stretches = [_stretch(day, from_s, until_s) for from_s, until_s in _without_hands(day)]
    later = tuple(one for one in stretches[1:] if one.energy_kwh > 0 and _is_left_alone(day, one, start, zone))
    case = _Case(
        day=day,
        start=start,
        zone=zone,
        said=said,
        stretch=stretches[0],
        later=later,
        depth_m=batch.water_l / 1000 / (np.pi / 4 * vessel.diameter_m**2),
    )
    facts = tuple(_JUDGES.get(key, _as_said)(key, case) for key in FACTS)
    before = [phase for phase in day.phases if phase.end_s <= stretches[0].until_s + 1e-6]
    return UnattendedCheck(
        result="refuse" if any(fact.state != "yes" for fact in facts) else "no objection found",
        facts=facts,
        stretch=case.stretch,
        later=later,
        power_after_w=before[-1].needed_w if before else 0.0,
        water_depth_m=case.depth_m,
    )


def _without_hands(day: BrewDay) -> Iterator[tuple[float, float]]:
    """Stretches in which nobody is needed [s], as `people_day` tells them, but for the first.

    That one lasts from the start on, until somebody is needed: what comes before the start is done by then, and it
    is a timer that switches the vessel on.
    """
    people = people_day(day, draws=0)
    needs = [_reach_s(why) for presence in people.presences for why in presence.why]
    first_s = min(max(begins_s, 0.0) for begins_s, ends_s in needs if ends_s > 0)
    yield 0.0, first_s
    for one in people.between:
        if one.begins_s > first_s:
            yield one.begins_s, one.ends_s


def _reach_s(why: Moment | TaskSpan) -> tuple[float, float]:
    """From when to when something needs hands [s]; nobody's, where the vessel is switched on."""
    if isinstance(why, TaskSpan):
        return why.begins_s, why.ends_s - SAME_S
    if (why.kind, why.name) == ("switch", VESSEL):
        return 0.0, 0.0
    return why.time_s, why.time_s + HANDS_S[why.kind]


def _stretch(day: BrewDay, from_s: float, until_s: float) -> Stretch:
    energy_j = {
        profile.name: float((profile.mean_w * np.diff(np.clip(profile.edges_s, from_s, until_s))).sum())
        for profile in day.profiles
        if (np.diff(np.clip(profile.edges_s, from_s, until_s)) * profile.heater_w_per_v2).any()
    }
    inside = [phase.step for phase in day.phases if phase.start_s < until_s and phase.end_s > from_s]
    return Stretch(
        from_s=from_s,
        until_s=until_s,
        energy_kwh=sum(energy_j.values()) / JOULES_PER_KWH,
        second_heater=SECOND_HEATER in energy_j,
        steps=tuple(dict.fromkeys(inside)),
    )


def _is_left_alone(day: BrewDay, stretch: Stretch, start: datetime, zone: tzinfo) -> bool:
    """Whether a later stretch is so long, or at such an hour, that nobody stays for it."""
    there = day.plan.hours.somebody_there_min
    if there is None:
        return stretch.until_s - stretch.from_s >= LONG_S
    minutes = np.arange(stretch.from_s, stretch.until_s, 60.0)
    clock = [(start + timedelta(seconds=float(at_s))).astimezone(zone) for at_s in minutes]
    of_day = np.array([at.hour * 60 + at.minute for at in clock])
    wraps = there[1] <= there[0]
    inside = (of_day >= there[0]) | (of_day < there[1]) if wraps else (of_day >= there[0]) & (of_day < there[1])
    return bool((~inside).any())


def _as_said(key: str, case: _Case) -> Fact:
    state = case.said.state(key)
    return Fact(key=key, state=state, case=f"said_{state}")


def _water(key: str, case: _Case) -> Fact:
    plan = case.plan
    wort = wort_steps(plan)
    grain = plan.batch.grain_kg > 0
    no = "" if case.stretch.until_s > 0 else "hands_at_once"
    no = no or ("begins_with_wort" if not grain and (plan.batch.gravity or 1.0) > 1.0 else "")
    added = any(action.kind == "add grain" for step in wort for action in step.before)
    no = no or ("grain_from_the_start" if grain and not added else "")
    return Fact(key=key, state="no" if no else "yes", case=no or "as_planned")


def _circuit(key: str, case: _Case) -> Fact:
    plan = case.plan
    if plan.circuit is None:
        return Fact(key=key, state="unknown", case="no_circuit")
    found = check(on_the_circuit(plan, case.day.profiles), plan.circuit, plan.other_loads, case.start, case.zone)
    over, unknown = (tuple(f.code for f in found.findings if f.severity == grave) for grave in ("over", "unknown"))
    facts = {"codes": over, "unknown": len(unknown)}
    return Fact(key=key, state="no" if over else "yes", case="over" if over else "within", facts=facts)


def _heater(key: str, case: _Case) -> Fact:
    """A second heater that runs in the stretch heats its own tank with nobody there."""
    if not case.stretch.second_heater:
        return Fact(key=key, state="yes", case="heater_off")
    return _as_said(key, case)


def _later(key: str, case: _Case) -> Fact:
    if not case.later:
        return Fact(key=key, state="yes", case="none_later")
    state = case.said.state(key)
    steps = tuple(dict.fromkeys(step for stretch in case.later for step in stretch.steps))
    return Fact(key=key, state=state, case=f"later_{state}", facts={"steps": steps})


def _level(key: str, case: _Case) -> Fact:
    top_m = case.plan.vessel.element_top_m
    if top_m is None:
        return Fact(key=key, state="unknown", case="height_unknown", facts={"depth_m": case.depth_m})
    numbers = {"depth_m": case.depth_m, "above_m": case.depth_m - top_m}
    if numbers["above_m"] < MARGIN_M:
        return Fact(key=key, state="no", case="too_low", facts=numbers)
    state = case.said.state(key)
    return Fact(key=key, state=state, case=f"level_{state}", facts=numbers)


def _steps_before(case: _Case) -> set[str]:
    return {phase.step for phase in case.day.phases if phase.start_s < case.stretch.until_s}


def _lid(key: str, case: _Case) -> Fact:
    steps = _steps_before(case)
    open_at = tuple((s.lid_state, s.name) for s in case.plan.steps if s.name in steps and s.lid_state != "on")
    return Fact(key=key, state="no", case="lid_open", facts={"steps": open_at}) if open_at else _as_said(key, case)


def _lead(key: str, case: _Case) -> Fact:
    circuit = case.plan.circuit
    if circuit is not None and circuit.extension is None and case.said.state(key) != "no":
        return Fact(key=key, state="yes", case="no_lead")
    if circuit is not None and circuit.extension is not None and not circuit.extension.unwound:
        return Fact(key=key, state="no", case="wound_up")
    return _as_said(key, case)


def _rcd(key: str, case: _Case) -> Fact:
    circuit = case.plan.circuit
    if circuit is not None and circuit.residual_current_device is False:
        return Fact(key=key, state="no", case="no_rcd")
    return _as_said(key, case)


def _pump(key: str, case: _Case) -> Fact:
    steps = _steps_before(case)
    runs = case.plan.vessel.pump_w > 0 and any(step.pump_runs for step in case.plan.steps if step.name in steps)
    if not runs and case.said.state(key) != "no":
        return Fact(key=key, state="yes", case="pump_off")
    return _as_said(key, case)


def _limit(key: str, case: _Case) -> Fact:
    limit_kwh, planned_kwh, top_m = case.said.limit_kwh, case.stretch.energy_kwh, case.plan.vessel.element_top_m
    numbers = {"limit_kwh": limit_kwh, "planned_kwh": planned_kwh}
    if case.said.state(key) == "no":
        return Fact(key=key, state="no", case="said_no")
    if limit_kwh is None:
        return Fact(key=key, state="unknown", case="no_limit", facts=numbers)
    if limit_kwh < planned_kwh:
        return Fact(key=key, state="no", case="ends_too_soon", facts=numbers)
    if top_m is None:
        return Fact(key=key, state="unknown", case="cover_unknown", facts=numbers)
    most_kwh = _covered_until_kwh(case.plan, case.depth_m - top_m - MARGIN_M)
    if limit_kwh > most_kwh:
        return Fact(key=key, state="no", case="boils_down", facts={**numbers, "most_kwh": most_kwh})
    return Fact(key=key, state="yes", case="stays_covered", facts=numbers)


def _covered_until_kwh(plan: Plan, above_m: float) -> float:
    """Energy that boils the water above the margin away, all loss but steam left out [kWh]: a low figure."""
    boils_c = float(boiling_point_c(pressure_at_altitude_pa(plan.site.altitude_m)))
    rise_j_per_kg = float(enthalpy_j_per_kg(boils_c) - enthalpy_j_per_kg(plan.batch.water_temperature_c))
    above_kg = max(above_m, 0.0) * np.pi / 4 * plan.vessel.diameter_m**2 * 1000
    return plan.batch.water_l * rise_j_per_kg / JOULES_PER_KWH + float(above_kg) * LOST_KWH_PER_KG


_JUDGES: Mapping[str, Callable[[str, _Case], Fact]] = {
    "water": _water,
    "circuit": _circuit,
    "heater": _heater,
    "later": _later,
    "level": _level,
    "lid": _lid,
    "lead": _lead,
    "rcd": _rcd,
    "pump": _pump,
    "limit": _limit,
}
