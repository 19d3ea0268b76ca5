"""The course of a brew day: the one orchestrator of physics, over one or many draws of the conditions.

`run` follows the plan's steps and gives `Leg` after `Leg`, each a span of constant power. `energyplan.day.brewday`
turns the legs of a single day into what people read; ranges and advice use the arrays as they are.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.errors import BrewDayError, Place
from energyplan.base.kinds import CELSIUS, KEY, LITRES, WATTS, WORD
from energyplan.base.sentence import Sentence
from energyplan.day.body import shell_of, surroundings_of
from energyplan.day.changes import Mashing, changed
from energyplan.day.legs import AS_PLANNED, Arrival, Conditions, Course, Leg, Mishap, PhaseName
from energyplan.day.supply import Heating, heating
from energyplan.physics import balance
from energyplan.physics.contents import Contents, solve_temperature_c
from energyplan.physics.losscurve import LossCurve, loss_curve
from energyplan.physics.water import boiling_point_c, density_kg_per_m3
from energyplan.physics.wort import boiling_point_rise_k, malt_specific_heat_j_per_kg_k
from energyplan.plan.model import Action, Lid, Plan, Step

__all__ = [
    "AS_PLANNED",
    "Arrival",
    "Conditions",
    "Course",
    "Leg",
    "PhaseName",
    "run",
    "runner",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

BEYOND_STALL = 2.0  # heat, over the loss, with which a draw goes on that stalled: any value, it counts no longer
SAME_K = 1e-6  # temperatures closer than this are the same
DRY_FRAC = 0.02  # of the vessel's volume: below it the elements have long been bare


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Now:
    """Where the day has got to."""

    time_s: FloatArray
    temperature_c: FloatArray
    contents: Contents


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Setting:
    """How a phase is run: elements under a cap, pump and its heat [W], loss of the state."""

    step: Step
    given: Heating
    losses: LossCurve
    pump_w: float
    pump_heat_w: FloatArray

    @property
    def most_w(self) -> FloatArray:
        """Most heat that goes into the contents [W]."""
        return np.asarray(self.given.most_w + self.pump_heat_w)


def run(plan: Plan, conditions: Conditions = AS_PLANNED, *, extract_kg: float = 0.0, go_on: bool = False) -> Course:
    """Follow a plan through the day.

    Parameters
    ----------
    plan : Plan
        What the brewer entered.
    conditions : Conditions
        Differences from the plan, for one or many draws.
    extract_kg : float
        Extract that the grain gives to the wort [kg]; `energyplan.day.brewday.extract_kg` finds it from the gravity.
    go_on : bool
        Note a draw that can't be brewed among the course's mishaps, and go on with the others.

    Raises
    ------
    BrewDayError
        If the vessel runs over or boils dry, or a ramp stalls; the message names step, temperature and remedy.
        Not with ``go_on``.
    """
    return runner(plan, conditions, go_on=go_on)(extract_kg)


def runner(plan: Plan, conditions: Conditions = AS_PLANNED, *, go_on: bool = False) -> Callable[[float], Course]:
    """The same as `run`, for several extracts [kg] in turn: what does not depend on the extract is made once."""
    return _Day(plan, conditions, go_on=go_on).run


class _Day:
    """The walk through one plan; keeps what does not change on the way."""

    def __init__(self, plan: Plan, conditions: Conditions, *, go_on: bool) -> None:
        self.plan, self.conditions, self.go_on = plan, conditions, go_on
        self.draws = conditions.draws
        self.shell = shell_of(plan, conditions.loss_factor)
        self.around = surroundings_of(plan, conditions.air_c)
        self.capacity_l = 1000 * self.shell.lid_m2 * self.shell.height_m
        self.voltage_v = self._draws_of(conditions.voltage_v, plan.voltage_v)
        self.element_factor = self._draws_of(conditions.element_factor, 1.0)
        self.grain_c = self._draws_of(conditions.grain_c, plan.grain_c)
        self.water_boils_c = float(boiling_point_c(self.around.pressure_pa))
        self.curves: dict[Lid, LossCurve] = {}
        self.heatings: dict[float | None, Heating] = {}
        self._begin(0.0)

    def _begin(self, extract_kg: float) -> None:
        self.extract_kg = extract_kg
        self.legs: list[Leg] = []
        self.arrivals: list[Arrival] = []
        self.mishaps: list[Mishap] = []
        self.fullest = np.zeros(self.draws)
        self.step_starts_s: dict[str, FloatArray] = {}

    def _draws_of(self, value: ArrayLike | None, planned: float) -> FloatArray:
        return np.broadcast_to(np.asarray(planned if value is None else value, dtype=float), (self.draws,))

    def run(self, extract_kg: float) -> Course:
        self._begin(extract_kg)
        now = start = self._start()
        self._fits(now, self.plan.steps[0])
        for step in self.plan.steps:
            self.step_starts_s[step.name] = now.time_s
            now = self._prepare(now, step)
            for phase in (self._rest, self._heat, self._hold):
                now = phase(now, step)
        return Course(
            legs=tuple(self.legs),
            arrivals=tuple(self.arrivals),
            mishaps=tuple(self.mishaps),
            start=start.contents,
            start_c=start.temperature_c,
            end=now.contents,
            end_c=now.temperature_c,
            fullest_frac=self.fullest,
            step_starts_s=self.step_starts_s,
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
            vessel_j_per_k=none + vessel.own_heat_j_per_k,
        )
        return _Now(time_s=none, temperature_c=water_c + none, contents=contents)

    # What goes in and out ---------------------------------------------------------------------------------

    def _prepare(self, now: _Now, step: Step) -> _Now:
        """Do what a step begins with; emptied on the way, the vessel must be wet again after the last of it."""
        filled_l = None
        for action in step.before:
            now = self._act(now, step, action)
            filled_l = self._fits(now, step)
        if filled_l is not None:
            self._stays_wet(step, filled_l)
        return now

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
        return replace(now, temperature_c=to_c, contents=after)

    def _mishap(self, step: Step, which: BoolArray, words: Sentence) -> None:
        """Stop for a draw that can't be brewed, or note it and go on with the others."""
        message = Sentence("{step}: {words}", step=KEY(Place("step", row=step.name)), words=words)
        if not self.go_on:
            raise BrewDayError(message)
        self.mishaps.append(Mishap(step=step.name, which=which, message=message))

    def _fits(self, now: _Now, step: Step) -> FloatArray:
        """Filled volume [L], which must not run over."""
        filled_l = now.contents.filled_l(now.temperature_c)
        self.fullest = np.maximum(self.fullest, filled_l / self.capacity_l)
        over = filled_l > self.capacity_l
        if over.any():
            words = Sentence(
                "the vessel would run over: {filled} in a vessel of {holds} ({diameter}, {height}); use less water or "
                "grain, or a larger vessel",
                filled=LITRES(filled_l.max()),
                holds=LITRES(self.capacity_l),
                diameter=KEY("vessel.diameter"),
                height=KEY("vessel.height"),
            )
            self._mishap(step, over, words)
        return filled_l

    def _stays_wet(self, step: Step, filled_l: FloatArray) -> BoolArray:
        dry = np.asarray((filled_l < DRY_FRAC * self.capacity_l) & step.heats)
        if dry.any():
            words = Sentence(
                "the vessel runs dry: {left} are left; use more water, or less time or power in the boil",
                left=LITRES(max(filled_l.min(), 0.0)),
            )
            self._mishap(step, dry, words)
        return dry

    def _drier(self, now: _Now, setting: _Setting) -> _Now:
        """The same, after a phase in which water may have left."""
        if setting.losses.dries:
            self._stays_wet(setting.step, now.contents.filled_l(now.temperature_c))
        return now

    # Phases -----------------------------------------------------------------------------------------------

    def _setting(self, now: _Now, step: Step, cap_w: float | None, *, resting: bool = False) -> _Setting:
        """What the elements give under a cap, the pump's heat, and the loss of the state."""
        pump_w = self.plan.vessel.pump_w if step.pump_runs and not resting else 0.0
        return _Setting(
            step=step,
            given=self._heating(cap_w),
            losses=self._losses(now, step.lid_state),
            pump_w=pump_w,
            pump_heat_w=now.time_s * 0 + self.plan.vessel.pump_heat * pump_w,
        )

    def _heating(self, cap_w: float | None) -> Heating:
        if cap_w not in self.heatings:
            self.heatings[cap_w] = heating(
                self.plan, cap_w, voltage_v=self.voltage_v, element_factor=self.element_factor
            )
        return self.heatings[cap_w]

    def _losses(self, now: _Now, lid: Lid) -> LossCurve:
        """Loss curve of the state; with the lid closed it does not depend on the level and is made once."""
        if lid != "off" and lid in self.curves:
            return self.curves[lid]
        wetted = np.minimum(now.contents.filled_l(now.temperature_c) / self.capacity_l, 1.0)
        # On whole degrees, so that the curve of a draw is the same whatever other draws are run beside it.
        low_c = float(np.floor(min(np.min(np.asarray(self.around.air_c)), np.min(now.temperature_c), 0.0)))
        curve = loss_curve(self.around, self.shell, lid, wetted, low_c=low_c, high_c=self.water_boils_c + 2.0)
        self.curves[lid] = curve
        return curve

    def _rest(self, now: _Now, step: Step) -> _Now:
        if step.pause_s <= 0:
            return now
        setting = self._setting(now, step, 0.0, resting=True)
        pause_s = now.time_s * 0 + step.pause_s
        outcome = balance.drift(now.contents, now.temperature_c, pause_s, setting.pump_heat_w, setting.losses)
        return self._drier(self._leg(now, "pause", outcome, setting), setting)

    def _heat(self, now: _Now, step: Step) -> _Now:
        if not step.heats:
            return now
        goal_c = self._goal_c(now, step)
        goal_c = np.where(goal_c > now.temperature_c + SAME_K, goal_c, now.temperature_c)
        if (goal_c == now.temperature_c).all():
            return now
        setting = self._setting(now, step, step.ramp_power_w)
        heat_w = self._enough_w(now, goal_c, setting)
        outcome = balance.ramp(now.contents, now.temperature_c, goal_c, heat_w, setting.losses)
        hot = self._leg(now, "ramp", outcome, setting)
        self._stays_wet(step, self._fits(hot, step))
        return hot

    def _enough_w(self, now: _Now, goal_c: FloatArray, setting: _Setting) -> FloatArray:
        """Heat of a ramp [W], which must not stall."""
        heat_w, step = setting.most_w, setting.step
        stalls, at_c, needed_w = balance.stall(now.temperature_c, goal_c, heat_w, setting.losses)
        if not stalls.any():
            return heat_w
        k = int(np.argmax(stalls))
        words = Sentence(
            "with {heat} the ramp stalls at {at} on the way to {goal} (lid {lid}); it takes more than {needed}: "
            "raise {key}, close the lid, or lower the target",
            heat=WATTS(heat_w[k]),
            at=CELSIUS(at_c[k]),
            goal=CELSIUS(goal_c[k]),
            lid=WORD(step.lid_state),
            needed=WATTS(needed_w[k]),
            key=KEY(Place("", "ramp_power")),
        )
        self._mishap(step, stalls, words)
        return np.where(stalls, BEYOND_STALL * needed_w + 1.0, heat_w)

    def _goal_c(self, now: _Now, step: Step) -> FloatArray:
        if step.boil:
            return np.asarray(self.water_boils_c + boiling_point_rise_k(now.contents.plato))
        return self._draws_of(step.target_c, 0.0)

    def _hold(self, now: _Now, step: Step) -> _Now:
        if not step.heats or step.hold_s <= 0:
            return now
        setting = self._setting(now, step, step.hold_power_w)
        if step.boil:
            return self._boil(now, setting)
        now, left_s = self._cool_to_target(now, step, setting)
        return self._keep(now, setting, left_s)

    def _cool_to_target(self, now: _Now, step: Step, setting: _Setting) -> tuple[_Now, FloatArray]:
        """Above its target the thermostat leaves the elements off until the temperature has come down."""
        target_c = self._draws_of(step.target_c, 0.0)
        above = now.temperature_c > target_c + SAME_K
        left_s = now.time_s * 0 + step.hold_s
        if not above.any():
            return now, left_s
        off = self._setting(now, step, 0.0)
        cooled = balance.cool(
            now.contents, now.temperature_c, target_c, off.pump_heat_w, setting.losses, longest_s=step.hold_s
        )
        return self._drier(self._leg(now, "hold", cooled, off), off), left_s - cooled.duration_s

    def _keep(self, now: _Now, setting: _Setting, left_s: FloatArray) -> _Now:
        if (left_s <= 0).all():
            return now
        losses = setting.losses
        needed_w = losses.total_w(now.temperature_c)
        heat_w = np.clip(needed_w, setting.pump_heat_w, setting.most_w)
        held = heat_w == needed_w
        kept = balance.keep(now.contents, now.temperature_c, left_s, losses)
        if not held.all():
            longest_s = setting.step.hold_s
            drifted = balance.drift(now.contents, now.temperature_c, left_s, heat_w, losses, longest_s=longest_s)
            kept = balance.choose(held, kept, drifted)
        return self._drier(self._leg(now, "hold", kept, setting), setting)

    def _boil(self, now: _Now, setting: _Setting) -> _Now:
        heat_w, losses = setting.most_w, setting.losses
        duration_s = now.time_s * 0 + setting.step.hold_s
        boils = heat_w >= balance.least_boil_w(now.temperature_c, losses)
        boiled = balance.boil(now.contents, now.temperature_c, duration_s, heat_w, losses)
        if not boils.all():
            sagged = balance.drift(now.contents, now.temperature_c, duration_s, heat_w, losses)
            boiled = balance.choose(boils, boiled, sagged)
        later = self._leg(now, "boil", boiled, setting)
        dry = self._stays_wet(setting.step, later.contents.filled_l(later.temperature_c))
        # A draw that boiled dry goes on with what it had, for no better reason than that it must hold something.
        return replace(later, contents=balance.either(dry, now.contents, later.contents)) if dry.any() else later

    def _leg(self, now: _Now, phase: PhaseName, outcome: balance.Outcome, setting: _Setting) -> _Now:
        lasts = outcome.duration_s > 0
        mean_w = outcome.heat_j / np.where(lasts, outcome.duration_s, 1.0)
        element_w = np.where(lasts, np.maximum(mean_w - setting.pump_heat_w, 0.0), 0.0)
        other_w = setting.pump_w + self.plan.vessel.standby_w
        leg = Leg(
            step=setting.step,
            phase=phase,
            start_s=now.time_s,
            from_c=now.temperature_c,
            outcome=outcome,
            element_w=element_w,
            board_w=element_w * setting.given.board_factor + other_w,
            heater_w_per_v2=setting.given.heater_w_per_v2 if (element_w > 0).any() else 0.0,
            other_w=other_w,
            losses=setting.losses,
            before=now.contents,
        )
        self.legs.append(leg)
        return _Now(time_s=leg.end_s, temperature_c=outcome.end_c, contents=outcome.contents)
