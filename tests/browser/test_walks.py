"""Walks through the app as brewers go, in a real browser."""

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from energyplan.logfile import demo_logs
from energyplan.planfile import parse_plan, plan_to_toml, read_plan

if TYPE_CHECKING:
    from playwright.sync_api import Download

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
PAGES = ("The day", "When", "Circuit", "Power", "Worth changing", "Your vessel", "Set-up", "Take along")
PHONE = (390, 844)


def test_the_first_visit_shows_the_answer_and_the_day(tab: Open) -> None:
    """Sentences first, then the chart with its clock, then the table."""
    first = tab()
    assert "kWh" in first.headline
    assert "EUR" in first.headline
    shown = first.page.inner_text("[data-testid='stMain']")
    assert "Within the ratings you entered" in shown or "Over" in shown
    chart = first.page.locator("[data-testid='stVegaLiteChart'] svg").first
    chart.wait_for()
    assert "09:00" in str(chart.text_content())
    assert first.page.locator("[data-testid='stDataFrame']").count() >= 3


def test_a_step_changed_in_the_table_changes_the_energy(tab: Open) -> None:
    """The hold of the mash, typed into its cell, moves the first sentence; Undo moves it back."""
    there = tab().go("Set-up")
    before = there.headline
    grid = there.page.locator("[data-testid='stDataFrame']").nth(1).locator(".dvn-scroller")
    grid.scroll_into_view_if_needed()
    grid.click(position={"x": 120, "y": 45})
    there.page.keyboard.press("Control+Home")
    there.page.keyboard.press("ArrowDown")
    for _ in range(5):
        there.page.keyboard.press("ArrowRight")
    there.page.keyboard.press("Enter")
    cell = there.page.locator("#portal textarea, #portal input").first
    cell.fill("120 min")
    there.page.keyboard.press("Enter")
    there.until_not(before)
    assert "unsaved" in there.page.inner_text("[data-testid='stMain']")
    there.page.get_by_role("button", name="Undo").click()
    there.until(before)


def test_a_step_changed_by_its_entry_changes_the_energy(tab: Open) -> None:
    """The same by the entries of one step, which is how a phone does it."""
    there = tab(size=PHONE).go("Set-up")
    before = there.headline
    there.page.get_by_text("This step, entry by entry").click()
    there.enter("Hold", "90 min").until_not(before)
    assert there.headline > before


def switched_plan() -> str:
    """The demo on a vessel whose elements are switched: a lower cap has fewer of them on."""
    demo = read_plan("demo")
    vessel = demo.vessel.model_copy(update={"control": "switched"})
    steps = tuple(
        step.model_copy(update={"hold_power_w": 1800.0 if step.boil else 1000.0 if step.hold_s else None})
        for step in demo.steps
    )
    return plan_to_toml(demo.model_copy(update={"vessel": vessel, "steps": steps}))


def open_plan(there: Any, text: str) -> None:
    """Open a plan file by the button with the plan's name."""
    there.page.get_by_role("button", name="Oat stout").click()
    given = {"name": "mine.toml", "mimeType": "application/toml", "buffer": text.encode()}
    there.page.locator("input[type='file']").first.set_input_files(given)
    there.page.wait_for_function(
        "words => [...document.querySelectorAll('input')].some(one => one.placeholder === words && one.value === '')",
        arg="A plan of your own is open",
    )
    there.page.keyboard.press("Escape")
    there.settled()


def test_a_circuit_that_goes_over_is_mended_with_the_advised_powers(tab: Open) -> None:
    """On a breaker of 12 A the ramps are over; with the powers that are advised for them nothing is."""
    there = tab()
    open_plan(there, switched_plan())
    there.go("Set-up").enter("Breaker", "12 A")
    there.page.get_by_text("Over:").first.wait_for()
    there.go("Circuit").until("Over:")
    there.page.get_by_role("button", name="Take these ramp powers").click()
    there.until("Within the ratings you entered")


def test_the_best_start_is_chosen(tab: Open) -> None:
    """From the heat map to the day, which begins then; the address can be shared."""
    there = tab().go("When")
    best = there.headline.split(":")[0] + ":" + there.headline.split(":")[1]
    clock = best.removeprefix("Start at ").split(" ")[0]
    there.page.get_by_role("button", name="Start then").click()
    there.settled()
    there.go("The day").until(f"start at {clock}")
    assert f"at={clock.replace(':', '%3A')}" in there.page.evaluate("location.href")


