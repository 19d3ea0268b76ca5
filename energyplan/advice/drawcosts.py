"""Cost and current of every drawn day."""

from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError
from energyplan.base.load import distinct
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.circuits.findings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.loads import window_s
from energyplan.circuits.study import Study, study
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course
from energyplan.day.supply import SECOND_HEATER, VESSEL, on_the_circuit, second_heater_hangs, second_heater_s, wires_of
from energyplan.physics.network import NEUTRAL, Branch, amps_frac, solve
from energyplan.plan.model import OtherLoad, Plan
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.costs import month_starts_s, month_use_mj
from energyplan.tariffs.priceline import PriceLine

__all__ = ["Currents", "DrawCircuit", "Loads", "draw_circuit", "draw_costs", "loads_of"]

FloatArray = NDArray[np.float64]


IntArray = NDArray[np.int64]


MICRO = 1e-6
MJ_PER_J = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """Spans of constant power of many draws: begin, end [s from the start], power [W], each (spans, draws)."""

    from_s: FloatArray
    to_s: FloatArray
    power_w: FloatArray

    @property
    def energy_kwh(self) -> FloatArray:
        """Energy of each draw [kWh]."""
        return np.asarray((self.power_w * (self.to_s - self.from_s)).sum(axis=0) / JOULES_PER_KWH)

    def kept(self, which: NDArray[np.bool_]) -> "Loads":
        """Only some of the draws."""
        return Loads(from_s=self.from_s[:, which], to_s=self.to_s[:, which], power_w=self.power_w[:, which])

    def before_j(self, times_s: IntArray) -> FloatArray:
        """Energy before given times [J], shape (times, draws)."""
        total = np.zeros((times_s.size, self.power_w.shape[1]))
        for from_s, to_s, power_w in zip(self.from_s, self.to_s, self.power_w, strict=True):
            total += power_w * np.clip(times_s[:, None] - from_s, 0.0, to_s - from_s)
        return total


def loads_of(plan: Plan, course: Course) -> Loads:
    """What the meter sees of every draw: the vessel's legs and the second heater."""
    from_s, to_s = [leg.start_s for leg in course.legs], [leg.end_s for leg in course.legs]
    power_w = [leg.board_w for leg in course.legs]
    if plan.second_heater is not None:
        begins_s, ends_s = second_heater_s(plan, course)
        from_s.append(begins_s)
        to_s.append(ends_s)
        power_w.append(np.full_like(begins_s, plan.second_heater.power_w))
    return Loads(from_s=np.stack(from_s), to_s=np.stack(to_s), power_w=np.stack(power_w))


def draw_costs(loads: Loads, line: PriceLine, start: datetime, *, month_kwh_so_far: float | None = None) -> FloatArray:
    """Cost of each draw in the currency of the line, as `energyplan.tariffs.costs.price` counts it.

    Parameters
    ----------
    loads : Loads
        What the draws use, and when.
    line : PriceLine
        Prices.
    start : datetime
        Start of the day, with its offset from UTC.
    month_kwh_so_far : float, optional
        Use of the month before the start [kWh]; matters only under tiers.

    Raises
    ------
    TariffError
        If a draw leaves the price line, or runs into a part of it without a price.

    Notes
    -----
    The energy between changes of the price, for all draws at once; minute by minute only where a surplus of one's own
    has to be set against it. It is not rounded to the millijoule as the meter of `price` does, which no sum can show.
    """
    start_s = utc_s(start)
    first_s, last_s = int(np.floor(loads.from_s.min())), int(np.ceil(loads.to_s.max()))
    line.require(start_s + first_s, start_s + last_s)
    knots_s, step = _knots(line, start_s, first_s, last_s)
    used_j = np.diff(loads.before_j(knots_s), axis=0)
    own_j = np.zeros_like(used_j)
    if line.surplus_mw is not None:
        surplus_j = line.surplus_mw[step] * np.diff(knots_s) / MJ_PER_J
        own_j = np.minimum(used_j, surplus_j[:, None])
    per_kwh = line.micro_per_kwh[step].astype(np.float64)[:, None]
    micro = (per_kwh * (used_j - own_j) + line.export_micro_per_kwh * own_j).sum(axis=0) / JOULES_PER_KWH
    if line.tiers:
        used_kwh = month_use_mj(line, month_kwh_so_far) / MJ_PER_KWH
        micro = micro + _tiers_micro(line, used_j - own_j, knots_s + start_s, used_kwh)
    return np.asarray(micro * MICRO)


