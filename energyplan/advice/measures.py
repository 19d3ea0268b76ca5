"""What a brewer could change, one lever at a time: each turns a plan into another, or says why it can't."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from energyplan.advice.boil import Evaporation, boil_power
from energyplan.advice.heat_recovery import with_warm_cleaning
from energyplan.base.errors import PlanError
from energyplan.day.brewday import extract_kg, simulate
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Plan, Step

__all__ = ["Lever", "LeverChoice", "levers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeverChoice:
    """How far each lever is moved.

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


Change = Callable[[Plan, LeverChoice], Plan | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One thing that can be changed.

    ``key`` names it to a program, ``name`` to people, with the amount; ``change`` makes the other plan, or says why
    there is nothing to change; ``risk`` is what else it changes ("" for nothing worth a word); ``combines`` is False
    where the brew is another one afterwards, so that kWh are only comparable per litre.
    """

    key: str
    name: str
    change: Change
    risk: str = ""
    combines: bool = True

    def applied(self, plan: Plan, choice: LeverChoice) -> Plan | str:
        """The plan with this lever moved, or why it can't be."""
        return self.change(plan, choice)


def levers(choice: LeverChoice) -> tuple[Lever, ...]:
    """All levers on a plan, in the order in which a combination applies them."""
    return tuple(_levers(choice))


def _levers(choice: LeverChoice) -> Iterator[Lever]:
    yield Lever(key="jacket", name=f"Jacket of {1000 * choice.jacket_m:.0f} mm", change=_jacket,
                risk="Keep vents, cables and the hot base free.")  # fmt: skip
    yield Lever(key="lid_ramps", name="Lid on in the ramps", change=_lid_in_ramps)
    yield Lever(key="lid_holds", name="Lid on in the holds", change=_lid_in_holds)
    yield Lever(key="lid_boil", name="Lid ajar in the boil", change=_lid_in_boil,
                risk="Worth more together with a lower boil power; less leaves with the steam.")  # fmt: skip
    yield Lever(key="boil_length", name=f"Boil of {choice.boil_s / 60:.0f} min", change=_boil_length,
                risk="Less bitterness from the same hops.")  # fmt: skip
    yield Lever(key="boil_power", name="Boil power for the evaporation", change=_boil_power,
                risk="Rolls more gently.")  # fmt: skip
    yield Lever(key="hold_length", name=f"Mash hold of {choice.hold_s / 60:.0f} min", change=_hold_length,
                risk="Check the conversion before you go on.")  # fmt: skip
    yield Lever(key="warm_place", name=f"Place at {choice.air_c:.0f} °C", change=_warm_place,
                risk="Only free if the place is warm anyway.")  # fmt: skip
    yield Lever(key="warm_water", name=f"Water at {choice.water_c:.0f} °C", change=_warm_water,
                risk="Only free if something else warms it.")  # fmt: skip
    yield Lever(key="cleaning", name=f"Cleaning at {choice.cleaning_c:.0f} °C", change=_cleaning,
                risk="Follow the label of the cleaner.")  # fmt: skip
    yield Lever(key="kept_water", name=f"Cleaning with chiller water, {choice.kept_c:.0f} °C", change=_kept_water,
                risk="Needs a clean tank that holds it until then.")  # fmt: skip
    yield Lever(key="batch", name=f"Batch of {choice.batch_frac:.0%}", change=_batch, combines=False,
                risk="Counted for the same litres.")  # fmt: skip


def _with_steps(plan: Plan, change: Callable[[Step], Step], why_not: str) -> Plan | str:
    steps = tuple(change(step) for step in plan.steps)
    if steps == plan.steps:
        return why_not
    return plan.model_copy(update={"steps": steps})


def _jacket(plan: Plan, choice: LeverChoice) -> Plan | str:
    vessel = plan.vessel
    if vessel.heat_loss_w_per_k is not None:
        return "the heat loss is measured, and nobody measured it with the other jacket: leave heat_loss out"
    if (vessel.jacket_thickness_m or 0.0) >= choice.jacket_m:
        return f"it has a jacket of {1000 * (vessel.jacket_thickness_m or 0.0):.0f} mm"
    return plan.model_copy(update={"vessel": vessel.model_copy(update={"jacket_thickness_m": choice.jacket_m})})


def _lid_in_ramps(plan: Plan, _choice: LeverChoice) -> Plan | str:
    def closed(step: Step) -> Step:
        ramps_only = step.target_c is not None and step.hold_s == 0 and step.lid_state != "on"
        return step.model_copy(update={"lid": "on"}) if ramps_only else step

    return _with_steps(plan, closed, "the lid is on in every ramp that has a step of its own")


def _lid_in_holds(plan: Plan, _choice: LeverChoice) -> Plan | str:
    def closed(step: Step) -> Step:
        holds = step.target_c is not None and step.hold_s > 0 and step.lid_state != "on"
        return step.model_copy(update={"lid": "on"}) if holds else step

    return _with_steps(plan, closed, "the lid is on in every hold")


def _lid_in_boil(plan: Plan, _choice: LeverChoice) -> Plan | str:
    def ajar(step: Step) -> Step:
        return step.model_copy(update={"lid": "ajar"}) if step.boil and step.lid_state == "off" else step

    return _with_steps(plan, ajar, "no boil has the lid off")


def _last(plan: Plan, wanted: Callable[[Step], bool]) -> Step | None:
    return next((step for step in reversed(plan.steps) if wanted(step)), None)


def _boil_length(plan: Plan, choice: LeverChoice) -> Plan | str:
    boil = _last(plan, lambda step: step.boil)

    def shorter(step: Step) -> Step:
        if step is not boil or step.hold_s <= choice.boil_s:
            return step
        additions = tuple(a.model_copy(update={"left_s": min(a.left_s, choice.boil_s)}) for a in step.additions)
        return step.model_copy(update={"hold_s": choice.boil_s, "additions": additions})

    return _with_steps(plan, shorter, f"no boil lasts longer than {choice.boil_s / 60:.0f} min")


def _boil_power(plan: Plan, choice: LeverChoice) -> Plan | str:
    boil = _last(plan, lambda step: step.boil and step.hold_s > 0)
    if boil is None:
        return "there is no boil"
    power_w = boil_power(simulate(plan, extract=extract_kg(plan)), boil.name, choice.evaporation).advised_w
    set_w = boil.hold_power_w
    if set_w is not None and power_w >= set_w:
        return f"a rolling boil with the wanted evaporation takes {power_w:.0f} W, and {set_w:.0f} W are set"

    def lower(step: Step) -> Step:
        return step.model_copy(update={"hold_power_w": power_w}) if step is boil else step

    return _with_steps(plan, lower, "the boil has the advised power")


def _hold_length(plan: Plan, choice: LeverChoice) -> Plan | str:
    mash = mash_steps(plan)
    longest = max(mash, key=lambda step: step.hold_s, default=None)

    def shorter(step: Step) -> Step:
        return step.model_copy(update={"hold_s": min(step.hold_s, choice.hold_s)}) if step is longest else step

    return _with_steps(plan, shorter, f"no hold of the mash lasts longer than {choice.hold_s / 60:.0f} min")


def _warm_place(plan: Plan, choice: LeverChoice) -> Plan | str:
    site = plan.site
    if site.air_c >= choice.air_c:
        return f"it is {site.air_c:.0f} °C there already"
    warmer = site.model_copy(update={"air_c": choice.air_c})
    if site.surroundings_c is not None:
        warmer = warmer.model_copy(update={"surroundings_c": max(site.surroundings_c, choice.air_c)})
    batch = plan.batch
    if batch.grain_temperature_c is None:  # the grain stays where it was: it is not what this lever moves
        batch = batch.model_copy(update={"grain_temperature_c": site.air_c})
    return plan.model_copy(update={"site": warmer, "batch": batch})


def _warm_water(plan: Plan, choice: LeverChoice) -> Plan | str:
    batch = plan.batch
    if batch.water_temperature_c >= choice.water_c:
        return f"the water starts at {batch.water_temperature_c:.0f} °C already"
    return plan.model_copy(update={"batch": batch.model_copy(update={"water_temperature_c": choice.water_c})})


def _cleaning(plan: Plan, choice: LeverChoice) -> Plan | str:
    emptied = False
    steps = []
    for step in plan.steps:
        emptied = emptied or any(action.kind == "empty" for action in step.before)
        hotter = emptied and step.target_c is not None and step.target_c > choice.cleaning_c
        steps.append(step.model_copy(update={"target_c": choice.cleaning_c}) if hotter else step)
    if tuple(steps) == plan.steps:
        return f"nothing is cleaned above {choice.cleaning_c:.0f} °C"
    return plan.model_copy(update={"steps": tuple(steps)})


def _kept_water(plan: Plan, choice: LeverChoice) -> Plan | str:
    if not any(step.boil for step in plan.steps):
        return "nothing is boiled, so nothing is chilled"
    warmer, _ = with_warm_cleaning(plan, plan.batch.water_l, choice.kept_c)
    return warmer or f"nothing is cleaned with water below {choice.kept_c:.0f} °C"


def _batch(plan: Plan, choice: LeverChoice) -> Plan | str:
    batch, frac = plan.batch, choice.batch_frac
    scaled = {name: getattr(batch, name) * frac for name in ("water_l", "grain_kg", "sparge_water_l")}
    return plan.model_copy(update={"batch": batch.model_copy(update=scaled)})
