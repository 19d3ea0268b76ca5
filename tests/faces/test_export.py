"""Tests of the files by their endings: each is read back by something that is not ours."""

import csv
import io
import struct
from datetime import UTC, datetime
from xml.etree import ElementTree

import icalendar
import pypdf
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import FileError
from energyplan.base.kinds import Style
from energyplan.base.units import Display
from energyplan.faces.files import ENDINGS, Making, ending_of, file_bytes
from energyplan.faces.sheet import Paper
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.files import file_told

METRIC, US = Display("metric"), Display("us")
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)


def sheet_bytes(
    found: Answer, name: str, *, show: Display, paper: Paper = "a4", stamp: datetime | None = None
) -> bytes:
    """An answer as a file."""
    ending = ending_of(name)
    return file_bytes(file_told(found, ending), ending, Making(style=Style(show.system), paper=paper, stamp=stamp))


def answered(title: str, *changes: tuple[str, str], tariff: bool = True) -> Answer:
    """The packaged day under another title, with other words."""
    text = demo_plans()["demo"]
    for old, new in (("Oat stout for the village hall", title), *changes):
        assert old in text
        text = text.replace(old, new)
    return answer(parse_plan(text, source="test"), load_tariff("demo") if tariff else None, START)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered("Brown ale for the sewing circle")


def phases_csv(found: Answer, show: Display) -> bytes:
    """The table of the steps."""
    return sheet_bytes(found, ".csv", show=show)


def rows_of(content: bytes) -> list[dict[str, str]]:
    """Rows of a CSV file, read by the standard library."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))


def test_csv_rows_add_up_to_the_day(day: Answer) -> None:
    """Energies and costs of all rows are those of the day: no row repeats the sum."""
    parts = rows_of(sheet_bytes(day, ".csv", show=METRIC))
    assert len(parts) == len(day.day.phases) + 1, "thirteen phases and the second heater"
    assert [row["step"] for row in parts[: len(day.day.phases)]] == [phase.step for phase in day.day.phases]
    joules = sum(phase.energy_j for phase in day.day.phases) + float(day.day.profiles[1].energy_kwh) * JOULES_PER_KWH
    assert sum(float(row["energy_kwh"]) for row in parts) == pytest.approx(joules / JOULES_PER_KWH, abs=1e-3)
    assert day.price is not None
    shown = float(str(day.price.total.total.rounded()))
    assert sum(float(row["cost_eur"]) for row in parts) == pytest.approx(shown, abs=1e-9)


def test_csv_names_its_units(day: Answer) -> None:
    """Every number's column ends in its unit; the display's unit system is that of the columns."""
    metric, us = (sheet_bytes(day, ".csv", show=show).decode().splitlines()[0] for show in (METRIC, US))
    assert {"from_c", "to_c", "energy_kwh", "minutes", "mean_power_w"} <= set(metric.split(","))
    assert {"from_f", "to_f"} <= set(us.split(","))
    first = rows_of(sheet_bytes(day, ".csv", show=US))[0]
    assert float(first["from_f"]) == pytest.approx(12 * 1.8 + 32)  # 12 °C; °F = 1.8 °C + 32


def test_csv_lines_end_as_the_standard_says(day: Answer) -> None:
    """RFC 4180, 2.1: CRLF."""
    content = phases_csv(day, METRIC)
    assert content.endswith(b"\r\n")
    assert content.count(b"\n") == content.count(b"\r\n")


@pytest.mark.parametrize("name", ["=1+1", "+cmd", "-2+3", "@SUM(A1)", " =HYPERLINK(0)", "＝1"])
def test_csv_cells_are_no_formulas(name: str) -> None:
    """A step whose name a spreadsheet would run has an apostrophe before it (OWASP, CSV Injection)."""
    spiked = answered(f"Spiked {name}", ('"Mash-out"', f'"{name}"'), tariff=False)
    steps = {row["step"] for row in rows_of(phases_csv(spiked, METRIC))}
    assert f"'{name}" in steps
    assert name not in steps
    assert "Strike" in steps


def test_csv_keeps_names_with_commas_and_quotes() -> None:
    """What CSV has to quote comes back whole."""
    odd = answered("Odd", ('"Mash-out"', "'Rest, \"second\"'"), tariff=False)
    assert 'Rest, "second"' in {row["step"] for row in rows_of(phases_csv(odd, METRIC))}


def test_png_is_a_picture_of_some_size(day: Answer) -> None:
    """Signature and header chunk (ISO/IEC 15948, 5.2 and 11.2.2): at least 1920 by 800 dots, twice the chart's size."""
    content = sheet_bytes(day, ".png", show=METRIC)
    assert content.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", content[16:24])
    assert width >= 1920
    assert height >= 800


