"""Walks through the app as brewers go, in a real browser."""

import csv
import io
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from energyplan.advice.power import advise
from energyplan.app.main import VIEWS
from energyplan.app.rows import STEPS
from energyplan.day.brewday import simulate
from energyplan.learning.logfile import demo_logs
from energyplan.plan.file import parse_plan, plan_to_toml, read_plan

if TYPE_CHECKING:
    from playwright.sync_api import Download

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
PAGES = tuple(view.title for view in VIEWS)
PHONE = (390, 844)
PHASES = ("ramp", "hold", "boil", "pause")  # of the demo
START = "day=2026-12-05&at=08:30"


def test_the_first_visit_shows_the_answer_and_the_day(tab: Open) -> None:
    """Sentences first, then the chart with its clock, then the table."""
    first = tab()
    assert "kWh" in first.headline
    assert "EUR" in first.headline
    shown = first.page.inner_text("[data-testid='stMain']")
    assert "within the ratings you entered" in shown or "Over" in shown
    chart = first.page.locator("[data-testid='stVegaLiteChart'] svg").first
    chart.wait_for()
    assert "09:00" in str(chart.text_content())
    first.page.locator("[data-testid='stDataFrame']").nth(1).wait_for(state="attached")


def test_a_step_changed_in_the_table_changes_the_energy(tab: Open) -> None:
    """The hold of the mash, typed into its cell, moves the first sentence; Undo moves it back."""
    there = tab().unfold("Batch and steps")
    before = there.headline
    grid = there.page.locator("[data-testid='stDataFrame']").first.locator(".dvn-scroller")
    grid.click(position={"x": 120, "y": 45})
    there.page.keyboard.press("Control+Home")
    there.page.keyboard.press("ArrowDown")
    for _ in range([column.key for column in STEPS.columns].index("hold")):
        there.page.keyboard.press("ArrowRight")
    there.page.keyboard.press("Enter")
    cell = there.page.locator("#portal textarea, #portal input").first
    cell.fill("120 min")
    there.page.keyboard.press("Enter")
    there.until_not(before)
    there.page.get_by_role("button", name="Undo").click()
    there.until(before)


def test_a_step_changed_by_its_entry_changes_the_energy(tab: Open) -> None:
    """The same by the entries of one step, which is how a phone does it."""
    there = tab(size=PHONE).unfold("Batch and steps")
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


def over_while_holding() -> str:
    """A mash on switched elements that holds with all of them, on a breaker of 10 A."""
    demo = read_plan("demo")
    assert demo.circuit is not None
    mash = tuple(step.model_copy(update={"ramp_power_w": 1800.0, "hold_power_w": None}) for step in demo.steps[:3])
    batch = demo.batch.model_copy(update={"sparge_water_l": 0.0, "sparge_temperature_c": None, "gravity": None})
    return plan_to_toml(
        demo.model_copy(
            update={
                "vessel": demo.vessel.model_copy(update={"control": "switched"}),
                "steps": mash,
                "batch": batch,
                "second_heater": None,
                "circuit": demo.circuit.model_copy(update={"breaker_a": 10.0}),
            }
        )
    )


def open_plan(there: Any, text: str) -> None:
    """Open a plan file by the button with the plan's name."""
    there.page.get_by_role("button", name="Oat stout").click()
    given = {"name": "mine.toml", "mimeType": "application/toml", "buffer": text.encode()}
    there.page.locator("input[type='file']").first.set_input_files(given)
    there.page.get_by_role("button", name="Undo").wait_for()
    there.page.keyboard.press("Escape")
    there.settled()


def test_a_circuit_that_goes_over_is_mended_with_the_advised_powers(tab: Open) -> None:
    """On a breaker of 12 A the ramps are over; with the powers that are advised for them nothing is."""
    there = tab()
    open_plan(there, switched_plan())
    there.go("Your brewery").part("Circuit").enter("Breaker", "12").until("Over:")
    there.go("Circuit").until("Over:")
    there.page.get_by_role("button", name="Take these ramp powers").click()  # all ways out are tried
    there.until("Within the ratings you entered")


