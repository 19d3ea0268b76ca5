"""Variants of a plan: with the same wort in the end, so that their energy can be compared, or with a wait."""

from energyplan.base.errors import BrewDayError, EnergyPlanError, PlanError
from energyplan.base.kinds import KEY, LITRES
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Plan

__all__ = ["CLOSE_L", "EqualWort", "WhyNot", "with_end_volume", "with_wait"]

CLOSE_L = 1e-5  # how close the end volume comes: 0.01 Wh
MOST_ROUNDS = 12
SMALLEST_L = 1e-3  # a smaller change teaches nothing but rounding
LIKELY = (0.5, 2.0)  # slopes that a search believes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WhyNot:
    """Why there is no variant: a code, the value that is in the way in its SI unit, or the refusal of the day."""

    code: str
    value: float | None = None
    other: float | None = None
    error: EnergyPlanError | None = None


class EqualWort:
    """Days of variants that end with the same volume of wort; what one search learns, the next begins with.

    Parameters
    ----------
    extract_kg : float
        Extract that the grain gives [kg]: with the same extract and volume the gravity is the same too.
    """

    def __init__(self, extract_kg: float) -> None:
        self.extract_kg = extract_kg
        self.slope = 1.0  # litres more at the end for a litre more at the start
        self.kwh_per_l = 0.1  # energy of a litre more at the start: about that of heating it to the boil

    def day(self, plan: Plan, end_l: float, *, extract_kg: float | None = None) -> BrewDay:
        """The day of a plan whose water at the start is changed until a wanted volume is left at the end.

        Parameters
        ----------
        plan : Plan
            The plan; its ``[batch] water`` is changed.
        end_l : float
            Wanted volume after the boil, at 20 °C [L].
        extract_kg : float, optional
            Another extract [kg], for another size of the batch.

        Raises
        ------
        BrewDayError
            If the water does not fit, or no amount of it ends so.

        Notes
        -----
        A litre more at the start is almost a litre more at the end; the secant method needs two or three days.
        """
        extract = self.extract_kg if extract_kg is None else extract_kg
        water_l, before = plan.batch.water_l, (0.0, 0.0, 0.0)
        for number in range(MOST_ROUNDS):
            day = simulate(_with_water(plan, water_l), extract=extract)
            missing_l = end_l - day.wort.end_l
            if number:
                self._learn(water_l - before[0], before[1] - missing_l, day.energy_kwh - before[2])
            if abs(missing_l) <= CLOSE_L:
                return day
            before = (water_l, missing_l, day.energy_kwh)
            water_l += missing_l / self.slope
            if water_l <= 0:
                break
        raise BrewDayError(
            Sentence(
                "{water}: no amount near {given} ends with {end} after the boil; the boil takes more than the vessel "
                "holds",
                water=KEY("batch.water"), given=LITRES(plan.batch.water_l), end=LITRES(end_l),
            )
        )  # fmt: skip

    def energy_kwh(self, plan: Plan, end_l: float) -> float:
        """The energy of that day, told from one day and what a litre takes: good to about a watt-hour [kWh]."""
        day = simulate(plan, extract=self.extract_kg)
        return day.energy_kwh + (end_l - day.wort.end_l) / self.slope * self.kwh_per_l

    def _learn(self, more_l: float, end_l: float, energy_kwh: float) -> None:
        if abs(more_l) > SMALLEST_L and LIKELY[0] < end_l / more_l < LIKELY[1]:
            self.slope, self.kwh_per_l = end_l / more_l, energy_kwh / more_l


def _with_water(plan: Plan, water_l: float) -> Plan:
    return plan.model_copy(update={"batch": plan.batch.model_copy(update={"water_l": water_l})})


def with_end_volume(plan: Plan, end_l: float, *, extract_kg: float) -> BrewDay:
    """The same for one plan alone (`EqualWort.day`)."""
    return EqualWort(extract_kg).day(plan, end_l)


def with_wait(plan: Plan, wait_min: float) -> Plan:
    """The plan with its strike water left warm, elements off and lid on, then heated up again.

    Raises
    ------
    PlanError
        If the day does not begin with heating plain water.
    """
    if wait_min <= 0:
        return plan
    first = plan.steps[0]
    mash_in = any(action.kind == "add grain" for action in first.before)
    grain_comes = any(action.kind == "add grain" for step in plan.steps for action in step.before)
    if first.target_c is None or mash_in or not grain_comes:
        raise PlanError(
            f'"{first.name}": only plain strike water may wait, heated by the first step; nothing else keeps'
        )
    heated = first.model_copy(update={"hold_s": 0.0, "hold_power_w": None, "lid": "on"})
    names = {step.name for step in plan.steps}
    name = next(n for n in (f"{first.name} kept warm"[-80:], *(f"Kept warm {k}" for k in range(99))) if n not in names)
    again = first.model_copy(update={"name": name, "before": (), "pause_s": 60 * wait_min, "lid": "on"})
    return plan.model_copy(update={"steps": (heated, again, *plan.steps[1:])})
