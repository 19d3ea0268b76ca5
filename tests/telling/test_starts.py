"""The telling of starts: the contract of its JSON, money that adds up, names and hours, the picture by the hour."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import pytest

from energyplan.advice.starts import StartsAnswer, StartsQuestion, starts_answer
from energyplan.base.errors import TariffError
from energyplan.base.kinds import Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.day.brewday import simulate
from energyplan.faces.frames import document
from energyplan.faces.strip import hour_picture
from energyplan.plan.file import read_plan
from energyplan.plan.model import Hours
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.starts import StartOption, hour_costs
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs, parse_tariff
from energyplan.telling.starts import cheaper_start, habit_told, starts_told, waiting_told
from tests.telling.shown import Given, headings, seen_rows, titles

NOW = datetime(2026, 12, 5, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def day():
    """The demo's day."""
    return simulate(read_plan("demo"))


def asked(day, tariff=None, **question) -> StartsAnswer:
    """Three days of starts."""
    given = {"first": date(2026, 12, 5), "last": date(2026, 12, 7), "now": NOW} | question
    return starts_answer(day, tariff or load_tariff("demo"), StartsQuestion(**given))


def test_the_document_says_all_that_the_page_says(day) -> None:
    """Best, now, worst, plateau, count; each day's best; waiting and habit where asked."""
    found = asked(day, mash_at=NOW, habit=(5, NOW.time()), brews=12)
    said = document(starts_told(found))
    assert said["schema"] == 2
    for name in ("best", "now", "worst"):
        assert set(said[name]) == {"start", "cost", "carbon_g"}
        assert said[name]["start"].endswith("Z")
    assert said["starts"] == found.search.count == 3 * 1440
    assert said["within_1_percent"][0][0] <= said["best"]["start"]
    assert [row["cost"] for row in said["best_per_day"]] == [float(one.cost) for one in found.search.best_per_day]
    assert set(said["waiting"]) >= {"filled", "ready", "lands_c", "cost", "direct_cost", "extra_kwh", "heat"}
    assert said["habit"]["brews"] == 12


def test_without_hours_it_says_that_nights_count(day) -> None:
    """The best of all minutes may be midnight: who entered no hours is told so, and what to enter."""
    anywhen, awake = asked(day), asked(day, hours=Hours(earliest_min=7 * 60))
    said = {
        key: " ".join(str(one) for one in starts_told(found).sentences)
        for key, found in (("any", anywhen), ("awake", awake))
    }
    assert "No hours were entered, so nights count as well; [hours] somebody_there keeps starts to when" in said["any"]
    assert "No hours were entered" not in said["awake"]
    assert "Within the hours not before 07:00." in said["awake"]


def test_nobody_is_told_to_start_when_it_is_too_late(day) -> None:
    """Asked for the days from today on, the first start is this minute; asked from a day on, all of that day counts."""
    found = starts_answer(day, load_tariff("demo"), StartsQuestion())
    assert found.search.first >= datetime.now(UTC) - timedelta(minutes=2)
    assert found.search.best.start >= found.search.first
    assert to_local(asked(day).search.first, "Europe/Dublin").time() == time()


def test_grams_stand_beside_the_cost_where_they_are_known(day) -> None:
    """200 g a kWh at all hours: every start's grams are 200 times the day's kWh; without a list nothing is said."""
    hours = (datetime(2026, 12, 4, tzinfo=UTC) + timedelta(hours=number) for number in range(144))
    rows = "start,carbon\n" + "".join(f"{hour:%Y-%m-%dT%H:%MZ},200\n" for hour in hours)
    text = packaged_tariffs()["demo"].read_text(encoding="utf-8") + '\n[carbon]\nfile = "c.csv"\nunit = "g/kWh"\n'
    known = document(starts_told(asked(day, parse_tariff(text, series_texts={"c.csv": rows}))))
    unknown = document(starts_told(asked(day)))
    for name in ("best", "now", "worst"):
        assert known[name]["carbon_g"] == pytest.approx(200 * day.energy_kwh, rel=1e-6)
        assert unknown[name]["carbon_g"] is None
    assert [row["carbon_g"] for row in known["options"]] == pytest.approx(
        [200 * day.energy_kwh] * len(known["options"])
    )
    assert not any("carbon_g" in row for row in unknown["options"])


