"""Every page by the rules of WCAG 2 A and AA, as axe checks them, in both themes."""

import re
from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app import brewery, keep
from energyplan.app.main import VIEWS

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
PAGES = tuple(view.title for view in VIEWS)
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "rules": {name: {"enabled": True} for name in ("heading-order", "skip-link", "presentation-role-conflict")},
    "resultTypes": ["violations", "incomplete"],
}
WIDE, PHONE = (1280, 9000), (390, 9000)
PARTS = {"Your brewery": brewery.PARTS, "Keep": keep.PARTS}
# What axe can't decide, by its rule and what its code holds, and why it is no fault. Looked at one by one: 640 words
# of charts, 12 dots, and the empty grid, on both sizes in both themes.
SETTLED = {
    ("color-contrast", "<text"): "words of charts over a picture: their colours are worked out in tests/faces",
    ("color-contrast", ">●</span>"): "the dot of what is assumed: its colours are worked out in tests/faces",
    ("aria-required-children", "<tbody"): "an empty list of prices has a heading and no rows yet",
    ("th-has-data-cells", "<table"): "the same",
}
CLOSED = "[data-testid='stMain'] details:not([open]) > summary"


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_no_page_breaks_a_rule(tab: Open, size: tuple[int, int]) -> None:
    """No violation on any page or part, by day and by night, every fold open; what axe can't decide is settled."""
    there = tab(size=size)
    for name in PAGES:
        there.go(name)
        for part in PARTS.get(name, ("",)):
            if part:
                there.part(part)
            unfold_all(there)
            for scheme in ("light", "dark"):
                in_scheme(there, scheme)
                breaks_nothing(there, (name, part, scheme))


def in_scheme(there: Any, scheme: str) -> None:
    """Show the page by day or by night, as the visitor's machine turns over in the evening."""
    there.page.emulate_media(color_scheme=scheme)
    there.page.wait_for_function(
        "dark => (getComputedStyle(document.querySelector('.stApp')).backgroundColor.match(/\\d+/g)[0] < 128) === dark",
        arg=scheme == "dark",
    )
    there.settled()


def breaks_nothing(there: Any, where: tuple[str, ...]) -> None:
    """Hold what stands on the page against the rules."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(there.page, options=RULES).response
    told = [(rule["id"], [node["html"][:200] for node in rule["nodes"]][:3]) for rule in found["violations"]]
    assert told == [], where
    open_questions = [(rule["id"], node["html"][:200]) for rule in found["incomplete"] for node in rule["nodes"]]
    left = [
        asked for asked in open_questions if not any(asked[0] == name and part in asked[1] for name, part in SETTLED)
    ]
    assert left == [], where


def unfold_all(there: Any) -> None:
    """Open every fold of the page."""
    folds = there.page.locator(CLOSED)
    for _ in range(40):
        if folds.count() == 0:
            there.page.wait_for_timeout(1000)  # what was pale while the page ran again takes its colours
            return
        folds.first.click()
        there.settled()
    raise AssertionError("folds without end")


def test_charts_are_named_for_those_who_hear_them(tab: Open) -> None:
    """The picture of the day has words: what it shows, and where its numbers can be read."""
    there = tab()
    named = there.page.locator("[data-testid='stVegaLiteChart'][aria-label]").first
    named.wait_for()
    words = str(named.get_attribute("aria-label"))
    assert words.startswith("Temperature and mean power over the clock of the day.")
    table = re.search(r"The table (.*) has the numbers", words)
    assert table is not None
    there.page.get_by_role("heading", name=table[1], exact=True).wait_for()


def test_a_keyboard_reaches_pages_and_choices(tab: Open) -> None:
    """Tab and Enter alone open another page."""
    there = tab()
    there.page.keyboard.press("Tab")
    assert there.page.evaluate("document.activeElement.textContent") == "Skip to the answer"
    link = there.page.get_by_role("link", name="Circuit", exact=True)
    for _ in range(12):
        there.page.keyboard.press("Tab")
        if link.evaluate("element => element === document.activeElement"):
            break
    there.page.keyboard.press("Enter")
    there.page.wait_for_url("**/circuit*")


def walk_to(there: Any, said: str, *, most: int = 90) -> None:
    """Press Tab until what is reached says something: its own words, its label, or what it is called."""
    told = ""
    for _ in range(most):
        there.page.keyboard.press("Tab")
        told = there.page.evaluate(REACHED)
        if said in told:
            return
    raise AssertionError(f"{said!r} is not reached by Tab; the last was {told!r}")


@pytest.mark.parametrize("said", ["Oat stout", "Start 08:30", "somebody there", "values are assumed"])
def test_a_box_of_the_bar_is_entered_by_keys_and_stands_in_view(tab: Open, said: str) -> None:
    """Enter opens and fills it, and the next key is its own; Escape leads back to its button."""
    there = tab(size=PHONE)
    walk_to(there, said)
    there.page.keyboard.press("Enter")
    there.page.wait_for_function(f"document.activeElement.closest({BOX!r})")
    there.settled()
    low, high, seen = there.page.evaluate(f"""() => {{
      const box = document.querySelector({BOX!r}).getBoundingClientRect()
      return [box.top, box.bottom, innerHeight] }}""")
    assert 0 <= low < high <= seen
    there.page.keyboard.press("Escape")
    there.page.wait_for_function("document.activeElement.dataset.testid === 'stPopoverButton'")
    assert there.page.locator(BOX).count() == 0


BOX = "[data-testid='stPopoverBody']"
REACHED = """() => { const one = document.activeElement
  const own = one.matches("a, button, input, textarea, [role]") ? one.innerText : ""
  return [own, one.ariaLabel, ...[...(one.labels ?? [])].map(label => label.innerText)].join(" | ") }"""
SEVEN = (
    ("1. Your vessel holds", "35"), ("2. Its elements together", "2500"), ("at", "230"),
    ("3. Water at the start", "24"), ("4. Grain", "4,6"), ("5. Boil", "60"), ("6. Breaker", "16"),
    ("7. A kWh costs", "0,31"),
)  # fmt: skip


def test_keys_alone_lead_from_enter_mine_to_the_sheet(tab: Open) -> None:
    """Tab, letters, arrows and Enter: the card, one's own day, Keep, the PDF; nothing is clicked."""
    there = tab()
    keys = there.page.keyboard
    walk_to(there, "Enter mine")
    keys.press("Enter")
    there.shows("1. Your vessel holds")
    there.settled()
    there.page.evaluate("document.querySelector('h1').focus()")
    for label, text in SEVEN:
        walk_to(there, label)
        keys.press("Control+A")
        keys.type(text)
    walk_to(there, "Show my day")
    keys.press("Enter")
    there.page.get_by_role("button", name="My brew day").wait_for()
    there.settled()
    there.page.evaluate("document.activeElement.blur(); window.scrollTo(0, 0)")
    there.page.locator("#skip-link").focus()
    walk_to(there, "Keep")
    keys.press("Enter")
    there.page.wait_for_url("**/keep*")
    there.settled()
    walk_to(there, "Days")
    keys.press("ArrowRight")
    keys.press("Space")
    there.shows("The sheets (PDF)")
    there.settled()
    walk_to(there, ".pdf")
    with there.page.expect_download() as waiting:
        keys.press("Enter")
    assert waiting.value.suggested_filename == "My-brew-day.pdf"


