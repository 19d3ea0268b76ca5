"""A brew day in what the house's meter counted: what is above the household's usual, with the scatter of other days."""

from datetime import datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import LogError
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.learning.meterfile import MeterLog

__all__ = ["AboveUsual", "above_usual", "likely_start_s", "month_so_far_kwh"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAY_S = 86_400
FEWEST_DAYS, LIKE_DAYS, NEAR_DAYS = 4, 8, 35
LATE_S = 3600.0  # how long after its planned end a day is still looked for
NORMAL_MAD, LIMIT = 1.4826, 1.96  # standard deviations in a median deviation; of 19 days in 20
SEEN_FRAC = 0.3  # of the planned energy that must stand out from the scatter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AboveUsual:
    """What a stretch of a day took above the household's usual.

    Parameters
    ----------
    start_s, end_s : ndarray, shape (intervals,)
        Its intervals, seconds of UTC.
    kwh, usual_kwh : ndarray, shape (intervals,)
        What was counted in each, and what the household usually takes there [kWh].
    within_kwh : float
        How far their difference may be off, on nineteen days of twenty: scatter of the other days [kWh].
    days : int
        Other days that it rests on.
    interval_min : float
        Length of an interval [min].
    """

    start_s: FloatArray
    end_s: FloatArray
    kwh: FloatArray
    usual_kwh: FloatArray
    within_kwh: float
    days: int
    interval_min: float

    @property
    def measured_kwh(self) -> float:
        """Energy above the usual [kWh]."""
        return float(self.kwh.sum() - self.usual_kwh.sum())

    def shows(self, planned_kwh: float) -> bool:
        """Whether a brew of about so many kWh stands out."""
        return self.measured_kwh - self.within_kwh > SEEN_FRAC * planned_kwh

    def loads(self) -> tuple[LoadProfile, LoadProfile]:
        """What was counted, and the usual, as loads from the first interval on (to be priced, and subtracted)."""
        edges_s = np.concatenate([self.start_s - self.start_s[0], [self.end_s[-1] - self.start_s[0]]])
        both = []
        for name, kwh in (("counted", self.kwh), ("usual", self.usual_kwh)):
            watts = np.maximum(kwh, 0.0) * JOULES_PER_KWH / np.diff(edges_s)
            none = np.zeros(watts.size)
            both.append(LoadProfile(name=name, edges_s=edges_s, mean_w=watts, heater_w_per_v2=none, other_w=none))
        return both[0], both[1]


class _Days:
    """The log by local day and slot of the day."""

    def __init__(self, log: MeterLog, zone: tzinfo) -> None:
        local = _local_s(log.start_s, zone)
        self.day: IntArray = np.asarray(local // DAY_S, dtype=np.int64)
        slot = np.asarray((local % DAY_S) // log.interval_s, dtype=np.int64)
        self.first, count = int(self.day.min()), int(np.ceil(DAY_S / log.interval_s))
        self.table = np.full((int(self.day.max()) - self.first + 1, count), np.nan)
        # Of an hour that a clock shows twice the mean counts.
        sums, seen = np.zeros(self.table.shape), np.zeros(self.table.shape)
        np.add.at(sums, (self.day - self.first, slot), log.kwh)
        np.add.at(seen, (self.day - self.first, slot), 1)
        self.table[seen > 0] = sums[seen > 0] / seen[seen > 0]
        self.slot = slot


def _local_s(utc_s: FloatArray, zone: tzinfo) -> FloatArray:
    """Seconds of the local wall, from any origin at a midnight; offsets are looked up once an hour."""
    hours, place = np.unique(utc_s // 3600, return_inverse=True)
    offsets = [datetime.fromtimestamp(float(hour) * 3600, zone).utcoffset() for hour in hours]
    shift = np.array([0.0 if one is None else one.total_seconds() for one in offsets])
    return np.asarray(utc_s + shift[place])


def above_usual(log: MeterLog, start_s: float, lasts_s: float, zone: tzinfo) -> AboveUsual:
    """What a day took above the household's usual, from its start to an hour after its planned end.

    Parameters
    ----------
    log : MeterLog
        The meter's export.
    start_s : float
        When the day began, seconds of UTC.
    lasts_s : float
        How long it was planned to last [s].
    zone : tzinfo
        The household's clock.

    Raises
    ------
    LogError
        If the export doesn't cover the day, or has too few other days.

    Notes
    -----
    Usual is the median over other days of each interval by the clock: of days of the same kind (weekday, weekend)
    within five weeks where there are eight or more, else of all. Their sums less the usual scatter; 1.4826 times the
    median of that is taken as a standard deviation, which a few brewed days among them do not move.
    """
    inside = (log.end_s > start_s) & (log.start_s < start_s + lasts_s + LATE_S)
    days = _Days(log, zone)
    covered_s = float((log.end_s - log.start_s)[inside].sum())
    if covered_s < lasts_s:
        raise LogError(
            f"the export covers {covered_s / 3600:.1f} of the {lasts_s / 3600:.1f} hours of this day; export it whole"
        )
    rows, slots = days.day[inside] - days.first, days.slot[inside]
    own = int(rows[0])
    others = np.array([row for row in range(days.table.shape[0]) if abs(row - own) > int(rows[-1]) - own])
    windows = (
        np.stack([_window(days.table, row, rows - own, slots) for row in others]) if others.size else np.empty((0,))
    )
    whole = ~np.isnan(windows).any(axis=1) if others.size else np.zeros(0, dtype=np.bool_)
    others, windows = others[whole], windows[whole]
    if others.size < FEWEST_DAYS:
        raise LogError(f"only {others.size} other days in the export; {FEWEST_DAYS} or more tell what is usual")
    like = _like(others, own, days.first)
    windows = windows[like] if like.sum() >= LIKE_DAYS else windows
    usual = np.median(windows, axis=0)
    apart = windows.sum(axis=1) - usual.sum()
    middle = float(np.median(apart))
    scatter = NORMAL_MAD * float(np.median(np.abs(apart - middle)))
    usual = usual * (1 + middle / usual.sum()) if usual.sum() > 0 else usual  # medians of parts are not that of the sum
    return AboveUsual(
        start_s=log.start_s[inside],
        end_s=log.end_s[inside],
        kwh=log.kwh[inside],
        usual_kwh=usual,
        within_kwh=LIMIT * scatter * float(np.sqrt(1 + np.pi / 2 / windows.shape[0])),
        days=int(windows.shape[0]),
        interval_min=log.interval_s / 60,
    )


def month_so_far_kwh(log: MeterLog, before_s: float, zone: tzinfo) -> float | None:
    """What an export counts of a local month before a moment [kWh]; None where it does not reach back to its first."""
    first = datetime.fromtimestamp(before_s, zone).replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    inside = (log.start_s >= first.timestamp()) & (log.start_s < before_s)
    counted_s = float((log.end_s - log.start_s)[inside].sum())
    if counted_s < before_s - first.timestamp() - log.interval_s:
        return None
    return float(log.kwh[inside].sum())


def _window(table: FloatArray, row: int, ahead: IntArray, slots: IntArray) -> FloatArray:
    """The same stretch of another day; not a number where the log has none."""
    places = row + ahead
    inside = places < table.shape[0]
    found = np.full(slots.size, np.nan)
    found[inside] = table[places[inside], slots[inside]]
    return found


def _like(others: IntArray, own: int, first: int) -> NDArray[np.bool_]:
    """Days near in the year and of the same kind: the first day of all seconds was a Thursday."""
    weekend = ((others + first + 3) % 7 >= 5) == ((own + first + 3) % 7 >= 5)
    return np.asarray(weekend & (np.abs(others - own) <= NEAR_DAYS))


def likely_start_s(log: MeterLog, planned: LoadProfile, zone: tzinfo) -> float | None:
    """Where a planned day fits the log best [s of UTC]; None if it is shorter than an interval or never fits.

    Notes
    -----
    The largest fall of the squares of (counted - usual) when the planned kWh are taken off, interval by interval.
    """
    days = _Days(log, zone)
    slots, place = np.unique(days.slot, return_inverse=True)  # of less than a day only its own hours
    usual = np.nanmedian(days.table[:, slots], axis=0)[place]
    edges_s = np.arange(0.0, planned.edges_s[-1] + log.interval_s, log.interval_s)
    used_j = np.concatenate([[0.0], np.cumsum(planned.mean_w * np.diff(planned.edges_s))])
    shape = np.diff(np.interp(edges_s, planned.edges_s, used_j)) / JOULES_PER_KWH
    if shape.size == 0 or shape.size > log.kwh.size:
        return None
    gain = 2 * np.correlate(log.kwh - usual, shape, mode="valid") - float(shape @ shape)
    best = int(np.argmax(gain))
    return float(log.start_s[best]) if gain[best] > 0 else None
