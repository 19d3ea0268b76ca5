"""Tests of what a browser hands in: read part by part, never thrown away unread, never a page that fails."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app.answers import BrewedText, brewed_text, tariff_of
from energyplan.app.firstcard import Entries, own_day
from energyplan.app.state import tomorrow
from energyplan.app.storage import BREWED, SCHEMA, Kept, Storage, kept_texts
from energyplan.plan.brewery import brewed_day
from tests.app.test_first_visit import SEVEN

Open = Callable[..., Any]
Change = Callable[[dict[str, Any]], Any]
START = {"day": "2026-12-05", "at": "08:30"}
TARIFF = {"name": "x", "text": "", "is_packaged": True, "series": []}


def brewed(plan: Any, day: str) -> BrewedText:
    """A brewed day."""
    read = {"date": day, "start": f"{day}T08:30", "plan": "x.toml", "readings": {"Boil": "5 kWh"}}
    return brewed_text(plan, brewed_day(read))


@pytest.fixture
def kept(visit: Open) -> dict[str, str]:
    """What a browser keeps of a visitor with a day, a brewery, two days put by and two brewed."""
    work = visit(boxes=False).work
    work.open(own_day(Entries(**SEVEN), work.day, "Europe/Dublin"), keeps_brewery=True)
    work.put_by({"Stout": work.day, "Märzen 🍺": work.day})
    for day in ("2026-10-03", "2026-11-07"):
        work.keep_brewed(brewed(work.plan, day))
    return {name: text for name, text in kept_texts(work, START).items() if text is not None}


def with_json(text: str, change: Change) -> str:
    """A text with something in it changed."""
    found = json.loads(text)
    change(found)
    return json.dumps(found)


NAMES = {"Stout", "Märzen 🍺"}


def test_all_of_it_comes_back(visit: Open, kept: dict[str, str]) -> None:
    """As it was left; and nothing is said."""
    there = visit(kept=kept, boxes=False)
    assert there.work.plan.title == "My brew day"
    assert there.work.tariff.name == "your prices"
    assert {name for name, _ in there.work.lying.drawer} == NAMES
    assert len(there.work.lying.brewed) == 2
    assert there.at.session_state["storage"].says == ""


BROKEN: dict[str, Change] = {
    "another version": lambda desk: desk.update(schema=SCHEMA + 1),
    "no start": lambda desk: desk["day"].pop("wall"),
    "no plan": lambda desk: desk["day"].update(plan="x"),
    "odd marks": lambda desk: desk["day"].update(entered=[1]),
}


@pytest.mark.parametrize("how", [*BROKEN, "no JSON", "no table"])
def test_a_day_that_can_t_be_read_takes_nothing_with_it(visit: Open, kept: dict[str, str], how: str) -> None:
    """Days put by, brewed days and the brewery stay; the sentence stays too, until something else is to be said."""
    texts = {"no JSON": "{{{", "no table": "[]"}
    broken = texts[how] if how in texts else with_json(kept["desk"], BROKEN[how])
    there = visit(kept={**kept, "desk": broken}, boxes=False)
    store: Storage = there.at.session_state["storage"]
    assert {name for name, _ in there.work.lying.drawer} == NAMES
    assert len(there.work.lying.brewed) == 2
    assert there.work.lying.brewery is not None
    assert [name for name, text in store.written.items() if text is None] == []
    assert "can't be read by this version" in there.run().at.warning[0].value


@pytest.mark.parametrize(
    "prices",
    ["{{{", "[]", json.dumps({**TARIFF, "name": "no such"}), json.dumps({**TARIFF, "text": "x", "is_packaged": False})],
)
def test_prices_that_can_t_be_read_cost_no_day(visit: Open, kept: dict[str, str], prices: str) -> None:
    """The day comes without a cost, on every page, and the page says so; it never fails at every reload."""
    there = visit(kept={**kept, "prices": prices}, boxes=False)
    assert (there.work.plan.title, there.work.tariff) == ("My brew day", None)
    assert "can't be read by this version" in there.at.warning[0].value
    for page in ("when", "your-brewery", "keep"):
        there.go(page)


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("day.Stout", lambda one: one["day"].pop("wall")),
        ("day.Stout", lambda one: one.update(prices={**TARIFF, "name": "no such"})),
        ("brewery", lambda one: one.update(toml="[[")),
        ("brewery", lambda one: one.update(prices={**TARIFF, "name": "no such"})),
        ("brewed.2026-10-03", lambda one: one.update(days=None)),
        ("brewed.2026-10-03", lambda one: one["days"][0].update(read="x")),
    ],
)
def test_what_this_version_can_t_read_is_left_for_another(
    visit: Open, kept: dict[str, str], name: str, change: Change
) -> None:
    """It is neither shown nor thrown away, and the rest is as it was."""
    there = visit(kept={**kept, name: with_json(kept[name], change), "later": "x"}, boxes=False)
    store: Storage = there.at.session_state["storage"]
    assert there.work.plan.title == "My brew day"
    assert "can't be read by this version" in there.at.warning[0].value
    for page in ("keep", "your-brewery"):
        there.go(page)
    assert [one for one, text in store.written.items() if text is None] == []


def test_a_word_that_nobody_knows_is_no_error(visit: Open, kept: dict[str, str]) -> None:
    """What a link is said to have left out is one of few words."""
    desk = with_json(kept["desk"], lambda one: one.update(borrowed=["plan", "x"]))
    assert visit(kept={**kept, "desk": desk}, boxes=False).work.borrowed == ("plan",)


def test_a_link_is_laid_over_all_that_was_kept(visit: Open, kept: dict[str, str]) -> None:
    """Somebody's day, beside one's own drawer; Undo brings one's own day back."""
    there = visit(kept=kept, boxes=False, plan="lakeside")
    assert {name for name, _ in there.work.lying.drawer} == NAMES
    assert there.click("undo").work.plan.title == "My brew day"


