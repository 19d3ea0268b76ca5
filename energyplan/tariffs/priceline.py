"""A tariff and a range of days into one step function of price over UTC."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import TariffError, need
from energyplan.base.load import distinct
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import (
    DAY_S,
    FIRST_YEAR,
    LAST_YEAR,
    OffsetPiece,
    day_number,
    from_utc_s,
    offset_pieces,
    standard_offset_s,
    to_local,
    utc_s,
    wall_to_utc_s,
)
from energyplan.tariffs.coverage import WallPrices, coverage_problems, wall_prices
from energyplan.tariffs.series import Series
from energyplan.tariffs.steps import ESTIMATE, HOLE, OUT_OF_DATE, PriceLine, TierStep, flat_line
from energyplan.tariffs.tariff import Estimate, Tariff

__all__ = [
    "ESTIMATE",
    "HOLE",
    "OUT_OF_DATE",
    "PriceLine",
    "TierStep",
    "carbon_line",
    "flat_line",
    "price_line",
    "price_line_around",
    "with_estimate",
]

IntArray = NDArray[np.int64]


BoolArray = NDArray[np.bool_]


def price_line(tariff: Tariff, first: date, last: date) -> PriceLine:
    """Price of every second from the start of one local day to the end of another.

    Parameters
    ----------
    tariff : Tariff
        A tariff as `load_tariff` gives it.
    first, last : date
        Local days, both included.

    Raises
    ------
    TariffError
        If bands leave minutes of these days uncovered or claim them twice, or if the tariff is
        valid on none of them. Days beyond its validity, and steps that a series lacks, become
        holes: an error only for a load that runs into one.

    Examples
    --------
    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> line = price_line(load_tariff("demo"), date(2026, 3, 29), date(2026, 3, 29))
    >>> int(line.edges_s[-1] - line.edges_s[0]) // 3600
    23
    """
    need(tariff, Tariff, "tariff: give what load_tariff returned")
    for day in (first, last):
        need(day, date, "day of the calendar: give a date")
    if last < first:
        raise TariffError(f"days from {first} to {last}: the last lies before the first; swap them")
    # The days around a start at either end of the calendar lie a little beyond it.
    if first.year < FIRST_YEAR - 1 or last.year > LAST_YEAR + 2:
        raise TariffError(f"days from {first} to {last}: expected years between {FIRST_YEAR} and {LAST_YEAR}")
    table = tariff.table
    valid_first = max(first, table.valid_from or first)
    valid_last = min(last, table.valid_to or last)
    if valid_last < valid_first:
        raise TariffError(
            f"tariff {tariff.name!r} is valid from {table.valid_from or 'ever'} to {table.valid_to or 'ever'}, "
            f"asked for {first} to {last}; take the tariff of that time"
        )
    problems = coverage_problems(tariff, valid_first, valid_last)
    if problems:
        raise TariffError("bands don't cover each minute once", problems, tariff.source)
    pieces = _pieces(tariff, first, last)
    steps = _from_wall(wall_prices(tariff, valid_first, valid_last), pieces)
    names = tuple(band.name for band in table.band)
    if table.prices is not None:
        steps, names = _with_series(steps, tariff.series["prices"]), ("price series",)
        if tariff.estimate is not None:
            steps, names = _marked(steps, tariff.estimate), (*names, ESTIMATE)
    return _finished(tariff, steps, names, pieces)


def price_line_around(tariff: Tariff, start: datetime, end: datetime) -> PriceLine:
    """Price line of the local days that hold a stretch of time, with a day to spare on each side."""
    zone = tariff.time_zone
    first = to_local(start, zone).date() - timedelta(days=1)
    last = to_local(end, zone).date() + timedelta(days=1)
    return price_line(tariff, first, last)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Steps:
    """Edges in seconds of UTC, the band and the price before tax of each step."""

    edges_s: IntArray
    band: IntArray
    nano_per_kwh: IntArray


def _pieces(tariff: Tariff, first: date, last: date) -> tuple[OffsetPiece, ...]:
    """Stretches of one offset of the tariff's clock, from the start of a day to the end of another."""
    wall = np.array([day_number(first), day_number(last) + 1], dtype=np.int64) * DAY_S
    if tariff.table.clock == "standard":
        offset = standard_offset_s(tariff.time_zone, first.year)
        return ((int(wall[0]) - offset, int(wall[1]) - offset, offset),)
    from_s, to_s = (int(second) for second in wall_to_utc_s(tariff.time_zone, wall))
    if from_s == to_s:
        raise TariffError(f"{first} does not exist in {tariff.time_zone}: the clock skips the whole day")
    return offset_pieces(tariff.time_zone, from_s, to_s)


