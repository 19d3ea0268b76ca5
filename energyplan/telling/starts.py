"""When to start, told: the best, what is nearly as good, what waiting and a habit come to."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction

from energyplan.advice.starts import StartsAnswer
from energyplan.base.kinds import (
    CELSIUS,
    CLOCK,
    COUNT,
    DATED,
    DAY,
    GRAMS,
    KEY,
    KILOGRAMS,
    KWH,
    MOMENT,
    MONEY,
    PRICE,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
    Price,
    Value,
    counted,
    weekday_name,
    write,
)
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import Listed, Sentence, listed
from energyplan.plan.equipment import Hours
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.dayrules import WEEKDAYS, clock_text
from energyplan.tariffs.periods import HabitCost
from energyplan.tariffs.priceline import ESTIMATE
from energyplan.tariffs.starts import StartOption, StartSearch, hour_costs
from energyplan.tariffs.tariffcheck import BandStretch, day_stretches
from energyplan.tariffs.waiting import WaitingPlan
from energyplan.telling.prices import estimate_sentence, month_use_sentence, with_month_note
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["cheaper_start", "habit_told", "hours_told", "starts_told", "waiting_told"]

#: Goes with every plan that heats water while nobody is there.
UNATTENDED_WATER = Sentence(
    "This heats water while nobody may be there. Do so only if the vessel's instructions allow it: plain water, never "
    "wort or grain; level well above the elements, valve shut, lid on; no extension lead, a tested residual current "
    "device, a smoke alarm in the room. Local codes and a licensed electrician decide."
)
QUARTER_MIN = 15
MOST_KINDS, FEW_KINDS = 7, 3  # of days in one picture; of more than a few every half hour is shown
NEXT_TO_NOTHING_FRAC = 0.01  # of the cost; the plateau around the best start has the same
_OPTIONS = (Column("which", "", WORD), Column("start", "Start", MOMENT), Column("cost", "Cost", MONEY))
_CARBON = Column("carbon_g", "Carbon dioxide", KILOGRAMS)


def starts_told(found: StartsAnswer) -> Told:
    """Every start of a range of days: the best as the answer, the others as rows and as a picture by day and hour."""
    search = found.search
    options = [("best", search.best), ("now", search.now), ("dearest", search.worst)]
    parts = [waiting_told(found.waiting, search.zone)] if found.waiting else []
    parts += [habit_told(found.habit)] if found.habit else []
    parts = [with_month_note(part, found.tariff) for part in parts]
    return Told(
        key="starts",
        title="When to start",
        headline=_headline(search),
        facts=_facts(found),
        sentences=tuple(_sentences(found)),
        tables=() if is_flat(search) else (_options("options", "Best, now and dearest", options, search.zone),),
        parts=tuple(parts),
    )


def is_flat(search: StartSearch) -> bool:
    """Whether every start costs the same: there is nothing to choose then."""
    return search.best.cost.units == search.worst.cost.units


def _facts(found: StartsAnswer) -> Facts:
    search = found.search
    return {
        "best": _option_facts(search.best, search.zone),
        "now": _option_facts(search.now, search.zone) if search.now else None,
        "worst": _option_facts(search.worst, search.zone),
        "within_1_percent": tuple((_at(a, search.zone), _at(b, search.zone)) for a, b in search.plateau),
        "starts": COUNT(search.count),
        "best_per_day": _options(
            "best_per_day", "The best start of each day", [("", one) for one in search.best_per_day], search.zone
        ),
        "by_hour": _by_hour(search),
        **_pictures(found),
        "every_start_the_same": is_flat(search),
        "currency": WORD(search.currency),
        "time_zone": WORD(search.zone),
    }


def _option_facts(option: StartOption, zone: str) -> dict[str, object]:
    grams = None if option.carbon_g is None else GRAMS(option.carbon_g)
    return {"start": _at(option.start, zone), "cost": MONEY(option.cost), "carbon_g": grams} | _guessed(option)


def _guessed(option: StartOption) -> dict[str, object]:
    return {"cost_is_estimate": True} if option.cost.is_estimate else {}


def _at(moment: datetime, zone: str, start: date = date.min) -> Value:
    """A moment on the local clock, with its day unless it is that of ``start``."""
    return MOMENT(Moment(to_local(moment, zone), start))


def _headline(search: StartSearch) -> Sentence:
    best, cost = to_local(search.best.start, search.zone), MONEY(search.best.cost)
    if is_flat(search):
        return Sentence("Every start costs the same: {cost}.", cost=cost)
    first, last = (to_local(moment, search.zone) for moment in search.best_stretch)
    if first == last:
        return Sentence("Start at {best}: {cost}. Only that minute is within 1 %.", best=DATED(best), cost=cost)
    return Sentence(
        "Start at {best}: {cost}. Anything from {first} to {last} is within 1 %.",
        best=DATED(best),
        cost=cost,
        first=MOMENT(Moment(first, best.date())),
        last=MOMENT(Moment(last, best.date())),
    )


def _sentences(found: StartsAnswer) -> list[Sentence]:
    search, said = found.search, []
    if search.now is not None and search.now.cost.units != search.best.cost.units:
        said.append(
            Sentence(
                "A start at {now} costs {cost}, {more} than the best.",
                now=_at(search.now.start, search.zone),
                cost=MONEY(search.now.cost),
                more=_difference(search.now.cost - search.best.cost),
            )
        )
    if found.tariff.estimate is not None:
        said.append(estimate_sentence(found.tariff.estimate, found.tariff, search.zone))
    if found.best_ends is not None:
        said.append(month_use_sentence(found.best_ends))
    if search.best.carbon_g is not None:
        grams = KILOGRAMS(search.best.carbon_g / 1000)
        said.append(Sentence("The grid emits {mass} of carbon dioxide for the best start.", mass=grams))
    starts = counted(search.count, "start was", "starts were")
    said.append(
        Sentence("{starts} costed, one a minute, on the clock of {zone}.", starts=starts, zone=WORD(search.zone))
    )
    if search.unpriced:
        said.append(
            Sentence(
                "{starts} no price for the whole day{covered}.",
                starts=counted(search.unpriced, "start has", "starts have"),
                covered=WORD(search.covered),
            )
        )
    if within := hours_told(found.hours):
        said.append(Sentence("Within the hours {hours}.", hours=within))
    elif not is_flat(search):
        awake = (
            "No hours were entered, so nights count as well; {key} keeps starts to when somebody can do what they need."
        )
        said.append(Sentence(awake, key=KEY("hours.somebody_there")))
    return said


def _difference(more: Money) -> Sentence:
    if more.units < 0:
        return Sentence("{less} less", less=MONEY(Money(units=-more.units, currency=more.currency)))
    return Sentence("{more} more", more=MONEY(more))


def hours_told(hours: Hours) -> Listed | None:
    """The brewer's hours as they limit a start."""
    said = []
    if hours.earliest_min is not None:
        said.append(Sentence("not before {clock}", clock=WORD(clock_text(hours.earliest_min))))
    if hours.done_by_min is not None:
        said.append(Sentence("done by {clock}", clock=WORD(clock_text(hours.done_by_min))))
    if hours.somebody_there_min is not None:
        opens, closes = (WORD(clock_text(minute)) for minute in hours.somebody_there_min)
        said.append(Sentence("somebody there from {opens} to {closes}", opens=opens, closes=closes))
    if hours.not_on:
        said.append(Sentence("not on {days}", days=listed([WORD(name.capitalize()) for name in hours.not_on])))
    return listed(said) if said else None


