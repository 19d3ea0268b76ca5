"""The telling of a tariff: its week as words, as rows, as a chart and as letters; names that are never obeyed."""

import io
import re
from datetime import UTC, date, datetime, timedelta

import altair as alt
import pytest
from rich.console import Console

from energyplan.base.errors import visible
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import document
from energyplan.faces.strip import week_picture
from energyplan.faces.terminal import terminal
from energyplan.faces.weekchart import week_chart, week_frame
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import Oddity, check_tariff
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.prices import _holes, prices_told
from energyplan.telling.told import Told

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


def told_of(tariff: Tariff, day: date = date(2026, 12, 5)) -> Told:
    """A tariff told around a day."""
    return prices_told(tariff, check_tariff(tariff, day))


@LOOKS
@pytest.mark.parametrize("tariff", [load_tariff("demo"), load_tariff("three_band"), listed()], ids=lambda one: one.name)
def test_the_chart_is_sound_vega_lite_and_described(tariff: Tariff, look: ChartLook) -> None:
    """It follows the schema of the library that draws it."""
    drawn = week_chart(told_of(tariff), look, description="Prices of a week.")
    alt.LayerChart.from_dict(drawn)
    assert drawn["description"] == "Prices of a week."
    assert tariff.currency in str(drawn["layer"])


def test_every_minute_of_the_week_is_drawn_once() -> None:
    """Seven days of 24 h, one stretch after the other."""
    frame = week_frame(told_of(load_tariff("three_band")).facts["week"])
    assert (frame["to_min"] - frame["from_min"]).sum() == 7 * 24 * 60
    for _, rows in frame.groupby("day"):
        assert list(rows["from_min"])[1:] == list(rows["to_min"])[:-1]


def test_words_on_dark_cells_are_light() -> None:
    """The dearest stretch is written in the colour of the paper, the cheapest is not."""
    frame = week_frame(told_of(load_tariff("demo")).facts["week"]).set_index("band")
    assert frame.loc["day", "on_dark"].all()
    assert not frame.loc["night", "on_dark"].any()


def test_days_alike_share_their_rows() -> None:
    """The demo has one kind of day: three rows tell its week. 14.2 ct and 9 % are 0.15478 EUR."""
    rows = list(told_of(load_tariff("demo")).facts["days_alike"])
    assert [row["days"] for row in rows] == ["Mon to Sun"] * 3
    assert float(rows[0]["price_per_kwh"].per_kwh) == pytest.approx(0.142 * 1.09, abs=1e-6)


def test_a_long_list_is_told_day_by_day() -> None:
    """Lowest, mean and highest of each day; days before the list have none."""
    rows = list(told_of(listed()).facts["days_alike"])
    assert len(rows) == 7
    assert sum(row["lowest_per_kwh"] is None for row in rows) == 2
    wednesday = rows[2]
    values = [0.01 * (-1 if k == 10 else 10 + k) for k in range(48)]
    assert wednesday["lowest_per_kwh"].per_kwh == pytest.approx(-0.01)
    assert wednesday["lowest_from"] == "05:00"
    assert wednesday["mean_per_kwh"].per_kwh == pytest.approx(sum(values) / 48)
    assert wednesday["highest_per_kwh"].per_kwh == pytest.approx(0.57)


def test_the_span_of_a_list_names_day_and_hour_and_what_it_covers() -> None:
    """Where all has one name, the place is a moment; what has no price is counted; first and last moment are said."""
    told = told_of(listed())
    assert "-0.0100 EUR/kWh (Wed 2 Dec 05:00)" in str(told.headline)
    said = " ".join(map(str, told.sentences))
    assert "48 h of this week have no price" in said
    assert "covers 00:00 on Wed 2 Dec 2026 to 00:00 on Mon 7 Dec 2026" in said
    assert document(told)["minutes_without_price"] == 2 * 24 * 60


def test_a_week_without_any_price_says_so() -> None:
    """A year after the list."""
    assert "there is no price in this week" in str(told_of(listed(), date(2027, 12, 5)).headline)