def _from_wall(prices: WallPrices, pieces: Sequence[OffsetPiece]) -> _Steps:
    """Carry steps on the wall clock over to UTC, piece by piece.

    What the clock skips falls out, what it shows twice comes twice. Days that the wall prices
    don't reach (the tariff isn't valid) become steps out of date.
    """
    wall = prices.edges_wall_s
    band = np.concatenate([[OUT_OF_DATE], prices.band, [OUT_OF_DATE]])
    nano = np.concatenate([[0], prices.nano_per_kwh, [0]])
    edges, index = [], []
    for from_s, to_s, offset in pieces:
        inner = wall[(wall > from_s + offset) & (wall < to_s + offset)] - offset
        starts = np.concatenate([[from_s], inner])
        edges.append(starts)
        index.append(np.searchsorted(wall, starts + offset, side="right"))
    chosen = np.concatenate(index)
    edges.append(np.array([pieces[-1][1]]))
    return _Steps(edges_s=np.concatenate(edges), band=band[chosen], nano_per_kwh=nano[chosen])


def _with_series(steps: _Steps, series: Series) -> _Steps:
    """Add a series of prices to the add-ons."""
    series_edges, values, known = series.steps()
    edges = _joined_edges(steps.edges_s, series_edges)
    inside, value, has_value = _values_at(edges, series_edges, values, known)
    own = np.searchsorted(steps.edges_s, edges[:-1], side="right") - 1
    out_of_date = steps.band[own] == OUT_OF_DATE
    band = np.where(out_of_date, OUT_OF_DATE, np.where(inside & has_value, 0, HOLE))
    return _Steps(edges_s=edges, band=band, nano_per_kwh=steps.nano_per_kwh[own] + value)


def _marked(steps: _Steps, estimate: Estimate) -> _Steps:
    """Prices that are guessed as a band of their own."""
    guessed = (steps.edges_s[:-1] >= utc_s(estimate.begins)) & (steps.band == 0)
    return replace(steps, band=np.where(guessed, 1, steps.band))


def _joined_edges(edges: IntArray, others: IntArray) -> IntArray:
    inner = others[(others > edges[0]) & (others < edges[-1])]
    return distinct(np.concatenate([edges, inner]))


def _values_at(
    edges: IntArray, series_edges: IntArray, values: IntArray, known: BoolArray
) -> tuple[BoolArray, IntArray, BoolArray]:
    """Whether each step lies in the series, its value there, and whether that is known."""
    index = np.searchsorted(series_edges, edges[:-1], side="right") - 1
    inside = (index >= 0) & (index < values.size)
    safe = np.clip(index, 0, values.size - 1)
    return inside, np.where(inside, values[safe], 0), known[safe]


def _with_tax_micro(nano: IntArray, tariff: Tariff) -> IntArray:
    """Millionths with tax of billionths without, rounded half to even, all in integers."""
    factor = tariff.tax_factor
    top, bottom = factor.numerator, factor.denominator * 1000
    if nano.size and int(np.abs(nano).max()) * top * 2 >= 2**63:
        raise TariffError(f"tariff {tariff.name!r} has prices too large to compute with; check price_unit")
    quotient, rest = np.divmod(nano * top, bottom)
    up = (2 * rest > bottom) | ((2 * rest == bottom) & (quotient % 2 == 1))
    micro: IntArray = quotient + up
    return micro