def test_svg_is_xml_with_its_words_as_text(day: Answer) -> None:
    """Names of steps and phases can be searched; there is no picture of dots in it."""
    root = ElementTree.fromstring(sheet_bytes(day, ".svg", show=METRIC))  # noqa: S314 - our own output
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = {element.text for element in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {"boil", "ramp", "hold", "Saccharification"} <= words
    assert not list(root.iter("{http://www.w3.org/2000/svg}image"))


def test_nothing_on_paper_waits_for_a_pointer(day: Answer) -> None:
    """Every shape can be seen: no dot that shows under a pointer, no area that catches one, no words to pop up."""
    root = ElementTree.fromstring(sheet_bytes(day, ".svg", show=METRIC))  # noqa: S314 - our own output
    shapes = list(root.iter("{http://www.w3.org/2000/svg}path"))
    assert len(shapes) > 20
    assert not [shape for shape in shapes if shape.get("opacity") == "0"]
    assert not [group for group in root.iter() if "voronoi" in group.get("class", "")]


def test_svg_follows_the_unit_system(day: Answer) -> None:
    """The axis of the temperature says its unit."""
    assert "Temperature, °F" in sheet_bytes(day, ".svg", show=US).decode()
    assert "Temperature, °C" in sheet_bytes(day, ".svg", show=METRIC).decode()


def test_pdf_has_the_paper_and_the_stamp_asked_for(day: Answer) -> None:
    """Paper and stamp reach the sheets."""
    stamp = datetime(2026, 11, 1, tzinfo=UTC)
    pdf = pypdf.PdfReader(io.BytesIO(sheet_bytes(day, ".pdf", show=METRIC, paper="us-letter", stamp=stamp)))
    assert float(pdf.pages[0].mediabox.width) == pytest.approx(612)
    assert pdf.metadata.creation_date == stamp


def test_ics_is_a_calendar(day: Answer) -> None:
    """The stamp reaches the calendar."""
    stamp = datetime(2026, 11, 1, tzinfo=UTC)
    events = icalendar.Calendar.from_ical(sheet_bytes(day, ".ics", show=METRIC, stamp=stamp)).walk("VEVENT")
    assert {event.decoded("DTSTAMP") for event in events} == {stamp}


@pytest.mark.parametrize("ending", ["day.CSV", "CSV.csv", ".Csv"])
def test_a_whole_name_and_capitals_are_fine(day: Answer, ending: str) -> None:
    """The ending counts, however it is written."""
    assert sheet_bytes(day, ending, show=METRIC) == phases_csv(day, METRIC)


@pytest.mark.parametrize("ending", [".docx", "plan", "", "pdf.", ".pdf.zip"])
def test_any_other_ending_is_an_error_that_names_the_known_ones(day: Answer, ending: str) -> None:
    """What was given, and what can be written."""
    with pytest.raises(FileError) as raised:
        sheet_bytes(day, ending, show=METRIC)
    assert all(known in str(raised.value) for known in ENDINGS)
    assert f'"{ending}"' in str(raised.value)


@pytest.mark.parametrize("ending", [".csv", ".ics", ".svg", ".png"])
def test_the_same_input_gives_the_same_bytes(day: Answer, ending: str) -> None:
    """Nothing in a file depends on when it was made."""
    assert sheet_bytes(day, ending, show=METRIC) == sheet_bytes(day, ending, show=METRIC)
