"""What a supplier charges: the tariff file and the series that stand beside it, read and checked."""

from collections.abc import Mapping
from dataclasses import field
from datetime import datetime
from fractions import Fraction

from energyplan.base.records import dataclass
from energyplan.tariffs.series import Series
from energyplan.tariffs.tables import PriceUnit, TariffFile, TariffTable, money_text, parse_price_unit

__all__ = ["Estimate", "Tariff"]


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