@pytest.mark.parametrize(
    "name",
    [
        "www.a.org http://a.invalid/b b@c.org",
        ":smile: :100: :material/home: :red[a] a:b",
        "-> -- <-> >= ~= *e* $x$ `c`",
    ],
)
def test_names_that_people_wrote_are_shown_as_written(tab: Open, name: str) -> None:
    """No address in a load's name is a link, no name of a picture a picture, no pair of signs an arrow."""
    demo = read_plan("demo")
    there = tab()
    open_plan(there, plan_to_toml(demo.model_copy(update={"other_loads": (
        demo.other_loads[0].model_copy(update={"name": name}), *demo.other_loads[1:]
    )})))  # fmt: skip
    there.go("Circuit").shows("On this breaker")
    main = there.page.locator("[data-testid='stMain']")
    assert main.inner_text().count(name) > len(["the switch"])
    assert main.locator("a[href*='a.'], a[href*='mailto']").count() == 0


def test_the_best_start_is_chosen_and_costs_less(tab: Open) -> None:
    """From the heat map to the day, which begins then and costs what was said; the address can be shared."""
    there = tab()
    before = cost_eur(there.headline)
    there.go("When")
    clock = there.headline.removeprefix("Start at ").split(" ")[0]
    promised = cost_eur(there.headline)
    assert promised < before
    there.page.get_by_role("button", name=f"Start then: {clock}").click()
    there.shows(f"Start {clock}")
    there.go("Day").until(f"start at {clock}")
    assert cost_eur(there.headline) == promised
    shared = there.page.evaluate("location.href")
    assert f"at={clock.replace(':', '%3A')}" in shared
    assert tab(query=shared.partition("?")[2]).headline == there.headline


def cost_eur(sentence: str) -> float:
    """The amount in a first sentence."""
    found = re.search(r"([\d.]+) EUR", sentence)
    assert found is not None
    return float(found[1])


def test_an_advised_cap_mends_what_is_over(tab: Open) -> None:
    """Switched elements hold with all they have, over 10 A: with the caps that are advised nothing is over."""
    there = tab()
    open_plan(there, over_while_holding())
    there.go("Circuit").until("Over:")
    there.go("Power")
    there.page.get_by_role("button", name="Take all advised").click()
    there.page.get_by_role("button", name="Undo").wait_for()
    there.go("Circuit").until("Within the ratings you entered")


def test_a_log_is_uploaded_and_its_fit_taken_over(tab: Open) -> None:
    """The cool-down measures the loss; the plan takes it, and estimates no more."""
    there = tab().go("Your brewery")
    log = {"name": "cool-down.csv", "mimeType": "text/csv", "buffer": demo_logs()["cool-down"].encode()}
    there.page.locator("[data-testid='stMain'] input[type='file']").first.set_input_files(log)
    there.until("Measured:")
    there.page.locator("[data-testid='stVegaLiteChart'] svg").first.wait_for()
    there.page.get_by_role("button", name="Take these numbers into the plan").click()
    there.settled()
    there.go("Day")
    assert "The heat loss is estimated" not in there.page.inner_text("[data-testid='stMain']")


def saved(there: Any, button: str) -> "Download":
    """Press a button that saves a file."""
    with there.page.expect_download() as waiting:
        there.page.get_by_role("button", name=button, exact=True).click()
    return waiting.value


def bytes_of(download: "Download") -> bytes:
    """Content of a saved file."""
    return Path(str(download.path())).read_bytes()


def test_a_plan_is_saved_and_opened_again_identical(tab: Open) -> None:
    """Change, save, come back as another visitor, open the file: the same plan, and all of it the writer's."""
    there = tab().unfold("Batch and steps")
    before = there.headline
    there.enter("Water at the start", "28.5 L").until_not(before)
    there.go("Keep").part("Sheets and files")
    text = bytes_of(saved(there, "Save the plan")).decode()
    assert parse_plan(text).batch.water_l == 28.5
    again = tab()
    open_plan(again, text)
    again.go("Keep").part("Sheets and files")
    assert bytes_of(saved(again, "Save the plan")).decode() == text


def test_a_changed_plan_survives_a_reload_and_its_file_a_new_visit(tab: Open) -> None:
    """A reload shows the same day; the saved file brings it to a new visitor."""
    there = tab().unfold("Batch and steps")
    before = there.headline
    there.enter("Water at the start", "31 L").until_not(before)
    changed = there.headline
    there.page.reload()
    there.page.wait_for_selector("h1")
    there.settled()
    there.until(changed)
    text = bytes_of(saved(there.go("Keep").part("Sheets and files"), "Save the plan")).decode()
    assert parse_plan(text).batch.water_l == 31.0
    other = tab()
    assert other.headline != changed
    open_plan(other, text)
    other.until(changed)
    assert bytes_of(saved(other.go("Keep").part("Sheets and files"), "Save the plan")).decode() == text