def test_the_hour_that_comes_twice_is_one_cell(day) -> None:
    """On 2026-10-25 the clock shows 01:00 to 02:00 twice: 24 cells a day all the same."""
    table = starts_told(asked(day, first=date(2026, 10, 24), last=date(2026, 10, 26))).facts["by_hour"]
    cells = [(row["day"], row["hour"]) for row in table]
    assert len(cells) == len(set(cells)) == 72
    best = min(row["cost"].units for row in table if row["cost"])
    assert best == asked(day, first=date(2026, 10, 24), last=date(2026, 10, 26)).search.best.cost.units


def test_marks_stand_on_the_best_and_on_the_asked_start(day) -> None:
    """The best of the demo is at night."""
    marks = {row["text"]: row["minute"] for row in starts_told(asked(day)).facts["marks"]}
    assert marks["now"] == NOW.hour * 60 + NOW.minute  # winter in Dublin
    assert marks["best"] < 4 * 60


def test_where_every_start_costs_the_same_it_says_just_that(day) -> None:
    """One price for all hours."""
    flat = parse_tariff(
        '[tariff]\nname = "Flat"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[[tariff.band]]\nname = "all"\nprice = 30\n'
    )
    told = starts_told(asked(day, flat))
    assert str(told.headline).startswith("Every start costs the same: ")
    assert "than the best" not in " ".join(map(str, told.sentences))
    assert not told.tables
    assert document(told)["every_start_the_same"] is True


BANDS = (
    '[tariff]\nname = "Till Saturday"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
    "valid_from = 2026-12-01\nvalid_to = 2026-12-05\n"
    '[[tariff.band]]\nname = "night"\nprice = 14.2\nfrom = "23:00"\nto = "08:00"\n'
    '[[tariff.band]]\nname = "day"\nprice = 31.5\notherwise = true\n'
)


def test_a_tariff_that_ends_within_the_range_prices_what_it_can_and_says_so(day) -> None:
    """Valid to Saturday: no start that runs past its midnight is costed, and how many are left out is said."""
    found = asked(day, parse_tariff(BANDS))
    last = max(
        found.search.first + timedelta(minutes=place) for place in range(3 * 1440) if found.search.allowed[place]
    )
    ends = datetime(2026, 12, 6, tzinfo=UTC)
    assert last + timedelta(seconds=day.duration_s) <= ends < last + timedelta(seconds=day.duration_s + 60)
    assert found.search.unpriced == 3 * 1440 - found.search.count
    said = " ".join(map(str, starts_told(found).sentences))
    assert f"{found.search.unpriced} starts have no price for the whole day" in said
    assert "valid from 2026-12-01 (Tuesday) 00:00 GMT until 2026-12-06 (Sunday) 00:00 GMT" in said


def test_a_load_past_the_end_of_a_tariff_is_told_its_days(day) -> None:
    """The refusal names the days, whatever language the machine speaks."""
    line = price_line(parse_tariff(BANDS), date(2026, 12, 4), date(2026, 12, 7))
    with pytest.raises(TariffError, match=r"valid from 2026-12-01 \(Tuesday\).* until 2026-12-06 \(Sunday\)"):
        price(day.profiles, line, datetime(2026, 12, 5, 20, tzinfo=UTC))


def test_hours_are_named(day) -> None:
    """Each of them, in one sentence."""
    hours = Hours(earliest_min=420, done_by_min=1320, somebody_there_min=(360, 1380), not_on=("sun", "mon"))
    said = " ".join(map(str, starts_told(asked(day, hours=hours)).sentences))
    assert "not before 07:00, done by 22:00, somebody there from 06:00 to 23:00 and not on Sun and Mon" in said


