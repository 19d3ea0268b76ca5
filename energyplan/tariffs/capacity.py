"""The charge for a month's highest mean power, over windows fixed to the clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.tariffs.clock import from_utc_s, offset_pieces, utc_s
from energyplan.tariffs.meter import MeteredLoad, metered
from energyplan.tariffs.money import UNITS_PER_CURRENCY, Money, money_text
from energyplan.tariffs.tariff import Tariff

__all__ = ["PeakCost", "PeakWindow", "peak_cost"]

_MJ_PER_KW_S = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakWindow:
    """One window of the clock: its start (UTC), mean power of everything and of the house without the day [kW]."""

    start: datetime
    kw: float
    house_kw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakCost:
    """What a brew day does to the month's capacity charge.

    Parameters
    ----------
    window_minutes : int
        Length of a window.
    peak_start : datetime
        Start of the day's highest window, UTC.
    peak_kw : float
        Mean power in it, with the household's own use [kW].
    month_peak_kw : float
        The month's highest window before the day [kW].
    house_kw : float
        The highest of the same windows without the brew day [kW].
    free_kw : float
        What the tariff leaves free [kW].
    added : Money
        What the day adds to the month's charge; nothing if the peak was there already.
    charge : Money
        The month's whole charge after the day.
    windows : tuple of PeakWindow
        Every window that the brew day touches.
    """

    window_minutes: int
    peak_start: datetime
    peak_kw: float
    month_peak_kw: float
    house_kw: float
    free_kw: float
    added: Money
    charge: Money
    windows: tuple[PeakWindow, ...]

    @property
    def present_kw(self) -> float:
        """Mean power up to which the day adds nothing: free, reached before, or reached by the house alone [kW]."""
        return max(self.month_peak_kw, self.house_kw, self.free_kw)


def peak_cost(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    tariff: Tariff,
    start: datetime,
    *,
    household_kw: float = 0.0,
    month_peak_kw: float = 0.0,
    beside: Sequence[LoadProfile] = (),
) -> PeakCost | None:
    """Charge for the day's highest mean power over the tariff's windows.

    Parameters
    ----------
    load : LoadProfile, sequence of them, or MeteredLoad
        The brew day's load.
    tariff : Tariff
        With a table ``[tariff.peak_charge]``; without one the answer is None.
    start : datetime
        Start of the day, with its zone.
    household_kw : float
        What the household draws beside it [kW], taken as even.
    month_peak_kw : float
        Highest window of the month so far [kW].
    beside : sequence of LoadProfile
        What else the household draws, in seconds of the day; counted in the windows that the day touches.

    Raises
    ------
    ValueError
        If a power is negative or not finite.

    Notes
    -----
    Windows begin at 00:00 local time and follow the clock; a step that straddles a border is
    split between two windows. Only what exceeds ``free_up_to_kw``, the month's peak so far and
    what the house reaches in the same windows without the day costs anything. A day over the end
    of a month is judged as if it were one month.
    """
    rule = tariff.table.peak_charge
    if rule is None:
        return None
    if not all(np.isfinite(power) and power >= 0 for power in (household_kw, month_peak_kw)):
        raise ValueError(f"household {household_kw} kW, month {month_peak_kw} kW: expected 0 or more")
    counted = metered(load)
    start_s, window_s = utc_s(start), rule.window_minutes * 60
    borders_s = _borders_s(counted, tariff.time_zone, start_s, window_s)
    house_mj = np.diff(metered(beside).before_mj(borders_s - start_s)) if beside else np.zeros(borders_s.size - 1, int)
    energy_mj = np.diff(counted.before_mj(borders_s - start_s)) + house_mj
    highest = int(np.argmax(energy_mj))

    def mean_kw(window_mj: int) -> Fraction:
        return Fraction(window_mj, window_s * _MJ_PER_KW_S) + Fraction(household_kw)

    peak_kw, house_kw = mean_kw(int(energy_mj[highest])), mean_kw(int(house_mj.max()))
    price = money_text(rule.price_per_kw_month, tariff.currency, Fraction(1)) * tariff.tax_factor
    free_kw = Fraction(rule.free_up_to_kw)
    without_kw = max(Fraction(month_peak_kw), house_kw)
    before = price * max(without_kw - free_kw, Fraction(0))
    after = price * max(max(peak_kw, without_kw) - free_kw, Fraction(0))
    return PeakCost(
        window_minutes=rule.window_minutes,
        peak_start=from_utc_s(int(borders_s[highest])),
        peak_kw=float(peak_kw),
        month_peak_kw=month_peak_kw,
        house_kw=float(house_kw),
        free_kw=float(free_kw),
        added=_money(after - before, tariff.currency),
        charge=_money(after, tariff.currency),
        windows=tuple(
            PeakWindow(start=from_utc_s(int(at_s)), kw=float(mean_kw(int(mj))), house_kw=float(mean_kw(int(own_mj))))
            for at_s, mj, own_mj in zip(borders_s, energy_mj, house_mj, strict=False)
        ),
    )


def _borders_s(counted: MeteredLoad, zone: str, start_s: int, window_s: int) -> NDArray[np.int64]:
    """Borders of the windows that a load touches, in seconds of UTC."""
    offset = offset_pieces(zone, start_s, start_s + 1)[0][2]
    first = (start_s + int(np.floor(counted.from_s)) + offset) // window_s
    last = (start_s + int(np.ceil(counted.to_s)) + offset - 1) // window_s + 1
    return np.arange(first, last + 1, dtype=np.int64) * window_s - offset


def _money(amount: Fraction, currency: str) -> Money:
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency=currency)
