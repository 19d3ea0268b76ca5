"""US units on every command of the day: no metric word is left, and electrical quantities are the same."""

import io
import re

import pytest

from energyplan.base import units

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


BAD_PLAN = """\
[vessel]
diameter = "36 W"
height = 48
empty_mass = "1 zorg"
heat_loss = "4"
[[vessel.element]]
power = "2 kW"
voltage = "120 V"
[batch]
water = "9999999 gal"
grain = "12 lb"
absorption = 3
[site]
altitude = "900000 ft"
[circuit]
cable = "thick"
[[step]]
name = "Mash"
before = ["add grian", "add grain: 0 lb"]
target = "300 degF"
"""
METRIC_EXAMPLE = re.compile(r"\d ?(?:degC|°C|kg|L|m|cm|mm2|cm2|L/kg|m/s|W/K)\b")


@pytest.mark.parametrize(
    "words",
    [
        ("report", "bad.toml"), ("report", "empty.toml"), ("batches", "demo", "--kept", "a lot"),
        ("batches", "demo", "--litres", "7"),
        ("batches", "demo", "--kept", "7 at 9"), ("batches", "demo", "--kept", "7 gal at 9"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_refusal_in_us_units_has_no_metric_word(run, tmp_path, monkeypatch, words):
    """What to write instead is written as it is usual there; otherwise as in the rest of the world."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.toml").write_text(BAD_PLAN)
    (tmp_path / "empty.toml").write_text("[vessel]\n[batch]\n[[step]]\n")
    for asks in (("--units", "us"), ("--units=us",)):
        code, _, us = run(*words, *asks)
        assert code == 2
        assert not METRIC_EXAMPLE.findall(us), us
    assert METRIC_EXAMPLE.findall(run(*words)[2])


def test_every_example_in_us_units_can_be_read():
    """Of each kind of quantity, and not far from the metric one."""
    kinds = {name: kind for name, kind in vars(units).items() if isinstance(kind, units.Kind)}
    assert len(kinds) > 15
    for name, kind in kinds.items():
        metric, us = (units.read_quantity(text, kind) for text in (kind.example, kind.us or kind.example))
        assert us == pytest.approx(metric, rel=0.5 if name in ("VOLTAGE", "CROSS_SECTION") else 0.1), name