def test_a_log_is_uploaded_and_its_fit_taken_over(tab: Open) -> None:
    """The cool-down measures the loss; the plan takes it, and estimates no more."""
    there = tab().go("Your vessel")
    log = {"name": "cool-down.csv", "mimeType": "text/csv", "buffer": demo_logs()["cool-down"].encode()}
    there.page.locator("[data-testid='stMain'] input[type='file']").first.set_input_files(log)
    there.until("Measured:")
    there.page.locator("[data-testid='stVegaLiteChart'] svg").first.wait_for()
    there.page.get_by_role("button", name="Take these numbers into the plan").click()
    there.settled()
    there.go("The day")
    assert "The heat loss is estimated" not in there.page.inner_text("[data-testid='stMain']")
    assert "unsaved" in there.page.inner_text("[data-testid='stMain']")


def saved(there: Any, button: str) -> "Download":
    """Press a button that saves a file."""
    with there.page.expect_download() as waiting:
        there.page.get_by_role("button", name=button, exact=True).click()
    return waiting.value


def bytes_of(download: "Download") -> bytes:
    """Content of a saved file."""
    return Path(str(download.path())).read_bytes()


def test_a_plan_is_saved_and_opened_again_identical(tab: Open) -> None:
    """Change, save, come back in a new session, open the file: the same plan, and nothing unsaved."""
    there = tab().go("Set-up").enter("Water at the start", "28.5 L").until("kWh")
    there.page.get_by_text("unsaved").first.wait_for()
    there.go("Take along")
    text = bytes_of(saved(there, "Save the plan")).decode()
    assert parse_plan(text).batch.water_l == 28.5
    there.page.get_by_text("unsaved").first.wait_for(state="detached")
    again = tab()
    open_plan(again, text)
    again.go("Take along")
    assert bytes_of(saved(again, "Save the plan")).decode() == text


def test_every_file_can_be_saved_and_read(tab: Open) -> None:
    """PDF, calendar, table, picture and drawing come out as what they say."""
    import icalendar
    import pypdf

    there = tab().go("Take along")
    assert len(pypdf.PdfReader(io.BytesIO(bytes_of(saved(there, "Save demo.pdf")))).pages) >= 2
    assert icalendar.Calendar.from_ical(bytes_of(saved(there, "Save demo.ics"))).walk("VEVENT")
    rows = list(csv.DictReader(io.StringIO(bytes_of(saved(there, "Save demo.csv")).decode())))
    assert rows[0]["step"] == read_plan("demo").steps[0].name
    assert bytes_of(saved(there, "Save demo.png")).startswith(b"\x89PNG")
    assert b"<svg" in bytes_of(saved(there, "Save demo.svg"))[:200]


def test_us_units_and_back(tab: Open) -> None:
    """The switch changes what is written, at once and without loss."""
    there = tab()
    before = there.headline
    there.page.get_by_text("°F, gal").click()
    there.page.locator("[data-testid='stVegaLiteChart']").get_by_text("Temperature, °F").first.wait_for()
    assert there.headline == before
    there.page.get_by_text("°C, L").click()
    there.page.locator("[data-testid='stVegaLiteChart']").get_by_text("Temperature, °C").first.wait_for()
    assert "unsaved" not in there.page.inner_text("[data-testid='stMain']")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_scrolls_sideways_on_a_phone(tab: Open, scheme: str) -> None:
    """At 390 px nothing reaches over the edge."""
    there = tab(size=PHONE, scheme=scheme)
    for name in PAGES:
        there.go(name)
        wide, seen = there.page.evaluate(
            "() => { const main = document.querySelector('[data-testid=stMain]');"
            " return [main.scrollWidth, main.clientWidth] }"
        )
        assert wide <= seen, name
        assert there.page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], name


def test_dark_charts_are_drawn_in_the_dark_set(tab: Open) -> None:
    """The colours of the phases are the lighter ones."""
    from energyplan.report.palette import PHASE_COLOURS_DARK

    there = tab(scheme="dark")
    drawn = there.page.locator("[data-testid='stVegaLiteChart'] svg").first
    drawn.wait_for()
    fills = drawn.evaluate("svg => [...svg.querySelectorAll('path')].map(path => path.getAttribute('fill'))")
    assert {colour.lower() for colour in PHASE_COLOURS_DARK.values()} <= {str(fill).lower() for fill in fills}