def test_the_sheets_are_a_pdf_with_the_answer_in_it(tab: Open) -> None:
    """Two pages at least, with the first sentence's energy on them."""
    import pypdf

    there = tab()
    energy = there.headline.split(" and ")[0]
    pages = pypdf.PdfReader(
        io.BytesIO(
            bytes_of(saved(there.go("Keep").part("Sheets and files"), "Save Oat-stout-for-the-village-hall.pdf"))
        )
    ).pages
    assert len(pages) >= 2
    shown = " ".join(page.extract_text() for page in pages).replace("\u00a0", " ")
    assert energy in shown


def test_the_calendar_holds_the_day(tab: Open) -> None:
    """An event at the start, and reminders."""
    import icalendar

    content = bytes_of(saved(tab().go("Keep").part("Sheets and files"), "Save Oat-stout-for-the-village-hall.ics"))
    calendar = icalendar.Calendar.from_ical(content)
    begins = {event.decoded("DTSTART").isoformat() for event in calendar.walk("VEVENT")}
    assert "2026-12-05T08:30:00+00:00" in begins
    assert calendar.walk("VALARM")


def test_the_phases_are_a_table_that_adds_up(tab: Open) -> None:
    """The rows of the CSV add up to the day."""
    content = bytes_of(
        saved(tab().go("Keep").part("Sheets and files"), "Save Oat-stout-for-the-village-hall.csv")
    ).decode()
    rows = list(csv.DictReader(io.StringIO(content)))
    assert rows[0]["step"] == read_plan("demo").steps[0].name
    parts = sum(float(row["energy_kwh"]) for row in rows)
    assert parts == pytest.approx(simulate(read_plan("demo")).energy_kwh, abs=0.001)


def test_the_pictures_are_a_png_and_an_svg(tab: Open) -> None:
    """The picture has its size in its header, the drawing parses and has the phases' colours."""
    from xml.etree import ElementTree

    from energyplan.faces.charttheme import PHASE_COLOURS

    there = tab().go("Keep").part("Sheets and files")
    png = bytes_of(saved(there, "Save Oat-stout-for-the-village-hall.png"))
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert int.from_bytes(png[16:20], "big") >= 1000
    svg = bytes_of(saved(there, "Save Oat-stout-for-the-village-hall.svg")).decode()
    # A drawing of our own making, not text from elsewhere.
    assert ElementTree.fromstring(svg).tag.endswith("svg")  # noqa: S314
    assert all(PHASE_COLOURS[phase].lower() in svg.lower() for phase in PHASES)


def test_the_plan_is_toml_with_units(tab: Open) -> None:
    """The saved plan is read by any TOML reader, and says litres."""
    text = bytes_of(saved(tab().go("Keep").part("Sheets and files"), "Save the plan")).decode()
    assert tomllib.loads(text)["batch"]["water"] == "27 L"


def test_a_power_tried_on_the_slider_draws_its_curve_anew(tab: Open) -> None:
    """The slider's mark moves in the chart, and its sentence follows."""
    there = tab().go("Power")
    there.page.locator("[data-testid='stSlider'] input").first.focus()
    there.page.keyboard.press("ArrowRight")
    plan = read_plan("demo")
    advised_w = next(row.advised_w for row in advise(simulate(plan)).rows if row.step == "Strike")
    tried = f"{advised_w + plan.vessel.power_step_w:.0f} W"
    drawn = there.page.locator("[data-testid='stVegaLiteChart'] svg")
    drawn.get_by_text(re.compile(f"slider.*: {tried}")).first.wait_for()
    there.shows(f"With {tried}")
    there.page.get_by_role("button", name=f"Set {tried} for Strike").wait_for()


def test_us_units_and_back(tab: Open) -> None:
    """The switch changes what is written, at once and without loss."""
    there = tab()
    before = there.headline
    there.page.get_by_text("°F, gal").click()
    there.page.locator("[data-testid='stVegaLiteChart']").get_by_text("Temperature, °F").first.wait_for()
    there.shows("°F to land on")
    assert there.headline == before
    there.page.get_by_text("°C, L").click()
    there.page.locator("[data-testid='stVegaLiteChart']").get_by_text("Temperature, °C").first.wait_for()
    there.shows("°C to land on")
    assert there.page.get_by_role("button", name="Undo").count() == 0