def _knots(line: PriceLine, start_s: int, first_s: int, last_s: int) -> tuple[IntArray, IntArray]:
    """Seconds since the start between which the price is even, and the step of the line between them."""
    first_s, last_s = first_s // 60 * 60, -(-last_s // 60) * 60
    inner = line.edges_s - start_s
    parts = [np.array([first_s, last_s]), inner[(inner > first_s) & (inner < last_s)]]
    if line.surplus_mw is not None:
        parts.append(np.arange(first_s, last_s, 60))
    if line.tiers:
        parts.append(month_starts_s(line.zone, start_s + first_s, start_s + last_s) - start_s)
    knots_s = distinct(np.concatenate(parts)).astype(np.int64)
    step = np.searchsorted(line.edges_s, knots_s[:-1] + start_s, side="right") - 1
    return knots_s, np.clip(step, 0, line.band.size - 1).astype(np.int64)


def _tiers_micro(line: PriceLine, imported_j: FloatArray, knots_utc_s: IntArray, month_kwh: float) -> FloatArray:
    """What the tiers add to each draw, in millionths."""
    months = month_starts_s(line.zone, int(knots_utc_s[0]), int(knots_utc_s[-1]))
    month = np.searchsorted(months, knots_utc_s[:-1], side="right")
    total = np.zeros(imported_j.shape[1])
    for number in range(months.size + 1):
        more_kwh = imported_j[month == number].sum(axis=0) / JOULES_PER_KWH
        used_kwh = month_kwh if number == 0 else 0.0
        for tier in line.tiers_at(int(months[number - 1] if number else knots_utc_s[0])):
            above_kwh = tier.above_mj / MJ_PER_KWH
            over = np.maximum(used_kwh + more_kwh - above_kwh, 0.0) - max(used_kwh - above_kwh, 0.0)
            total += tier.micro_per_kwh * over
    return total


BoolArray = NDArray[np.bool_]


EARLY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Currents:
    """Largest current of the circuit and of the vessel alone [A], each (draws,)."""

    peak_a: FloatArray
    vessel_a: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawCircuit:
    """The circuit of a plan, ready for draws: what hangs where, and when the other loads are on [s]."""

    plan: Plan
    studied: Study
    windows_s: tuple[tuple[tuple[float, float], ...], ...]

    def currents(self, course: Course, voltage_v: FloatArray, element_factor: FloatArray) -> Currents:
        """Largest currents of each draw, as `energyplan.circuits.check.check` counts them with elements on.

        Parameters
        ----------
        course : Course
            The draws.
        voltage_v, element_factor : ndarray, shape (draws,)
            Voltage at the board [V] and real over nameplate power.
        """
        peak_a, vessel_a = np.zeros_like(voltage_v), np.zeros_like(voltage_v)
        timeline = _Timeline(self, course)
        wires = wires_of(self.plan.circuit)
        # A sum of step functions is largest where one of them steps up.
        for moment_s in timeline.rises_s():
            vessel, others = self._branches(timeline, moment_s, voltage_v, element_factor)
            network = solve(self.studied.loads.layout, [*vessel, *others], wires, voltage_v)
            own_a = network.branch_a[: len(vessel)].sum(axis=0)
            lines_a = [np.abs(network.total_a[at]) for at, name in enumerate(network.conductors) if name != NEUTRAL]
            peak_a = np.maximum(peak_a, np.max(lines_a, axis=0))
            vessel_a = np.maximum(vessel_a, np.abs(own_a).max(axis=0))
        return Currents(peak_a=peak_a, vessel_a=vessel_a)

    def _branches(
        self, timeline: "_Timeline", moment_s: FloatArray, voltage_v: FloatArray, element_factor: FloatArray
    ) -> tuple[list[Branch], list[Branch]]:
        """What hangs on the network at a moment of each draw: the vessel's branches, and the others'."""
        nominal_v, layout = self.studied.band.nominal_v, self.studied.loads.layout
        stray = np.maximum(voltage_v / nominal_v, nominal_v / voltage_v)
        made: list[list[Branch]] = []
        for appliance, (heaters, watts) in zip(self.studied.loads.appliances, timeline.at(moment_s), strict=True):
            per_a_w = nominal_v * amps_frac(layout, appliance.other_line)
            steady_a, nothing = watts / per_a_w * stray, np.zeros_like(watts)
            behind = appliance.behind_lead
            branches = [Branch(connection=appliance.other_line, siemens=nothing, steady_a=steady_a, behind_lead=behind)]
            branches += [
                Branch(connection=place, siemens=part * element_factor, steady_a=nothing, behind_lead=behind)
                for place, part in heaters.items()
            ]
            made.append(branches)
        return made[0], [branch for branches in made[1:] for branch in branches]

    def over(self, currents: Currents) -> dict[str, BoolArray]:
        """Draws whose current passes a rating by more than the slack of nameplates, by the name of the rating."""
        return {
            rating.name: np.asarray(
                (currents.peak_a if rating.whole_circuit else currents.vessel_a)
                > rating.limit_a * (1 + NAMEPLATE_SLACK_FRAC)
            )
            for rating in self.studied.ratings
        }


