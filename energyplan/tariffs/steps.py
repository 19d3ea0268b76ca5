"""The two step functions whose product is a cost: what a meter counts, and what a kWh costs over UTC."""

import calendar
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile, distinct, need_loads, total_mean_w
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import from_utc_s, to_local, utc_s
from energyplan.tariffs.dayrules import WEEKDAYS

__all__ = ["ESTIMATE", "HOLE", "OUT_OF_DATE", "MeteredLoad", "PriceLine", "TierStep", "flat_line", "metered"]

FloatArray = NDArray[np.float64]


IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeteredLoad:
    """Cumulative energy of a load in whole millijoules.

    Parameters
    ----------
    first_minute : int
        Minute, counted from the start of the day, at which the table begins; may be negative.
    minute_mj : ndarray of int64, shape (m,)
        Energy of each minute [mJ].
    upto_mj : ndarray of int64, shape (m + 1,)
        Energy before each minute [mJ].
    edges_s : ndarray, shape (n + 1,)
        Borders of the load's steps [s], as given.
    cumulative_mj : ndarray, shape (n + 1,)
        Energy before each border [mJ], unrounded.
    """

    first_minute: int
    minute_mj: IntArray
    upto_mj: IntArray
    edges_s: FloatArray
    cumulative_mj: FloatArray

    @property
    def total_mj(self) -> int:
        """Energy of the whole load [mJ]."""
        return int(self.upto_mj[-1])

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole load [kWh]."""
        return self.total_mj / MJ_PER_KWH

    @property
    def from_s(self) -> float:
        """Second at which the load begins, counted from the start of the day."""
        return float(self.edges_s[0])

    @property
    def to_s(self) -> float:
        """Second at which the load ends, counted from the start of the day."""
        return float(self.edges_s[-1])

    def before_mj(self, at_s: FloatArray | IntArray | float) -> IntArray:
        """Energy before given seconds [mJ], in the shape of the seconds; never falls with time."""
        seconds = np.asarray(at_s, dtype=np.float64)
        minute = np.clip(np.floor(seconds / 60).astype(np.int64) - self.first_minute, 0, self.minute_mj.size)
        minute_start_s = (minute + self.first_minute) * 60.0
        since = np.interp(seconds, self.edges_s, self.cumulative_mj)
        since = since - np.interp(minute_start_s, self.edges_s, self.cumulative_mj)
        within = np.rint(since).astype(np.int64)
        limit = np.append(self.minute_mj, 0)[minute]
        counted = self.upto_mj[minute] + np.clip(within, 0, limit)
        ended: IntArray = np.where(seconds >= self.edges_s[-1], self.upto_mj[-1], counted)
        return ended

    def changes(self) -> tuple[IntArray, IntArray]:
        """Minutes at which the energy per minute changes, and by how much [mJ].

        The rise at the beginning and the fall at the end are among them, so they sum to zero.
        """
        steps = np.diff(self.minute_mj, prepend=0, append=0)
        at = np.flatnonzero(steps)
        return at + self.first_minute, steps[at]


def metered(load: LoadProfile | Sequence[LoadProfile] | MeteredLoad) -> MeteredLoad:
    """Count a load, or several together, in whole millijoules.

    Raises
    ------
    ValueError
        If the load has more energy than integers hold beside a price (about 2.5 million kWh).

    Examples
    --------
    >>> import numpy as np
    >>> steady = LoadProfile(name="vessel", edges_s=np.array([0.0, 90.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> metered(steady).minute_mj.tolist()
    [120000000, 60000000]
    """
    if isinstance(load, MeteredLoad):
        return load
    need_loads(load)
    profiles = [load] if isinstance(load, LoadProfile) else list(load)
    edges_s, mean_w = total_mean_w(profiles)
    first = int(np.floor(edges_s[0] / 60))
    last = int(np.ceil(edges_s[-1] / 60))
    minutes_s = np.arange(first, last + 1, dtype=np.float64) * 60.0
    knots_s = distinct(np.concatenate([minutes_s, edges_s]))
    step = np.searchsorted(edges_s, knots_s[:-1], side="right") - 1
    on = (step >= 0) & (step < mean_w.size)
    power_w = np.where(on, mean_w[np.clip(step, 0, mean_w.size - 1)], 0.0)
    piece_mj = power_w * np.diff(knots_s) * 1000.0
    exact_mj = np.add.reduceat(piece_mj, np.searchsorted(knots_s, minutes_s[:-1]))
    total_mj = float(exact_mj.sum())
    if total_mj >= 2.0**53:
        raise ValueError(f"load of {total_mj / MJ_PER_KWH:.0f} kWh is too large to price; check its powers")
    minute_mj = np.rint(exact_mj).astype(np.int64)
    return MeteredLoad(
        first_minute=first,
        minute_mj=minute_mj,
        upto_mj=np.concatenate([[0], np.cumsum(minute_mj)]),
        edges_s=edges_s,
        cumulative_mj=np.concatenate([[0.0], np.cumsum(mean_w * np.diff(edges_s) * 1000.0)]),
    )


#: Band index of time for which a series has no value.
HOLE = -1
#: Band index of time at which the tariff isn't valid.
OUT_OF_DATE = -2
#: Name of the band of prices that are guessed, beyond the end of a list.
ESTIMATE = "estimate"

_REASONS = {HOLE: "the series has no value there", OUT_OF_DATE: "the tariff is not valid there"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TierStep:
    """A price on top, in millionths of the currency per kWh with tax, above a month's use [mJ].

    Where ``is_daily``, the limit is so much for each day of the month; ``months`` are those in which it holds (None:
    all).
    """

    above_mj: int
    micro_per_kwh: int
    is_daily: bool = False
    months: frozenset[int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PriceLine:
    """Price as a step function of UTC, with tax, without the standing charge.

    Parameters
    ----------
    edges_s : ndarray of int64, shape (n + 1,)
        Borders in seconds of UTC, strictly increasing; steps are half-open.
    micro_per_kwh : ndarray of int64, shape (n,)
        Millionths of the currency per kWh; may be negative.
    band : ndarray of int64, shape (n,)
        Index into ``band_names``; negative where no price is known.
    band_names : tuple of str
        Names of the bands.
    currency : str
        ISO 4217 code.
    zone : str
        IANA zone for showing it, and in which months begin.
    surplus_mw : ndarray of int64, shape (n,), optional
        The brewer's own power left over [mW]; it goes to the load first.
    export_micro_per_kwh : int
        What a kWh of it would have earned.
    tiers : tuple of TierStep
        Prices on top above a month's use.
    covers_s : tuple of int, optional
        From which second of UTC to which a list of prices reaches, where there is one.
    valid_s : tuple of int, optional
        From which second of UTC to which the tariff is valid, as far as it says so (None: without an end).
    month_mj : int, optional
        What the household has used of the calendar month before a load [mJ], for tiers; None: not known.

    Raises
    ------
    ValueError
        If shapes don't match, or the edges don't increase.

    Examples
    --------
    >>> line = PriceLine(edges_s=np.array([0, 3600]), micro_per_kwh=np.array([142_000]), band=np.array([0]),
    ...                  band_names=("night",), currency="EUR", zone="Europe/Dublin")
    >>> line.name_at(0)
    'night'
    """

    edges_s: IntArray
    micro_per_kwh: IntArray
    band: IntArray
    band_names: tuple[str, ...]
    currency: str
    zone: str
    surplus_mw: IntArray | None = None
    export_micro_per_kwh: int = 0
    tiers: tuple[TierStep, ...] = ()
    covers_s: tuple[int, int] | None = None
    valid_s: tuple[int | None, int | None] = (None, None)
    month_mj: int | None = None

    def __post_init__(self) -> None:
        steps = self.edges_s.size - 1
        columns = [self.micro_per_kwh, self.band] + ([] if self.surplus_mw is None else [self.surplus_mw])
        if steps < 1 or any(column.shape != (steps,) for column in columns):
            raise ValueError(f"price line: {self.edges_s.size} edges need {steps} prices and bands each")
        if any(column.dtype.kind != "i" for column in (self.edges_s, *columns)):
            raise ValueError("price line: edges, prices and bands must be whole numbers")
        if not (np.diff(self.edges_s) > 0).all():
            raise ValueError("price line: edges must increase")
        if int(self.band.max()) >= len(self.band_names):
            raise ValueError(f"price line: band {int(self.band.max())} has no name")

    @property
    def start(self) -> datetime:
        """First moment it prices, in UTC."""
        return from_utc_s(int(self.edges_s[0]))

    @property
    def end(self) -> datetime:
        """Moment from which on it prices nothing, in UTC."""
        return from_utc_s(int(self.edges_s[-1]))

    @property
    def month_uses_mj(self) -> tuple[int, ...]:
        """Uses of the month between which all costs lie, where tiers count it and it is not known."""
        if self.month_mj is not None or not self.tiers:
            return ()
        most_days = 31
        return (0, *(tier.above_mj * (most_days if tier.is_daily else 1) for tier in self.tiers))

    def tiers_at(self, second: int) -> tuple[TierStep, ...]:
        """The tiers of the local month in which a second of UTC lies, their limits for the whole of it."""
        if not any(tier.is_daily or tier.months is not None for tier in self.tiers):
            return self.tiers
        local = to_local(int(second), self.zone)
        days = calendar.monthrange(local.year, local.month)[1]
        return tuple(
            replace(
                tier, above_mj=tier.above_mj * days if tier.is_daily else tier.above_mj, is_daily=False, months=None
            )
            for tier in self.tiers
            if tier.months is None or local.month in tier.months
        )

    def is_estimate(self, from_s: float, to_s: float) -> bool:
        """Whether a price within a range of seconds of UTC is guessed."""
        if ESTIMATE not in self.band_names:
            return False
        first, last = self.index_at(math.floor(from_s)), self.index_at(math.ceil(to_s) - 1)
        return bool((self.band[first : last + 1] == self.band_names.index(ESTIMATE)).any())

    def index_at(self, second: int) -> int:
        """Step in which a second of UTC lies; the nearest one outside the range."""
        found = int(np.searchsorted(self.edges_s, second, side="right")) - 1
        return min(max(found, 0), self.band.size - 1)

    def name_at(self, second: int) -> str:
        """Name of the band at a second of UTC, or why there is none."""
        band = int(self.band[self.index_at(second)])
        return self.band_names[band] if band >= 0 else _REASONS.get(band, _REASONS[HOLE])

    def require(self, from_s: float, to_s: float) -> None:
        """Make sure that every second of a range has a price.

        Raises
        ------
        TariffError
            If the range leaves the line, or runs into a hole of it; names where.
        """
        if from_s < self.edges_s[0] or to_s > self.edges_s[-1]:
            raise TariffError(
                f"prices reach from {self._shown(self.edges_s[0])} to {self._shown(self.edges_s[-1])}, "
                f"the load from {self._shown(from_s)} to {self._shown(to_s)}; choose another day or a longer series"
                f"{self.covered}"
            )
        first = self.index_at(int(from_s))
        last = int(np.searchsorted(self.edges_s, to_s, side="left"))
        missing = np.flatnonzero(self.band[first:last] < 0)
        if missing.size:
            step = first + int(missing[0])
            begins, ends = self._shown(self.edges_s[step]), self._shown(self.edges_s[step + 1])
            raise TariffError(
                f"no price from {begins} to {ends}: {self.name_at(int(self.edges_s[step]))}; "
                f"the load runs into it, so choose another start or complete the tariff{self.covered}"
            )

    @property
    def covered(self) -> str:
        """What a refusal says of the days that a list covers and in which the tariff is valid; "" where all are."""
        said = ""
        if self.covers_s is not None:
            said += f"; the list covers {self._shown(self.covers_s[0])} to {self._shown(self.covers_s[1])}"
        begins, ends = (None if second is None else self._shown(second) for second in self.valid_s)
        if begins or ends:
            said += "; the tariff is valid" + (f" from {begins}" if begins else "") + (f" until {ends}" if ends else "")
        return said

    def _shown(self, second: float) -> str:
        local = to_local(int(second), self.zone)
        return f"{local:%Y-%m-%d} ({WEEKDAYS[local.weekday()]}) {local:%H:%M} {local.tzname()}"


def flat_line(*, micro_per_kwh: int, currency: str, zone: str, start: datetime, end: datetime) -> PriceLine:
    """Line with one price, for a comparison or where no tariff is at hand.

    >>> from datetime import UTC
    >>> line = flat_line(micro_per_kwh=300_000, currency="EUR", zone="Europe/Dublin",
    ...                  start=datetime(2026, 1, 1, tzinfo=UTC), end=datetime(2026, 1, 2, tzinfo=UTC))
    >>> line.band_names
    ('flat',)
    """
    return PriceLine(
        edges_s=np.array([utc_s(start), utc_s(end)], dtype=np.int64),
        micro_per_kwh=np.array([micro_per_kwh], dtype=np.int64),
        band=np.zeros(1, dtype=np.int64),
        band_names=("flat",),
        currency=currency,
        zone=zone,
    )
