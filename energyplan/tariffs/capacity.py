"""The charge for a month's highest mean power, over windows fixed to the clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

import numpy as np

from energyplan.load import LoadProfile
from energyplan.tariffs.clock import from_utc_s, offset_pieces, utc_s
from energyplan.tariffs.meter import MeteredLoad, metered
from energyplan.tariffs.money import UNITS_PER_CURRENCY, Money, money_text
from energyplan.tariffs.tariff import Tariff

__all__ = ["PeakCost", "peak_cost"]

_MJ_PER_KW_S = 1_000_000


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
    added : Money
        What the day adds to the month's charge; nothing if the peak was there already.
    charge : Money
        The month's whole charge after the day.
    """

    window_minutes: int
    peak_start: datetime
    peak_kw: float
    month_peak_kw: float
    added: Money
    charge: Money


def peak_cost(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    tariff: Tariff,
    start: datetime,
    *,
    household_kw: float = 0.0,
    month_peak_kw: float = 0.0,
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

    Raises
    ------
    ValueError
        If a power is negative or not finite.

    Notes
    -----
    Windows begin at 00:00 local time and follow the clock; a step that straddles a border is
    split between two windows. Only what exceeds both ``free_up_to_kw`` and the month's peak so
    far costs anything. A day over the end of a month is judged as if it were one month.
    """
    rule = tariff.table.peak_charge
    if rule is None:
        return None
    if not all(np.isfinite(power) and power >= 0 for power in (household_kw, month_peak_kw)):
        raise ValueError(f"household {household_kw} kW, month {month_peak_kw} kW: expected 0 or more")
    counted = metered(load)
    start_s, window_s = utc_s(start), rule.window_minutes * 60
    offset = offset_pieces(tariff.time_zone, start_s, start_s + 1)[0][2]
    first = (start_s + int(np.floor(counted.from_s)) + offset) // window_s
    last = (start_s + int(np.ceil(counted.to_s)) + offset) // window_s + 1
    borders_s = np.arange(first, last + 1, dtype=np.int64) * window_s - offset
    energy_mj = np.diff(counted.before_mj(borders_s - start_s))
    highest = int(np.argmax(energy_mj))
    peak_kw = Fraction(int(energy_mj[highest]), window_s * _MJ_PER_KW_S) + Fraction(household_kw)
    price = money_text(rule.price_per_kw_month, tariff.currency, Fraction(1)) * tariff.tax_factor
    free_kw = Fraction(rule.free_up_to_kw)
    before = price * max(Fraction(month_peak_kw) - free_kw, Fraction(0))
    after = price * max(max(peak_kw, Fraction(month_peak_kw)) - free_kw, Fraction(0))
    return PeakCost(
        window_minutes=rule.window_minutes,
        peak_start=from_utc_s(int(borders_s[highest])),
        peak_kw=float(peak_kw),
        month_peak_kw=month_peak_kw,
        added=_money(after - before, tariff.currency),
        charge=_money(after, tariff.currency),
    )


def _money(amount: Fraction, currency: str) -> Money:
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency=currency)
