"""The best ways to brew a day: what each aim comes to, what lies between, what each trades for what."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from energyplan.advice.compare import BestFor, BestPlan, Option, Ramps
from energyplan.base.kinds import (
    AMPERES,
    COUNT,
    KWH,
    LITRES,
    MINUTES,
    MOMENT,
    MONEY,
    ODDS,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
)
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.tariffs.clock import to_local
from energyplan.telling.comparison import amperes_more, kwh_more, minutes_more, money_more, more_or_less
from energyplan.telling.starts import hours_told
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["Way", "best_told", "way_name", "way_told", "ways_of", "ways_told"]

NEXT_TO_NOTHING = 1e-3  # shares of a cost, minutes or ratings that make nothing better
SAME_L = 0.05
AIMS: dict[BestFor, tuple[str, str, Callable[[Option], float]]] = {
    "cost": ("cheapest", "cheaper", lambda option: option.value),
    "time": ("quickest", "quicker", lambda option: option.minutes),
    "circuit": (
        "gentlest on the circuit",
        "gentler on the circuit",
        lambda option: option.use_frac or option.peak_a or 0.0,
    ),
}
COLUMNS = (
    Column("number", "No.", COUNT),
    Column("way", "Way", WORD),
    Column("cost", "Cost", MONEY, short=""),
    Column("energy_kwh", "Energy", KWH, short=""),
    Column("minutes", "Time", MINUTES, short=""),
    Column("peak_a", "Largest current", AMPERES, short=""),
    Column("start", "Start", MOMENT, short="start"),
    Column("wait_min", "Wait", MINUTES, short="wait"),
    Column("water_change_l", "Water", LITRES, detail=1, signed=True),
    Column("ramps", "Ramps", WORD, detail=1),
    Column("over", "Over", WORD, detail=2),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A way to brew the day: its number, the aims in which it is best, and the choice it came from."""

    number: int
    option: Option
    aims: tuple[BestFor, ...]
    is_as_it_is: bool


def ways_of(found: Sequence[BestPlan]) -> tuple[Way, ...]:
    """The plan as it is, the best for each aim, and what lies between; ways that are the same stand once.

    Parameters
    ----------
    found : sequence of BestPlan
        For one plan and the same prices, an aim each.
    """
    options = [found[0].planned, *(best.chosen for best in found), *(one for best in found for one in best.frontier)]
    first: dict[tuple[Any, ...], Option] = {}
    for option in options:
        first.setdefault((option.plan, option.start), option)
    listed_options = list(first.values())
    best_in = {best.best_for: _best(listed_options, AIMS[best.best_for][2]) for best in found}
    return tuple(
        Way(
            number=place + 1,
            option=option,
            aims=tuple(aim for aim, best in best_in.items() if best is option),
            is_as_it_is=place == 0,
        )
        for place, option in enumerate(listed_options)
    )


def _best(options: Sequence[Option], measure: Callable[[Option], float]) -> Option:
    """The first option than which none is better by more than next to nothing; those that are over come last."""
    fewest = min(len(option.over) for option in options)
    allowed = [option for option in options if len(option.over) == fewest]
    least = min(measure(option) for option in allowed)
    return next(option for option in allowed if measure(option) <= least + NEXT_TO_NOTHING * abs(least))


def best_told(found: BestPlan, zone: str) -> Told:
    """The best way for one aim beside the plan as it is, and what lies between."""
    ways = ways_of([found])
    best = next(way for way in ways if found.best_for in way.aims)
    told = ways_told(ways, zone)
    name, better, _ = AIMS[found.best_for]
    if best.is_as_it_is:
        headline = Sentence(f"Of all that was tried nothing is {better} than the plan as it is.")
        sentences: tuple[Sentence, ...] = ()
    else:
        headline = Sentence(
            f"{name[:1].upper()}{name[1:]}: {{way}}.", way=_different(best.option, zone, _date(found.planned, zone))
        )
        sentences = (_trade(best.option, found.planned), *_cautions(best.option, found))
    tried = Sentence(
        "{tried} combinations of ramp power, wait and start were simulated, each with the plan's own wort at its end; "
        "listed are those that no other beats in both minutes and {measure}.",
        tried=COUNT(found.tried), measure=WORD("energy" if found.chosen.cost is None else "cost"),
    )  # fmt: skip
    return Told(
        key="best",
        title="The best way to brew this day",
        headline=headline,
        facts={
            "best_for": WORD(found.best_for),
            "chosen": _facts(found.chosen, zone),
            "planned": _facts(found.planned, zone),
            "frontier": [_facts(option, zone) for option in found.frontier],
            "tried": COUNT(found.tried),
        },
        sentences=(*sentences, *_weak(found), tried, *_within(found)),
        tables=told.tables,
    )


def ways_told(ways: Sequence[Way], zone: str) -> Told:
    """Ways to brew the day, a row each."""
    first = _date(ways[0].option, zone)
    names = [Sentence("{number} {name}", number=COUNT(way.number), name=way_name(way)) for way in ways]
    headline = (
        Sentence("Of all that was tried nothing is cheaper, quicker or gentler than the plan as it is.")
        if len(ways) == 1
        else Sentence("{count} ways to brew this day: {ways}.", count=COUNT(len(ways)), ways=listed(names))
    )
    rows = tuple(_row(way, zone, first) for way in ways)
    return Told(
        key="ways", title="Ways to brew this day", headline=headline,
        tables=(Table("ways", "Ways to brew this day", COLUMNS, rows),),
    )  # fmt: skip


