"""The course of a brew day: the one orchestrator of physics, over one or many draws of the conditions.

`run` follows the plan's steps and gives `Leg` after `Leg`, each a span of constant power. `energyplan.brewday`
turns the legs of a single day into what people read; ranges and advice use the arrays as they are.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.changes import Mashing, changed
from energyplan.constants import STEEL_J_PER_KG_K
from energyplan.errors import BrewDayError
from energyplan.physics import balance
from energyplan.physics.contents import Contents, solve_temperature_c
from energyplan.physics.losscurve import LossCurve, Part, Shell, loss_curve
from energyplan.physics.losses import Surroundings
from energyplan.physics.water import boiling_point_c, density_kg_per_m3, pressure_at_altitude_pa
from energyplan.physics.wort import boiling_point_rise_k, malt_specific_heat_j_per_kg_k
from energyplan.plan import Action, Lid, Plan, Step
from energyplan.supply import Heating, heating

__all__ = ["Arrival", "Conditions", "Course", "Leg", "PhaseName", "run", "shell_of", "surroundings_of"]

FloatArray = NDArray[np.float64]
PhaseName = Literal["pause", "ramp", "hold", "boil"]

DRY_FRAC = 0.02  # of the vessel's volume: below it the elements have long been bare


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conditions:
    """What may differ from the plan: each None means "as planned"; each may be an array over draws."""

    air_c: ArrayLike | None = None
    water_c: ArrayLike | None = None
    grain_c: ArrayLike | None = None
    voltage_v: ArrayLike | None = None
    element_factor: ArrayLike = 1.0
    loss_factor: ArrayLike = 1.0

    @property
    def draws(self) -> int:
        """Number of draws."""
        given = (self.air_c, self.water_c, self.grain_c, self.voltage_v, self.element_factor, self.loss_factor)
        return max(np.size(value) for value in given if value is not None)


AS_PLANNED = Conditions()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """A span of constant power within a phase; arrays have the shape (draws,).

    ``element_w`` is the mean power of the elements, ``board_w`` what the meter sees of the vessel
    (elements, loss in the leads, pump, standby), ``heater_w_per_v2`` the conductance that is on at a time.
    """

    step: Step
    phase: PhaseName
    start_s: FloatArray
    from_c: FloatArray
    outcome: balance.Outcome
    element_w: FloatArray
    board_w: FloatArray
    heater_w_per_v2: float
    other_w: float
    needed_w: FloatArray
    before: Contents

    @property
    def end_s(self) -> FloatArray:
        """When it ends, from the start of the day [s]."""
        return np.asarray(self.start_s + self.outcome.duration_s)

    @property
    def lowest_c(self) -> FloatArray:
        """Lowest temperature on the way [°C]; within a leg the temperature only rises or only falls."""
        return np.minimum(self.from_c, self.outcome.end_c)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrival:
    """Something that goes in or out at the start of a step, with the heat it carries in (out: negative) [J]."""

    step: Step
    action: Action
    time_s: FloatArray
    from_c: FloatArray
    to_c: FloatArray
    carried_j: FloatArray
    before: Contents
    after: Contents


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """A whole day: its legs, what went in and out, the contents at either end."""

    legs: tuple[Leg, ...]
    arrivals: tuple[Arrival, ...]
    start: Contents
    start_c: FloatArray
    end: Contents
    end_c: FloatArray
    fullest_frac: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Now:
    """Where the day has got to."""

    time_s: FloatArray
    temperature_c: FloatArray
    contents: Contents


def shell_of(plan: Plan, loss_factor: ArrayLike = 1.0) -> Shell:
    """Describe the plan's vessel to the loss model; ``loss_factor`` scales its closed surfaces."""
    vessel = plan.vessel
    factor = np.asarray(loss_factor, dtype=float)
    measured = vessel.heat_loss_w_per_k
    covered: frozenset[Part] = frozenset(vessel.jacket_covers)
    return Shell(
        diameter_m=vessel.diameter_m,
        height_m=vessel.height_m,
        emissivity=vessel.outer_emissivity,
        jacket_m=vessel.jacket_thickness_m or 0.0,
        jacket_w_per_m_k=vessel.jacket_conductivity_w_per_m_k,
        jacketed=covered,
        fittings=vessel.fittings * factor,
        heat_loss_w_per_k=None if measured is None else measured * factor,
        ajar_open_frac=vessel.lid_ajar_open,
    )