@pytest.mark.parametrize(("currency", "shown"), [("JPY", "43 JPY"), ("KWD", "43.125 KWD"), ("EUR", "43.12 EUR")])
def test_money_has_the_digits_of_its_currency(day, currency: str, shown: str) -> None:
    """The same exact amount, 43.125, in each."""
    found = asked(day)
    cost = Money(units=43_125 * UNITS_PER_CURRENCY // 1000, currency=currency)
    option = replace(found.search.best, cost=cost)
    search = replace(found.search, best=option, now=None, worst=option, currency=currency)
    told = starts_told(replace(found, search=search, waiting=None))
    assert shown in str(told.headline)
    assert Decimal(str(document(told)["best"]["cost"])) == Decimal("43.125")


def test_the_cheaper_start_or_that_there_is_none(day) -> None:
    """Against nine in the morning the night is cheaper; against itself nothing is."""
    found = asked(day).search
    assert f"{found.best.cost}, {found.now.cost - found.best.cost} less." in str(cheaper_start(found))
    assert "No start of the coming week" in str(cheaper_start(replace(found, now=found.best)))


def test_the_picture_names_every_shade(day) -> None:
    """A legend line for each mark that is seen, no mark that the legend lacks, 80 columns."""
    lines = [line.plain for line in hour_picture(starts_told(asked(day)).facts["by_hour"], Style())]
    drawn = {letter for line in lines[1:4] for letter in line[13:]} - {" "}
    legend = {letter for line in lines[4:] for letter in line} & set("░▒▓█")
    assert drawn == legend
    assert max(map(len, lines)) <= 80


def test_a_bare_vessel_that_gains_nothing_is_told_so(day) -> None:
    """One price: waiting saves nothing, and no caution about heating unattended is due."""
    flat = parse_tariff(
        '[tariff]\nname = "Flat"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[[tariff.band]]\nname = "all"\nprice = 30\n'
    )
    told = starts_told(asked(day, flat, mash_at=NOW + timedelta(hours=3)))
    assert "saves nothing" in str(told.parts[0].headline)
    assert not told.parts[0].cautions


def test_the_cell_of_a_repeated_hour_is_the_cheaper_of_both(day) -> None:
    """The clock goes back by two hours, 01:00 comes twice apart: who starts the first time has more of the night."""
    bands = '[[tariff.band]]\nname = "{}"\nprice = {}\n{}\n'
    text = (
        '[tariff]\nname = "Far south"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Antarctica/Troll"\n'
        + bands.format("night", 10, 'from = "22:00"\nto = "04:00"')
        + bands.format("day", 30, "otherwise = true")
    )
    there = day.plan.model_copy(update={"site": day.plan.site.model_copy(update={"time_zone": "Antarctica/Troll"})})
    found = asked(simulate(there), parse_tariff(text), first=date(2026, 10, 25), last=date(2026, 10, 25))
    first, second = (one.cost.units for one in hour_costs(found.search) if one.hour == 1)
    assert first < second
    cell = next(row for row in starts_told(found).facts["by_hour"] if row["hour"] == 1)
    assert cell["cost"].units == first


def euros(amount: float, currency: str = "EUR") -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency=currency)


def at(hour: int, minute: int = 0, day: int = 5) -> datetime:
    """A moment of December in Dublin."""
    return datetime(2026, 12, day, hour, minute, tzinfo=UTC)


BEST, NOW_COSTS, DEAREST = (StartOption(start=at(hour), cost=euros(cost)) for hour, cost in
                            ((2, 1.0), (9, 1.5), (17, 2.5)))  # fmt: skip


def searched(found: StartsAnswer, **changes) -> StartsAnswer:
    """The answer with the best at 02:00 for 1.00 EUR, now at 09:00 for 1.50 EUR, the dearest at 17:00 for 2.50 EUR."""
    given = {"best": BEST, "now": NOW_COSTS, "worst": DEAREST, "plateau": ((at(1, 50), at(2, 30)),)}
    return replace(found, search=replace(found.search, **{**given, **changes}))


AWAKE = (
    "No hours were entered, so nights count as well; [hours] somebody_there keeps starts to when somebody can do what "
    "they need."
)
COSTED = "4320 starts were costed, one a minute, on the clock of Europe/Dublin."


