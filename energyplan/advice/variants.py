"""Variants of a plan that end with the same wort, so that their energy can be compared."""

from energyplan.base.errors import BrewDayError
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Plan

__all__ = ["CLOSE_L", "with_end_volume"]

CLOSE_L = 1e-7  # how close the end volume comes
MOST_ROUNDS = 12


def with_end_volume(plan: Plan, end_l: float, *, extract_kg: float) -> BrewDay:
    """The day of a plan whose water at the start is changed until a wanted volume is left at the end.

    Parameters
    ----------
    plan : Plan
        The plan; its ``[batch] water`` is changed.
    end_l : float
        Wanted volume after the boil, at 20 °C [L].
    extract_kg : float
        Extract that the grain gives [kg]: with the same extract and volume the gravity is the same too.

    Raises
    ------
    BrewDayError
        If the water does not fit, or no amount of it ends so.

    Notes
    -----
    A litre more at the start is almost a litre more at the end; the secant method needs two to four days.
    """
    water_l = plan.batch.water_l
    day = simulate(plan, extract=extract_kg)
    before: tuple[float, float] | None = None
    for _ in range(MOST_ROUNDS):
        missing_l = end_l - day.wort.end_l
        if abs(missing_l) <= CLOSE_L:
            return day
        slope = 1.0 if before is None else (before[1] - missing_l) / (water_l - before[0])
        if slope <= 0:
            break
        before = (water_l, missing_l)
        water_l += missing_l / slope
        if water_l <= 0:
            break
        batch = plan.batch.model_copy(update={"water_l": water_l})
        day = simulate(plan.model_copy(update={"batch": batch}), extract=extract_kg)
    raise BrewDayError(
        f"[batch] water: no amount near {plan.batch.water_l:g} L ends with {end_l:.1f} L after the boil; "
        "the boil takes more than the vessel holds"
    )