def test_brewed_days_lie_apart_so_that_two_tabs_don_t_write_over_each_other(visit: Open, kept: dict[str, str]) -> None:
    """One text for each date; those of an earlier version, all in one, are read and taken apart."""
    parts = {name: json.loads(text) for name, text in kept.items() if name.startswith(BREWED)}
    assert sorted(parts) == ["brewed.2026-10-03", "brewed.2026-11-07"]
    one, *_ = parts.values()
    older = {"plans": one["plans"], "days": [day for part in parts.values() for day in part["days"]]}
    apart = {name: text for name, text in kept.items() if name not in parts}
    there = visit(kept={**apart, "brewed": json.dumps(older)}, boxes=False)
    assert [one.day.date.isoformat() for one in there.work.lying.brewed] == ["2026-10-03", "2026-11-07"]
    written = there.at.session_state["storage"].written
    assert written["brewed"] is None
    assert sorted(name for name in written if name.startswith(BREWED)) == sorted(parts)


def test_each_part_tells_its_own_trouble() -> None:
    """A day too large for what room is left is said, though the desk is kept; and once it is written, no more."""
    store = Storage(found=Kept(texts={}))
    store.troubles["desk"] = ""
    store.troubles["day"] = "full"
    assert "full" in store.says
    assert not store.keeps
    store.troubles["day"] = ""
    assert (store.says, store.keeps) == ("", True)


def test_the_days_of_the_past_and_of_a_far_future_are_no_error(visit: Open, kept: dict[str, str]) -> None:
    """Whatever start was kept, the page says what it can."""
    for wall in ("0001-01-01T00:00:00", "9999-12-31T23:00:00", f"{tomorrow()}T08:30:00"):
        desk = with_json(kept["desk"], lambda one, wall=wall: one["day"].update(wall=wall))  # type: ignore[misc]
        assert visit(kept={**kept, "desk": desk}).headline