@pytest.mark.parametrize(
    ("changes", "headline", "said"),
    [
        ({}, "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Anything from 01:50 to 02:30 is within 1 %.",
         ["A start at Sat 5 Dec 09:00 costs 1.50 EUR, 0.50 EUR more than the best.", COSTED, AWAKE]),
        ({"plateau": ((at(2), at(2)),)},
         "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Only that minute is within 1 %.",
         ["A start at Sat 5 Dec 09:00 costs 1.50 EUR, 0.50 EUR more than the best.", COSTED, AWAKE]),
        ({"plateau": ((at(1), at(2, 10, 6)),), "now": None},
         "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Anything from 01:00 to Sun 6 Dec 02:10 is within 1 %.",
         [COSTED, AWAKE]),
        ({"now": BEST}, "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Anything from 01:50 to 02:30 is within 1 %.",
         [COSTED, AWAKE]),
        ({"now": replace(BEST, cost=euros(0.9), start=at(4))},
         "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Anything from 01:50 to 02:30 is within 1 %.",
         ["A start at Sat 5 Dec 04:00 costs 0.90 EUR, 0.10 EUR less than the best.", COSTED, AWAKE]),
        ({"best": replace(BEST, carbon_g=1234.0), "unpriced": 1, "covered": " (prices end on Sunday)"},
         "Start at 02:00 on Sat 5 Dec 2026: 1.00 EUR. Anything from 01:50 to 02:30 is within 1 %.",
         ["A start at Sat 5 Dec 09:00 costs 1.50 EUR, 0.50 EUR more than the best.",
          "The grid emits 1.23 kg of carbon dioxide for the best start.", COSTED,
          "1 start has no price for the whole day (prices end on Sunday).", AWAKE]),
        ({"best": replace(BEST, cost=euros(2.5)), "now": None}, "Every start costs the same: 2.50 EUR.", [COSTED]),
    ],
)  # fmt: skip
def test_the_best_start_is_told(day, changes, headline: str, said: list[str]) -> None:
    """When, for how much, what is nearly as good; what now costs, carbon, how many were costed, that nights count."""
    told = starts_told(searched(asked(day), **changes))
    assert str(told.headline) == headline
    assert [str(one) for one in told.sentences] == said


def test_best_now_and_dearest_stand_in_a_table(day) -> None:
    """Each with its day; grams where they are known; and each start for machines."""
    told = starts_told(searched(asked(day), best=replace(BEST, carbon_g=1234.0)))
    (table,) = told.tables
    assert headings(table, 0) == ["", "Start", "Cost, EUR", "Carbon dioxide, kg"]
    assert [row[:3] for row in seen_rows(table)] == [
        ["best", "Sat 5 Dec 02:00", "1.00"], ["now", "Sat 5 Dec 09:00", "1.50"], ["dearest", "Sat 5 Dec 17:00", "2.50"],
    ]  # fmt: skip
    facts = document(told)
    assert facts["best"] == {"start": "2026-12-05T02:00:00Z", "cost": 1.0, "carbon_g": 1234.0}
    assert facts["worst"] == {"start": "2026-12-05T17:00:00Z", "cost": 2.5, "carbon_g": None}
    ((first, last),) = facts["within_1_percent"]
    assert (first, last) == ("2026-12-05T01:50:00Z", "2026-12-05T02:30:00Z")
    assert facts["every_start_the_same"] is False
    assert titles(told) == ["When to start", "Best, now and dearest"]
    assert [told.facts[key].title for key in ("best_per_day", "by_hour", "by_kind", "prices", "marks")] == [
        "The best start of each day", "The cheapest start of each hour", "Cost by the start, for each kind of day",
        "Prices of each kind of day", "Marks",
    ]  # fmt: skip
    alone = starts_told(searched(asked(day), now=None))
    assert [row[0] for row in seen_rows(alone.tables[0])] == ["best", "dearest"]
    assert headings(alone.tables[0], 0) == ["", "Start", "Cost, EUR"]
    assert document(alone)["now"] is None
    guessed = replace(BEST, cost=Money(units=UNITS_PER_CURRENCY, currency="EUR", is_estimate=True))
    assert document(starts_told(searched(asked(day), best=guessed)))["best"]["cost_is_estimate"] is True


@pytest.mark.parametrize(
    ("now", "told"),
    [
        (1.0, "No start of the coming week, within the hours, is cheaper by more than 1 %."),
        (1.01, "No start of the coming week, within the hours, is cheaper by more than 1 %."),
        (1.0105, ("The cheapest start of the coming week, within the hours, is 02:00 on Sat 5 Dec 2026: 1.00 EUR, "
         "0.01 EUR less.")),
        (None, "The cheapest start of the week is 02:00 on Sat 5 Dec 2026: 1.00 EUR."),
    ],
)  # fmt: skip
def test_a_cheaper_start_is_told_from_one_percent_on(day, now: float | None, told: str) -> None:
    """Of the cost of the best."""
    option = None if now is None else StartOption(start=at(9), cost=euros(now))
    assert str(cheaper_start(searched(asked(day), now=option).search)) == told


