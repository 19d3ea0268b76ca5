"""Reading rates in the open schema of the Utility Rate Database into a tariff file.

The schema is that of OpenEI's public rate database: for each month and hour a number of an
energy period, on weekdays and on weekends, and for each period a list of price tiers.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import groupby, pairwise
from typing import Any

from energyplan.base.errors import Problem, TariffError
from energyplan.base.records import dataclass
from energyplan.tariffs.dayrules import clock_text
from energyplan.tariffs.tables import reckonable

__all__ = ["ImportedRate", "import_urdb"]

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LARGEST = Decimal(1_000_000_000_000)
_MONTHS_PER_DAY = Decimal(12) / Decimal(365)
_ALWAYS_LACKING = (
    "taxes are not in the schema; if the bill adds them, write prices_include_tax = false and tax_percent",
    "holidays are not in the schema; if the rate has them, write [tariff.holidays]",
)
# What the import uses; every other key that says something about money is named as dropped.
_USED = {
    "energyratestructure", "energyweekdayschedule", "energyweekendschedule", "fixedchargefirstmeter",
    "fixedchargeunits", "name", "startdate", "enddate",
}  # fmt: skip
_DESCRIPTIONS = {
    "label", "uri", "utility", "eiaid", "sector", "description", "source", "sourceparent", "basicinformationcomments",
    "energycomments", "approved", "country", "revisions", "is_default", "servicetype", "dgrules", "supersedes",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedRate:
    """A rate as our tariff file.

    Parameters
    ----------
    toml : str
        The text of the tariff file.
    dropped : tuple of str
        What the rate says that the file doesn't, in sentences.
    """

    toml: str
    dropped: tuple[str, ...]


def import_urdb(text: str, *, time_zone: str, source: str = "rate") -> ImportedRate:
    """Turn a rate of the Utility Rate Database into a tariff file.

    Parameters
    ----------
    text : str
        JSON of one rate, or of an answer with one rate under ``items``.
    time_zone : str
        IANA zone of the place; the schema has none.
    source : str
        What to call it in messages.

    Raises
    ------
    TariffError
        If the energy prices or their schedules are missing or don't fit together.

    Notes
    -----
    Tiers become prices on top above a month's use, month by month, where all periods of a month agree on them; a limit
    in "kWh daily" is so much for each day of the month. A fixed charge per month becomes 12/365 of it per day. The
    schedules know no holidays.
    """
    rate = _rate(text, source)
    problems = _problems(rate)
    if problems:
        raise TariffError("this rate can't be taken over", problems, source)
    dropped = _dropped_keys(rate)
    prices, tiers, tier_notes = _energy_prices(rate)
    table: dict[str, Any] = {
        "name": str(rate.get("name") or "imported rate")[:80],
        "currency": "USD",
        "price_unit": "USD/kWh",
        "time_zone": time_zone,
        **_validity(rate),
    }
    daily, daily_notes = _daily_charge(rate)
    if daily is not None:
        table["daily_charge"] = daily
    table["band"] = _bands(rate, prices)
    if tiers:
        table["tier"] = tiers
    return ImportedRate(toml=_toml(table), dropped=(*dropped, *tier_notes, *daily_notes, *_ALWAYS_LACKING))


def _toml(table: Mapping[str, Any]) -> str:
    import tomli_w

    return tomli_w.dumps({"tariff": table})


def _rate(text: str, source: str) -> Mapping[str, Any]:
    try:
        data = json.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as error:
        raise TariffError(f"not a JSON file: {error}", source=source) from None
    if isinstance(data, dict) and isinstance(data.get("items"), list):
        if len(data["items"]) != 1:
            raise TariffError(f"{len(data['items'])} rates under items; keep the one you want", source=source)
        data = data["items"][0]
    if not isinstance(data, dict):
        raise TariffError("expected one rate, a JSON object", source=source)
    return data


def _problems(rate: Mapping[str, Any]) -> tuple[Problem, ...]:
    periods = rate.get("energyratestructure")
    if not isinstance(periods, list) or not periods or not all(isinstance(tiers, list) and tiers for tiers in periods):
        return (Problem(where="energyratestructure", message="is missing or empty; expected a list of price tiers"),)
    problems = []
    for key in ("energyweekdayschedule", "energyweekendschedule"):
        if not _is_schedule(rate.get(key), len(periods)):
            message = f"expected 12 months of 24 hours, each a period from 0 to {len(periods) - 1}"
            problems.append(Problem(where=key, message=message))
    for number, tiers in enumerate(periods):
        where = f"energyratestructure, period {number}"
        if not all(_is_tier(tier) for tier in tiers):
            problems.append(Problem(where=where, message="each tier needs a rate in USD per kWh"))
        units = {str(tier.get("unit", "kWh")) for tier in tiers if isinstance(tier, dict)} - {"kWh", "kWh daily"}
        if units:
            message = "tiers count kWh of a month or of its days here, nothing else; keep rates of that kind"
            problems.append(Problem(where=f"{where} unit", value=f'"{units.pop()}"', message=message))
    return tuple(problems)


def _is_tier(value: object) -> bool:
    return isinstance(value, dict) and _is_number(value.get("rate", 0)) and _is_number(value.get("adj") or 0)


def _is_number(value: object) -> bool:
    number = Decimal(value) if isinstance(value, (int, Decimal)) and not isinstance(value, bool) else None
    return number is not None and reckonable(number, _LARGEST)


def _is_schedule(value: object, periods: int) -> bool:
    if not isinstance(value, list) or len(value) != 12:
        return False
    return all(
        isinstance(month, list) and len(month) == 24 and all(isinstance(p, int) and 0 <= p < periods for p in month)
        for month in value
    )


def _dropped_keys(rate: Mapping[str, Any]) -> list[str]:
    notes = [
        f"{key} is not taken over"
        for key, value in sorted(rate.items())
        if key not in _USED | _DESCRIPTIONS and value not in (None, "", [], {}, 0)
    ]
    if any("sell" in tier for tiers in rate["energyratestructure"] for tier in tiers):
        notes.append("sell, the price for export, is not taken over")
    return notes


def _tier_price(tier: Mapping[str, Any]) -> Decimal:
    """Rate and its adjustment, to a billionth: published ones carry the noise of binary fractions."""
    price = round(Decimal(tier.get("rate", 0)) + Decimal(tier.get("adj") or 0), 9)
    return Decimal(f"{price.normalize():f}")


def _energy_prices(rate: Mapping[str, Any]) -> tuple[list[Decimal], list[dict[str, Any]], list[str]]:
    """Price of each period in its first tier, tiers on top, and what of them is dropped."""
    prices = [_tier_price(tiers[0]) for tiers in rate["energyratestructure"]]
    known = [_ladder(tiers) for tiers in rate["energyratestructure"]]
    ladders = [ladder for ladder in known if ladder is not None]
    if len(ladders) < len(known):
        return prices, [], ["tiers have no limit in kWh; only the first tier of each period is taken over"]
    of_months = [{ladders[period] for period in periods} for periods in _periods_by_month(rate)]
    if any(len(found) > 1 for found in of_months):
        return prices, [], ["tiers differ between periods; only the first tier of each is taken over"]
    months: dict[_Ladder, list[str]] = {}
    for month, found in enumerate(of_months):
        months.setdefault(next(iter(found)), []).append(_MONTHS[month])
    return prices, [tier for ladder, names in months.items() for tier in _tiers(ladder, names)], []


_Ladder = tuple[tuple[Decimal, Decimal, str], ...]


def _tiers(ladder: _Ladder, months: Sequence[str]) -> list[dict[str, Any]]:
    tiers = []
    for above, step, per in ladder:
        tier: dict[str, Any] = {"above_kwh": above, "price": step}
        if per != "month":
            tier["per"] = per
        if len(months) < 12:
            tier["months"] = list(months)
        if step:
            tiers.append(tier)
    return tiers


def _periods_by_month(rate: Mapping[str, Any]) -> list[set[int]]:
    """Periods that each month's schedules name."""
    days, ends = rate["energyweekdayschedule"], rate["energyweekendschedule"]
    return [set(days[month]) | set(ends[month]) for month in range(12)]


