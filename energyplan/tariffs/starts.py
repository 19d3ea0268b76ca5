"""The best start, the worst, and all that are nearly as good, among every minute of a range."""

import math
from collections.abc import Sequence
from dataclasses import field, replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import ClockError, TariffError
from energyplan.base.kinds import MOMENT, MONEY, WORD, Moment
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import html_table
from energyplan.tariffs.clock import DAY_S, from_utc_s, number_to_day, offset_pieces, to_local, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import PriceLine
from energyplan.tariffs.startcosts import StartLimits, UnitArray, allowed_starts, minute_range, start_units
from energyplan.tariffs.steps import ESTIMATE, MeteredLoad, metered

__all__ = ["HourCost", "StartConditions", "StartOption", "StartSearch", "find_starts", "hour_costs"]

BoolArray = NDArray[np.bool_]

_MOST_STARTS = 3 * 366 * 1440


@dataclass(frozen=True, slots=True, kw_only=True)
class StartOption:
    """One start and what it costs."""

    start: datetime
    cost: Money
    carbon_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HourCost:
    """The cheapest allowed start within one local clock hour; ``cost`` is None when none is allowed."""

    day: date
    hour: int
    cost: Money | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartSearch:
    """Every start between two moments, costed.

    Parameters
    ----------
    first : datetime
        First start, UTC; the others follow, one a minute.
    zone, currency : str
        For showing.
    units : ndarray of whole numbers, shape (n,)
        Cost of each start in the units of `Money`; meaningless where not allowed.
    allowed : ndarray of bool, shape (n,)
        Whether the start meets the limits and every second of it has a price.
    best, worst : StartOption
        Of the allowed ones; of equal ones the earliest.
    now : StartOption, optional
        A start at the moment asked for, allowed or not.
    plateau : tuple of (datetime, datetime)
        First and last start of each run of allowed starts that cost at most 1 % more than the best.
    best_per_day : tuple of StartOption
        The best start of each local day that has an allowed one.
    guessed_from_s : int, optional
        Second of UTC from which on a start rests on guessed prices.
    unpriced : int
        Starts that meet the limits, for whose whole day there is no price.
    covered : str
        Up to when there are prices, as a refusal says it.
    """

    first: datetime
    zone: str
    currency: str
    units: UnitArray
    allowed: BoolArray
    best: StartOption
    worst: StartOption
    now: StartOption | None
    plateau: tuple[tuple[datetime, datetime], ...]
    best_per_day: tuple[StartOption, ...]
    guessed_from_s: int | None = None
    unpriced: int = 0
    covered: str = ""

    def _repr_html_(self) -> str:
        named = {"Best": self.best, "Now": self.now, "Dearest": self.worst}
        rows = [
            (WORD(name), MOMENT(Moment(to_local(one.start, self.zone), date.min)), MONEY(one.cost))
            for name, one in named.items()
            if one is not None
        ]
        return html_table(WORD("Starts"), ("", "Start", "Cost"), rows)

    def is_estimate(self, start_s: int) -> bool:
        """Whether a start rests on guessed prices."""
        return self.guessed_from_s is not None and start_s >= self.guessed_from_s

    @property
    def count(self) -> int:
        """Number of starts that were costed and are allowed."""
        return int(np.count_nonzero(self.allowed))

    @property
    def best_stretch(self) -> tuple[datetime, datetime]:
        """The part of the plateau that holds the best start."""
        return next((a, b) for a, b in self.plateau if a <= self.best.start <= b)


