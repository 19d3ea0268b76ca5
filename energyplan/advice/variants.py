"""Plans that differ from one another: other powers within what can be set, other water, other steps."""

import math
from collections.abc import Mapping
from itertools import combinations

from energyplan.base.errors import BrewDayError, EnergyPlanError, PlanError
from energyplan.base.kinds import KEY, LITRES
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.legs import AS_PLANNED, Conditions
from energyplan.day.supply import heating
from energyplan.plan.model import Plan, Step, Vessel

__all__ = [
    "CLOSE_L",
    "MARGIN",
    "EqualWort",
    "WhyNot",
    "all_elements_w",
    "cap_of_heat_w",
    "capped_w",
    "drawn_w",
    "given_w",
    "least_setting_w",
    "lower_setting_w",
    "pump_heat_w",
    "settings_w",
    "step_named",
    "with_end_volume",
    "with_hold_caps",
    "with_ramp_caps",
    "with_strike",
    "with_wait",
]

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


MARGIN = 1.1  # advised over needed [assumption]


MOST_SETTINGS = 2000


SLACK = 1e-9  # of a step: what rounding may add


def all_elements_w(vessel: Vessel) -> float:
    """Nameplate power of all elements [W]."""
    return sum(element.power_w for element in vessel.elements)


def capped_w(vessel: Vessel, cap_w: float | None) -> float:
    """A cap as a number: without one, all elements [W]."""
    return all_elements_w(vessel) if cap_w is None else cap_w


def settings_w(vessel: Vessel) -> tuple[float, ...]:
    """Every power that can be set [W], rising; at most 2000 of them, then thinned evenly.

    Examples
    --------
    >>> from energyplan.plan.model import Element
    >>> pair = (Element(power_w=2000, voltage_v=230), Element(power_w=1500, voltage_v=230))
    >>> settings_w(Vessel(diameter_m=0.36, height_m=0.48, control="switched", elements=pair))
    (1500.0, 2000.0, 3500.0)
    """
    if vessel.control == "switched":
        elements = vessel.elements
        sizes = range(1, len(elements) + 1)
        return tuple(sorted({sum(e.power_w for e in some) for size in sizes for some in combinations(elements, size)}))
    most_w, step_w = all_elements_w(vessel), vessel.power_step_w
    count = math.ceil(most_w / step_w - SLACK)
    every = math.ceil(count / MOST_SETTINGS)
    return (*(step_w * k for k in range(every, count, every)), most_w)


def given_w(plan: Plan, cap_w: float | None, conditions: Conditions = AS_PLANNED) -> float:
    """Most heat that the elements give under a cap, under one set of conditions [W]."""
    voltage_v = plan.voltage_v if conditions.voltage_v is None else conditions.voltage_v
    heat = heating(plan, cap_w, voltage_v=voltage_v, element_factor=conditions.element_factor)
    return float(heat.most_w)


def drawn_w(plan: Plan, cap_w: float | None = None) -> float:
    """Most mean power that the elements take under a cap, as planned [W]; of it `given_w` goes into the contents."""
    heat = heating(plan, cap_w, voltage_v=plan.voltage_v, element_factor=1.0)
    return float(heat.most_w) / heat.inward_frac


def cap_of_heat_w(plan: Plan, heat_w: float, conditions: Conditions = AS_PLANNED) -> float:
    """The cap under which the elements give a heat, under one set of conditions [W]; also more than they can give."""
    return heat_w * drawn_w(plan) / given_w(plan, None, conditions)


def least_setting_w(plan: Plan, wanted_w: float, conditions: Conditions = AS_PLANNED) -> float:
    """The smallest power that can be set and gives the wanted heat, under one set of conditions [W].

    All elements when no setting gives as much; compare with `given_w` to tell.
    """
    vessel = plan.vessel
    if vessel.control == "switched":
        enough = (w for w in settings_w(vessel) if given_w(plan, w, conditions) >= wanted_w * (1 - SLACK))
        return next(enough, all_elements_w(vessel))
    steps = max(math.ceil(cap_of_heat_w(plan, wanted_w, conditions) / vessel.power_step_w - SLACK), 1)
    return min(steps * vessel.power_step_w, all_elements_w(vessel))


def lower_setting_w(vessel: Vessel, set_w: float) -> float:
    """The next lower power that can be set [W]; 0, elements off, below the lowest."""
    if vessel.control == "switched":
        return max((w for w in settings_w(vessel) if w < set_w - SLACK), default=0.0)
    return max((math.ceil(set_w / vessel.power_step_w - SLACK) - 1) * vessel.power_step_w, 0.0)


def pump_heat_w(plan: Plan, step: Step) -> float:
    """Heat of the pump in a step [W]."""
    return plan.vessel.pump_heat * plan.vessel.pump_w if step.pump_runs else 0.0


def step_named(plan: Plan, name: str) -> Step:
    """The step of a name."""
    return next(step for step in plan.steps if step.name == name)


def with_hold_caps(plan: Plan, caps_w: Mapping[str, float | None]) -> Plan:
    """The plan with other caps on the holds of some steps [W] (None: all elements)."""
    return _with_caps(plan, "hold_power_w", caps_w)


def with_ramp_caps(plan: Plan, caps_w: Mapping[str, float | None]) -> Plan:
    """The plan with other caps on the ramps of some steps [W] (None: all elements)."""
    return _with_caps(plan, "ramp_power_w", caps_w)


def _with_caps(plan: Plan, field: str, caps_w: Mapping[str, float | None]) -> Plan:
    steps = tuple(
        step.model_copy(update={field: caps_w[step.name]}) if step.name in caps_w else step for step in plan.steps
    )
    return plan.model_copy(update={"steps": steps})


STRIKE_STEP_K = 0.1  # to which a strike is set


def with_strike(day: BrewDay) -> Plan:
    """The day's plan with the strike that lands on the first rest; as it is where none is looked for."""
    plan, strike = day.plan, day.strike
    if strike is None or strike.wanted_c is None:
        return plan
    mashed = [step.name for step in plan.steps].index(strike.step)
    heated = next((step for step in reversed(plan.steps[:mashed]) if step.target_c is not None), None)
    more_k = strike.wanted_c - strike.planned_c
    if heated is None or heated.target_c is None or abs(more_k) < STRIKE_STEP_K / 2:
        return plan
    target_c = round((heated.target_c + more_k) / STRIKE_STEP_K) * STRIKE_STEP_K
    steps = [step.model_copy(update={"target_c": target_c}) if step == heated else step for step in plan.steps]
    return plan.model_copy(update={"steps": tuple(steps)})
