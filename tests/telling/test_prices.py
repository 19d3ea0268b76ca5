"""The telling of a tariff: its week as words, as rows, as a chart and as letters; names that are never obeyed."""

import io
import re
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from typing import Any, get_args

import altair as alt
import pytest
from rich.console import Console

from energyplan.base.errors import Problem, TariffError, visible
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import document
from energyplan.faces.strip import week_picture
from energyplan.faces.terminal import terminal
from energyplan.faces.weekchart import week_chart, week_frame
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import BandStretch, Oddity, OddityCode, TariffCheck, WeekDay, check_tariff
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.prices import (
    _holes,
    estimate_sentence,
    list_sentences,
    no_cost_sentences,
    prices_told,
    with_month_note,
)
from energyplan.telling.told import Told
from tests.telling.shown import Given, headings, seen_rows, titles

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


DEMO = load_tariff("demo")
WEDNESDAY = date(2026, 12, 2)
ODD: list[tuple[Oddity, str]] = [
    (Oddity(code="past", day=date(2026, 1, 31)), "Valid to Sat 31 Jan 2026, which is past; ask for the new prices."),
    (Oddity(code="not yet", day=date(2027, 1, 1)),
     "Valid from Fri 1 Jan 2027 only; use the tariff in force until then."),
    (Oddity(code="dear day", per_unit=Fraction(61)),
     "The charge comes to 61.00 EUR a day; a bare number counts the money of ct/kWh."),
    (Oddity(code="dear peak", per_unit=Fraction(400)),
     "The peak charge comes to 400.00 EUR per kW and month, which is dear; a bare number counts whole EUR."),
    (Oddity(code="cheap peak", per_unit=Fraction(4, 100)),
     "The peak charge comes to 0.04 EUR per kW and month, which is little; a bare number counts whole EUR."),
    (Oddity(code="free add-on", name="levy"), "The add-on levy has the price 0."),
    (Oddity(code="night by default", name="night"),
     ("night wraps midnight and holds on some days only; its hours after midnight follow the calendar day. Where they "
     "follow the evening, say that its night belongs to the start day.")),
    (Oddity(code="night by day", name="night"),
     "night lies mostly in the hours of the day; are its from and to swapped?"),
    (Oddity(code="no summer time", name="Etc/GMT-1"),
     ("The clock Etc/GMT-1 knows no summer time; where the clocks change, name a place, such as Europe/London, or say "
     "that the meter keeps standard time.")),
    (Oddity(code="stale list", name="own_generation", day=date(2026, 11, 1), days=34),
     "The list of own power ends on Sun 1 Nov 2026, 34 days ago; fetch a new one."),
    (Oddity(code="stale list", name="carbon", day=date(2026, 12, 4), days=1),
     "The list of carbon ends on Fri 4 Dec 2026, 1 day ago; fetch a new one."),
    (Oddity(code="holes", name="prices", moments=(datetime(2026, 12, 5, 6, tzinfo=UTC),)),
     "The list of prices has holes, at 06:00 on Sat 5 Dec 2026."),
    (Oddity(code="dear", name="day", per_unit=Fraction(31)),
     "day comes to 31.0000 EUR/kWh, which is dear: is ct/kWh the right unit of the prices?"),
    (Oddity(code="cheap", name="day", per_unit=Fraction(3, 1000)),
     "day comes to 0.0030 EUR/kWh, which is little: is ct/kWh the right unit of the prices?"),
    (Oddity(code="no week", day=WEDNESDAY, why="it has a gap."), ("The week of Wed 2 Dec 2026 can't be shown: it "
                                                                  "has a gap.")),
]  # fmt: skip


@pytest.mark.parametrize(("odd", "told"), ODD, ids=lambda one: getattr(one, "code", ""))
def test_what_looks_like_a_slip_is_worded(odd: Oddity, told: str) -> None:
    """With its amount in the money of the tariff, the day, the list; each is a note."""
    checked = TariffCheck(week=(), problems=(), holidays=(), oddities=(odd,), covers=None)
    (found,) = prices_told(DEMO, checked).findings
    assert (found.code, found.severity, str(found.said)) == (odd.code, "note", told)


