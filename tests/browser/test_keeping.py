"""What the browser keeps: over a reload, apart from others, and when it can't."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

from energyplan.app.main import VIEWS

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
PHONE = (390, 844)
SEVEN = {
    "1. Your vessel holds, up to the rim": "35", "2. Its elements together": "2500", "at": "230",
    "3. Water at the start": "24", "4. Grain, or 0 for none": "4,6", "5. Boil": "60", "6. Breaker": "16",
    "7. A kWh costs": "0,31",
}  # fmt: skip


def enter_mine(there: Any, *, by_tap: bool = False) -> None:
    """The card of a first visit, filled in; by fingers on glass alone."""

    def press(place: Any) -> None:
        place.tap() if by_tap else place.click()

    press(there.page.get_by_role("button", name="Enter mine"))
    for label, text in SEVEN.items():
        press(there.page.get_by_label(label, exact=True))
        there.page.keyboard.press("Control+A")
        there.page.keyboard.type(text)
    press(there.page.get_by_role("button", name="Show my day"))
    there.page.get_by_role("button", name="My brew day").wait_for()
    there.settled()


def reloaded(there: Any) -> Any:
    """The same tab after F5."""
    there.page.reload()
    there.page.wait_for_selector("h1")
    there.settled()
    return there


@pytest.mark.parametrize("size", [(1280, 900), PHONE])
def test_seven_entries_lead_to_ones_own_day(tab: Open, size: tuple[int, int]) -> None:
    """From the invented day to the first own answer; the rest is counted as assumed."""
    there = tab(size=size)
    assert "You see an invented day" in there.page.inner_text("[data-testid='stMain']")
    before = there.headline
    enter_mine(there, by_tap=size == PHONE)
    assert there.headline != before
    assert "EUR" in there.headline
    shown = there.page.inner_text("[data-testid='stMain']")
    assert "values are assumed" in shown
    assert "You see an invented day" not in shown


def test_a_slip_on_the_card_loses_nothing(tab: Open) -> None:
    """A breaker in kilograms is named; the other entries stand as typed, and the mended card goes through."""
    there = tab()
    there.page.get_by_role("button", name="Enter mine").click()
    for label, text in {**SEVEN, "6. Breaker": "16 kg"}.items():
        there.page.get_by_label(label, exact=True).fill(text)
    there.page.get_by_role("button", name="Show my day").click()
    there.shows("One more look")
    assert there.page.get_by_label("4. Grain, or 0 for none", exact=True).input_value() == "4,6"
    there.page.get_by_label("6. Breaker", exact=True).fill("16")
    there.page.get_by_role("button", name="Show my day").click()
    there.page.get_by_role("button", name="My brew day").wait_for()


def test_a_reload_of_every_page_loses_nothing(tab: Open) -> None:
    """Own plan, prices and a day that was put by are there after F5 on each page."""
    there = tab()
    enter_mine(there)
    mine = there.headline
    there.go("Keep")
    there.page.get_by_role("button", name="Put this day by").click()
    there.shows("One day is put by.")
    for view in VIEWS:
        reloaded(there.go(view.title))
        assert there.page.get_by_role("button", name="My brew day").count() == 1, view.title
        assert there.page.get_by_role("button", name="Your prices").count() == 1, view.title
    assert "One day is put by." in there.headline
    assert there.go("Day").headline == mine


def test_two_visitors_never_share(tab: Open) -> None:
    """What one keeps, another browser doesn't see."""
    one, other = tab(), tab()
    enter_mine(one)
    assert "You see an invented day" in reloaded(other).page.inner_text("[data-testid='stMain']")
    assert other.page.evaluate("localStorage['energyplan.desk']").count("My brew day") == 0