def test_prices_on_the_desk_can_be_read(visit: Open) -> None:
    """Those of the card, too."""
    work = visit(boxes=False).work
    day = own_day(Entries(**{**SEVEN, "price": "0,31"}), work.day, "Europe/Dublin")
    assert day.tariff is not None
    assert tariff_of(day.tariff).name == "Your prices"


def test_a_link_over_a_day_of_one_s_own_puts_that_by(visit: Open, kept: dict[str, str]) -> None:
    """It is not lost with the tab; a second link puts nothing by twice, and a name that is taken gets a number."""
    there = visit(kept=kept, boxes=False, plan="lakeside")
    drawer = dict(there.work.lying.drawer)
    assert set(drawer) == NAMES  # it was there already, by another name
    desk = with_json(kept["desk"], lambda one: one["day"].update(wall="2026-12-09T07:00:00"))
    for taken in ("My brew day", "day"):
        there = visit(kept={**kept, "desk": desk, f"day.{taken}": kept["day.Stout"]}, boxes=False, plan="lakeside")
        name = "My brew day (2)" if taken == "My brew day" else "My brew day"
        assert dict(there.work.lying.drawer)[name].wall.day == 9


def test_a_link_over_an_invented_day_puts_nothing_by(visit: Open) -> None:
    """Who only looked around has nothing to lose."""
    looked = kept_texts(visit(boxes=False).work, START)
    there = visit(kept={name: text for name, text in looked.items() if text}, boxes=False, plan="lakeside")
    assert there.work.lying.drawer == ()


def test_one_s_own_old_address_shows_one_s_own_day(visit: Open, kept: dict[str, str]) -> None:
    """A bookmark of last week says that it left the plan out; the plan is here."""
    there = visit(kept=kept, boxes=False, day="2026-11-28", without="plan-prices")
    assert there.work.plan.title == "My brew day"
    assert there.work.borrowed == ("plan", "prices")


def test_prices_that_are_not_on_the_desk_yet_are_kept_too(visit: Open, kept: dict[str, str]) -> None:
    """Half a tariff, typed in before a reload, stands in the form after it, with what is wrong in it."""
    there = visit("your-brewery", kept=kept, boxes=False)
    there.at.segmented_control(key="part_your-brewery").set_value("Prices")
    there.run().enter("Name", "My bill").enter("Charge for a day, EUR", "much")
    texts = there.at.session_state["storage"].texts()
    again = visit("your-brewery", kept=texts, boxes=False, without="plan-prices")
    again.at.segmented_control(key="part_your-brewery").set_value("Prices")
    again.run()
    assert again.work.draft.table["name"] == "My bill"
    assert "Mend what is marked" in again.words
    assert again.work.tariff.name == "your prices"
    again.enter("Charge for a day, EUR", "0,5").click("use_prices")
    assert "draft" not in again.run().at.session_state["storage"].texts()
    for broken in ("{{{", "[]", '{"toml": "x", "series": []}', '{"toml": "tariff = 3", "series": []}'):
        assert visit(kept={**kept, "draft": broken}, boxes=False).work.draft is None


def test_a_day_that_lies_back_is_offered_for_tomorrow(visit: Open, kept: dict[str, str]) -> None:
    """Opened again a week later, the page says so; today's day and tomorrow's are left alone."""
    desk = with_json(kept["desk"], lambda one: one["day"].update(wall="2024-02-29T07:15:00"))
    there = visit(kept={**kept, "desk": desk}, boxes=False)
    assert "This start was on Thu 29 Feb 2024" in there.words
    there.click("start_tomorrow")
    assert there.work.wall.time().isoformat() == "07:15:00"
    assert abs((there.work.wall.date() - tomorrow()).days) <= 1  # that of the brewery's clock
    assert "This start was on" not in there.words
    there.click("undo")
    assert "This start was on" in there.words