def find_starts(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    line: PriceLine,
    *,
    first: datetime,
    last: datetime,
    conditions: "StartConditions | None" = None,
) -> StartSearch:
    """Cost every start from one moment to another and pick the best.

    Parameters
    ----------
    load : LoadProfile, sequence of them, or MeteredLoad
        The brew day's load.
    line : PriceLine
        Prices; should reach from the first start to the end of the last day.
    first, last : datetime
        First and last start, both included, with their zone; a part of a minute is rounded up
        for the first and down for the last.
    conditions : StartConditions, optional
        Limits on the start, "now", and carbon.

    Raises
    ------
    TariffError
        If no start is allowed; says whether prices or limits are in the way.
    ValueError
        If the last start lies before the first, or years after it.
    ClockError
        If a moment has no zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> from energyplan.tariffs.priceline import price_line
    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> steady = LoadProfile(name="vessel", edges_s=np.array([0.0, 3600.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> year = price_line(load_tariff("demo"), date(2026, 1, 10), date(2026, 1, 12))
    >>> search = find_starts(steady, year, first=datetime(2026, 1, 10, 12, tzinfo=UTC),
    ...                      last=datetime(2026, 1, 11, 12, tzinfo=UTC))
    >>> search.best.start.isoformat(), str(search.best.cost)
    ('2026-01-10T23:00:00+00:00', '0.31 EUR')
    """
    given = conditions or StartConditions()
    counted = metered(load)
    first_s, count = _start_range(first, last)
    units = start_units(counted, line, first_s=first_s, count=count)
    priced = _priced(counted, line, first_s=first_s, count=count)
    zone = given.zone or line.zone
    allowed = allowed_starts(given.limits, first_s=first_s, count=count, zone=zone, ends_s=counted.to_s)
    _require_any(priced, allowed, line.covered)
    unpriced = int(np.count_nonzero(allowed & ~priced))
    grid = _Grid(first_s=first_s, units=units, allowed=allowed & priced, line=line, load=counted, given=given)
    return replace(grid.search(), unpriced=unpriced, covered=line.covered)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartConditions:
    """What a search is asked beside the load and the prices.

    Parameters
    ----------
    limits : StartLimits
        When the day may start.
    now : datetime, optional
        Moment for the option "start now"; rounded up to a whole minute.
    carbon : PriceLine, optional
        A line as `carbon_line` gives it; its grams are told beside the cost.
    zone : str, optional
        Clock on which days and limits are read; left out, that of the prices.
    """

    limits: StartLimits = field(default_factory=StartLimits)
    now: datetime | None = None
    carbon: PriceLine | None = None
    zone: str | None = None


def _start_range(first: datetime, last: datetime) -> tuple[int, int]:
    """First start [s of UTC] and number of starts between two moments."""
    first_s = _next_minute_s(first)
    count = (math.floor(_zoned(last).timestamp() / 60) * 60 - first_s) // 60 + 1
    if count < 1:
        raise ValueError(f"starts from {first} to {last}: the last lies before the first")
    if count > _MOST_STARTS:
        raise ValueError(f"starts from {first} to {last}: expected at most three years; choose a shorter range")
    return first_s, count


def _next_minute_s(moment: datetime) -> int:
    return math.ceil(_zoned(moment).timestamp() / 60) * 60


