"""Plans side by side: why one takes more than another, and which way to brew the same wort is better."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Literal

from energyplan.advice.household import severity_of
from energyplan.advice.pricing import Pricing
from energyplan.base.errors import EnergyPlanError, PlanError
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Severity
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.supply import on_the_circuit
from energyplan.plan.model import Hours, Plan, Step
from energyplan.tariffs.clock import zone_of

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = [
    "BestChoice",
    "BestFor",
    "BestPlan",
    "Cause",
    "ComparedDay",
    "Comparison",
    "Option",
    "Piece",
    "Ramps",
    "Waterfall",
    "compare",
    "frontier_of",
    "rank",
    "waterfall",
]

Cause = Literal["place", "vessel", "elements", "batch", "second_heater", "lids", "lengths", "powers", "steps", "rest"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedDay:
    """One plan of a comparison: its day, cost and circuit (None where prices, start or circuit are missing).

    ``severity`` is the graver of what the circuit and the contracted power say.
    """

    title: str
    day: BrewDay
    cost: Money | None
    circuit: CircuitCheck | None
    severity: Severity | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What one group of inputs, or several together, does to the energy [kWh].

    ``in_order_kwh`` is the change when it is swapped after the groups before it; ``alone_kwh`` when nothing else is
    swapped (None: such a day can't be brewed).
    """

    causes: tuple[Cause, ...]
    in_order_kwh: float
    alone_kwh: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waterfall:
    """From the energy of one plan to that of another, by cause, in the order in which the causes are swapped.

    The pieces in order add up to the difference. ``interaction_kwh`` is what the causes alone don't explain: it
    arises because they act on each other (None where a cause can't be swapped alone).
    """

    from_title: str
    to_title: str
    from_kwh: float
    to_kwh: float
    pieces: tuple[Piece, ...]
    interaction_kwh: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Several plans, and the way from the first to each of the others."""

    days: tuple[ComparedDay, ...]
    waterfalls: tuple[Waterfall, ...]


def compare(
    plans: Sequence[Plan],
    *,
    pricing: Pricing | None = None,
    start: datetime | None = None,
    zone: tzinfo | None = None,
) -> Comparison:
    """Put plans side by side.

    Parameters
    ----------
    plans : sequence of Plan
        Two or more; the first is what the others are compared with.
    pricing : Pricing, optional
        Prices and start, the same for all.
    start : datetime, optional
        Start for the circuits when there are no prices; without either, circuits are not checked.
    zone : tzinfo, optional
        Zone of the other loads' clock; by default that of the prices, else of the plan's place, else UTC.

    Raises
    ------
    PlanError
        If there are fewer than two plans.
    BrewDayError, TariffError
        If one of them can't be brewed, or has no price.
    """
    if len(plans) < 2:
        raise PlanError(f"{len(plans)} plan to compare; give two or more")
    begins = pricing.start if pricing else start
    days = tuple(_compared(plan, pricing, begins, zone) for plan in plans)
    return Comparison(days=days, waterfalls=tuple(waterfall(plans[0], other) for other in plans[1:]))


def _compared(plan: Plan, pricing: Pricing | None, start: datetime | None, zone: tzinfo | None) -> ComparedDay:
    day = simulate(plan)
    clock = zone or zone_of(pricing.clock if pricing else plan.site.time_zone or "UTC")
    checked = severity = None
    if start is not None:
        if plan.circuit is not None:
            checked = check(on_the_circuit(plan, day.profiles), plan.circuit, plan.other_loads, start, clock)
        severity = severity_of(plan, day.profiles, checked, start, clock)
    cost = pricing.cost(day) if pricing else None
    return ComparedDay(title=plan.title, day=day, cost=cost, circuit=checked, severity=severity)


Swap = Callable[[Plan, Plan], Plan]


_HEATING = ("elements", "power_step_w", "control", "pump_w", "pump_heat", "standby_w")


def _place(plan: Plan, other: Plan) -> Plan:
    return plan.model_copy(update={"site": other.site})


def _shell(plan: Plan, other: Plan) -> Plan:
    heating = {name: getattr(plan.vessel, name) for name in _HEATING}
    return plan.model_copy(update={"vessel": other.vessel.model_copy(update=heating)})


def _heating(plan: Plan, other: Plan) -> Plan:
    vessel = plan.vessel.model_copy(update={name: getattr(other.vessel, name) for name in _HEATING})
    return plan.model_copy(update={"vessel": vessel, "circuit": other.circuit, "other_loads": other.other_loads})


def _batch(plan: Plan, other: Plan) -> Plan:
    return plan.model_copy(update={"batch": other.batch})


def _second_heater(plan: Plan, other: Plan) -> Plan:
    return plan.model_copy(update={"second_heater": other.second_heater})


def _steps(plan: Plan, other: Plan) -> Plan:
    with_steps = {"steps": other.steps, "second_heater": other.second_heater, "tasks": other.tasks}
    return plan.model_copy(update=with_steps)


def _fields(*names: str) -> Swap:
    """Swap some fields of every step; both plans have the same steps."""

    def swap(plan: Plan, other: Plan) -> Plan:
        pairs = zip(plan.steps, other.steps, strict=True)
        steps = tuple(mine.model_copy(update={name: getattr(its, name) for name in names}) for mine, its in pairs)
        return plan.model_copy(update={"steps": steps})

    return swap


_GENERAL: tuple[tuple[Cause, Swap], ...] = (
    ("place", _place),
    ("vessel", _shell),
    ("elements", _heating),
    ("batch", _batch),
)


_OF_LIDS, _OF_POWERS = ("lid", "pump"), ("ramp_power_w", "hold_power_w")


_OF_LENGTHS = tuple(
    name for name in Step.model_fields if name not in (*_OF_LIDS, *_OF_POWERS, "name", "boil", "before")
)


_STEP_BY_STEP: tuple[tuple[Cause, Swap], ...] = (
    ("second_heater", _second_heater),
    ("lids", _fields(*_OF_LIDS)),
    ("lengths", _fields(*_OF_LENGTHS)),
    ("powers", _fields(*_OF_POWERS)),
)


_WHOLE_STEPS: tuple[tuple[Cause, Swap], ...] = (("steps", _steps),)
_REST: tuple[tuple[Cause, Swap], ...] = (("rest", lambda _, other: other),)


def _shape(step: Step) -> tuple[object, ...]:
    return step.name, step.boil, step.before


def _causes(first: Plan, second: Plan) -> tuple[tuple[Cause, Swap], ...]:
    same = [_shape(step) for step in first.steps] == [_shape(step) for step in second.steps]
    return _GENERAL + (_STEP_BY_STEP if same else _WHOLE_STEPS) + _REST


def waterfall(first: Plan, second: Plan) -> Waterfall:
    """Explain the difference of energy between two plans by cause.

    Parameters
    ----------
    first, second : Plan
        The plans.

    Raises
    ------
    BrewDayError
        If one of the two can't be brewed.

    Notes
    -----
    Groups of inputs are swapped one after the other: place, vessel, elements and mains, water and grain, then the
    steps (their lids, temperatures and lengths, powers where both plans have the same steps; else all at once). A
    group after which the day can't be brewed is swapped together with the next. The order matters; so each group is
    also swapped alone, and the rest is shown as their interaction.
    """
    from_kwh, to_kwh = simulate(first).energy_kwh, simulate(second).energy_kwh
    pieces: list[Piece] = []
    here, here_kwh = first, from_kwh
    waiting: list[tuple[Cause, Swap]] = []
    for cause, swap in _causes(first, second):
        swapped = swap(here, second)
        if swapped == here:
            continue
        waiting.append((cause, swap))
        here = swapped
        kwh = _kwh(here)
        if kwh is None or (cause == "rest" and kwh == here_kwh and len(waiting) == 1):
            continue
        pieces.append(_piece(first, second, waiting, kwh - here_kwh, from_kwh))
        here_kwh, waiting = kwh, []
    total = to_kwh - from_kwh
    alone = [piece.alone_kwh for piece in pieces]
    known = [kwh for kwh in alone if kwh is not None]
    return Waterfall(
        from_title=first.title,
        to_title=second.title,
        from_kwh=from_kwh,
        to_kwh=to_kwh,
        pieces=tuple(pieces),
        interaction_kwh=total - sum(known) if len(known) == len(alone) else None,
    )


def _piece(
    first: Plan, second: Plan, swaps: Sequence[tuple[Cause, Swap]], in_order_kwh: float, from_kwh: float
) -> Piece:
    alone = first
    for _, swap in swaps:
        alone = swap(alone, second)
    alone_kwh = _kwh(alone)
    return Piece(
        causes=tuple(cause for cause, _ in swaps),
        in_order_kwh=in_order_kwh,
        alone_kwh=None if alone_kwh is None else alone_kwh - from_kwh,
    )


def _kwh(plan: Plan) -> float | None:
    """Energy of a plan [kWh]; None where it breaks a rule or can't be brewed."""
    if plan.broken_rules():
        return None
    try:
        return simulate(plan).energy_kwh
    except EnergyPlanError:
        return None