def test_the_units_that_are_shown_are_marked_on_every_page(tab: Open) -> None:
    """The switch says which ones, also after a page was turned, and after F5."""
    there = tab(query=f"{START}&units=us")
    chosen = there.page.get_by_role("radio", name="°F, gal")
    for name in (*PAGES, *PAGES):
        there.go(name)
        assert chosen.get_attribute("aria-checked") == "true", name
    there.page.reload()
    there.shows("put by")
    there.settled()
    assert chosen.get_attribute("aria-checked") == "true"


METRIC = re.compile(r"\d (°C|degC|K|kg|L|l)\b")


@pytest.mark.parametrize("page", ["Day", "When", "Power"])
def test_us_pages_write_no_metric_temperature_mass_or_volume(tab: Open, page: str) -> None:
    """In US units no sentence falls back; the caution about boiling wort and cables keep their °C."""
    there = tab(query=f"{START}&plan=lakeside&units=us").go(page)
    shown = there.page.inner_text("[data-testid='stMain']").replace("100 °C wort", "")
    assert [line for line in shown.splitlines() if METRIC.search(line)] == []


@pytest.mark.parametrize("path", ["day", "when", "circuit", "power", "your-brewery", "keep"])
def test_a_page_opens_by_its_own_address(tab: Open, path: str) -> None:
    """A bookmark of a page leads there; the tab's end checks that nothing went wrong."""
    there = tab(path=path)
    assert there.headline.endswith(".")
    assert f"/{'' if path == 'day' else path}" == there.page.evaluate("location.pathname")


def test_an_address_from_before_leads_on(tab: Open) -> None:
    """Old bookmarks open what they meant."""
    there = tab(path="set-up")
    assert there.page.evaluate("location.pathname") == "/your-brewery"
    assert tab(path="take-along").page.get_by_role("button", name="Save the plan").count() == 1


def test_a_decimal_comma_is_taken_in_a_field_for_a_number(tab: Open) -> None:
    """2,5 is no 25: the browser alone would drop the comma without a word."""
    there = tab().unfold("Should water heat before anybody is up?")
    limit = there.page.get_by_label("The current ends by itself after, kWh", exact=True)
    limit.press_sequentially("2,5")
    assert limit.input_value() == "2.5"


BEFORE = """() => { const all = [...document.querySelectorAll(
    ".stMain [data-testid='stText'], .stMain [data-testid='stVegaLiteChart']")]
  return all.findIndex(one => one.dataset.testid === "stVegaLiteChart") }"""


def test_a_phone_shows_a_picture_after_two_sentences(tab: Open) -> None:
    """The answer, at most one more, and then what it looks like."""
    there = tab(size=PHONE)
    for page in ("Day", "When", "Circuit", "Power"):
        there.go(page).page.locator("[data-testid='stVegaLiteChart'] svg").first.wait_for()
        assert 0 <= there.page.evaluate(BEFORE) <= 1, page


WIDEST = """() => Math.max(...[...document.querySelectorAll("[data-testid='stVegaLiteChart'] svg path")]
  .map(one => one.getBoundingClientRect().width))"""


def test_long_names_leave_the_charts_their_width(tab: Open) -> None:
    """Steps of sixty letters are named where there is room; the picture keeps the width of the phone."""
    demo = read_plan("demo")
    steps = tuple(
        step.model_copy(update={"name": f"{step.name} {'so it goes on ' * 4}"[:60].strip()}) for step in demo.steps
    )
    there = tab(size=PHONE)
    open_plan(there, plan_to_toml(demo.model_copy(update={"steps": steps, "second_heater": None})))
    for page in ("Day", "Power"):
        there.go(page).page.locator("[data-testid='stVegaLiteChart'] svg").first.wait_for()
        assert there.page.evaluate(WIDEST) > PHONE[0] * 0.7, page


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
    from energyplan.faces.charttheme import PHASE_COLOURS_DARK

    there = tab(scheme="dark")
    there.page.wait_for_function(
        """wanted => {
            const paths = [...document.querySelectorAll("[data-testid='stVegaLiteChart'] svg path")]
            const fills = new Set(paths.map(path => (path.getAttribute('fill') || '').toLowerCase()))
            return wanted.every(colour => fills.has(colour))
        }""",
        arg=[PHASE_COLOURS_DARK[phase].lower() for phase in PHASES],
    )
