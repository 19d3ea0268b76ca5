"""A first plan that works at once: from a few answers, with a strike, powers, a lid and a gravity that go together."""

from collections.abc import Callable
from pathlib import Path

from energyplan.advice.power import advise, with_advised_caps
from energyplan.base.errors import EnergyPlanError
from energyplan.base.files import read_text
from energyplan.day.brewday import simulate
from energyplan.day.legs import Conditions
from energyplan.plan.file import LARGEST_FILE_BYTES, PlanText, plan_files
from energyplan.plan.model import Plan, Step
from energyplan.plan.starter import Starter, split_toml, starter_toml
from energyplan.plan.writing import plan_text

__all__ = ["first_day_toml", "first_plan", "first_plan_toml"]

# Common practice, no source.
USUAL_YIELD_FRAC = 0.68  # extract from the mass of malt, at home
SAME_BOIL_K = 0.3  # a boil that stays this close to its boiling point boils
WEAK_FRAC = 0.95  # of the nameplate, and of the mains
NARROW_OPEN = 0.1  # of the surface, under a lid that covers most of it


def first_plan_toml(starter: Starter, *, source: str = "the answers") -> str:
    """The text of a first plan, with comments that say where to look for the rest.

    Raises
    ------
    EnergyPlanError
        If an answer can't be read, or no day can be brewed with them; the message names the entry.

    Examples
    --------
    >>> "[circuit]" in first_plan_toml(Starter(power="1500 W", voltage="120 V", rules="nec", water="20 L"))
    True
    """
    files = plan_files(PlanText(source, starter_toml(starter)), None)
    return plan_text(files, first_plan(files.plan))


def first_day_toml(starter: Starter, brewery: Path, folder: Path) -> str:
    """The text of a first day, for a folder, in a brewery that has its file already.

    Raises
    ------
    EnergyPlanError
        As for `first_plan_toml`; also if the brewery's file can't be read, or is not enough for a plan.
    """
    _, own = split_toml(starter_toml(starter), brewery.name)
    shared = PlanText(str(brewery), read_text(brewery, LARGEST_FILE_BYTES, what="a brewery"), brewery)
    files = plan_files(PlanText("the answers", own), shared)
    return plan_text(files, first_plan(files.plan), beside=folder)


def first_plan(plan: Plan) -> Plan:
    """A starter plan with what nobody who has just come can know.

    The strike lands on the rest, the gravity is what the grain gives, holds have the advised powers, and the lid is
    ajar in the boil where the elements are too weak for an open one.
    """
    plan = _with_gravity(_landed(_boiling(plan)))
    return with_advised_caps(plan, advise(simulate(plan)))


def _boiling(plan: Plan) -> Plan:
    """The plan with all power in the boil, and with the lid over it as far as that takes."""
    plan = _with_steps(plan, lambda step: {"hold_power_w": None} if step.boil else {})
    plan = plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": None})})
    if _boils(plan):
        return plan
    ajar = _with_steps(plan, lambda step: {"lid": "ajar"} if step.boil else {})
    if _boils(ajar):
        return ajar
    vessel = plan.vessel.model_copy(update={"lid_ajar_open": NARROW_OPEN})
    return ajar.model_copy(update={"vessel": vessel})


def _boils(plan: Plan) -> bool:
    """Whether its boils stay at the boil, with weak elements on weak mains."""
    weak = Conditions(element_factor=WEAK_FRAC, voltage_v=WEAK_FRAC * plan.voltage_v)
    try:
        phases = simulate(plan, weak, extract=USUAL_YIELD_FRAC * plan.batch.grain_kg).phases
    except EnergyPlanError:
        return False
    return all(phase.lowest_c > phase.from_c - SAME_BOIL_K for phase in phases if phase.phase == "boil")


def _landed(plan: Plan) -> Plan:
    """The plan with the strike temperature that lands on the first rest, to half a degree."""
    strike = simulate(plan).strike
    if strike is None or strike.wanted_c is None:
        return plan
    before = next(place for place, step in enumerate(plan.steps) if step.name == strike.step) - 1
    target_c, name = round(2 * strike.wanted_c) / 2, plan.steps[before].name
    return _with_steps(plan, lambda step: {"target_c": target_c} if step.name == name else {})


def _with_gravity(plan: Plan) -> Plan:
    """The plan with the gravity that its grain gives at home."""
    if plan.batch.grain_kg <= 0:
        return plan
    gravity = simulate(plan, extract=USUAL_YIELD_FRAC * plan.batch.grain_kg).wort.gravity_end
    return plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": round(gravity, 3)})})


def _with_steps(plan: Plan, change: Callable[[Step], dict[str, object]]) -> Plan:
    return plan.model_copy(update={"steps": tuple(step.model_copy(update=change(step)) for step in plan.steps)})