BestFor = Literal["cost", "time", "circuit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramps:
    """What is done to the ramps: nothing, capped at a power, all elements, or some elements only for the whole day."""

    kind: Literal["planned", "capped", "all", "elements"] = "planned"
    power_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BestChoice:
    """What may be varied.

    Parameters
    ----------
    waits_min : tuple of float
        How long the strike water may wait, warm and with the elements off, before it is heated up again [min].
    to_the_minute : bool
        Whether waits of any minute are tried around the best of them.
    ramp_levels : int
        How many powers are tried for the ramps, at most.
    learned : Learned, optional
        What brewed days have taught about the vessel: powers must do for it.

    Raises
    ------
    PlanError
        If a number makes no sense.
    """

    waits_min: tuple[float, ...] = (0.0, 30.0, 60.0, 120.0, 240.0, 480.0)
    to_the_minute: bool = True
    ramp_levels: int = 5
    learned: "Learned | None" = None

    def __post_init__(self) -> None:
        if 0.0 not in self.waits_min or any(not 0 <= wait <= 24 * 60 for wait in self.waits_min):
            raise PlanError(f"waits_min = {self.waits_min}: expected minutes from 0 to 1440, 0 among them")
        if not 1 <= self.ramp_levels <= 50:
            raise PlanError(f"ramp_levels = {self.ramp_levels}: expected 1 to 50")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One way to brew the day, with the wort of the plan at its end.

    ``minutes`` counts from switching on to the end; ``over`` has the findings of the circuit that are over (and
    would not be with everything off); ``use_frac`` is how much of the rating that is used most is used (None: no
    circuit, or no rating). ``added_kwh`` and ``water_change_l`` are against the plan as it is.
    """

    plan: Plan
    day: BrewDay
    ramps: Ramps
    wait_min: float
    start: datetime | None
    minutes: float
    cost: Money | None
    energy_kwh: float
    added_kwh: float
    water_change_l: float
    peak_a: float | None
    use_frac: float | None
    over: tuple[str, ...]

    @property
    def value(self) -> float:
        """What the frontier weighs against the minutes: the cost, or the energy without prices."""
        return self.energy_kwh if self.cost is None else float(self.cost)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BestPlan:
    """The plan chosen, the plan as it is, and the frontier: options of which none is both quicker and cheaper.

    ``idle_over`` is what is over on the circuit with nothing of the day switched on; ``weak`` are the steps whose
    power as set holds or boils on less than nineteen days of twenty, whatever is chosen, with their shares of days.
    ``hours`` are those that another start keeps (None: the start is not up for choice).
    """

    best_for: BestFor
    chosen: Option
    planned: Option
    frontier: tuple[Option, ...]
    tried: int
    hours: Hours | None
    idle_over: tuple[str, ...]
    weak: Mapping[str, float]


def frontier_of(options: Sequence[Option]) -> tuple[Option, ...]:
    """The options of which no other is both at most as long and at most as dear; shortest first."""
    found: list[Option] = []
    for option in sorted(options, key=lambda one: (one.minutes, one.value)):
        if not found or option.value < found[-1].value:
            found.append(option)
    return tuple(found)


def rank(option: Option, best_for: BestFor) -> tuple[float, float, float]:
    """What is least for the best option: first what is asked for, then cost or length."""
    if best_for == "time":
        return option.minutes, option.value, option.wait_min
    if best_for == "cost":
        return option.value, option.minutes, option.wait_min
    used = option.peak_a if option.use_frac is None else option.use_frac
    return used or 0.0, option.value, option.minutes
