"""What a brewer could change, one measure at a time: each turns a plan into another, or says why it can't."""

from collections.abc import Callable
from dataclasses import field
from typing import Literal

from energyplan.advice.boil import Evaporation, boil_power
from energyplan.advice.heat import with_warm_cleaning
from energyplan.advice.variants import WhyNot, capped_w, with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass
from energyplan.day.brewday import simulate
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Plan, Step

__all__ = ["BOIL_POWER", "MEASURES", "Group", "Measure", "MeasureChoice", "with_boil_power_of"]

BOIL_POWER = "boil_power"  # the measure that depends on all others


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureChoice:
    """How far each measure goes.

    Parameters
    ----------
    jacket_m : float
        Thickness of the jacket on the side wall [m].
    boil_s, hold_s : float
        Length of the last boil and of the longest hold of the mash [s].
    air_c : float
        Temperature of the warmer place [°C].
    water_c : float
        Temperature of the water at the start [°C], warmed for nothing: left in a warm room, or kept from the chiller.
    cleaning_c : float
        Temperature of the cleaning [°C].
    kept_c : float
        Temperature of the chiller's water when it fills the cleaning [°C].
    batch_frac : float
        Size of the larger (or smaller) batch over the planned one.
    evaporation : Evaporation
        Wanted of the boil, for its power.
    for_nothing : frozenset of str
        Measures whose heat costs the brewer nothing, such as a warm room that is there anyway: others of that kind
        are no part of a combination.

    Raises
    ------
    PlanError
        If a number makes no sense.
    """

    jacket_m: float = 0.02
    boil_s: float = 45 * 60.0
    hold_s: float = 45 * 60.0
    air_c: float = 20.0
    water_c: float = 20.0
    cleaning_c: float = 50.0
    kept_c: float = 45.0
    batch_frac: float = 1.25
    evaporation: Evaporation = field(default_factory=Evaporation)
    for_nothing: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        positive = {
            "jacket_m": self.jacket_m,
            "boil_s": self.boil_s,
            "hold_s": self.hold_s,
            "batch_frac": self.batch_frac,
        }
        for name, value in positive.items():
            if not value > 0:
                raise PlanError(f"{name} = {value:g}: expected more than 0")