def _finished(tariff: Tariff, steps: _Steps, names: tuple[str, ...], pieces: Sequence[OffsetPiece]) -> PriceLine:
    """Tax, own generation and tiers; neighbouring steps of one price and band become one."""
    micro = _with_tax_micro(np.where(steps.band < 0, 0, steps.nano_per_kwh), tariff)
    edges, band = steps.edges_s, steps.band
    surplus: IntArray | None = None
    export = 0
    generation = tariff.file.own_generation
    if generation is not None:
        series_edges, values, known = tariff.series["own_generation"].steps()
        edges = _joined_edges(edges, series_edges)
        own = np.searchsorted(steps.edges_s, edges[:-1], side="right") - 1
        inside, surplus, has_value = _values_at(edges, series_edges, values, known)
        band = np.where((steps.band[own] >= 0) & ~(inside & has_value), HOLE, steps.band[own])
        micro = micro[own]
        export = round(Fraction(tariff.unit.nano_per_kwh(generation.export_price), 1000))
    names, band = _distinct_names(names, band)
    change = (np.diff(micro) != 0) | (np.diff(band) != 0)
    if surplus is not None:
        change |= np.diff(surplus) != 0
    keep = np.concatenate([[True], change])
    return PriceLine(
        edges_s=np.append(edges[:-1][keep], pieces[-1][1]),
        micro_per_kwh=micro[keep],
        band=band[keep],
        band_names=names,
        currency=tariff.currency,
        zone=tariff.time_zone,
        surplus_mw=None if surplus is None else surplus[keep],
        export_micro_per_kwh=export,
        tiers=_tiers(tariff),
        covers_s=_covers_s(tariff),
        valid_s=_valid_s(tariff),
        month_mj=None if tariff.month_kwh_so_far is None else round(tariff.month_kwh_so_far * MJ_PER_KWH),
    )


def _distinct_names(names: tuple[str, ...], band: IntArray) -> tuple[tuple[str, ...], IntArray]:
    """Bands of one name (a peak in the morning, one in the evening) become one band."""
    distinct = tuple(dict.fromkeys(names))
    renumbered = np.array([distinct.index(name) for name in names], dtype=np.int64)
    return distinct, np.where(band >= 0, renumbered[np.maximum(band, 0)], band)


def _covers_s(tariff: Tariff) -> tuple[int, int] | None:
    prices = tariff.series.get("prices")
    return None if prices is None else (utc_s(prices.covers[0]), utc_s(prices.covers[1]))


def _valid_s(tariff: Tariff) -> tuple[int | None, int | None]:
    """First and last second of UTC of the days on which a tariff is valid."""
    first, last = tariff.table.valid_from, tariff.table.valid_to
    days = (first, None if last is None else last + timedelta(days=1))
    begins, ends = (
        None if day is None else int(wall_to_utc_s(tariff.time_zone, np.array([day_number(day) * DAY_S]))[0])
        for day in days
    )
    return begins, ends


def _tiers(tariff: Tariff) -> tuple[TierStep, ...]:
    steps = []
    for tier in tariff.table.tier:
        nano = tariff.unit.nano_per_kwh(tier.price)
        steps.append(
            TierStep(
                above_mj=round(tier.above_kwh * MJ_PER_KWH),
                micro_per_kwh=round(nano * tariff.tax_factor / 1000),
                is_daily=tier.per == "day",
                months=tier.months,
            )
        )
    return tuple(sorted(steps, key=lambda step: step.above_mj))


