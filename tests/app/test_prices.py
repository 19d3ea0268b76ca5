"""Tests of the page Prices: bands and lists, sound and not, the week they make, and the file that says the same."""

import tomllib
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from energyplan.app.answers import TariffText, packaged, tariff_of
from energyplan.app.tariffdraft import begun, number_or_text
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs, parse_tariff

Open = Callable[..., Any]
BANDS = "tariff_band"
HOURS = "\n".join(f"2026-12-0{day}T{hour:02d}:00Z,{10 * day + hour}" for day in range(4, 8) for hour in range(24))
LIST = f"start,price\n{HOURS}\n"


def edit(there: Any, change: dict[str, Any], table: str = BANDS) -> Any:
    """Change cells of a table as the browser's editor does."""
    key = f"prices_{there.work.draft.version}_{table}"
    blank: dict[str, Any] = {"edited_rows": {}, "added_rows": [], "deleted_rows": []}
    there.at.session_state[key] = blank | change
    from energyplan.app import priceform
    from energyplan.app.rows import edited
    from energyplan.app.tariffdraft import ADD_ONS
    from energyplan.app.tariffdraft import BANDS as ROWS

    # AppTest can't call an editor's callback; what it would hand in is taken the same way.
    rows = ROWS if table == BANDS else ADD_ONS
    draft = there.work.draft
    draft.enter(rows.path[1:], edited(priceform.entry_of(draft.base, rows.path) or [], rows, blank | change))
    return there.run()


def hand_in(there: Any, name: str, content: str | bytes) -> Any:
    """Give a list of prices to its uploader."""
    there.at.segmented_control(key=f"prices_{there.work.draft.version}_from").set_value("A list of prices (CSV)")
    there.run()
    data = content.encode() if isinstance(content, str) else content
    there.at.file_uploader(key=f"prices_{there.work.draft.version}_list").set_value((name, data, "text/csv"))
    return there.run()


@pytest.mark.parametrize("name", sorted(packaged()))
def test_a_draft_says_what_the_file_says(name: str) -> None:
    """Written and read again, every packaged tariff is the same, to the last digit."""
    draft = begun(packaged()[name], None)
    assert not draft.is_changed
    assert parse_tariff(draft.toml).file == load_tariff(packaged_tariffs()[name]).file


def test_the_week_is_answered_first(visit: Open) -> None:
    """The demo's night costs 14.2 ct and 9 % tax, its day 31.5 ct and 9 %."""
    there = visit("prices")
    assert f"{0.142 * 1.09:.4f} EUR/kWh (night)" in there.headline
    assert f"{0.315 * 1.09:.4f} EUR/kWh (day)" in there.headline
    frame = there.at.dataframe[0].value
    assert list(frame["days"]) == ["Mon to Sun"] * 3
    assert list(frame["from"]) == ["00:00", "08:00", "23:00"]


def test_a_changed_price_goes_on_the_desk_when_it_is_used(visit: Open) -> None:
    """Until then the other pages keep the old one, and a sign says so."""
    there = edit(visit("prices"), {"edited_rows": {1: {"price": "40,5"}}})
    assert "not on the desk yet" in there.words
    assert there.work.tariff.name == "two_rate"
    there.click("use_prices")
    used = tariff_of(there.work.tariff)
    assert used.table.band[1].price == Decimal("40.5")
    assert "not on the desk yet" not in there.words
    assert "EUR" in there.go("").headline


