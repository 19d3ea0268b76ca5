"""US units on every command of the day: no metric word is left, and electrical quantities are the same."""

import io
import re

import pytest

METRIC = re.compile(r"\d ?(?:°C|degC|kg|g|L|L/h|m|cm|mm|K|W/K|kJ/K|m/s|W/cm²)(?![\w²/])")
UNITS = re.compile(r"(?:^|[\s,(])(?:°C|degC|kg|L|cm|K)(?=$|[\s,).])", re.MULTILINE)
ELECTRIC = re.compile(r"\d+(?:\.\d+)? (?:W|kWh|A|V)\b")
START = ("--tariff", "demo", "--start", "2026-12-05T08:30")


def metric_words(text: str) -> list[str]:
    """Quantities and headings in metric units."""
    return [*METRIC.findall(text), *(found.strip() for found in UNITS.findall(text))]


@pytest.mark.parametrize("plan", ["demo", "lakeside"])
@pytest.mark.parametrize("shown", [(), ("--show", "clock,people,room,notes")], ids=["screen", "parts"])
def test_a_report_in_us_units_has_no_metric_word(run, plan, shown):
    """Neither on its screen nor in its parts; its watts, kilowatt-hours and amperes are those of the metric one."""
    _, us, _ = run("report", plan, *START, "--units", "us", *shown)
    _, metric, _ = run("report", plan, *START, *shown)
    assert not metric_words(us)
    assert metric_words(metric)
    assert ELECTRIC.findall(us) == ELECTRIC.findall(metric)


@pytest.mark.parametrize("ending", ["ics", "csv", "svg"])
def test_files_in_us_units_have_no_metric_word(run, tmp_path, ending):
    """Calendar, table and chart."""
    file = tmp_path / f"day.{ending}"
    assert run("sheet", "demo", *START, "--units", "us", "-o", str(file))[0] == 0
    text = re.sub(r"\r\n |<[^>]*>", " " if ending == "svg" else "", file.read_text())
    assert not metric_words(text)
    assert "_c," not in text.splitlines()[0]


def test_the_page_for_the_brew_day_in_us_units_has_no_metric_word(run, tmp_path):
    """The last page of the sheets."""
    import pypdf

    file = tmp_path / "day.pdf"
    assert run("sheet", "demo", *START, "--units", "us", "-o", str(file))[0] == 0
    page = pypdf.PdfReader(io.BytesIO(file.read_bytes())).pages[-1].extract_text()
    assert "for the brew day" in page.lower()
    assert not metric_words(page.replace("\u00a0", " "))