WEEK = (
    '[tariff]\nname = "Week"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
    '[[tariff.band]]\nname = "{0}"\nprice = 40\ndays = {1}\n'
    '[[tariff.band]]\nname = "rest"\nprice = 20\notherwise = true\n'
)


@pytest.mark.parametrize(
    ("days", "last", "kinds"),
    [
        ('["tue"]', 13, ["Mon 7 Dec", "Tue 8 Dec", "Wed to Sun"]),
        ('"mon-fri"', 13, ["Mon to Thu", "Fri 11 Dec", "Sat 12 Dec", "Sun 13 Dec"]),
        ('["wed"]', 13, ["Mon, Thu, Fri, Sat, Sun", "Tue 8 Dec", "Wed 9 Dec"]),
        ('["wed"]', 20, ["Mon, Thu, Fri, Sat, Sun", "Tue", "Wed"]),
        ('["wed", "thu", "fri"]', 13, ["Mon, Sat, Sun", "Tue 8 Dec", "Wed, Thu", "Fri 11 Dec"]),
    ],
)  # fmt: skip
def test_days_of_one_price_are_one_kind(day, days: str, last: int, kinds: list[str]) -> None:
    """Three and more in a row by their first and last, else by name, one alone with its date (days run overnight)."""
    found = asked(day, parse_tariff(WEEK.format("dear", days)), first=date(2026, 12, 7), last=date(2026, 12, last))
    facts = starts_told(found).facts
    for table in ("by_kind", "prices"):
        assert list(dict.fromkeys(row["days"] for row in facts[table])) == kinds
    # Of more than three kinds every half hour is drawn.
    assert {row["minute"] % 30 for row in facts["by_kind"]} == ({0, 15} if len(kinds) <= 3 else {0})


def test_one_kind_of_day_is_every_day(day) -> None:
    """The same two rates on each of seven days and more: one picture, every quarter of an hour, with its prices."""
    found = asked(day, first=date(2026, 12, 7), last=date(2026, 12, 15))
    facts = starts_told(found).facts
    assert {row["days"] for row in facts["by_kind"]} == {"every day"}
    assert [row["minute"] for row in facts["by_kind"]] == list(range(0, 1440, 15))
    first = found.search.units[:1440:15]
    assert [row["cost"].units for row in facts["by_kind"]] == list(first)
    assert facts["more_days"].raw == 0
    table = facts["prices"]
    assert headings(table, 0) == ["Kind", "Days", "From", "To", "Price", "Band"]
    assert seen_rows(table) == [
        ["0", "every day", "00:00", "08:00", "0.1548 EUR/kWh", "night"],
        ["0", "every day", "08:00", "23:00", "0.3434 EUR/kWh", "day"],
        ["0", "every day", "23:00", "24:00", "0.1548 EUR/kWh", "night"],
    ]


def hourly(days: int) -> str:
    """A list in which each day from 7 December on has a price of its own."""
    rows = "".join(
        f"{datetime(2026, 12, 7, tzinfo=UTC) + timedelta(hours=hour):%Y-%m-%dT%H:%MZ},{10 + hour // 24}\n"
        for hour in range(24 * days)
    )
    return f"start,price\n{rows}"


LISTED = (
    '[tariff]\nname = "Listed"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
    '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
)


def test_of_too_many_kinds_of_days_the_marked_ones_stay(day) -> None:
    """Ten days of ten prices: seven are drawn, every half hour, the best, the asked and the dearest among them."""
    tariff = parse_tariff(LISTED, series_texts={"p.csv": hourly(12)})
    found = asked(day, tariff, first=date(2026, 12, 7), last=date(2026, 12, 16), now=at(9, 0, 15))
    facts = starts_told(found).facts
    drawn = list(dict.fromkeys(row["days"] for row in facts["by_kind"]))
    assert len(drawn) == 7
    assert drawn[-2:] == ["Tue 15 Dec", "Wed 16 Dec"]
    assert drawn[0] == "Mon 7 Dec"
    assert facts["more_days"].raw == 3
    assert {row["minute"] % 30 for row in facts["by_kind"]} == {0}
    marks = {row["text"]: (row["kind"], row["minute"]) for row in facts["marks"]}
    assert marks["now"] == (5, 9 * 60)
    assert marks["best"][0] == 0
    assert marks["dearest"][0] == 6