def draw_circuit(day: BrewDay, start: datetime, zone: tzinfo, *, longest_s: float) -> DrawCircuit:
    """Make the circuit of a day ready for draws that last up to ``longest_s``.

    Raises
    ------
    PlanError
        If the plan has no circuit.
    """
    plan = day.plan
    if plan.circuit is None:
        raise PlanError("the plan has no [circuit]")
    first = start.astimezone(UTC) - timedelta(seconds=EARLY_S)
    last = start.astimezone(UTC) + timedelta(seconds=longest_s + EARLY_S)
    windows = tuple(
        tuple((left_s - EARLY_S, right_s - EARLY_S) for left_s, right_s in window_s(load, first, last, zone))
        for load in plan.other_loads
    )
    studied = study(on_the_circuit(plan, day.profiles), plan.circuit, plan.other_loads, start, zone)
    return DrawCircuit(plan=plan, studied=studied, windows_s=windows)


class _Timeline:
    """What is on when, in each draw."""

    def __init__(self, circuit: DrawCircuit, course: Course) -> None:
        self.circuit, self.legs = circuit, course.legs
        self.ends_s = course.legs[-1].end_s
        self.second_s = second_heater_s(circuit.plan, course)

    def rises_s(self) -> list[FloatArray]:
        """Moments of each draw at which something may come on."""
        fixed = [
            np.clip(np.full_like(self.ends_s, opens_s), self._first_s(), np.nextafter(self.ends_s, 0.0))
            for window in self.circuit.windows_s
            for opens_s, _ in window
        ]
        second = [self.second_s[0]] if self._has(SECOND_HEATER) else []
        return [leg.start_s for leg in self.legs] + second + fixed

    def _first_s(self) -> FloatArray:
        """Begin of the day's first load."""
        return np.minimum(self.second_s[0], 0.0) if self._has(SECOND_HEATER) else np.zeros_like(self.ends_s)

    def _has(self, name: str) -> bool:
        return any(appliance.name == name for appliance in self.circuit.studied.loads.appliances)

    def at(self, moment_s: FloatArray) -> list[tuple[dict[str, FloatArray], FloatArray]]:
        """Conductance by place [S] and other power [W] of each appliance at a moment of each draw."""
        others = iter(zip(self.circuit.windows_s, self.circuit.plan.other_loads, strict=True))
        found: list[tuple[dict[str, FloatArray], FloatArray]] = []
        for appliance in self.circuit.studied.loads.appliances:
            if appliance.name == VESSEL and appliance.planned:
                found.append(self._vessel(moment_s))
            elif appliance.planned:
                found.append((self._second(moment_s, appliance.other_line), np.zeros_like(moment_s)))
            else:
                found.append(({}, _other_w(*next(others), moment_s)))
        return found

    def _vessel(self, moment_s: FloatArray) -> tuple[dict[str, FloatArray], FloatArray]:
        heaters: dict[str, FloatArray] = {}
        other = np.zeros_like(moment_s)
        for leg in self.legs:
            inside = (moment_s >= leg.start_s) & (moment_s < leg.end_s)
            for place, siemens in leg.by_line:
                heaters[place] = heaters.get(place, 0.0) + np.where(inside & (leg.element_w > 0), siemens, 0.0)
            other += np.where(inside, leg.other_w, 0.0)
        return heaters, other

    def _second(self, moment_s: FloatArray, place: str) -> dict[str, FloatArray]:
        inside = (moment_s >= self.second_s[0]) & (moment_s < self.second_s[1])
        return {place: np.where(inside, second_heater_hangs(self.circuit.plan)[1], 0.0)}


def _other_w(window: tuple[tuple[float, float], ...], load: OtherLoad, moment_s: FloatArray) -> FloatArray:
    """Power of another load, taken as on while its window is open [W]."""
    on = np.zeros(moment_s.shape, dtype=bool)
    for opens_s, closes_s in window:
        on |= (moment_s >= opens_s) & (moment_s < closes_s)
    return np.where(on, load.power_w, 0.0)