def _zoned(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        raise ClockError(f"{moment.isoformat()} has no zone; expected a moment in UTC, as local_to_utc gives")
    return moment


def _priced(load: MeteredLoad, line: PriceLine, *, first_s: int, count: int) -> BoolArray:
    """Starts whose load lies on the price line and in none of its holes."""
    priced = np.zeros(count, dtype=bool)
    whole = minute_range(first_s, count, int(line.edges_s[0]) - load.from_s, int(line.edges_s[-1]) - load.to_s)
    priced[whole] = True
    for step in np.flatnonzero(line.band < 0):
        opens, closes = int(line.edges_s[step]) - load.to_s, int(line.edges_s[step + 1]) - load.from_s
        # A load that ends as the hole opens, or begins as it closes, is not in it.
        low, high = math.floor((opens - first_s) / 60) + 1, math.ceil((closes - first_s) / 60)
        priced[max(low, 0) : max(high, 0)] = False
    return priced


def _require_any(priced: BoolArray, allowed: BoolArray, covered: str) -> None:
    if not priced.any():
        raise TariffError(f"no start between these times has a price for its whole day; choose other days{covered}")
    if not allowed.any():
        raise TariffError("no start meets the limits: the day is longer than the hours they leave; widen them")
    if not (priced & allowed).any():
        raise TariffError(f"no start meets the limits and has a price for its whole day; choose other days{covered}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """Costs of all starts, and the choices among them."""

    first_s: int
    units: UnitArray
    allowed: BoolArray
    line: PriceLine
    load: MeteredLoad
    given: StartConditions

    @property
    def zone(self) -> str:
        """Clock on which days are read."""
        return self.given.zone or self.line.zone

    def search(self) -> StartSearch:
        index = np.flatnonzero(self.allowed)
        among = self.units[index]
        best, worst = int(index[np.argmin(among)]), int(index[np.argmax(among)])
        return StartSearch(
            first=from_utc_s(self.first_s),
            zone=self.zone,
            currency=self.line.currency,
            units=self.units,
            allowed=self.allowed,
            best=self.option(best),
            worst=self.option(worst),
            now=self.now(),
            plateau=self.plateau(int(self.units[best])),
            best_per_day=self.best_per_day(),
            guessed_from_s=self.guessed_from_s(),
        )

    def guessed_from_s(self) -> int | None:
        """Second of the first start that rests on a guessed price."""
        if ESTIMATE not in self.line.band_names:
            return None
        guessed = np.flatnonzero(self.line.band == self.line.band_names.index(ESTIMATE))
        return int(self.line.edges_s[guessed[0]]) - math.ceil(self.load.to_s) + 1 if guessed.size else None

    def option(self, index: int) -> StartOption:
        start_s = self.first_s + index * 60
        start, guessed = from_utc_s(start_s), self.guessed_from_s()
        is_estimate = guessed is not None and start_s >= guessed
        cost = Money(units=int(self.units[index]), currency=self.line.currency, is_estimate=is_estimate)
        return StartOption(start=start, cost=cost, carbon_g=self.carbon_g(start))

    def carbon_g(self, start: datetime) -> float | None:
        """Grams of a start; None without a series, or where it has no value."""
        if self.given.carbon is None:
            return None
        try:
            return float(price(self.load, self.given.carbon, start).total)
        except TariffError:
            return None

    def now(self) -> StartOption | None:
        if self.given.now is None:
            return None
        start = from_utc_s(_next_minute_s(self.given.now))
        try:
            cost = price(self.load, self.line, start).total
        except TariffError:
            return None
        return StartOption(start=start, cost=cost, carbon_g=self.carbon_g(start))

    def plateau(self, best: int) -> tuple[tuple[datetime, datetime], ...]:
        near = self.allowed & (self.units <= best + abs(best) // 100)
        steps = np.diff(near.astype(np.int8), prepend=0, append=0)
        begins, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1
        return tuple(
            (from_utc_s(self.first_s + int(a) * 60), from_utc_s(self.first_s + int(b) * 60))
            for a, b in zip(begins, ends, strict=True)
        )

    def best_per_day(self) -> tuple[StartOption, ...]:
        found = []
        for begin, end, _ in _local_stretches(self.first_s, self.units.size, self.zone, DAY_S):
            index = begin + np.flatnonzero(self.allowed[begin:end])
            if index.size:
                found.append(self.option(int(index[np.argmin(self.units[index])])))
        return tuple(found)


def _local_stretches(first_s: int, count: int, zone: str, length_s: int) -> list[tuple[int, int, int]]:
    """Runs of starts within one local day or hour: first index, index after the last, number of the day or hour.

    An hour that the clock shows twice is one run of two hours when the halves touch.
    """
    number = np.empty(count, dtype=np.int64)
    for from_s, to_s, offset in offset_pieces(zone, first_s, first_s + count * 60):
        here = minute_range(first_s, count, from_s, to_s - 1)
        seconds = first_s + np.arange(here.start, here.stop, dtype=np.int64) * 60 + offset
        number[here] = seconds // length_s
    begins = np.flatnonzero(np.diff(number, prepend=number[0] - 1))
    ends = np.append(begins[1:], count)
    return [(int(a), int(b), int(number[a])) for a, b in zip(begins, ends, strict=True)]


def hour_costs(search: StartSearch) -> tuple[HourCost, ...]:
    """Cheapest allowed start of every local clock hour, for a picture of days by hours.

    An hour that the clock shows twice is one cell where the halves touch, else two.
    """
    cells = []
    first_s = utc_s(search.first)
    for begin, end, number in _local_stretches(first_s, search.units.size, search.zone, 3600):
        allowed = search.units[begin:end][search.allowed[begin:end]]
        is_estimate = search.is_estimate(first_s + 60 * (end - 1))
        cost = None
        if allowed.size:
            cost = Money(units=int(allowed.min()), currency=search.currency, is_estimate=is_estimate)
        cells.append(HourCost(day=number_to_day(number // 24), hour=number % 24, cost=cost))
    return tuple(cells)