def test_marks_have_their_words(day) -> None:
    """Best, now and dearest with their money; where now is the dearest it stands once."""
    found = searched(asked(day))
    rows = seen_rows(starts_told(found).facts["marks"])
    assert rows == [["best", "0", "02:00", "1.00", "best 1.00 EUR"], ["now", "0", "09:00", "1.50", "now 1.50 EUR"],
                    ["dearest", "0", "17:00", "2.50", "dearest 2.50 EUR"]]  # fmt: skip
    both = starts_told(searched(asked(day), now=DEAREST)).facts["marks"]
    assert [row["text"] for row in both] == ["best", "now"]
    away = starts_told(searched(asked(day), now=replace(NOW_COSTS, start=at(9, 0, 20)))).facts["marks"]
    assert [row["text"] for row in away] == ["best", "dearest"]


def waiting(**more) -> Any:
    """Water heated at night for a mash at nine."""
    given = {
        "filled": at(22, 0, 4), "ready": at(9), "lands_c": 71.2, "cost": euros(0.5), "direct_cost": euros(0.9),
        "direct_kwh": 2.0, "extra_kwh": 0.4, "energy_kwh": 2.4, "waits": True, "meter_w": 2806.0,
        "stretches": (Given(start=at(3), end=at(3, 40)), Given(start=at(7, 30), end=at(7, 50))),
    }  # fmt: skip
    return Given(**{**given, **more})


def test_water_that_waits_says_when_to_heat_it() -> None:
    """What it saves and adds, when to fill and to heat; that nobody may be there is a caution of its own."""
    told = waiting_told(waiting(), "Europe/Dublin")
    assert str(told.headline) == (
        "Waiting with hot water for the mash at 09:00 on Sat 5 Dec 2026 costs 0.50 EUR instead of 0.90 EUR, and takes "
        "0.40 kWh more than the 2.00 kWh of heating straight before."
    )
    assert [str(one) for one in told.sentences] == [
        "Fill in at Fri 4 Dec 22:00, heat from 03:00 to 03:40 and from 07:30 to 07:50: 71.2 °C at 09:00."
    ]
    (caution,) = told.cautions
    assert titles(told) == ["Strike water heated while it is cheap"]
    assert str(caution).startswith("This heats water while nobody may be there.")
    heats = document(told)
    assert list(heats["heat"][0]) == ["2026-12-05T03:00:00Z", "2026-12-05T03:40:00Z", 2806.0]
    assert (heats["filled"], heats["energy_kwh"], heats["extra_kwh"]) == ("2026-12-04T22:00:00Z", 2.4, 0.4)
    direct = waiting_told(waiting(waits=False), "Europe/Dublin")
    assert str(direct.headline) == (
        "For the mash at 09:00 on Sat 5 Dec 2026 waiting saves nothing: heating straight before costs 0.50 EUR."
    )
    assert not direct.cautions


def test_a_habit_is_told_with_its_year() -> None:
    """How many brews, what they cost at the usual time and at the best."""
    told = habit_told(Given(days=(1,) * 12, usual=euros(24.0), best=euros(15.0), saving=euros(9.0)))  # type: ignore[arg-type]
    assert str(told.headline) == (
        "12 brews at the usual time cost 24.00 EUR a year; at the best start of each day 15.00 EUR, 9.00 EUR less."
    )
    assert titles(told) == ["A habit over a year"]
    facts = document(told)
    assert (facts["brews"], facts["usual_cost"], facts["best_cost"]) == (12, 24.0, 15.0)


def test_what_a_start_s_cost_rests_on_is_said(day) -> None:
    """An estimate, and both ends where steps by the month's use count."""
    found = searched(asked(day))
    guess = Given(begins=at(0, 0, 7), weeks=2, error_per_kwh=0.01)
    tariff: Any = Given(estimate=guess, currency="EUR", table=Given(tier=[]), month_kwh_so_far=None)
    said = [
        str(one) for one in starts_told(replace(found, tariff=tariff, best_ends=(euros(0.9), euros(1.2)))).sentences
    ]
    assert said[1].startswith("An estimate (est.): the list of prices ends at 00:00 on Mon 7 Dec 2026;")
    assert said[2] == (
        "The tariff has steps by the month's use, which is not entered ([supply] month_kwh_so_far): 0.90 to 1.20 EUR."
    )