def test_what_is_used_reads_back_identical(visit: Open) -> None:
    """The saved file, opened again, is the tariff on the desk."""
    there = edit(visit("prices"), {"added_rows": [{"name": "sunday", "price": "10", "days": "sun", "from": "08:00",
                                                  "to": "23:00", "season": "10-15 to 04-14"}]})  # fmt: skip
    text = there.work.draft.toml
    there.click("use_prices")
    assert parse_tariff(text).file == tariff_of(there.work.tariff).file
    assert tomllib.loads(text)["tariff"]["band"][2]["dates"] == "10-15 to 04-14"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"edited_rows": {0: {"price": "dear"}}}, "Row 1, night: price"),
        ({"edited_rows": {0: {"price": "nan"}}}, "write a number"),
        ({"edited_rows": {0: {"price": "1e308"}}}, "write a number"),
        ({"edited_rows": {0: {"price": ""}}}, "is missing"),
        ({"edited_rows": {0: {"from": "25:00"}}}, "Row 1, night: from"),
        ({"edited_rows": {0: {"to": ""}}}, "is missing; write from and to"),
        ({"edited_rows": {0: {"to": "23:00"}}}, "a window of no minutes"),
        ({"edited_rows": {0: {"days": "caturday"}}}, "is no day"),
        ({"edited_rows": {1: {"otherwise": ""}}}, "both claim it"),
        ({"edited_rows": {0: {"otherwise": "yes"}}}, "keep it in one band"),
        ({"deleted_rows": [1]}, "no band covers it"),
        ({"deleted_rows": [0, 1]}, "has no price"),
        ({"edited_rows": {0: {"days": "holiday"}}}, "needs a list of holidays"),
    ],
)
def test_what_is_wrong_stands_at_the_rows_and_stays_off_the_desk(visit: Open, change: Any, said: str) -> None:
    """Each slip is said in words; the button that puts it on the desk is shut."""
    there = edit(visit("prices"), change)
    assert there.headline == "These prices don't fit together yet."
    assert said in there.words
    assert there.at.button(key="use_prices").disabled
    assert there.work.tariff.name == "two_rate"


def test_a_mended_row_takes_its_message_away(visit: Open) -> None:
    """Wrong, then right."""
    there = edit(visit("prices"), {"edited_rows": {0: {"price": "dear"}}})
    edit(there, {"edited_rows": {0: {"price": "12"}}})
    assert "0.1308 EUR/kWh (night)" in there.headline


def test_an_add_on_is_part_of_the_price(visit: Open) -> None:
    """5 ct on weekday evenings, taxed like the rest."""
    change = {"added_rows": [{"name": "network", "price": "5", "days": "mon-fri", "from": "17:00", "to": "19:00"}]}
    there = edit(visit("prices"), change, "tariff_add_on")
    assert "0.3978 EUR/kWh (day)" in there.headline  # 36.5 ct and 9 % are 39.785, to the even one


def test_one_band_is_changed_entry_by_entry(visit: Open) -> None:
    """The entries of a card change the same row."""
    there = visit("prices")
    key = f"prices_{there.work.draft.version}_one_0_price"
    there.at.text_input(key=key).set_value("20")
    there.run()
    assert there.work.draft.table["band"][0]["price"] == 20


@pytest.mark.parametrize(
    ("label", "text", "said"),
    [
        ("Currency", "euro", "three capital letters"),
        ("Unit of the prices", "ct", "kWh"),
        ("Name", "", "is missing"),
        ("Holidays of", "XX", "XX"),
        ("Tax, %", "120", "100 or less"),
    ],
)
def test_entries_of_the_bill_are_checked(visit: Open, label: str, text: str, said: str) -> None:
    """A wrong entry is named where it stands."""
    there = visit("prices").enter(label, text)
    assert said in there.words
    assert there.at.button(key="use_prices").disabled


def test_entries_stay_when_one_comes_back(visit: Open) -> None:
    """Another page in between loses nothing of the draft."""
    there = visit("prices").enter("Name", "Village tariff")
    there.go("").go("prices")
    assert there.work.draft.table["name"] == "Village tariff"
    assert next(field for field in there.at.text_input if field.label == "Name").value == "Village tariff"


def test_a_draft_can_be_dropped(visit: Open) -> None:
    """Back to the tariff on the desk."""
    there = visit("prices").enter("Name", "Village tariff").click("drop_prices")
    assert there.work.draft.table["name"].startswith("Two rates")


def test_without_a_tariff_there_is_one_to_begin_with(visit: Open) -> None:
    """One price for the whole day, in the zone of the place if it is known."""
    there = visit("prices", tariff="none")
    assert "at any time" in there.headline
    assert "No tariff is on the desk" in there.words
    assert tariff_of(there.click("use_prices").work.tariff).name == "My tariff"