def way_name(way: Way) -> Sentence:
    """What a way is: best in something, or what is different."""
    aims = " and ".join(AIMS[aim][0] for aim in way.aims)
    if way.is_as_it_is:
        return Sentence(f"as it is, already the {aims}" if aims else "as it is")
    if aims:
        return Sentence(aims)
    return Sentence("{ramps}", ramps=_ramps(way.option.ramps))


def way_told(way: Way, found: BestPlan, zone: str) -> Told:
    """What one way gives and takes against the plan as it is, and what must be known before it is taken."""
    option = way.option
    starts = () if option.start is None else (_starts(option, zone, _date(found.planned, zone)),)
    trade = _trade(option, found.planned)
    return Told(key="way", title="What it trades", sentences=(trade, *starts, *_cautions(option, found)))


def _trade(option: Option, planned: Option) -> Sentence:
    parts: list[Sayable] = []
    if option.cost is not None and planned.cost is not None:
        parts.append(money_more(option.cost - planned.cost))
    parts += [minutes_more(option.minutes - planned.minutes), kwh_more(option.energy_kwh - planned.energy_kwh)]
    if option.peak_a is not None and planned.peak_a is not None:
        parts.append(amperes_more(option.peak_a - planned.peak_a))
    return Sentence("Against the plan as it is: {parts}.", parts=listed(parts))


def _starts(option: Option, zone: str, first: date | None) -> Sentence:
    return Sentence("It starts at {start}.", start=MOMENT(_moment(option, zone, first)))


def _cautions(option: Option, found: BestPlan) -> Iterator[Sentence]:
    if option.over:
        codes = listed(WORD(code.replace("_", " ")) for code in option.over)
        yield Sentence("No choice keeps every rating; over with this one: {codes}.", codes=codes)
    elif found.planned.over:
        codes = listed(WORD(code.replace("_", " ")) for code in found.planned.over)
        yield Sentence("This way keeps every rating; over with the plan as it is: {codes}.", codes=codes)
    if abs(option.water_change_l) >= SAME_L:
        amount, more = LITRES(abs(option.water_change_l)), option.water_change_l > 0
        changed = more_or_less(amount, more=more, words=("more water", "less water"))
        yield Sentence("It begins with {changed}, because another amount evaporates: the wort stays.", changed=changed)
    if option.wait_min > 0:
        yield Sentence("The strike water waits warm, elements off, and is heated up again: stay about while it does.")
    if option.ramps.kind == "all" and option.minutes < found.planned.minutes:
        yield Sentence("This lifts the caps that the plan sets on ramps; more power scorches sooner.")
    if found.idle_over:
        codes = listed(WORD(code.replace("_", " ")) for code in found.idle_over)
        yield Sentence("Over with nothing of this day switched on: {codes}.", codes=codes)


def _within(found: BestPlan) -> Iterator[Sentence]:
    if found.hours is not None and (within := hours_told(found.hours)):
        yield Sentence("Starts of that day were tried: {hours}.", hours=within)


def _weak(found: BestPlan) -> Iterator[Sentence]:
    for step, frac in found.weak.items():
        said = "Whatever is chosen here, the power set for {step} is enough on {often} only."
        yield Sentence(said, step=WRITTEN(step), often=ODDS(frac))


def _different(option: Option, zone: str, first: date | None) -> Sentence:
    parts: list[Sayable] = []
    if option.ramps.kind != "planned":
        parts.append(_ramps(option.ramps))
    if option.start is not None:
        parts.append(Sentence("start at {start}", start=MOMENT(_moment(option, zone, first))))
    if option.wait_min > 0:
        parts.append(Sentence("water that waits {wait}", wait=MINUTES(option.wait_min)))
    return Sentence("{parts}", parts=listed(parts or [Sentence("powers as planned")]))


def _ramps(ramps: Ramps) -> Sentence:
    if ramps.kind == "capped":
        return Sentence("ramps at most {power}", power=WATTS(ramps.power_w))
    if ramps.kind == "elements":
        return Sentence("elements of {power} only", power=WATTS(ramps.power_w))
    return Sentence("all elements in the ramps" if ramps.kind == "all" else "powers as planned")


def _date(option: Option, zone: str) -> date | None:
    return None if option.start is None else to_local(option.start, zone).date()


def _moment(option: Option, zone: str, first: date | None) -> Moment:
    local = to_local(option.start, zone)  # type: ignore[arg-type]
    return Moment(local, first or local.date())


def _row(way: Way, zone: str, first: date | None) -> tuple[object, ...]:
    option = way.option
    return (
        way.number,
        way_name(way),
        option.cost,
        option.energy_kwh,
        option.minutes,
        option.peak_a,
        None if option.start is None else _moment(option, zone, first),
        option.wait_min,
        option.water_change_l,
        _ramps(option.ramps),
        None if not option.over else listed(WORD(code) for code in option.over),
    )


def _facts(option: Option, zone: str) -> Facts:
    cost: Money | None = option.cost
    return {
        "ramps": WORD(option.ramps.kind),
        "ramps_w": option.ramps.power_w,
        "wait_min": MINUTES(option.wait_min),
        "start": None if option.start is None else MOMENT(_moment(option, zone, None)),
        "minutes": MINUTES(option.minutes),
        "cost": None if cost is None else MONEY(cost),
        "energy_kwh": KWH(option.energy_kwh),
        "added_kwh": KWH(option.added_kwh),
        "water_change_l": LITRES(option.water_change_l),
        "peak_a": None if option.peak_a is None else AMPERES(option.peak_a),
        "use_frac": option.use_frac,
        "over": list(option.over),
    }