def test_a_day_of_25_hours_is_told_in_full() -> None:
    """In Dublin 2026-10-25 has the hour from 01:00 twice: both stretches stand in the table."""
    told = told_of(load_tariff("demo"), date(2026, 10, 25))
    assert sum(row["minutes"] for row in told.facts["week"] if row["day"] == date(2026, 10, 25)) == 25 * 60
    assert len(told.facts["days_alike"].rows) > 3


def test_the_picture_names_every_mark() -> None:
    """Letters while prices are few, shades where they are many; each mark that is drawn stands in the legend."""
    for tariff in (load_tariff("demo"), load_tariff("three_band"), listed()):
        lines = [line.plain for line in week_picture(told_of(tariff).facts["week"])]
        drawn = {letter for line in lines[1:8] for letter in line[13:61]} - {" "}
        legend = {line.strip()[0] for line in lines[8:]}
        assert drawn == legend
        assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    "name", ["\\u001b[31mX\\u001b]0;t\\u0007", "Band [/bold]", "![n](http://a.example)", "a\\u202eb"]
)
def test_names_are_shown_and_never_obeyed(name: str) -> None:
    """Controls and directions as their escapes, brackets as they stand, on the terminal and in the picture."""
    tariff = parse_tariff(
        f'[tariff]\nname = "{name}"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
        f'[[tariff.band]]\nname = "{name}"\nprice = 30\nfrom = "08:00"\nto = "20:00"\n'
        '[[tariff.band]]\nname = "rest"\nprice = 20\notherwise = true\n'
    )
    told = told_of(tariff)
    console = Console(file=io.StringIO(), width=200, force_terminal=True, highlight=False)
    console.print(terminal(told))
    for line in week_picture(told.facts["week"]):
        console.print(line)
    shown = console.file.getvalue()
    written = tariff.name
    assert visible(written) in re.sub(r"\x1b\[[0-9;]*m", "", shown)
    assert "\x1b]" not in shown
    assert "\u202e" not in shown


def test_tiers_are_shown() -> None:
    """5 ct above 300 kWh, 20 % tax on top: 0.06 EUR."""
    tariff = parse_tariff(
        '[tariff]\nname = "T"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
        "prices_include_tax = false\ntax_percent = 20\n"
        '[[tariff.band]]\nname = "all"\nprice = 30\n[[tariff.tier]]\nabove_kwh = 300\nprice = 5\n'
    )
    assert document(told_of(tariff))["tiers"] == [
        {"above_kwh": 300.0, "per": "month", "months": None, "more_per_kwh": pytest.approx(0.06)}
    ]


def test_gaps_come_first_and_slips_are_worded() -> None:
    """A gap is over; a price in the wrong unit is a note with its amount."""
    tariff = parse_tariff(
        '[tariff]\nname = "T"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        'valid_to = 2025-12-31\n[[tariff.band]]\nname = "all"\nprice = 30\n',
    )
    told = prices_told(tariff, check_tariff(tariff, date(2025, 12, 5), today=date(2026, 12, 5)))
    said = [str(one.said) for one in told.findings]
    assert "Valid to Wed 31 Dec 2025, which is past; ask for the new prices." in said
    assert any(one.startswith("all comes to 30.0000 EUR/kWh, which is dear") for one in said)


@pytest.mark.parametrize(("holes", "tail"), [(1, "."), (3, "."), (4, ", and 1 more."), (6, ", and 3 more.")])
def test_the_first_three_holes_of_a_list_are_named_and_the_rest_counted(holes: int, tail: str) -> None:
    """Three moments are read; what is beyond them is a number."""
    moments = tuple(datetime(2026, 5, 1 + at, 12, tzinfo=UTC) for at in range(holes))
    said = str(_holes(Oddity(code="holes", name="prices", moments=moments), load_tariff("demo")))
    assert said.count(" May") == min(holes, 3)
    assert said.endswith(tail)
    assert ("more" in said) is (holes > 3)