def test_text_of_a_tariff_is_never_markup(visit: Open) -> None:
    """A name or unit full of marks is written, not read."""
    there = visit("prices").enter("Name", "![x](http://a.invalid/b) <b>").enter("Unit of the prices", "![y](http://a)")
    assert not any("![x](" in mark.value or "![y](" in mark.value for mark in there.at.markdown)


def test_a_list_of_prices_takes_the_place_of_the_bands(visit: Open) -> None:
    """Columns, clock and step are read off it; the week shows it, and the desk takes it."""
    there = hand_in(visit("prices"), "prices.csv", LIST)
    prices = there.work.draft.table["prices"]
    assert prices == {"file": "prices.csv", "unit": "ct/kWh", "clock": "utc", "step_minutes": 60}
    assert "It covers" in there.words
    assert f"{0.40 * 1.09:.4f} EUR/kWh (Fri 4 Dec 00:00)" in there.headline
    assert "96 h of this week have no price" in there.words
    there.click("use_prices")
    assert there.work.tariff.series[0][0] == "prices.csv"
    assert "price series" in there.go("").words


def test_bands_come_back_when_the_list_goes(visit: Open) -> None:
    """Choosing bands again restores what was there."""
    there = hand_in(visit("prices"), "prices.csv", LIST)
    there.at.segmented_control(key=f"prices_{there.work.draft.version}_from").set_value("Bands by the clock")
    there.run()
    assert not there.work.draft.is_changed


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "no columns with a time and a price"),
        ("price\n1\n", "no columns with a time and a price"),
        ("start,price\n", "no columns with a time and a price"),
        ("start,price\n2026-12-05T00:00Z,x\n", "no column of numbers"),
        ("start,price\nnever,1\n", "no columns with a time and a price"),
        ("start,price\n2026-12-05T00:00Z,1\n2026-12-05T01:00Z,2\n2026-12-05T01:00Z,3\n", "comes within"),
        ("start,price\n2026-12-05T00:00Z,1e308\n2026-12-05T01:00Z,1\n", "no column of numbers"),
        (b"\xff\xfe\x00", "not a text file"),
    ],
)
def test_a_wrong_list_is_named_in_place(visit: Open, content: Any, said: str) -> None:
    """What is wrong with it stands under it, and the desk keeps its tariff."""
    there = hand_in(visit("prices"), "../../prices.csv", content)
    assert said in there.words
    assert there.work.tariff.name == "two_rate"


def test_names_of_uploaded_lists_are_plain(visit: Open) -> None:
    """Folders in a file name go nowhere."""
    there = hand_in(visit("prices"), "../../etc/pa sswd (1).csv", LIST)
    assert there.work.draft.table["prices"]["file"] == "etcpa sswd (1).csv"


def test_stale_prices_say_so(visit: Open) -> None:
    """A tariff that is over, and a list that has ended."""
    there = visit("prices")
    there.work.draft.enter(("valid_to",), date(2026, 1, 31))
    there.work.draft.enter(("valid_from",), date(2026, 1, 1))
    assert "which is past" in there.run().words


@pytest.mark.parametrize(("text", "number"), [("-3,5", Decimal("-3.5")), ("0", 0), ("1_0", "1_0"), ("", "")])
def test_numbers_are_exact(text: str, number: Any) -> None:
    """No float in between; Python's own notation is no number."""
    assert number_or_text(text) == number


FLAT = (
    '[tariff]\nname = "Flat"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
    '[[tariff.band]]\nname = "all"\nprice = 30\n'
)


def test_when_shows_prices_and_costs_of_each_kind_of_day_or_says_that_all_starts_cost_the_same(visit):
    """Two rates: one picture with the strip behind the curve; one rate: a sentence, no picture, no waiting."""
    there = visit("when")
    assert len(there.at.get("vega_lite_chart")) == 1
    assert {one.name for one in there.at.get("vega_lite_chart")[0].proto.datasets} >= {"prices", "costs", "marks"}
    there.work.use_tariff(TariffText(name="flat.toml", text=FLAT))
    there.run()
    assert there.headline.startswith("Every start costs the same: ")
    assert not there.at.get("vega_lite_chart")
    assert not any("cheap" in one.label for one in there.at.expander)
