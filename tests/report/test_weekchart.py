"""Tests of the resolved week as a chart and as a table."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import altair as alt
import pytest

from energyplan.faces.charts.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.charts.weekchart import week_chart, week_frame, week_prices, week_table
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import WeekDay, check_tariff
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

LOOKS = pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
SERIES = """
[tariff]
name = "Hourly"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Dublin"
[tariff.prices]
file = "prices.csv"
step_minutes = 30
"""


def listed() -> Tariff:
    """Half hours from Wednesday on, dearer by the hour, one below zero."""
    first = datetime(2026, 12, 2, tzinfo=UTC)
    rows = [f"{(first + timedelta(minutes=30 * k)).isoformat()},{-1 if k == 10 else 10 + k % 48}" for k in range(240)]
    text = SERIES.replace("[tariff.prices]", '[tariff.prices]\nclock = "offset in file"')
    return parse_tariff(text, series_texts={"prices.csv": "start,price\n" + "\n".join(rows)})


def week_of(tariff: Tariff, day: date = date(2026, 12, 5)) -> tuple[WeekDay, ...]:
    """A resolved week."""
    return check_tariff(tariff, day).week


@LOOKS
@pytest.mark.parametrize("tariff", [load_tariff("demo"), load_tariff("three_band"), listed()], ids=lambda one: one.name)
def test_the_chart_is_sound_vega_lite_and_described(tariff: Tariff, look: ChartLook) -> None:
    """It follows the schema of the library that draws it."""
    document = week_chart(week_of(tariff), tariff, look, description="Prices of a week.")
    alt.LayerChart.from_dict(document)
    assert document["description"] == "Prices of a week."
    assert tariff.currency in str(document["layer"])


def test_every_minute_of_the_week_is_drawn_once() -> None:
    """Seven days of 24 h, one stretch after the other."""
    frame = week_frame(week_of(load_tariff("three_band")), load_tariff("three_band"))
    assert (frame["to_min"] - frame["from_min"]).sum() == 7 * 24 * 60
    for _, rows in frame.groupby("day"):
        assert list(rows["from_min"])[1:] == list(rows["to_min"])[:-1]


def test_words_on_dark_cells_are_light() -> None:
    """The dearest stretch is written in the colour of the paper, the cheapest is not."""
    frame = week_frame(week_of(load_tariff("demo")), load_tariff("demo")).set_index("band")
    assert frame.loc["day", "on_dark"].all()
    assert not frame.loc["night", "on_dark"].any()


def test_days_alike_share_their_rows() -> None:
    """The demo has one kind of day: three rows tell its week. 14.2 ct and 9 % are 0.15478 EUR."""
    table = week_table(week_of(load_tariff("demo")), load_tariff("demo"))
    assert list(table["days"]) == ["Mon to Sun"] * 3
    assert table["price"].iloc[0] == pytest.approx(0.142 * 1.09, abs=1e-6)


def test_a_long_list_is_told_day_by_day() -> None:
    """Lowest, mean and highest of each day; days before the list have none."""
    tariff = listed()
    table = week_table(week_of(tariff), tariff)
    assert len(table) == 7
    assert table["lowest"].isna().sum() == 2
    wednesday = table.iloc[2]
    values = [0.01 * (-1 if k == 10 else 10 + k) for k in range(48)]
    assert wednesday["lowest"] == pytest.approx(-0.01)
    assert wednesday["lowest_from"] == "05:00"
    assert wednesday["mean"] == pytest.approx(sum(values) / 48)
    assert wednesday["highest"] == pytest.approx(0.57)


def test_the_span_of_a_list_names_day_and_hour() -> None:
    """Where all has one name, the place is a moment; what has no price is counted."""
    tariff = listed()
    span: Any = week_prices(week_of(tariff), tariff)
    assert span.lowest == (-0.01, "Wed 05:00")
    assert span.without_min == 2 * 24 * 60


def test_a_week_without_any_price_has_no_span() -> None:
    """A year after the list."""
    tariff = listed()
    assert week_prices(week_of(tariff, date(2027, 12, 5)), tariff) is None


def test_a_day_of_25_hours_is_told_in_full() -> None:
    """In Dublin 2026-10-25 has the hour from 01:00 twice: both stretches stand in the table."""
    week = week_of(load_tariff("demo"), date(2026, 10, 25))
    assert sum(part.minutes for part in week[6].stretches) == 25 * 60
    assert len(week_table(week, load_tariff("demo"))) > 3