Change = Callable[[Plan, MeasureChoice], Plan | WhyNot]
Group = Literal["set", "do", "buy"]  # at the vessel, with the hands, with money


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One thing that can be changed.

    ``key`` names it to a program, ``change`` makes the other plan, or says why there is nothing to change; ``group``
    says what it takes: a setting, something to do, something to buy.
    ``combines`` is False where the brew is another one afterwards, so that kWh are only comparable per litre; ``gift``
    is True where something else pays for the heat: it counts only for those who have it anyway.
    """

    key: str
    change: Change
    group: Group = "do"
    combines: bool = True
    gift: bool = False


def _with_steps(plan: Plan, change: Callable[[Step], Step], why_not: WhyNot) -> Plan | WhyNot:
    steps = tuple(change(step) for step in plan.steps)
    if steps == plan.steps:
        return why_not
    return plan.model_copy(update={"steps": steps})


def _jacket(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    """A jacket has an outside of its own: what was entered of the bare wall holds only for what it leaves bare."""
    vessel = plan.vessel
    if vessel.heat_loss_w_per_k is not None:
        return WhyNot(code="measured_loss")
    thickness_m = vessel.jacket_thickness_m or 0.0
    if thickness_m >= choice.jacket_m:
        return WhyNot(code="has_jacket", value=thickness_m)
    bare = {} if thickness_m else {"emissivity": None, "uncovered_emissivity": vessel.bare_emissivity}
    wrapped = {"jacket_thickness_m": choice.jacket_m, **bare}
    return plan.model_copy(update={"vessel": vessel.model_copy(update=wrapped)})


def _lid_in_ramps(plan: Plan, _choice: MeasureChoice) -> Plan | WhyNot:
    def closed(step: Step) -> Step:
        ramps_only = step.target_c is not None and step.hold_s == 0 and step.lid_state != "on"
        return step.model_copy(update={"lid": "on"}) if ramps_only else step

    return _with_steps(plan, closed, WhyNot(code="lid_on_in_ramps"))


def _lid_in_holds(plan: Plan, _choice: MeasureChoice) -> Plan | WhyNot:
    def closed(step: Step) -> Step:
        holds = step.target_c is not None and step.hold_s > 0 and step.lid_state != "on"
        return step.model_copy(update={"lid": "on"}) if holds else step

    return _with_steps(plan, closed, WhyNot(code="lid_on_in_holds"))


def _lid_in_boil(plan: Plan, _choice: MeasureChoice) -> Plan | WhyNot:
    def ajar(step: Step) -> Step:
        return step.model_copy(update={"lid": "ajar"}) if step.boil and step.lid_state == "off" else step

    return _with_steps(plan, ajar, WhyNot(code="no_open_boil"))


def _last(plan: Plan, wanted: Callable[[Step], bool]) -> Step | None:
    return next((step for step in reversed(plan.steps) if wanted(step)), None)


def _boil_length(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    boil = _last(plan, lambda step: step.boil)

    def shorter(step: Step) -> Step:
        if step is not boil or step.hold_s <= choice.boil_s:
            return step
        additions = tuple(a.model_copy(update={"left_s": min(a.left_s, choice.boil_s)}) for a in step.additions)
        return step.model_copy(update={"hold_s": choice.boil_s, "additions": additions})

    return _with_steps(plan, shorter, WhyNot(code="no_longer_boil", value=choice.boil_s))


def _boil_power(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    boil = _last(plan, lambda step: step.boil and step.hold_s > 0)
    if boil is None:
        return WhyNot(code="no_boil")
    power_w = boil_power(simulate(plan), boil.name, choice.evaporation).advised_w
    set_w = capped_w(plan.vessel, boil.hold_power_w)
    if power_w >= set_w:
        return WhyNot(code="boil_is_low", value=power_w, other=set_w)

    return with_hold_caps(plan, {boil.name: power_w})


def with_boil_power_of(plan: Plan, other: Plan) -> Plan:
    """The plan with the power that another plan of the same steps gives to its last boil."""
    boil = _last(other, lambda step: step.boil and step.hold_s > 0)
    return plan if boil is None else with_hold_caps(plan, {boil.name: boil.hold_power_w})


def _hold_length(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    mash = mash_steps(plan)
    longest = max(mash, key=lambda step: step.hold_s, default=None)

    def shorter(step: Step) -> Step:
        return step.model_copy(update={"hold_s": min(step.hold_s, choice.hold_s)}) if step is longest else step

    return _with_steps(plan, shorter, WhyNot(code="no_longer_hold", value=choice.hold_s))


def _warm_place(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    site = plan.site
    if site.air_c >= choice.air_c:
        return WhyNot(code="is_warm", value=site.air_c)
    warmer = site.model_copy(update={"air_c": choice.air_c})
    if site.surroundings_c is not None:
        warmer = warmer.model_copy(update={"surroundings_c": max(site.surroundings_c, choice.air_c)})
    batch = plan.batch
    if batch.grain_temperature_c is None:  # the grain stays where it was: it is not what this measure moves
        batch = batch.model_copy(update={"grain_temperature_c": site.air_c})
    return plan.model_copy(update={"site": warmer, "batch": batch})


def _warm_water(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    batch = plan.batch
    if batch.water_temperature_c >= choice.water_c:
        return WhyNot(code="water_is_warm", value=batch.water_temperature_c)
    return plan.model_copy(update={"batch": batch.model_copy(update={"water_temperature_c": choice.water_c})})


def _cleaning(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    emptied = False
    steps = []
    for step in plan.steps:
        emptied = emptied or any(action.kind == "empty" for action in step.before)
        hotter = emptied and step.target_c is not None and step.target_c > choice.cleaning_c
        steps.append(step.model_copy(update={"target_c": choice.cleaning_c}) if hotter else step)
    if tuple(steps) == plan.steps:
        return WhyNot(code="cleaning_is_cool", value=choice.cleaning_c)
    return plan.model_copy(update={"steps": tuple(steps)})


def _kept_water(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    if not any(step.boil for step in plan.steps):
        return WhyNot(code="nothing_chilled")
    warmer, _ = with_warm_cleaning(plan, plan.batch.water_l, choice.kept_c)
    return warmer or WhyNot(code="no_cool_cleaning", value=choice.kept_c)


def _batch(plan: Plan, choice: MeasureChoice) -> Plan | WhyNot:
    batch, frac = plan.batch, choice.batch_frac
    scaled = {name: getattr(batch, name) * frac for name in ("water_l", "grain_kg", "sparge_water_l")}
    return plan.model_copy(update={"batch": batch.model_copy(update=scaled)})


#: All measures on a plan, in the order in which a combination applies them.
MEASURES: tuple[Measure, ...] = (
    Measure(key="jacket", change=_jacket, group="buy"),
    Measure(key="lid_ramps", change=_lid_in_ramps),
    Measure(key="lid_holds", change=_lid_in_holds),
    Measure(key="lid_boil", change=_lid_in_boil),
    Measure(key="boil_length", change=_boil_length, group="set"),
    Measure(key="hold_length", change=_hold_length, group="set"),
    Measure(key="warm_place", change=_warm_place, gift=True),
    Measure(key="warm_water", change=_warm_water, gift=True),
    Measure(key="cleaning", change=_cleaning, group="set"),
    Measure(key="kept_water", change=_kept_water),
    Measure(key=BOIL_POWER, change=_boil_power, group="set"),
    Measure(key="batch", change=_batch, combines=False),
)