def test_a_table_s_tools_leave_its_titles_free(tab: Open) -> None:
    """Without a mouse they stand there all the time: above the row of titles."""
    there = tab(size=PHONE).go("Circuit")
    there.page.locator("[data-testid='stDataFrame']").first.wait_for()
    overlaps = there.page.evaluate(
        "() => [...document.querySelectorAll('.stMain [data-testid=stDataFrame]')].map(one => "
        "one.closest('[data-testid=stElementContainer]').querySelector('[data-testid=stElementToolbar]')"
        ".getBoundingClientRect().bottom - one.getBoundingClientRect().top)"
    )
    assert overlaps
    assert max(overlaps) < 3


def test_what_is_chosen_shows_where_the_machine_s_colours_rule(tab: Open) -> None:
    """Forced colours take the ground from a chosen button and from a switch; both still tell what they are."""
    there = tab().go("Circuit")
    there.page.emulate_media(forced_colors="active")
    ground = "one => getComputedStyle(one).backgroundColor"
    chosen, other = (there.page.get_by_role("radio", name=name) for name in ("°C, L", "°F, gal"))
    assert chosen.evaluate(ground) != other.evaluate(ground)
    switch = there.page.locator("[data-testid='stCheckbox'] label > div").first
    paper = there.page.locator(".stApp").evaluate(ground)
    assert switch.evaluate(ground) not in (paper, "rgba(0, 0, 0, 0)")


def test_paper_gets_the_answer_without_the_bar(tab: Open) -> None:
    """What is pressed is no part of a print."""
    there = tab()
    there.page.emulate_media(media="print")
    assert there.page.locator("h1").is_visible()
    assert not there.page.get_by_role("link", name="Circuit", exact=True).is_visible()
    assert not there.page.get_by_role("button", name="Enter mine").is_visible()


LEAST = 3  # WCAG 2.2, 1.4.11: what shows where the focus is, against the ground
PALE = """colour => colour.match(/\\d+/g).slice(0, 3).map(one => one / 255)
  .map(one => one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4)
  .reduce((sum, one, place) => sum + one * [0.2126, 0.7152, 0.0722][place], 0.05)"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_ring_of_the_focus_shows_in_both_themes(tab: Open, scheme: str) -> None:
    """Its colour is that of the theme, and far enough from the ground."""
    there = tab(scheme=scheme)
    walk_to(there, "Circuit")
    ring, ground = there.page.evaluate(f"""() => {{
      const pale = {PALE}
      return [getComputedStyle(document.activeElement).outlineColor,
        getComputedStyle(document.querySelector(".stApp")).backgroundColor].map(pale) }}""")
    assert max(ring, ground) / min(ring, ground) > LEAST


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_button_that_waits_can_be_read(tab: Open, scheme: str) -> None:
    """What can't be pressed yet says what it is all the same: its words are not those of the ground of one that can."""
    there = tab(scheme=scheme).go("Your brewery").part("Prices")
    waiting = there.page.get_by_role("button", name="Use these prices")
    assert waiting.is_disabled()
    words, ground = waiting.evaluate(f"""one => {{
      const pale = {PALE}
      return [getComputedStyle(one.querySelector("p")).color,
        getComputedStyle(document.querySelector(".stApp")).backgroundColor].map(pale) }}""")
    assert max(words, ground) / min(words, ground) > LEAST / 2
