"""Sentences about prices: the span of a week, and what has none."""

from energyplan.faces.charts.weekchart import WeekPrices
from energyplan.tariffs.tariff import Tariff

__all__ = ["prices_headline", "prices_left"]


def prices_headline(span: WeekPrices, tariff: Tariff) -> str:
    """What a kWh costs at the least and at the most, and when.

    Examples
    --------
    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> span = WeekPrices(lowest=(0.15478, "night"), highest=(0.34335, "day"), currency="EUR", without_min=0)
    >>> prices_headline(span, load_tariff("demo"))
    'A kWh costs 0.155 EUR (night) to 0.343 EUR (day), 9 % tax included.'
    """
    (low, when_low), (high, when_high) = span.lowest, span.highest
    tax = ""
    if tariff.table.prices_include_tax is False:
        tax = f", {tariff.table.tax_percent} % tax included"
    if low == high:
        return f"A kWh costs {low:.3f} {span.currency} at any time of this week{tax}."
    return f"A kWh costs {low:.3f} {span.currency} ({when_low}) to {high:.3f} {span.currency} ({when_high}){tax}."


def prices_left(span: WeekPrices) -> str:
    """How much of the week has no price."""
    return f"{span.without_min / 60:.0f} h of this week have no price; a brew in them has no cost."
