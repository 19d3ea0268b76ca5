"""Every page by the rules of WCAG 2 A and AA, as axe checks them, in both themes."""

from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app.main import VIEWS

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
PAGES = tuple(view.title for view in VIEWS)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"], "resultTypes": ["violations"]}
TALL = (1280, 6000)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_a_rule(tab: Open, scheme: str) -> None:
    """No violations on any page, all of it in view."""
    from axe_playwright_python.sync_playwright import Axe

    there = tab(size=TALL, scheme=scheme)
    for name in PAGES:
        there.go(name)
        found = Axe().run(there.page, options=RULES).response["violations"]
        told = [(rule["id"], [node["html"][:200] for node in rule["nodes"]][:3]) for rule in found]
        assert told == [], name


def test_charts_are_named_for_those_who_hear_them(tab: Open) -> None:
    """The picture of the day has words, with the energy in them."""
    there = tab()
    named = there.page.locator("[data-testid='stVegaLiteChart'][aria-label]").first
    named.wait_for()
    assert "kWh" in str(named.get_attribute("aria-label"))


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
