"""The course of a brew day: the one orchestrator of physics, over one or many draws of the conditions.

`run` follows the plan's steps and gives `Leg` after `Leg`, each a span of constant power. `energyplan.day.brewday`
turns the legs of a single day into what people read; ranges and advice use the arrays as they are. `settled` finds how
much extract the malt must give for the gravity that is wanted after the boil.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import BrewDayError, Place
from energyplan.base.kinds import CELSIUS, GRAVITY, KEY, KILOGRAMS, WATTS, WORD
from energyplan.base.sentence import Listed, Sayable, Sentence, listed
from energyplan.day.kettle import Kettle, Now, Setting, has_extract_added
from energyplan.day.legs import AS_PLANNED, Arrival, Conditions, Course, Leg, PhaseName, brews_of, dosed
from energyplan.physics import balance
from energyplan.physics.contents import Contents, Draws
from energyplan.physics.drift import Outcome, drift
from energyplan.physics.losscurve import LossCurve
from energyplan.physics.wort import boiling_point_rise_k, plato_from_gravity
from energyplan.plan.model import Plan, Step

__all__ = [
    "AS_PLANNED",
    "Arrival",
    "Conditions",
    "Course",
    "Leg",
    "PhaseName",
    "extract_kg",
    "has_extract_added",
    "run",
    "runner",
    "settled",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

BEYOND_STALL = 2.0  # heat, over the loss, with which a draw goes on that stalled: any value, it counts no longer
ALL = slice(None)
SAME_K, SHOWN_K = 1e-6, 0.05  # temperatures closer than this are the same; are told as the same
EXTRACT_TOLERANCE = 1e-8
EXTRACTS_TRIED = np.array([0.7, 0.85, 1.0, 1.15, 1.3])  # of what water and gravity make likely
MOST_EXTRACT_FRAC = 0.85  # of the malt's mass; common practice, no source: good malt yields about 80 % of its dry mass
MOST_ABOVE_K = 10.0  # as far as a step may begin above its target; common practice, no source


def run(plan: Plan, conditions: Conditions = AS_PLANNED, *, extract_kg: float = 0.0, go_on: bool = False) -> Course:
    """Follow a plan through the day.

    Parameters
    ----------
    plan : Plan
        What the brewer entered.
    conditions : Conditions
        Differences from the plan, for one or many draws.
    extract_kg : float
        Extract that the grain gives to the wort [kg]; `extract_kg` finds it from the gravity.
    go_on : bool
        Note a draw that can't be brewed among the course's mishaps, and go on with the others.

    Raises
    ------
    BrewDayError
        If the vessel runs over or boils dry, or a ramp stalls; the message names step, temperature and remedy.
        Not with ``go_on``.
    """
    return runner(plan, conditions, go_on=go_on)(extract_kg)


def _stalls_where(at_c: float, goal_c: float) -> Sentence:
    if goal_c - at_c < SHOWN_K:
        return Sentence("just below {goal}", goal=CELSIUS(goal_c))
    return Sentence("at {at} on the way to {goal}", at=CELSIUS(at_c), goal=CELSIUS(goal_c))


def _more_heat(step: Step) -> Listed:
    """What helps a ramp that stalls: only what the step leaves to be changed."""
    helps: list[Sayable] = []
    if step.ramp_power_w is not None:
        helps.append(Sentence("raise {key}", key=KEY(Place("", "ramp_power"))))
    if step.lid_state != "on":
        helps.append(WORD("close the lid"))
    if step.lid_state == "off":
        helps.append(WORD("set it ajar"))
    if not step.boil:
        helps.append(WORD("lower the target"))
    if step.ramp_power_w is None:
        helps += [WORD("take a jacket"), WORD("fit stronger elements")]
    return listed(helps, "or")


def runner(
    plan: Plan, conditions: Conditions = AS_PLANNED, *, go_on: bool = False
) -> Callable[[float | FloatArray], Course]:
    """The same as `run`, for several extracts [kg] in turn: what does not depend on the extract is made once."""
    return _Day(plan, conditions, go_on=go_on).run


class _Day(Kettle):
    """The walk through one plan; keeps what does not change on the way."""

    def run(self, extract_kg: float | FloatArray) -> Course:
        self._begin(extract_kg)
        now = start = self._start()
        self._fits(now, self.plan.steps[0])
        for step in self.plan.steps:
            self.step_starts_s[step.name] = now.time_s
            now = self._prepare(now, step)
            for phase in (self._rest, self._chill, self._heat, self._hold):
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

    def _rest(self, now: Now, step: Step) -> Now:
        if step.pause_s <= 0:
            return now
        setting = self._setting(now, step, 0.0, to_c=now.temperature_c, resting=True)
        setting = self._adrift(now, setting, setting.pump_heat_w, step.pause_s)
        pause_s = now.time_s * 0.0 + step.pause_s
        outcome = drift(now.contents, now.temperature_c, pause_s, setting.pump_heat_w, setting.losses)
        return self._drier(self._leg(now, "pause", outcome, setting), setting)

    def _chill(self, now: Now, step: Step) -> Now:
        """Chilled from outside; a draw that is as cool already, or cools as fast by itself, is left alone."""
        if step.chill_to_c is None or step.chill_time_s is None:
            return now
        coolest_c = np.minimum(self._draws_of(self.conditions.air_c, self.plan.site.air_c), step.chill_to_c)
        setting = self._setting(now, step, 0.0, to_c=coolest_c, resting=True)
        lasts_s = now.time_s * 0.0 + step.chill_time_s
        to_c = np.minimum(now.temperature_c, step.chill_to_c)
        chilled = balance.chill(now.contents, now.temperature_c, to_c, lasts_s, setting.losses)
        takes_heat = (chilled.heat_j < 0) & (to_c < now.temperature_c)
        if not takes_heat.all():
            alone = drift(now.contents, now.temperature_c, lasts_s, setting.pump_heat_w, setting.losses)
            chilled = balance.choose(takes_heat, chilled, alone)
        return self._drier(self._leg(now, "chill", chilled, setting), setting)

    def _heat(self, now: Now, step: Step) -> Now:
        if not step.heats:
            return now
        goal_c = self._goal_c(now, step)
        self._can_come_down(now, step, goal_c)
        goal_c = np.where(goal_c > now.temperature_c + SAME_K, goal_c, now.temperature_c)
        if (goal_c == now.temperature_c).all():
            return now
        setting = self._setting(now, step, step.ramp_power_w, to_c=goal_c)
        way = balance.way(now.temperature_c, goal_c, setting.losses)
        outcome = balance.ramp(now.contents, way, self._enough_w(way, setting))
        hot = self._leg(now, "ramp", outcome, setting)
        self._stays_wet(step, self._fits(hot, step))
        return hot

    def _can_come_down(self, now: Now, step: Step, goal_c: FloatArray) -> None:
        """Refuse a target far below what is there: nothing in the vessel cools."""
        too_warm = now.temperature_c > goal_c + MOST_ABOVE_K
        if not too_warm.any():
            return
        k = int(np.argmax(too_warm))
        words = Sentence(
            "it is {now} when it shall be {goal}, and nothing in the vessel cools: chill it from outside ({to}, "
            "{time}), or let it stand before ({pause})",
            now=CELSIUS(now.temperature_c[k]),
            goal=CELSIUS(goal_c[k]),
            to=KEY(Place("", "chill_to")),
            time=KEY(Place("", "chill_time")),
            pause=KEY(Place("", "pause")),
        )
        self._mishap(step, too_warm, words)

    def _enough_w(self, way: balance.Way, setting: Setting) -> FloatArray:
        """Heat of a ramp [W], which must not stall."""
        heat_w, step = setting.most_w, setting.step
        stalls, at_c, needed_w = balance.stall(way, heat_w)
        if not stalls.any():
            return heat_w
        k = int(np.argmax(stalls))
        words = Sentence(
            "with {heat}{all} the ramp stalls {place} (lid {lid}); it takes more than {needed}: {mend}",
            heat=WATTS(heat_w[k]),
            all=WORD(", all elements," if step.ramp_power_w is None else ""),
            place=_stalls_where(float(at_c[k]), float(way.to_c[k])),
            lid=WORD(step.lid_state),
            needed=WATTS(needed_w[k]),
            mend=_more_heat(step),
        )
        self._mishap(step, stalls, words)
        return np.where(stalls, BEYOND_STALL * needed_w + 1.0, heat_w)

    def _goal_c(self, now: Now, step: Step) -> FloatArray:
        if step.boil:
            return np.asarray(self.water_boils_c + boiling_point_rise_k(now.contents.plato))
        return self._draws_of(step.target_c, 0.0)

    def _hold(self, now: Now, step: Step) -> Now:
        if not step.heats or step.hold_s <= 0:
            return now
        if step.boil:
            return self._boil(now, step)
        setting = self._setting(now, step, step.hold_power_w, to_c=self._draws_of(step.target_c, 0.0))
        now, left_s = self._cool_to_target(now, step, setting)
        return self._keep(now, setting, left_s)

    def _cool_to_target(self, now: Now, step: Step, setting: Setting) -> tuple[Now, FloatArray]:
        """Above its target the thermostat leaves the elements off until the temperature has come down."""
        target_c = self._draws_of(step.target_c, 0.0)
        above = now.temperature_c > target_c + SAME_K
        left_s = now.time_s * 0.0 + step.hold_s
        if not above.any():
            return now, left_s
        off = replace(setting, given=self._heating(0.0))
        cooled = balance.cool(
            now.contents, now.temperature_c, target_c, off.pump_heat_w, setting.losses, longest_s=step.hold_s
        )
        return self._drier(self._leg(now, "hold", cooled, off), off), left_s - cooled.duration_s

    def _keep(self, now: Now, setting: Setting, left_s: FloatArray) -> Now:
        if (left_s <= 0.0).all():
            return now
        needed_w = setting.losses.total_w(now.temperature_c)
        heat_w = np.minimum(np.maximum(needed_w, setting.pump_heat_w), setting.most_w)
        held = heat_w == needed_w
        kept = balance.keep(now.contents, now.temperature_c, left_s, setting.losses)
        if not held.all():
            longest_s = setting.step.hold_s
            setting = self._adrift(now, setting, heat_w, longest_s)
            sags = np.flatnonzero(~held)
            kept = kept.with_some(sags, _drifting(sags, now, heat_w, (left_s, longest_s))(setting.losses))
        return self._drier(self._leg(now, "hold", kept, setting), setting)

    def _boil(self, now: Now, step: Step) -> Now:
        """Boil for the time of the hold; what goes in with a mass cools it until it is hot again."""
        air_c = self._draws_of(self.conditions.air_c, self.plan.site.air_c)
        left_s = now.time_s * 0.0 + step.hold_s
        weighed = [addition for addition in step.additions if addition.kind is not None]
        setting = self._setting(now, step, step.hold_power_w, to_c=air_c if weighed else now.temperature_c)
        for addition in sorted(weighed, key=lambda one: -one.left_s):
            now = self._boil_on(now, setting, left_s - addition.left_s)
            now = self._arrive(now, step, addition, dosed(now.contents, now.temperature_c, addition, air_c))
            self._fits(now, step)
            left_s = now.time_s * 0.0 + addition.left_s
            now, left_s = self._back_to_the_boil(now, setting, left_s)
        return self._boil_on(now, setting, left_s)

    def _back_to_the_boil(self, now: Now, setting: Setting, left_s: FloatArray) -> tuple[Now, FloatArray]:
        """Heat up again after something cold, within the time that is left."""
        goal_c = np.maximum(self._goal_c(now, setting.step), now.temperature_c)
        stalls, _, _ = balance.stall(balance.way(now.temperature_c, goal_c, setting.losses), setting.most_w)
        to_c = np.where(stalls, now.temperature_c, goal_c)
        hot = balance.ramp(now.contents, balance.way(now.temperature_c, to_c, setting.losses), setting.most_w)
        arrives = ~stalls & (hot.duration_s <= left_s)
        if not arrives.all():
            sags, lasts = np.flatnonzero(~arrives), (left_s, float(left_s.max()))
            hot = hot.with_some(sags, _drifting(sags, now, setting.most_w, lasts)(setting.losses))
        return self._leg(now, "boil", hot, setting), left_s - hot.duration_s

    def _boil_on(self, now: Now, setting: Setting, duration_s: FloatArray) -> Now:
        if (duration_s <= 0.0).all():
            return now
        heat_w = setting.most_w
        boils = heat_w >= balance.least_boil_w(now.temperature_c, setting.losses)
        boiled = self._as_it_falls(
            now, setting, lambda losses: balance.boil(now.contents, now.temperature_c, duration_s, heat_w, losses)
        )
        if not boils.all():
            setting, dies = self._adrift(now, setting, heat_w, setting.step.hold_s), np.flatnonzero(~boils)
            sagging = _drifting(dies, now, heat_w, (duration_s, float(duration_s.max())))
            boiled = boiled.with_some(dies, self._as_it_falls(now, setting, sagging, dies))
        later = self._leg(now, "boil", boiled, setting)
        dry = self._stays_wet(setting.step, self._filled_l(later))
        # A draw that boiled dry goes on with what it had, for no better reason than that it must hold something.
        return replace(later, contents=balance.either(dry, now.contents, later.contents)) if dry.any() else later

    def _as_it_falls(
        self, now: Now, setting: Setting, phase: Callable[[LossCurve], Outcome], some: Draws = ALL
    ) -> Outcome:
        """A phase of some draws in which the wall that leaving water uncovers counts: with the loss of its mean level.

        The dry loss of an open vessel is a straight line over the level.
        """
        first = phase(setting.losses)
        times_s, path_c, lasts_s = first.stretch.times_s, first.stretch.temperatures_c, first.duration_s
        mean_c = np.trapezoid(path_c, times_s, axis=0) / np.where(lasts_s > 0, lasts_s, 1.0)
        rate = setting.losses.of(some).vapour_kg_per_s(path_c)
        area = np.trapezoid(rate, times_s, axis=0) * lasts_s
        share = np.trapezoid(rate * (lasts_s - times_s), times_s, axis=0) / np.where(area > 0, area, 1.0)
        left = now.contents.of(some).less_water(np.where(area > 0, share, 0.5) * first.vapour_kg)
        wetted = setting.wetted_frac.copy()
        wetted[some] = np.clip(left.filled_l(mean_c) / self.capacity_l, 0.0, 1.0)
        to_c = np.clip(first.end_c, 0.0, now.temperature_c[some])  # the first look may fall below all
        return phase(self._losses(wetted, setting.step.lid_state, now.temperature_c[some], to_c))


def _drifting(
    some: Draws, now: Now, heat_w: FloatArray, lasts_s: tuple[FloatArray, float]
) -> Callable[[LossCurve], Outcome]:
    """The drift of some draws under a heat that does not hold them, each for its time, by the loss of all draws.

    The second of the times is the longest that any draw may take: so no draw depends on the others.
    """
    here_c, contents, (each_s, longest_s) = now.temperature_c[some], now.contents.of(some), lasts_s
    return lambda losses: drift(contents, here_c, each_s[some], heat_w[some], losses.of(some), longest_s=longest_s)


def extract_kg(plan: Plan) -> float:
    """Extract that the grain must give for the planned gravity at the end of the boil [kg].

    Without a gravity it is 0: the wort is counted as water (a note in the day says so).

    Raises
    ------
    BrewDayError
        If the grain can't give that much.

    Notes
    -----
    The wort held by the spent grain takes extract with it, and the boil depends a little on the gravity, so the
    day is run until the extract is off by less than 1e-8 of itself: with five extracts side by side, then with the one
    that they point to, which mostly is the last (else by the secant).
    """
    return settled(plan)[0]


@lru_cache(maxsize=32)
def settled(plan: Plan) -> tuple[float, Course]:
    """Extract [kg] that gives the planned gravity, and the day with it."""
    gravity, run_with = plan.batch.gravity, runner(plan)
    plato = float(plato_from_gravity(gravity or 1.0))
    per_water = plato / (100 - plato)
    if per_water <= 0:
        return 0.0, run_with(0.0)
    if plan.batch.grain_kg <= 0 and has_extract_added(plan):
        return 0.0, run_with(0.0)  # all of it is weighed: the gravity is what comes of it
    most = plan.batch.grain_kg * MOST_EXTRACT_FRAC or np.inf
    (before, miss_before), extract = _near(plan, per_water, most)
    for _ in range(12):
        extract = min(extract, most)
        course = run_with(extract)
        wort = brews_of(course)[0].end(course)
        if wort.extract_kg[0] <= 0:
            return 0.0, run_with(0.0)
        miss = float(_missing_kg(wort, np.array([extract]), per_water)[0])
        if extract == most and miss > EXTRACT_TOLERANCE * extract:
            extract += miss  # more than the grain has: as much as would be, were it there
            break
        if abs(miss) <= EXTRACT_TOLERANCE * extract:
            break
        slope = (miss - miss_before) / (extract - before) if before and before != extract else -1.0
        before, miss_before, extract = extract, miss, extract - miss / slope
    if extract > most:
        message = Sentence(
            "{key} = {gravity}: needs {needed} of extract, but {grain} of grain give at most about {most}; lower the "
            "gravity, use less water or more grain",
            key=KEY("batch.gravity"),
            gravity=GRAVITY(gravity),
            needed=KILOGRAMS(extract),
            grain=KILOGRAMS(plan.batch.grain_kg),
            most=KILOGRAMS(most),
        )
        raise BrewDayError(message)
    return extract, course


def _near(plan: Plan, per_water: float, most: float) -> tuple[tuple[float, float], float]:
    """An extract [kg] and what it misses, and a better one: by days with five of them, side by side.

    The curve through the five is taken as extract over what is missing, and read where nothing is. A day that can't be
    brewed is left to the search, which refuses it.
    """
    tried = np.minimum(0.9 * plan.batch.water_l * per_water, most) * EXTRACTS_TRIED
    course = runner(plan, Conditions(loss_factor=np.ones(tried.size)), go_on=True)(tried)
    wort = brews_of(course)[0].end(course)
    missing = np.asarray(_missing_kg(wort, tried, per_water))
    middle = (float(tried[2]), float(missing[2]))
    if course.mishaps or not (np.isfinite(missing).all() and (np.diff(missing) < 0).all()):
        return (0.0, 0.0), middle[0]
    others = missing[:, None] - missing + np.eye(tried.size)
    weights = np.prod(np.where(np.eye(tried.size), 1.0, -missing / others), axis=1)
    return middle, float(weights @ tried)


def _missing_kg(wort: Contents, extract_kg: FloatArray, per_water: float) -> FloatArray:
    """How much more extract the wort's gravity needs, by draw [kg]; the spent grain keeps its share."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(extract_kg * wort.water_kg * per_water / wort.extract_kg - extract_kg)
