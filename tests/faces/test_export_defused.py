"""Step names in a CSV file: none starts a cell that a spreadsheet would run, however it separates cells."""

import csv
import io
import re
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.base.units import Display
from energyplan.faces.files import Making, ending_of, file_bytes
from energyplan.faces.sheet import Paper
from energyplan.plan.model import Batch, Element, Plan, Step, Vessel
from energyplan.telling.files import file_told

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
RUN = re.compile(r"\s*[=+\-@＝＋－＠]")
NUMBER = re.compile(r"-?\d+(\.\d+)?")


def sheet_bytes(
    found: Answer, name: str, *, show: Display, paper: Paper = "a4", stamp: datetime | None = None
) -> bytes:
    """An answer as a file."""
    ending = ending_of(name)
    return file_bytes(file_told(found, ending), ending, Making(style=Style(show.system), paper=paper, stamp=stamp))


def cells_of(name: str, delimiter: str) -> list[str]:
    """All cells of the file of a day with one step of that name, as a spreadsheet with that separator splits it."""
    vessel = Vessel(diameter_m=0.36, height_m=0.48, elements=(Element(power_w=2500, voltage_v=230),))
    batch = Batch(water_l=20, water_temperature_c=12)
    plan = Plan(vessel=vessel, batch=batch, steps=(Step(name=name, target_c=66, hold_s=60),))
    text = sheet_bytes(answer(plan, None, START), ".csv", show=Display("metric")).decode("utf-8")
    return [cell for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter) for cell in row]


@pytest.mark.parametrize(
    "name", ["=1+1", "+1", "-1+2", "@SUM(A1)", "  =1", "\u00a0=1", "＝1", 'a";=1', "Rest;=1", "b| @x"]
)
@pytest.mark.parametrize("delimiter", [",", ";", "|"])
def test_no_cell_starts_a_formula(name: str, delimiter: str) -> None:
    """A spreadsheet that separates by comma, semicolon or bar finds text in each cell (OWASP, CSV Injection)."""
    assert not [cell for cell in cells_of(name, delimiter) if RUN.match(cell) and not NUMBER.fullmatch(cell)]


@settings(max_examples=25)
@given(
    st.lists(st.sampled_from(["=", "+", "-", "@", ";", "|", ",", '"', "'", " ", "A1", "é"]), min_size=1, max_size=9),
    st.sampled_from([",", ";"]),
)
def test_no_name_at_all_starts_a_formula(parts: list[str], delimiter: str) -> None:
    """The same for any name of such signs; with the comma the name comes back whole but for apostrophes."""
    name = "".join(parts)
    cells = cells_of(name, delimiter)
    assert not [cell for cell in cells if RUN.match(cell) and not NUMBER.fullmatch(cell)]
    if delimiter == ",":
        assert name.replace("'", "") in {cell.replace("'", "") for cell in cells}


def test_ordinary_names_stay_as_they_are() -> None:
    """A dash, a plus or a semicolon within a name starts nothing."""
    for name in ("Mash-out", "Rest 2 + iodine", "Boil; lid ajar", "Käse | Brot", "5-min stand"):
        assert name in cells_of(name, ",")