def _options(key: str, title: str, options: list[tuple[str, StartOption | None]], zone: str) -> Table:
    known = [(name, option) for name, option in options if option is not None]
    with_carbon = any(option.carbon_g is not None for _, option in known)
    columns = (*_OPTIONS[0 if key == "options" else 1 :], *([_CARBON] if with_carbon else []))
    return Table(key, title, columns, tuple(_option_row(name, option, zone, columns) for name, option in known))


def _option_row(name: str, option: StartOption, zone: str, columns: tuple[Column, ...]) -> tuple[object, ...]:
    cells = {
        "which": name,
        "start": Moment(to_local(option.start, zone), date.min),
        "cost": option.cost,
        "carbon_g": None if option.carbon_g is None else GRAMS(option.carbon_g),
    }
    return tuple(cells[column.key] for column in columns)


def _by_hour(search: StartSearch) -> Table:
    """The cheapest allowed start of each local hour; one that the clock shows twice is one row, the cheaper of both."""
    seen: dict[tuple[date, int], Money | None] = {}
    for one in hour_costs(search):
        before = seen.get((one.day, one.hour))
        cheaper = before is None or (one.cost is not None and one.cost.units < before.units)
        seen[one.day, one.hour] = one.cost if cheaper else before
    columns = (Column("day", "Day", DAY), Column("hour", "Hour", COUNT), Column("cost", "Cheapest start", MONEY))
    rows = tuple((day, hour, cost) for (day, hour), cost in seen.items())
    return Table("by_hour", "The cheapest start of each hour", columns, rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class _KindOfDay:
    """Days whose prices and costs of a start are the same: costs by the minute of the start, stretches of one price."""

    days: tuple[date, ...]
    costs: tuple[tuple[int, Money], ...]
    prices: tuple[BandStretch, ...]

    @property
    def words(self) -> str:
        """The days in a few words."""
        names = [weekday_name(day) for day in self.days]
        if len(names) == 1:
            return write(DAY(self.days[0]))
        if len(set(names)) == len(WEEKDAYS):
            return "every day"
        if len(names) > 2 and (self.days[-1] - self.days[0]).days == len(names) - 1:
            return f"{names[0]} to {names[-1]}"
        return ", ".join(dict.fromkeys(names))


def _kinds(found: StartsAnswer) -> list[_KindOfDay]:
    """Kinds of days with a start that is allowed, in the order of their first day; quarters of an hour."""
    search = found.search
    days: dict[date, dict[int, Money]] = {}
    first = -to_local(search.first, search.zone).minute % QUARTER_MIN
    for place in range(first, len(search.units), QUARTER_MIN):
        if search.allowed[place]:
            start = search.first + timedelta(minutes=place)
            at, is_estimate = to_local(start, search.zone), search.is_estimate(int(start.timestamp()))
            cost = Money(units=int(search.units[place]), currency=search.currency, is_estimate=is_estimate)
            days.setdefault(at.date(), {})[at.hour * 60 + at.minute] = cost
    kinds: dict[tuple[object, ...], list[date]] = {}
    for day, costs in days.items():
        kinds.setdefault((tuple(costs.items()), day_stretches(found.line, day)), []).append(day)
    return [_KindOfDay(days=tuple(days), costs=costs, prices=prices) for (costs, prices), days in kinds.items()]  # type: ignore[arg-type]


def _shown(found: StartsAnswer) -> list[_KindOfDay]:
    """Kinds that a picture has room for: those of the best, the asked and the dearest start before the others."""
    kinds, search = _kinds(found), found.search
    marked = [to_local(one.start, search.zone).date() for one in (search.best, search.now, search.worst) if one]
    first = sorted(kinds, key=lambda kind: not any(day in kind.days for day in marked))[:MOST_KINDS]
    return [kind for kind in kinds if kind in first]


def _pictures(found: StartsAnswer) -> Facts:
    """What a picture of the starts draws: costs and prices of each kind of day, and the starts that are marked."""
    kinds = _shown(found)
    step = QUARTER_MIN if len(kinds) <= FEW_KINDS else 2 * QUARTER_MIN
    row, days = Column("kind", "Kind", COUNT), Column("days", "Days", WORD)
    cost = Column("cost", "Cost", MONEY)
    costs = [
        (place, kind.words, minute, money)
        for place, kind in enumerate(kinds)
        for minute, money in kind.costs
        if minute % step == 0
    ]
    prices = [
        (place, kind.words, part.from_min, part.to_min,
         Price(Fraction(part.micro_per_kwh, 10**6), found.line.currency, is_estimate=part.band == ESTIMATE), part.band)
        for place, kind in enumerate(kinds) for part in kind.prices if part.micro_per_kwh is not None
    ]  # fmt: skip
    spans = (Column("from_min", "From", CLOCK), Column("to_min", "To", CLOCK), Column("price", "Price", PRICE),
             Column("band", "Band", WRITTEN))  # fmt: skip
    return {
        "by_kind": Table("by_kind", "Cost by the start, for each kind of day",
                         (row, days, Column("minute", "Start", CLOCK), cost), tuple(costs)),
        "prices": Table("prices", "Prices of each kind of day", (row, days, *spans), tuple(prices)),
        "marks": _marks(found.search, kinds),
        "more_days": COUNT(len(_kinds(found)) - len(kinds)),
    }  # fmt: skip


def _marks(search: StartSearch, kinds: Sequence[_KindOfDay]) -> Table:
    """The starts that the picture marks: the best, the one asked about, the dearest."""
    now, worst = search.now, search.worst
    marks = [("best", search.best), *([("now", now)] if now else [])]
    if now is None or now.cost.units != worst.cost.units:
        marks.append(("dearest", worst))
    columns = (Column("text", "Mark", WORD), Column("kind", "Kind", COUNT), Column("minute", "Start", CLOCK),
               Column("cost", "Cost", MONEY), Column("label", "Words", WORD))  # fmt: skip
    rows = []
    for text, option in marks:
        at = to_local(option.start, search.zone)
        place = next((place for place, kind in enumerate(kinds) if at.date() in kind.days), None)
        if place is not None:
            rows.append((text, place, at.hour * 60 + at.minute, option.cost, f"{text} {write(MONEY(option.cost))}"))
    return Table("marks", "Marks", columns, tuple(rows))


def cheaper_start(search: StartSearch) -> Sentence:
    """When to start instead, and what that saves; or that there is nothing to save."""
    best = DATED(to_local(search.best.start, search.zone))
    if search.now is None:
        return Sentence("The cheapest start of the week is {best}: {cost}.", best=best, cost=MONEY(search.best.cost))
    saved = search.now.cost - search.best.cost
    if float(saved) <= NEXT_TO_NOTHING_FRAC * abs(float(search.best.cost)):
        return Sentence("No start of the coming week, within the hours, is cheaper by more than 1 %.")
    return Sentence(
        "The cheapest start of the coming week, within the hours, is {best}: {cost}, {saved} less.",
        best=best,
        cost=MONEY(search.best.cost),
        saved=MONEY(saved),
    )


def waiting_told(waiting: WaitingPlan, zone: str) -> Told:
    """Heating the strike water while it is cheap: when to fill, when to heat, what it saves and adds."""
    ready = to_local(waiting.ready, zone)
    day = ready.date()
    cost = MONEY(waiting.cost)
    runs = [(_at(one.start, zone, day), _at(one.end, zone, day)) for one in waiting.stretches]
    said = Sentence(
        "Fill in at {filled}, heat {runs}: {lands} at {ready}.",
        filled=_at(waiting.filled, zone, day),
        runs=listed([Sentence("from {begin} to {end}", begin=begin, end=end) for begin, end in runs]),
        lands=CELSIUS(waiting.lands_c),
        ready=MOMENT(Moment(ready, day)),
    )
    if waiting.waits:
        headline = Sentence(
            "Waiting with hot water for the mash at {ready} costs {cost} instead of {direct}, and takes {extra} more "
            "than the {kwh} of heating straight before.",
            ready=DATED(ready),
            cost=cost,
            direct=MONEY(waiting.direct_cost),
            extra=KWH(waiting.extra_kwh),
            kwh=KWH(waiting.direct_kwh),
        )
    else:
        headline = Sentence(
            "For the mash at {ready} waiting saves nothing: heating straight before costs {cost}.",
            ready=DATED(ready),
            cost=cost,
        )
    return Told(
        key="waiting",
        title="Strike water heated while it is cheap",
        headline=headline,
        facts={
            "filled": _at(waiting.filled, zone),
            "ready": _at(waiting.ready, zone),
            "lands_c": CELSIUS(waiting.lands_c),
            "cost": cost,
            "direct_cost": MONEY(waiting.direct_cost),
            "energy_kwh": KWH(waiting.energy_kwh),
            "extra_kwh": KWH(waiting.extra_kwh),
            "heat": tuple((*run, WATTS(waiting.meter_w)) for run in runs),
        },
        sentences=(said,),
        cautions=(UNATTENDED_WATER,) if waiting.waits else (),
    )


def habit_told(habit: HabitCost) -> Told:
    """A year of brews at one hour of the week, against the best start of each of their days."""
    return Told(
        key="habit",
        title="A habit over a year",
        headline=Sentence(
            "{brews} at the usual time cost {usual} a year; at the best start of each day {best}, {saving} less.",
            brews=counted(len(habit.days), "brew"),
            usual=MONEY(habit.usual),
            best=MONEY(habit.best),
            saving=MONEY(habit.saving),
        ),
        facts={
            "brews": COUNT(len(habit.days)),
            "usual_cost": MONEY(habit.usual),
            "best_cost": MONEY(habit.best),
        },
    )
