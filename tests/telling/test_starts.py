"""The telling of starts: the contract of its JSON, money that adds up, names and hours, the picture by the hour."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

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
from energyplan.tariffs.starts import hour_costs
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs, parse_tariff
from energyplan.telling.starts import cheaper_start, starts_told

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