def test_every_slip_is_worded() -> None:
    """None is left out above."""
    assert {odd.code for odd, _ in ODD} == set(get_args(OddityCode))


def test_problems_come_first() -> None:
    """Where, what was entered, what is wrong; a slip follows as a note."""
    problems = (Problem(where="band", message="has a gap"), Problem(where="day.price", message="too dear", value="99"))
    checked = TariffCheck(week=(), problems=problems, holidays=(), oddities=(ODD[0][0],), covers=None)
    found = prices_told(DEMO, checked).findings
    assert [(one.severity, str(one.said)) for one in found[:2]] == [
        ("over", "band: has a gap"), ("over", "day.price = 99: too dear"),
    ]  # fmt: skip
    assert found[2].severity == "note"


def stretch(begin: int, end: int, band: str, cents: float | None) -> BandStretch:
    """A stretch of hours at so many cents."""
    micro = None if cents is None else round(cents * 10_000)
    return BandStretch(from_min=60 * begin, to_min=60 * end, minutes=60 * (end - begin), band=band, micro_per_kwh=micro)


def week_of(*stretches: BandStretch, last: tuple[BandStretch, ...] | None = None) -> tuple[WeekDay, ...]:
    """A week of such days, the last perhaps another."""
    days = [date(2026, 11, 30) + timedelta(days=number) for number in range(7)]
    return tuple(
        WeekDay(
            day=day, holiday="Feast" if day == days[6] else "", stretches=last if last and day == days[6] else stretches
        )
        for day in days
    )  # fmt: skip


def checked_week(*stretches: BandStretch, last: tuple[BandStretch, ...] | None = None, **more: Any) -> TariffCheck:
    """The check of a tariff with that week."""
    given: dict[str, Any] = {"problems": (), "holidays": (), "oddities": (), "covers": None, **more}
    return TariffCheck(week=week_of(*stretches, last=last), **given)


NIGHT, DAY = stretch(0, 8, "night", 15.0), stretch(8, 24, "day", 30.0)


def tariff_with(**table: Any) -> Any:
    """The demo's tariff with other keys in its table."""
    return Given(
        name="Two rates", currency="EUR", time_zone="Europe/Dublin", unit=DEMO.unit, tax_factor=DEMO.tax_factor,
        daily_charge=table.pop("daily_charge", 0), month_kwh_so_far=None,
        table=DEMO.table.model_copy(update={"prices_include_tax": True, "valid_from": None, "valid_to": None,
                                            "tier": [], **table}),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("found", "table", "told"),
    [
        (checked_week(NIGHT, DAY), {}, "Two rates: 0.1500 EUR/kWh (night) to 0.3000 EUR/kWh (day)."),
        (checked_week(NIGHT, DAY), {"prices_include_tax": False, "tax_percent": 9},
         "Two rates: 0.1500 EUR/kWh (night) to 0.3000 EUR/kWh (day), 9 % tax included."),
        (checked_week(stretch(0, 8, "all", 15.0), stretch(8, 24, "all", 30.0)), {},
         "Two rates: 0.1500 EUR/kWh (Mon 30 Nov 00:00) to 0.3000 EUR/kWh (Mon 30 Nov 08:00)."),
        (checked_week(stretch(0, 24, "all", 0.0), last=(stretch(0, 24, "all", -1.0),)), {},
         "Two rates: -0.0100 EUR/kWh (Sun 6 Dec 00:00) to 0.0000 EUR/kWh (Mon 30 Nov 00:00)."),
        (checked_week(stretch(0, 24, "all", 30.0)), {}, "Two rates: 0.3000 EUR/kWh at any time of this week."),
        (checked_week(stretch(0, 24, "all", None)), {}, "Two rates: there is no price in this week."),
    ],
)  # fmt: skip
def test_the_week_in_one_sentence(found: TariffCheck, table: dict[str, Any], told: str) -> None:
    """From the lowest to the highest price, by band or by hour; one price, or none."""
    assert str(prices_told(tariff_with(**table), found).headline) == told