def carbon_line(tariff: Tariff, line: PriceLine) -> PriceLine | None:
    """What the grid emits, as the same kind of step function over the range of a price line.

    Parameters
    ----------
    tariff : Tariff
        Its carbon series, if it has one.
    line : PriceLine
        The price line beside which it is wanted; own power in it emits nothing.

    Returns
    -------
    PriceLine or None
        In grams: its "currency" is ``g`` and its prices are micrograms per kWh, so that a load
        is summed up on it as on a price. None without a series.
    """
    series = tariff.series.get("carbon")
    if series is None:
        return None
    series_edges, values, known = series.steps()
    base = line.edges_s if line.surplus_mw is not None else line.edges_s[[0, -1]]
    edges = _joined_edges(base, series_edges)
    inside, value, has_value = _values_at(edges, series_edges, values, known)
    own = np.searchsorted(line.edges_s, edges[:-1], side="right") - 1
    return PriceLine(
        edges_s=edges,
        micro_per_kwh=value,
        band=np.where(inside & has_value, 0, HOLE),
        band_names=("carbon series",),
        currency="g",
        zone=line.zone,
        surplus_mw=None if line.surplus_mw is None else line.surplus_mw[own],
    )


WEEKS = 8


LEAST_DAYS = 14


LONGEST_DAYS = 400


_WEEK_S = 7 * 86_400


def with_estimate(tariff: Tariff, until: datetime) -> Tariff | None:
    """The tariff with its list continued to a moment; None where there is no list, or too short a one to guess from.

    Parameters
    ----------
    tariff : Tariff
        With a list of prices.
    until : datetime
        To which the list is continued, with its offset from UTC; at most 400 days.

    Notes
    -----
    Each step beyond the list takes the mean of the same weekday and local time over the last eight weeks in which the
    list has it. The error is the mean absolute one of the same guess for every step of the list that has such a past,
    a week or more before it (a backtest); tax is in it as in the prices.
    """
    series = tariff.series.get("prices")
    if series is None:
        return None
    ends_s, until_s = utc_s(series.covers[1]), utc_s(until)
    if not 0 < until_s - ends_s <= LONGEST_DAYS * 86_400 or ends_s - int(series.start_s[0]) < LEAST_DAYS * 86_400:
        return None
    future_s = np.arange(ends_s, until_s, series.step_s, dtype=np.int64)
    start_s = np.concatenate([series.start_s, future_s])
    slot = _slots(start_s, tariff.time_zone)
    guessed, errors = _guessed(slot, series, future_s.size)
    if guessed is None or errors.size == 0:
        return None
    longer = Series(start_s=start_s, step_s=series.step_s, values=np.concatenate([series.values, guessed]))
    error = Fraction(round(float(errors.mean()))) / 1_000_000_000 * tariff.tax_factor
    estimate = Estimate(begins=from_utc_s(ends_s), error_per_kwh=error, weeks=WEEKS)
    return replace(tariff, series={**tariff.series, "prices": longer}, estimate=estimate)


def _slots(start_s: IntArray, zone: str) -> IntArray:
    """Second of the local week at which each step begins."""
    wall_s = start_s.copy()
    for from_s, to_s, offset in offset_pieces(zone, int(start_s[0]), int(start_s[-1]) + 1):
        wall_s[(start_s >= from_s) & (start_s < to_s)] += offset
    return wall_s % _WEEK_S


def _guessed(slot: IntArray, series: Series, count: int) -> tuple[IntArray | None, NDArray[np.float64]]:
    """Values of the steps beyond the list, and by how much the same guess missed each step of it."""
    known = series.values.size
    guessed, errors = np.zeros(count, dtype=np.int64), []
    found = np.zeros(count, dtype=bool)
    order = np.argsort(slot[:known], kind="stable")
    for places in np.split(order, np.flatnonzero(np.diff(slot[:known][order])) + 1):
        past = series.values[places].astype(np.float64)
        sums = np.concatenate([[0.0], np.cumsum(past)])
        first = np.maximum(np.arange(past.size + 1) - WEEKS, 0)
        means = (sums - sums[first])[1:] / (np.arange(1, past.size + 1) - first[1:])
        errors.append(np.abs(past[1:] - means[:-1]))
        here = slot[known:] == slot[places[0]]
        guessed[here], found[here] = round(float(means[-1])), True
    if not found.any():
        return None, np.zeros(0)
    # A local time that the list never shows (an hour that a clock change skips) takes the price before it.
    last = np.maximum.accumulate(np.where(found, np.arange(count), int(np.argmax(found))))
    return guessed[last], np.concatenate(errors)
