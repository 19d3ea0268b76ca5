"""How much extract the malt must give for the gravity that is wanted after the boil."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import BrewDayError
from energyplan.base.kinds import GRAVITY, KEY, KILOGRAMS
from energyplan.base.sentence import Sentence
from energyplan.day.course import Conditions, Course, has_extract_added, runner
from energyplan.day.legs import brews_of
from energyplan.physics.contents import Contents
from energyplan.physics.wort import plato_from_gravity
from energyplan.plan.model import Plan

__all__ = ["extract_kg", "settled"]

FloatArray = NDArray[np.float64]

EXTRACT_TOLERANCE = 1e-8
EXTRACTS_TRIED = np.array([0.7, 0.85, 1.0, 1.15, 1.3])  # of what water and gravity make likely
MOST_EXTRACT_FRAC = 0.85  # of the malt's mass; common practice, no source: good malt yields about 80 % of its dry mass


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