@pytest.mark.parametrize(
    ("table", "more", "told"),
    [
        ({"valid_from": date(2026, 1, 1), "valid_to": date(2026, 12, 31)}, {},
         ["The tariff is valid from Thu 1 Jan 2026 to Thu 31 Dec 2026."]),
        ({"valid_from": date(2026, 1, 1)}, {}, ["The tariff is valid from Thu 1 Jan 2026."]),
        ({"valid_to": date(2026, 12, 31)}, {}, ["The tariff is valid to Thu 31 Dec 2026."]),
        ({"daily_charge": Fraction(61, 100)}, {}, ["A day costs 0.61 EUR besides, whatever is drawn."]),
        ({"tier": [Given(above_kwh=300, per="month", months=None, price=Fraction(5))]}, {},
         ["The steps by the month's use come on top; how much of it is used so far decides them."]),
        ({}, {"covers": (datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 6, 8, tzinfo=UTC))},
         ["The list of prices covers 01:00 on Mon 1 Jun 2026 to 01:00 on Mon 8 Jun 2026."]),
        ({}, {}, []),
    ],
)  # fmt: skip
def test_what_is_to_be_known_of_a_tariff(table: dict[str, Any], more: dict[str, Any], told: list[str]) -> None:
    """What it covers on its own clock, when it is valid, what comes on top."""
    found = prices_told(tariff_with(**table), checked_week(NIGHT, DAY, **more))
    assert [str(one) for one in found.sentences] == told


def test_hours_without_a_price_are_counted() -> None:
    """Eight hours on each of seven days."""
    found = prices_told(tariff_with(), checked_week(stretch(0, 8, "no band", None), DAY))
    assert str(found.sentences[0]) == "56 h of this week have no price; a brew in them has no cost."
    assert document(found)["minutes_without_price"] == 7 * 8 * 60


def test_a_week_has_its_rows() -> None:
    """Days alike together, minutes of each band on each day, holidays, and each stretch for machines."""
    holidays = ((date(2026, 12, 25), "Christmas Day"),)
    tiers = [Given(above_kwh=500, per="month", months=None, price=Fraction(5)),
             Given(above_kwh=300, per="month", months=(11, 12), price=Fraction(-2))]  # fmt: skip
    found = prices_told(
        tariff_with(tier=tiers), checked_week(NIGHT, DAY, last=(stretch(0, 24, "night", 15.0),), holidays=holidays)
    )
    minutes, steps, feasts = found.tables
    assert titles(found) == ["Prices", "Minutes a day", "Steps by the month's use", "Holidays"]
    assert (found.facts["week"].title, found.facts["days_alike"].title) == ("The week", "The week")
    assert seen_rows(minutes) == [["night", *["480"] * 6, "1440"], ["day", *["960"] * 6, "0"]]
    assert headings(minutes, 0) == ["Minutes a day", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    assert headings(steps, 0) == ["Above, kWh", "in a", "in", "On top"]
    # 5 ct and 2 ct off, with the demo's 9 % of tax.
    assert seen_rows(steps) == [
        ["300.00", "month", "nov, dec", "-0.0218 EUR/kWh"],
        ["500.00", "month", "", "+0.0545 EUR/kWh"],
    ]
    assert seen_rows(feasts) == [["Fri 25 Dec 2026", "Christmas Day"]]
    alike = found.facts["days_alike"]
    assert headings(alike, 0) == ["Days", "From", "To", "Price", "Band"]
    assert seen_rows(alike) == [
        ["Mon to Sat", "00:00", "08:00", "0.1500 EUR/kWh", "night"],
        ["Mon to Sat", "08:00", "24:00", "0.3000 EUR/kWh", "day"],
        ["Sun", "00:00", "24:00", "0.1500 EUR/kWh", "night"],
    ]
    rows = document(found)["week"]
    assert rows[-1] == {
        "day": "2026-12-06", "holiday": "Feast", "from_min": 0, "to_min": 1440, "minutes": 1440, "band": "night",
        "price_per_kwh": 0.15,
    }  # fmt: skip
    assert len(rows) == 13


@pytest.mark.parametrize(("stretches", "by_day"), [(8, False), (9, True)])
def test_a_week_of_too_many_rows_is_told_by_the_day(stretches: int, *, by_day: bool) -> None:
    """Seven days that all differ, of eight stretches each, are 56 rows; of nine they would be 63."""

    def hour(number: int, place: int) -> BandStretch:
        return stretch(place, place + 1, "all", float(place + number))

    days = tuple(
        WeekDay(day=date(2026, 11, 30) + timedelta(days=number), holiday="",
                stretches=tuple(hour(number, place) for place in range(stretches)))
        for number in range(7)
    )  # fmt: skip
    found = prices_told(tariff_with(), TariffCheck(week=days, problems=(), holidays=(), oddities=(), covers=None))
    table = found.facts["days_alike"]
    assert len(table.rows) == (7 if by_day else 56)
    if by_day:
        assert headings(table, 0) == ["Day", "Lowest", "begins at", "Mean", "Highest", "from"]
        assert seen_rows(table)[1] == [
            "Tue 1 Dec", "0.0100 EUR/kWh", "00:00", "0.0500 EUR/kWh", "0.0900 EUR/kWh", "08:00",
        ]  # fmt: skip


def a_list(**how: Any) -> Any:
    """A list of half hours over a week."""
    reading = {"time_columns": ("from", "to"), "order": "day first", "clock": "local", "stamp": "start",
               "step_min": 30.0, "price_column": "price", "unit": "EUR/MWh", **how}  # fmt: skip
    return Given(reading=Given(**reading), holes=0,
                 covers=(datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 6, 8, tzinfo=UTC)))  # fmt: skip


