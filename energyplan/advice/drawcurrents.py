"""The largest currents of many draws of one day on its circuit at once."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.circuits.loads import window_s
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.study import Study, study
from energyplan.day.appliances import SECOND_HEATER, VESSEL, on_the_circuit, second_heater_s
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course
from energyplan.plan.model import OtherLoad, Plan

__all__ = ["Currents", "DrawCircuit", "draw_circuit"]

FloatArray = NDArray[np.float64]
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
        # A sum of step functions is largest where one of them steps up.
        for moment_s in timeline.rises_s():
            on_a = self._on_a(*timeline.at(moment_s), voltage_v, element_factor)
            peak_a = np.maximum(peak_a, on_a.sum(axis=0))
            vessel_a = np.maximum(vessel_a, on_a[0])
        return Currents(peak_a=peak_a, vessel_a=vessel_a)

    def over(self, currents: Currents) -> dict[str, BoolArray]:
        """Draws whose current passes a rating by more than the slack of nameplates, by the name of the rating."""
        return {
            rating.name: np.asarray(
                (currents.peak_a if rating.whole_circuit else currents.vessel_a)
                > rating.limit_a * (1 + NAMEPLATE_SLACK_FRAC)
            )
            for rating in self.studied.ratings
        }

    def _on_a(
        self, siemens: FloatArray, watts: FloatArray, voltage_v: FloatArray, element_factor: FloatArray
    ) -> FloatArray:
        """Current of each appliance (appliances, draws); the relations of `energyplan.circuits.currents.solve`."""
        appliances, line, wiring = self.studied.loads.appliances, self.studied.line, self.studied.wiring
        share = np.array([appliance.share * (line in appliance.lines) for appliance in appliances])[:, None]
        frac = np.array([appliance.voltage_frac for appliance in appliances])[:, None]
        lead_ohm = np.array([wiring.lead_ohm * appliance.behind_lead for appliance in appliances])[:, None]
        nominal_v = self.studied.band.nominal_v
        stray = np.maximum(voltage_v / nominal_v, nominal_v / voltage_v)
        conductance = siemens * share * frac * element_factor
        passes = 1 / (1 + lead_ohm * conductance)
        steady_a = watts * share / (frac * nominal_v) * stray * passes
        at_node = conductance * passes
        node_v = (voltage_v - wiring.cable_ohm * steady_a.sum(axis=0)) / (1 + wiring.cable_ohm * at_node.sum(axis=0))
        return np.asarray(steady_a + at_node * node_v)


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

    def at(self, moment_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Conductance [W/V2] and other power [W] of each appliance at a moment of each draw."""
        siemens, watts = [], []
        others = iter(zip(self.circuit.windows_s, self.circuit.plan.other_loads, strict=True))
        for appliance in self.circuit.studied.loads.appliances:
            if appliance.name == VESSEL and appliance.planned:
                heater, other = self._vessel(moment_s)
            elif appliance.planned:
                heater, other = self._second(moment_s), np.zeros_like(moment_s)
            else:
                heater, other = np.zeros_like(moment_s), _other_w(*next(others), moment_s)
            siemens.append(heater)
            watts.append(other)
        return np.stack(siemens), np.stack(watts)

    def _vessel(self, moment_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        heater, other = np.zeros_like(moment_s), np.zeros_like(moment_s)
        for leg in self.legs:
            inside = (moment_s >= leg.start_s) & (moment_s < leg.end_s)
            heater += np.where(inside & (leg.element_w > 0), leg.heater_w_per_v2, 0.0)
            other += np.where(inside, leg.other_w, 0.0)
        return heater, other

    def _second(self, moment_s: FloatArray) -> FloatArray:
        heater = self.circuit.plan.second_heater
        power_w = heater.power_w if heater else 0.0
        inside = (moment_s >= self.second_s[0]) & (moment_s < self.second_s[1])
        return np.where(inside, power_w / self.circuit.plan.voltage_v**2, 0.0)


def _other_w(window: tuple[tuple[float, float], ...], load: OtherLoad, moment_s: FloatArray) -> FloatArray:
    """Power of another load, taken as on while its window is open [W]."""
    on = np.zeros(moment_s.shape, dtype=bool)
    for opens_s, closes_s in window:
        on |= (moment_s >= opens_s) & (moment_s < closes_s)
    return np.where(on, load.power_w, 0.0)