def _ladder(tiers: Sequence[Mapping[str, Any]]) -> _Ladder | None:
    """Limits, what each tier is dearer than the one before, and per what; None where a limit is missing."""
    steps = []
    for before, after in pairwise(tiers):
        if not _is_number(before.get("max")):
            return None
        per = "day" if before.get("unit") == "kWh daily" else "month"
        steps.append((Decimal(before["max"]), _tier_price(after) - _tier_price(before), per))
    return tuple(steps)


def _day_of(value: object) -> date | None:
    """Day of a date of the schema: seconds since 1970, or ISO text."""
    try:
        if isinstance(value, (int, Decimal)):
            return datetime.fromtimestamp(int(value), UTC).date()
        return datetime.fromisoformat(str(value)).date()
    except (ValueError, OverflowError, OSError):
        return None


def _validity(rate: Mapping[str, Any]) -> dict[str, date]:
    days = {"valid_from": _day_of(rate.get("startdate")), "valid_to": _day_of(rate.get("enddate"))}
    return {key: day for key, day in days.items() if day is not None}


def _daily_charge(rate: Mapping[str, Any]) -> tuple[Decimal | None, list[str]]:
    charge = rate.get("fixedchargefirstmeter")
    if not _is_number(charge) or not charge:
        return None, []
    unit = str(rate.get("fixedchargeunits", "$/month")).lower()
    per_day = {"$/month": _MONTHS_PER_DAY, "$/day": Decimal(1), "$/year": Decimal(1) / Decimal(365)}.get(unit)
    if per_day is None:
        return None, [f"fixedchargefirstmeter in {unit} is not taken over"]
    return round(Decimal(str(charge)) * per_day, 4), []


@dataclass(frozen=True, slots=True, kw_only=True)
class _DaySchedule:
    days: str
    months: tuple[int, ...]
    hours: tuple[int, ...]


def _day_schedules(rate: Mapping[str, Any]) -> list[_DaySchedule]:
    """Distinct days, with the months that share them; weekdays and weekends joined where equal."""
    kinds = [("mon-fri", rate["energyweekdayschedule"]), ("sat-sun", rate["energyweekendschedule"])]
    if kinds[0][1] == kinds[1][1]:
        kinds = [("every day", kinds[0][1])]
    schedules = []
    for days, months in kinds:
        distinct = dict.fromkeys(tuple(hours) for hours in months)
        schedules += [
            _DaySchedule(days=days, months=tuple(m for m in range(12) if tuple(months[m]) == hours), hours=hours)
            for hours in distinct
        ]
    return schedules


def _bands(rate: Mapping[str, Any], prices: Sequence[Decimal]) -> list[dict[str, Any]]:
    bands = []
    for schedule in _day_schedules(rate):
        hour = 0
        for period, run in groupby(schedule.hours):
            length = len(list(run))
            band: dict[str, Any] = {"name": f"period {period + 1}", "price": prices[period]}
            if schedule.days != "every day":
                band["days"] = schedule.days
            if len(schedule.months) < 12:
                band["months"] = [_MONTHS[month] for month in schedule.months]
            if length < 24:
                band |= {"from": clock_text(hour * 60), "to": clock_text((hour + length) * 60)}
            bands.append(band)
            hour += length
    return bands