@pytest.mark.parametrize(
    ("clock", "told"),
    [("local", "the clock of Europe/Dublin"), ("utc", "UTC"), ("offset in file", "with their offset")],
)  # fmt: skip
def test_how_a_list_was_read(clock: str, told: str) -> None:
    """Its columns, the order of its dates, whose clock, what it covers, and how many holes."""
    assert [str(one) for one in list_sentences(a_list(clock=clock), "Europe/Dublin")] == [
        f"Read so: times in from and to, day first, {told}, each the start of its 30 min; prices in price, EUR/MWh.",
        "It covers 01:00 on Mon 1 Jun 2026 to 01:00 on Mon 8 Jun 2026.",
    ]
    holes = [list(list_sentences(a_list().but(holes=number), "UTC"))[-1] for number in (1, 2)]
    assert [str(one) for one in holes] == [
        "1 hole is in it; a brew in one has no cost.", "2 holes are in it; a brew in one has no cost.",
    ]  # fmt: skip


def test_money_that_rests_on_the_first_step_says_so() -> None:
    """Where there are steps by the month's use and it is not known; else nothing is added."""
    told = Told(key="x", title="X")
    steps = [Given(above_kwh=300, per="month", months=None, price=Fraction(5))]
    (note,) = with_month_note(told, tariff_with(tier=steps)).sentences
    assert str(note) == (
        "The tariff has steps by the month's use, which is not entered ([supply] month_kwh_so_far): money here counts "
        "from the first step on; the answer for the day gives both ends."
    )
    for tariff in (None, tariff_with(), tariff_with(tier=steps).but(month_kwh_so_far=120.0)):
        assert with_month_note(told, tariff) is told


def test_an_estimate_says_what_it_rests_on() -> None:
    """Where the list ends on the local clock, of how many weeks, and by how much it is off."""
    guess: Any = Given(begins=datetime(2026, 6, 8, tzinfo=UTC), weeks=1, error_per_kwh=0.0312)
    assert str(estimate_sentence(guess, tariff_with(), "Europe/Dublin")) == (
        "An estimate (est.): the list of prices ends at 01:00 on Mon 8 Jun 2026; beyond it the mean of the same "
        "weekday and hour of its last week is taken, which over the list itself was off by 0.0312 EUR/kWh on average."
    )
    longer = estimate_sentence(guess.but(weeks=3), tariff_with(), "Europe/Dublin")
    assert "weekday and hour of its last 3 weeks is taken" in str(longer)
    assert [str(one) for one in no_cost_sentences(TariffError("it ends"))] == ["No cost: it ends."]
    assert not list(no_cost_sentences(None))
