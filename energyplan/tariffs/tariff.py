"""What a supplier charges, read and checked: the file with the series beside it, and its holidays."""

import difflib
from collections.abc import Mapping
from dataclasses import field, replace
from datetime import date, datetime
from fractions import Fraction
from functools import lru_cache

from energyplan.base.errors import Problem
from energyplan.base.records import dataclass
from energyplan.plan.equipment import HouseSupply, Site
from energyplan.tariffs.series import Series
from energyplan.tariffs.tables import Holidays, PriceUnit, TariffFile, TariffTable, money_text, parse_price_unit

__all__ = ["Estimate", "Tariff", "holiday_problems", "holidays_between", "of_the_month", "zone_name"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """From when on prices are guessed (UTC), how far that is off on average [currency/kWh], and from how many weeks."""

    begins: datetime
    error_per_kwh: Fraction
    weeks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tariff:
    """A tariff that was read and checked, with its series.

    Parameters
    ----------
    file : TariffFile
        The tables as written.
    source : str
        Where it was read, for messages.
    series : mapping of str to Series
        By the file's table: ``prices``, ``carbon``, ``own_generation``.
    estimate : Estimate, optional
        Where its list of prices was continued by a guess.
    month_kwh_so_far : float, optional
        What the household has used this calendar month before a load [kWh], for tiers; None: not known.
    """

    file: TariffFile
    source: str = "tariff"
    series: Mapping[str, Series] = field(default_factory=dict)
    estimate: Estimate | None = None
    month_kwh_so_far: float | None = None

    @property
    def table(self) -> TariffTable:
        """The table ``[tariff]``."""
        return self.file.tariff

    @property
    def name(self) -> str:
        """What the file calls the tariff."""
        return self.table.name

    @property
    def currency(self) -> str:
        """ISO 4217 code."""
        return self.table.currency

    @property
    def time_zone(self) -> str:
        """IANA name of the zone in which its hours are read."""
        return self.table.time_zone

    @property
    def unit(self) -> PriceUnit:
        """What its bare prices count."""
        return parse_price_unit(self.table.price_unit, self.currency)

    @property
    def tax_factor(self) -> Fraction:
        """What a price of the file is multiplied with to contain the tax."""
        if self.table.prices_include_tax is False:
            return 1 + Fraction(self.table.tax_percent or 0) / 100
        return Fraction(1)

    @property
    def daily_charge(self) -> Fraction:
        """Standing charge in units of currency per day, with tax; never part of a brew's cost.

        A bare number counts the money of ``price_unit``: cents under ``ct/kWh``.
        """
        return money_text(self.table.daily_charge, self.currency, self.unit.money) * self.tax_factor


_NATIONAL = "national"


def zone_name(site: Site, tariff: Tariff | None) -> str:
    """Time zone of the brewer's clock: the place's, else the tariff's, else UTC; windows of prices keep their own."""
    return site.time_zone or (tariff.time_zone if tariff else "UTC")


def of_the_month(tariff: Tariff, supply: HouseSupply | None) -> Tariff:
    """A tariff that knows what the supply says the month has used so far, unless it knows already."""
    used = supply.month_kwh_so_far if supply else None
    return tariff if used is None or tariff.month_kwh_so_far is not None else replace(tariff, month_kwh_so_far=used)


@lru_cache(maxsize=256)
def _public_holidays(country: str, region: str | None, year: int, *, observed: bool) -> tuple[tuple[date, str], ...]:
    """Holidays that fall into a calendar year.

    The neighbouring years are asked too: a New Year's Day on a Saturday can be observed on the
    last day of the old year, and it is the new year's list that knows it.
    """
    import holidays

    listed = holidays.country_holidays(
        country, subdiv=region, years=(year - 1, year, year + 1), observed=observed, language="en_US"
    )
    return tuple(sorted((day, name) for day, name in listed.items() if day.year == year))


def _region(rule: Holidays) -> str | None:
    return None if rule.region in (None, _NATIONAL) else rule.region


def holidays_between(rule: Holidays | None, first: date, last: date) -> dict[date, str]:
    """Holidays with their names, from one day to another, both included.

    Parameters
    ----------
    rule : Holidays or None
        The tariff's table; without one there are no holidays.
    first, last : date
        The range.

    Examples
    --------
    >>> rule = Holidays(country="IE", treat_as="sun")
    >>> holidays_between(rule, date(2026, 3, 1), date(2026, 3, 31))
    {datetime.date(2026, 3, 17): "Saint Patrick's Day"}
    """
    if rule is None:
        return {}
    found: dict[date, str] = {}
    if rule.country is not None:
        for year in range(first.year, last.year + 1):
            found.update(_public_holidays(rule.country, _region(rule), year, observed=rule.observed))
    found.update({day: "added in the tariff" for day in rule.add if day not in found})
    kept = {day: name for day, name in found.items() if first <= day <= last and day not in rule.remove}
    return dict(sorted(kept.items()))


def holiday_problems(table: TariffTable) -> tuple[Problem, ...]:
    """What is wrong with a tariff's table of holidays."""
    rule = table.holidays
    if rule is None:
        return ()
    if rule.country is None:
        if rule.add:
            return ()
        return (Problem(where="[tariff.holidays] country", message='is missing; write country = "IE", or add dates'),)
    country_problem = _country_problem(rule.country) or _region_problem(rule, table)
    if country_problem is not None:
        return (country_problem,)
    return _removed_problems(rule)


def _country_problem(country: str) -> Problem | None:
    import holidays

    known = holidays.list_supported_countries(include_aliases=False)
    if country in known:
        return None
    near = difflib.get_close_matches(country.upper(), known, n=3, cutoff=0.5)
    hint = f"nearest are {', '.join(near)}" if near else "write its ISO 3166 code in capitals"
    return Problem(
        where="[tariff.holidays] country",
        value=f'"{country}"',
        message=f"has no list of holidays; {hint}, or leave country out and list dates under add",
    )


def _region_problem(rule: Holidays, table: TariffTable) -> Problem | None:
    import holidays

    country = str(rule.country)
    regions = holidays.list_supported_countries(include_aliases=False)[country]
    where = "[tariff.holidays] region"
    shown = ", ".join(regions[:20]) + (" and others" if len(regions) > 20 else "")
    if rule.region is None:
        if regions and _regions_differ(country, tuple(regions), table):
            return Problem(
                where=where,
                message=f'is missing; regions of {country} keep different days: write one of {shown}, or "national"',
            )
        return None
    if rule.region == _NATIONAL or rule.region in regions:
        return None
    hint = f"write one of {shown}" if regions else "leave it out; this country has one list"
    return Problem(where=where, value=f'"{rule.region}"', message=f"is no region of {country}; {hint}")


def _regions_differ(country: str, regions: tuple[str, ...], table: TariffTable) -> bool:
    year = (table.valid_from or table.valid_to or date(2026, 1, 1)).year
    lists = {
        frozenset(day for day, _ in _public_holidays(country, region, year, observed=True))
        for region in (None, *regions)
    }
    return len(lists) > 1


def _removed_problems(rule: Holidays) -> tuple[Problem, ...]:
    """A date taken out that was never in: most likely a slip in the year."""
    return tuple(
        Problem(
            where="[tariff.holidays] remove",
            value=str(day),
            message="is no holiday anyway; mend the date or take it out",
        )
        for day in rule.remove
        if day not in holidays_between(rule.model_copy(update={"remove": ()}), day, day)
    )
