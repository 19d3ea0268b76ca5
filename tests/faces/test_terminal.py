"""Tables on a terminal: nothing that is told is cut off, however many columns there are."""

from io import StringIO

import pytest
from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.base.kinds import KWH, WRITTEN
from energyplan.faces.frames import heading
from energyplan.faces.terminal import grid, terminal
from energyplan.telling.power import power_told
from energyplan.telling.told import Column, Table


def printed(shown, width: int = 80) -> list[str]:
    """Lines of a terminal of a width."""
    page = StringIO()
    Console(file=page, width=width, color_system=None, highlight=False).print(shown)
    return page.getvalue().splitlines()


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_columns_without_room_stand_below_beside_their_row(width: int) -> None:
    """Twelve figures of three rows: each stands somewhere, under its heading, in a line that begins with its name."""
    columns = (
        Column("name", "Name", WRITTEN),
        *(Column(f"c{n}", f"Figure {n:02}", KWH, short=f"Figure {n:02}") for n in range(12)),
    )
    rows = tuple((f"Row {r}", *(100.0 * r + n for n in range(12))) for r in range(1, 4))
    lines = printed(grid(Table("wide", "Wide", columns, rows)), width)
    assert max(map(len, lines)) <= width
    for r in range(1, 4):
        mine = [line for line in lines if line.startswith(f"Row {r}")]
        assert [float(word) for line in mine for word in line.split()[2:]] == [100.0 * r + n for n in range(12)]
    heads = " ".join(line for line in lines if line.startswith("Name"))
    assert [heads.count(f"Figure {n:02}") for n in range(12)] == [1] * 12


def test_all_there_is_to_say_of_powers_is_printed() -> None:
    """Every column of a table that has something in it stands on a terminal of 80 columns."""
    told = power_told(answer("demo").power)
    text = " ".join(printed(terminal(told, detail=1)))
    for column in told.table("power").at(1).columns:
        assert heading(column, short=True) in text, column.key