def surroundings_of(plan: Plan, air_c: ArrayLike | None = None) -> Surroundings:
    """Describe the plan's place to the loss model, with another air temperature [°C] if given."""
    site = plan.site
    air = site.air_c if air_c is None else air_c
    return Surroundings(
        air_c=air,
        radiant_c=air if site.surroundings_c is None else site.surroundings_c,
        humidity_frac=site.humidity,
        pressure_pa=pressure_at_altitude_pa(site.altitude_m),
        draught_m_per_s=site.draught_m_per_s,
    )


def run(plan: Plan, conditions: Conditions = AS_PLANNED, *, extract_kg: float = 0.0) -> Course:
    """Follow a plan through the day.

    Parameters
    ----------
    plan : Plan
        What the brewer entered.
    conditions : Conditions
        Differences from the plan, for one or many draws.
    extract_kg : float
        Extract that the grain gives to the wort [kg]; `energyplan.brewday.extract_kg` finds it from the gravity.

    Raises
    ------
    BrewDayError
        If the vessel runs over or boils dry, or a ramp stalls; the message names step, temperature and remedy.
    """
    return _Day(plan, conditions, extract_kg).run()


class _Day:
    """The walk through one plan; keeps what does not change on the way."""

    def __init__(self, plan: Plan, conditions: Conditions, extract_kg: float) -> None:
        self.plan, self.conditions, self.extract_kg = plan, conditions, extract_kg
        self.draws = conditions.draws
        self.shell = shell_of(plan, conditions.loss_factor)
        self.around = surroundings_of(plan, conditions.air_c)
        self.capacity_l = 1000 * self.shell.lid_m2 * self.shell.height_m
        self.voltage_v = self._draws_of(conditions.voltage_v, plan.voltage_v)
        self.element_factor = self._draws_of(conditions.element_factor, 1.0)
        planned_grain_c = plan.batch.grain_temperature_c
        self.grain_c = self._draws_of(
            conditions.grain_c, plan.site.air_c if planned_grain_c is None else planned_grain_c
        )
        self.water_boils_c = float(boiling_point_c(self.around.pressure_pa))
        self.curves: dict[Lid, LossCurve] = {}
        self.legs: list[Leg] = []
        self.arrivals: list[Arrival] = []
        self.fullest = np.zeros(self.draws)

    def _draws_of(self, value: ArrayLike | None, planned: float) -> FloatArray:
        return np.broadcast_to(np.asarray(planned if value is None else value, dtype=float), (self.draws,))

    def run(self) -> Course:
        now = start = self._start()
        self._fits(now, self.plan.steps[0])
        for step in self.plan.steps:
            for action in step.before:
                now = self._act(now, step, action)
            self._stays_wet(now, step)
            for phase in (self._rest, self._heat, self._hold):
                now = phase(now, step)
        return Course(
            legs=tuple(self.legs),
            arrivals=tuple(self.arrivals),
            start=start.contents,
            start_c=start.temperature_c,
            end=now.contents,
            end_c=now.temperature_c,
            fullest_frac=self.fullest,
        )

    def _start(self) -> _Now:
        batch, vessel = self.plan.batch, self.plan.vessel
        water_c = self._draws_of(self.conditions.water_c, batch.water_temperature_c)
        planned_kg = batch.water_l / 1000 * density_kg_per_m3(batch.water_temperature_c)
        none = np.zeros(self.draws)
        has_mash = any(action.kind == "add grain" for step in self.plan.steps for action in step.before)
        contents = Contents(
            water_kg=none + planned_kg,
            extract_kg=none if has_mash else none + self.extract_kg,
            grain_kg=none,
            grain_j_per_kg_k=none + malt_specific_heat_j_per_kg_k(batch.grain_moisture),
            vessel_j_per_k=none + vessel.empty_mass_kg * STEEL_J_PER_KG_K,
        )
        return _Now(time_s=none, temperature_c=water_c + none, contents=contents)

    # What goes in and out ---------------------------------------------------------------------------------

    def _act(self, now: _Now, step: Step, action: Action) -> _Now:
        mashing = Mashing(grain_c=self.grain_c, extract_kg=self.extract_kg)
        after, carried_j = changed(now.contents, now.temperature_c, action, self.plan.batch, mashing)
        stored_j = now.contents.enthalpy_j(now.temperature_c)
        to_c = solve_temperature_c(after.enthalpy_j, stored_j + carried_j, now.temperature_c)
        self.arrivals.append(
            Arrival(
                step=step,
                action=action,
                time_s=now.time_s,
                from_c=now.temperature_c,
                to_c=to_c,
                carried_j=carried_j,
                before=now.contents,
                after=after,
            )
        )
        later = replace(now, temperature_c=to_c, contents=after)
        self._fits(later, step)
        return later

    def _fits(self, now: _Now, step: Step) -> None:
        filled_l = now.contents.filled_l(now.temperature_c)
        self.fullest = np.maximum(self.fullest, filled_l / self.capacity_l)
        if (filled_l > self.capacity_l).any():
            raise BrewDayError(
                f'[[step]] "{step.name}": the vessel would run over: {filled_l.max():.1f} L in a vessel of '
                f"{self.capacity_l:.1f} L ([vessel] diameter and height); use less water or grain, or a larger vessel"
            )

    def _stays_wet(self, now: _Now, step: Step) -> None:
        filled_l = now.contents.filled_l(now.temperature_c)
        if step.heats and (filled_l < DRY_FRAC * self.capacity_l).any():
            raise BrewDayError(
                f'[[step]] "{step.name}": the vessel runs dry: {filled_l.min():.1f} L are left; '
                "use more water, or less time or power in the boil"
            )

    # Phases -----------------------------------------------------------------------------------------------

    def _rest(self, now: _Now, step: Step) -> _Now:
        if step.pause_s <= 0:
            return now
        off = self._heating(0.0)
        losses = self._losses(now, step.lid_state)
        outcome = balance.drift(now.contents, now.temperature_c, now.time_s * 0 + step.pause_s, now.time_s * 0, losses)
        return self._leg(now, step, "pause", outcome, off, pump=False)

    def _heat(self, now: _Now, step: Step) -> _Now:
        if not step.heats:
            return now
        goal_c = np.maximum(self._goal_c(now, step), now.temperature_c)
        if (goal_c <= now.temperature_c).all():
            return now
        losses = self._losses(now, step.lid_state)
        given = self._heating(step.ramp_power_w)
        heat_w = given.most_w + self._pump_heat_w(step)
        self._must_not_stall(now, step, goal_c, heat_w, losses)
        outcome = balance.ramp(now.contents, now.temperature_c, goal_c, heat_w, losses)
        return self._leg(now, step, "ramp", outcome, given, pump=step.pump_runs)

    def _must_not_stall(self, now: _Now, step: Step, goal_c: FloatArray, heat_w: FloatArray, losses: LossCurve) -> None:
        stalls, at_c, needed_w = balance.stall(now.temperature_c, goal_c, heat_w, losses)
        if stalls.any():
            k = int(np.argmax(stalls))
            raise BrewDayError(
                f'[[step]] "{step.name}": with {heat_w[k]:.0f} W the ramp stalls at {at_c[k]:.1f} degC on the way to '
                f"{goal_c[k]:.1f} degC (lid {step.lid_state}); it takes more than {needed_w[k]:.0f} W: "
                "raise ramp_power, close the lid, or lower the target"
            )

    def _goal_c(self, now: _Now, step: Step) -> FloatArray:
        if step.boil:
            return np.asarray(self.water_boils_c + boiling_point_rise_k(now.contents.plato))
        return self._draws_of(step.target_c, 0.0)

    def _hold(self, now: _Now, step: Step) -> _Now:
        if not step.heats or step.hold_s <= 0:
            return now
        given, losses = self._heating(step.hold_power_w), self._losses(now, step.lid_state)
        if step.boil:
            return self._boil(now, step, given, losses)
        now, left_s = self._cool_to_target(now, step, losses)
        return self._keep(now, step, given, losses, left_s)

    def _cool_to_target(self, now: _Now, step: Step, losses: LossCurve) -> tuple[_Now, FloatArray]:
        """Above its target the thermostat leaves the elements off until the temperature has come down."""
        target_c = self._draws_of(step.target_c, 0.0)
        above = now.temperature_c > target_c + 1e-6
        left_s = now.time_s * 0 + step.hold_s
        if not above.any():
            return now, left_s
        pump_w = now.time_s * 0 + self._pump_heat_w(step)
        cooling_s = balance.cooling_time_s(now.contents, now.temperature_c, target_c, pump_w, losses)
        cooling_s = np.minimum(np.where(above, cooling_s, 0.0), left_s)
        off = self._heating(0.0)
        outcome = balance.drift(now.contents, now.temperature_c, cooling_s, pump_w, losses)
        return self._leg(now, step, "hold", outcome, off, pump=step.pump_runs), left_s - cooling_s

    def _keep(self, now: _Now, step: Step, given: Heating, losses: LossCurve, left_s: FloatArray) -> _Now:
        if (left_s <= 0).all():
            return now
        pump_w = self._pump_heat_w(step)
        needed_w = losses.total_w(now.temperature_c) - pump_w
        held = (needed_w >= 0) & (needed_w <= given.most_w)
        kept = balance.keep(now.contents, now.temperature_c, left_s, losses)
        if held.all():
            return self._leg(now, step, "hold", kept, given, pump=step.pump_runs)
        heat_w = np.clip(needed_w, 0.0, given.most_w) + pump_w
        drifted = balance.drift(now.contents, now.temperature_c, left_s, heat_w, losses)
        return self._leg(now, step, "hold", balance.choose(held, kept, drifted), given, pump=step.pump_runs)

    def _boil(self, now: _Now, step: Step, given: Heating, losses: LossCurve) -> _Now:
        heat_w = given.most_w + self._pump_heat_w(step)
        duration_s = now.time_s * 0 + step.hold_s
        boils = heat_w >= balance.least_boil_w(now.temperature_c, losses)
        boiled = balance.boil(now.contents, now.temperature_c, duration_s, heat_w, losses)
        if not boils.all():
            sagged = balance.drift(now.contents, now.temperature_c, duration_s, heat_w, losses)
            boiled = balance.choose(boils, boiled, sagged)
        later = self._leg(now, step, "boil", boiled, given, pump=step.pump_runs)
        self._stays_wet(later, step)
        return later

    def _heating(self, cap_w: float | None) -> Heating:
        return heating(self.plan, cap_w, voltage_v=self.voltage_v, element_factor=self.element_factor)

    def _pump_heat_w(self, step: Step) -> float:
        return self.plan.vessel.pump_heat * self.plan.vessel.pump_w if step.pump_runs else 0.0

    def _losses(self, now: _Now, lid: Lid) -> LossCurve:
        """Loss curve of the state; with the lid closed it does not depend on the level and is made once."""
        wetted = np.minimum(now.contents.filled_l(now.temperature_c) / self.capacity_l, 1.0)
        if lid != "off" and lid in self.curves:
            return self.curves[lid]
        low_c = float(min(np.min(np.asarray(self.around.air_c)), np.min(now.temperature_c), 0.0))
        curve = loss_curve(self.around, self.shell, lid, wetted, low_c=low_c, high_c=self.water_boils_c + 2.0)
        self.curves[lid] = curve
        return curve

    def _leg(
        self, now: _Now, step: Step, phase: PhaseName, outcome: balance.Outcome, given: Heating, *, pump: bool
    ) -> _Now:
        vessel = self.plan.vessel
        pump_w = vessel.pump_w if pump else 0.0
        other_w = pump_w + vessel.standby_w
        duration_s = np.where(outcome.duration_s > 0, outcome.duration_s, 1.0)
        element_w = np.maximum(outcome.heat_j / duration_s - vessel.pump_heat * pump_w, 0.0)
        element_w = np.where(outcome.duration_s > 0, element_w, 0.0)
        self.legs.append(
            Leg(
                step=step,
                phase=phase,
                start_s=now.time_s,
                from_c=now.temperature_c,
                outcome=outcome,
                element_w=element_w,
                board_w=element_w * given.board_factor + other_w,
                heater_w_per_v2=given.heater_w_per_v2 if (element_w > 0).any() else 0.0,
                other_w=other_w,
                needed_w=self._losses(now, step.lid_state).total_w(outcome.end_c),
                before=now.contents,
            )
        )
        return _Now(
            time_s=np.asarray(now.time_s + outcome.duration_s), temperature_c=outcome.end_c, contents=outcome.contents
        )