def test_undo_brings_back_days_prices_and_start(tab: Open) -> None:
    """One step each: the day that was removed, the day before one's own."""
    there = tab()
    before = there.headline
    enter_mine(there)
    there.go("Keep")
    there.page.get_by_role("button", name="Put this day by").click()
    there.shows("One day is put by.")
    there.page.get_by_role("button", name="Remove").click()
    there.shows("No day is put by yet.")
    there.page.get_by_role("button", name="Undo").click()
    there.shows("One day is put by.")
    there.page.get_by_role("button", name="Undo").click()
    there.shows("No day is put by yet.")
    there.page.get_by_role("button", name="Undo").click()
    there.page.get_by_role("button", name="Oat stout").wait_for()
    assert there.go("Day").headline == before


BLOCKED = "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError') } })"
OLDER = "localStorage.setItem('energyplan.desk', JSON.stringify({ schema: 1 }))"
FULL = "Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError') }"


@pytest.mark.parametrize(
    ("script", "says"),
    [(BLOCKED, "keeps nothing"), (OLDER, "can't be read by this version"), (FULL, "storage is full")],
)
def test_storage_that_fails_is_a_sentence(server: str, browser: "Browser", script: str, says: str) -> None:
    """Blocked, of another version, or full: the day is answered all the same, and the page says so."""
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script(script)
    page.goto(f"{server}/?day=2026-12-05&at=08:30")
    page.get_by_text(says).first.wait_for(timeout=30_000)
    assert "kWh" in page.inner_text("h1")
    page.wait_for_timeout(2000)  # it stays, although writing goes well where it does
    assert page.get_by_text(says).count() == 1
    context.close()


NO_ROOM_FOR_DAYS = """
const set = Storage.prototype.setItem
Storage.prototype.setItem = function (name, text) {
  if (name.startsWith("energyplan.day.") && !window.room) throw new DOMException("full", "QuotaExceededError")
  set.call(this, name, text)
}"""
RUNS = """() => new Promise(told => {
  let runs = 0
  const seen = new MutationObserver(() => runs++)
  seen.observe(document.querySelector(".stApp"), { attributeFilter: ["data-test-script-state"] })
  setTimeout(() => { seen.disconnect(); told(runs) }, 2000)
})"""


def test_storage_that_is_full_for_one_part_says_so_and_rests(tab: Open) -> None:
    """The desk is kept, a day that was put by is not; the page doesn't run again and again over it."""
    there = tab()
    there.page.evaluate(f"() => {{{NO_ROOM_FOR_DAYS}}}")
    there.go("Keep").page.get_by_role("button", name="Put this day by").click()
    there.shows("storage is full")
    there.settled()
    assert there.page.evaluate(RUNS) == 0
    there.page.evaluate("window.room = true")
    there.page.get_by_role("button", name="Put this day by").click()
    there.page.get_by_role("button", name="Duplicate").first.click()
    there.page.get_by_text("storage is full").first.wait_for(state="detached")
    assert there.page.evaluate("Object.keys(localStorage).filter(name => name.includes('.day.')).length") == 2


def test_two_tabs_of_one_browser_keep_their_desks_and_share_the_drawer(tab: Open) -> None:
    """After F5 each shows its own day; what either put by is there in both, and none writes over the other's."""
    one = tab()
    other = type(one)(one.page.context.new_page(), one.server).open()
    enter_mine(one)
    one.go("Keep").page.get_by_role("button", name="Put this day by").click()
    one.shows("One day is put by.")
    other.go("Keep").enter("Name", "Theirs").page.get_by_role("button", name="Put this day by").click()
    other.shows("One day is put by.")
    other.page.get_by_role("button", name="Keep this brewery").click()
    other.shows("The day on the desk is brewed in the brewery that you keep")
    kept = one.page.evaluate("localStorage['energyplan.brewery']")
    one.go("Day").go("Keep")  # what it wrote before is not written again
    one.page.get_by_role("button", name="Duplicate").click()
    one.shows("2 days are put by.")
    assert one.page.evaluate("localStorage['energyplan.brewery']") == kept
    reloaded(one).shows("3 days are put by.")
    assert one.page.get_by_role("button", name="My brew day").count() == 1
    assert one.page.get_by_text("This link left out").count() == 0
    reloaded(other).shows("3 days are put by.")
    assert other.page.get_by_role("button", name="Oat stout").count() == 1
