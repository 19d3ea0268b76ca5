"""A brew day integrated through time in the usual two ways, to measure the planner's own run against.

The steps are walked as the planner walks them, and the masses and heats that go in and out are its own; but every
phase is an initial value problem in time, given to an integrator: `by_scipy` (one call of `solve_ivp` per phase, one
draw at a time) or `by_runge_kutta` (fixed steps, all draws at once).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from energyplan.day.course import Conditions
from energyplan.day.kettle import open_surface_factor, shell_of, surroundings_of
from energyplan.day.legs import Mashing, changed
from energyplan.day.supply import heating
from energyplan.physics.contents import Contents
from energyplan.physics.losscurve import loss_curve
from energyplan.physics.vesselloss import dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import boiling_point_c, density_kg_per_m3, latent_heat_j_per_kg, specific_heat_j_per_kg_k
from energyplan.physics.wort import (
    boiling_point_rise_k,
    extract_lack_j_per_kg_k,
    malt_specific_heat_j_per_kg_k,
)
from energyplan.plan.model import Plan, Step

__all__ = ["ReferenceDay", "by_runge_kutta", "by_scipy", "reference_day"]

FloatArray = NDArray[np.float64]
Slope = Callable[[FloatArray], FloatArray]
Losses = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
CEILING_S = 12 * 3600.0


class Integrator(Protocol):
    """Carry (temperature, water) of shape (2, draws) for a time, or to a temperature; also how long that took."""

    def __call__(
        self, slope: Slope, state: FloatArray, *, duration_s: FloatArray | None = None, to_c: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]: ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReferenceDay:
    """Energy at the board [kWh], duration [s], temperature at the end of each step [°C] and water at the end [kg]."""

    energy_kwh: FloatArray
    duration_s: FloatArray
    ends_c: FloatArray
    water_kg: FloatArray


def by_scipy(method: str, tolerance: float) -> Integrator:
    """One `solve_ivp` per phase, for a single draw."""

    def integrate(slope, state, *, duration_s=None, to_c=None):  # type: ignore[no-untyped-def]
        def right_side(_: float, y: FloatArray) -> FloatArray:
            return slope(y[:, None])[:, 0]

        events = None
        if to_c is not None:

            def events(_: float, y: FloatArray) -> float:
                return float(y[0] - to_c[0])

            events.terminal = True  # type: ignore[attr-defined]
        until_s = CEILING_S if duration_s is None else float(duration_s[0])
        found = solve_ivp(
            right_side, (0.0, until_s), state[:, 0], method=method, rtol=tolerance, atol=tolerance, events=events
        )
        end = found.y[:, -1:].copy()
        if to_c is not None:
            end[0] = to_c
        return end, np.array([found.t[-1]])

    return integrate


def by_runge_kutta(step_s: float) -> Integrator:
    """Plain fourth-order steps of one width for all draws; on the way to a temperature the last one is cut short."""

    def one_step(slope: Slope, y: FloatArray, width_s: FloatArray) -> FloatArray:
        k1 = slope(y)
        k2 = slope(y + width_s / 2 * k1)
        k3 = slope(y + width_s / 2 * k2)
        k4 = slope(y + width_s * k3)
        return y + width_s / 6 * (k1 + 2 * k2 + 2 * k3 + k4)

    def integrate(slope, state, *, duration_s=None, to_c=None):  # type: ignore[no-untyped-def]
        y, passed_s = state, np.zeros(state.shape[1])
        upwards = None if to_c is None else np.sign(to_c - state[0])
        while True:
            width_s = np.full(state.shape[1], step_s)
            if duration_s is not None:
                width_s = np.minimum(width_s, duration_s - passed_s)
            after = one_step(slope, y, width_s)
            if to_c is not None:
                beyond = (after[0] - to_c) * upwards >= 0
                share = (to_c - y[0]) / np.where(after[0] == y[0], 1.0, after[0] - y[0])
                width_s = np.where(beyond, np.clip(share, 0.0, 1.0), 1.0) * width_s
                after = np.where(beyond, y + (after - y) * np.clip(share, 0.0, 1.0), after)
            y, passed_s = after, passed_s + width_s
            if (width_s < step_s).all():
                return y, passed_s

    return integrate


def reference_day(
    plan: Plan, conditions: Conditions, extract_kg: float, integrate: Integrator, *, exact_losses: bool = False
) -> ReferenceDay:
    """Walk a plan's steps; ``exact_losses`` asks the loss relations themselves instead of the planner's tables."""
    return _Walk(plan, conditions, extract_kg, integrate, exact_losses=exact_losses).day()


class _Walk:
    def __init__(
        self, plan: Plan, conditions: Conditions, extract_kg: float, integrate: Integrator, *, exact_losses: bool
    ) -> None:
        self.plan, self.integrate, self.exact_losses = plan, integrate, exact_losses
        self.draws = conditions.draws
        self.around = surroundings_of(plan, conditions.air_c)
        factor = open_surface_factor(plan) * np.asarray(conditions.open_surface_factor)
        self.shell = shell_of(plan, conditions.loss_factor, factor)
        given = {"voltage_v": plan.voltage_v, "grain_c": plan.grain_c, "water_c": plan.batch.water_temperature_c}
        of = {name: getattr(conditions, name) for name in given}
        self.voltage_v, self.grain_c, self.water_c = (
            np.broadcast_to(np.asarray(given[name] if of[name] is None else of[name], dtype=float), (self.draws,))
            for name in given
        )
        self.element_factor = np.broadcast_to(np.asarray(conditions.element_factor, dtype=float), (self.draws,))
        self.mashing = Mashing(grain_c=self.grain_c, extract_kg=extract_kg)
        self.water_boils_c = float(boiling_point_c(self.around.pressure_pa))
        self.energy_j, self.time_s = np.zeros((2, self.draws))

    def day(self) -> ReferenceDay:
        batch, none = self.plan.batch, np.zeros(self.draws)
        self.inside = Contents(
            water_kg=none + batch.water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c)),
            extract_kg=none,
            grain_kg=none,
            grain_j_per_kg_k=none + float(malt_specific_heat_j_per_kg_k(batch.grain_moisture)),
            vessel_j_per_k=none + self.plan.vessel.own_heat_j_per_k,
        )
        self.at_c = self.water_c + none
        ends_c = []
        for step in self.plan.steps:
            for action in step.before:
                after, _, carried_j = changed(self.inside, self.at_c, action, batch, self.mashing)
                wanted_j = self.inside.enthalpy_j(self.at_c) + carried_j
                self.inside, self.at_c = after, after.temperature_c(wanted_j, self.at_c)
            self._step(step)
            ends_c.append(self.at_c)
        return ReferenceDay(
            energy_kwh=self.energy_j / 3.6e6,
            duration_s=self.time_s,
            ends_c=np.array(ends_c),
            water_kg=self.inside.water_kg,
        )

    def _step(self, step: Step) -> None:
        pump_w = self.plan.vessel.pump_w if step.pump_runs else 0.0
        pump_heat_w = self.plan.vessel.pump_heat * pump_w
        if step.pause_s > 0:
            self._run(step, lambda _: 0.0 * self.at_c, 0.0, 0.0, duration_s=self.at_c * 0 + step.pause_s)
        if not step.heats:
            return
        goal_c = (
            self.water_boils_c + boiling_point_rise_k(self.inside.plato) if step.boil else self.at_c * 0 + step.target_c
        )
        if (goal_c > self.at_c + 1e-6).any():
            most_w = self._most_w(step.ramp_power_w)
            goal_c = np.maximum(goal_c, self.at_c)
            self._run(step, lambda _: most_w, pump_heat_w, pump_w, to_c=goal_c)
        if step.hold_s > 0:
            self._hold(step, pump_w, pump_heat_w)

    def _hold(self, step: Step, pump_w: float, pump_heat_w: float) -> None:
        losses = self._losses(step)
        left_s = self.at_c * 0 + step.hold_s
        most_w = self._most_w(step.hold_power_w)
        if step.boil:
            self._boil(step, most_w, pump_w, pump_heat_w)
            return
        before_s = self.time_s
        target_c = np.minimum(self.at_c, step.target_c)
        if (target_c < self.at_c - 1e-6).any():
            self._run(step, lambda _: 0.0 * self.at_c, pump_heat_w, pump_w, to_c=target_c)
        left_s = left_s - (self.time_s - before_s)

        def thermostat_w(state: FloatArray) -> FloatArray:
            dry_w, vapour = losses(state[0])
            needed_w = dry_w + vapour * latent_heat_j_per_kg(state[0]) - pump_heat_w
            return np.clip(needed_w, 0.0, most_w)

        self._run(step, thermostat_w, pump_heat_w, pump_w, duration_s=left_s)

    def _boil(self, step: Step, most_w: FloatArray, pump_w: float, pump_heat_w: float) -> None:
        """Piece by piece, minutes where it is to be exact, with the loss of the level that is there."""
        pieces = int(np.ceil(step.hold_s / 60)) if self.exact_losses else 4
        each_s = self.at_c * 0 + step.hold_s / pieces
        for _ in range(pieces):
            dry_w, _ = self._losses(step)(self.at_c)
            vapour = (most_w + pump_heat_w - dry_w) / latent_heat_j_per_kg(self.at_c)
            self.inside = self.inside.less_water(vapour * each_s)
        self._account(each_s * pieces, most_w * each_s * pieces, pump_w)

    def _run(self, step: Step, element_w, pump_heat_w: float, pump_w: float, **until: FloatArray) -> None:  # type: ignore[no-untyped-def]
        """One phase as an initial value problem; ``element_w`` gives the elements' power in a state."""
        losses = self._losses(step)

        def slope(state: FloatArray) -> FloatArray:
            dry_w, vapour = losses(state[0])
            here = replace(self.inside, water_kg=state[1])
            capacity = (
                here.water_kg * specific_heat_j_per_kg_k(state[0])
                + here.extract_kg * (specific_heat_j_per_kg_k(state[0]) - extract_lack_j_per_kg_k(state[0]))
                + here.dry_capacity_j_per_k
            )
            net_w = element_w(state) + pump_heat_w - dry_w - vapour * latent_heat_j_per_kg(state[0])
            return np.stack([net_w / capacity, -vapour])

        start = np.stack([self.at_c, self.inside.water_kg])
        end, took_s = self.integrate(slope, start, **until)
        self._account(took_s, element_w(start) * took_s, pump_w)
        self.at_c, self.inside = end[0], replace(self.inside, water_kg=end[1])

    def _account(self, took_s: FloatArray, element_j: FloatArray, pump_w: float) -> None:
        given = heating(self.plan, None, voltage_v=self.voltage_v, element_factor=self.element_factor)
        self.energy_j = self.energy_j + element_j * given.board_factor + (pump_w + self.plan.vessel.standby_w) * took_s
        self.time_s = self.time_s + took_s

    def _most_w(self, cap_w: float | None) -> FloatArray:
        return heating(self.plan, cap_w, voltage_v=self.voltage_v, element_factor=self.element_factor).most_w

    def _losses(self, step: Step) -> Losses:
        capacity_l = 1000 * self.shell.lid_m2 * self.shell.height_m
        wetted = np.minimum(self.inside.filled_l(self.at_c) / capacity_l, 1.0)
        if self.exact_losses:
            return lambda at_c: (
                dry_loss_w(at_c, self.around, self.shell, step.lid_state, wetted),
                vapour_kg_per_s(at_c, self.around, self.shell, step.lid_state),
            )
        curve = loss_curve(self.around, self.shell, step.lid_state, wetted, low_c=-25.0, high_c=self.water_boils_c + 2)
        return curve.dry_w_and_vapour_kg_per_s
