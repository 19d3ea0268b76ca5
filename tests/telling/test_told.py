"""The shape of what is told, and that faces only format it."""

from fractions import Fraction

import pytest
from rich.console import Console

from energyplan.base.kinds import CELSIUS, KWH, MONEY, WRITTEN, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import Sentence
from energyplan.faces.frames import document, frame, shown_rows
from energyplan.faces.terminal import terminal
from energyplan.telling.told import Column, Found, Table, Told
from tests.telling.shown import shown_frame


def _money(amount: str, currency: str) -> Money:
    return Money(units=int(Fraction(amount) * UNITS_PER_CURRENCY), currency=currency)


def _table(currency: str, *parts: str) -> Table:
    columns = (Column("step", "Step", WRITTEN), Column("end_c", "End", CELSIUS), Column("cost", "Cost", MONEY))
    rows = tuple((f"S{i} [b]", 60.0 + i, _money(part, currency)) for i, part in enumerate(parts))
    total = sum((Fraction(part) for part in parts), Fraction(0))
    return Table("phases", "Phases", columns, rows, ("The day", None, _money(str(total), currency)))


@pytest.mark.parametrize(
    ("currency", "parts"),
    [
        ("EUR", ["0.335", "0.335", "0.335"]),
        ("JPY", ["43.38", "97.4", "86.25"]),
        ("KWD", ["0.0765", "0.0765", "0.0744"]),
    ],
)
def test_shown_parts_add_up_to_the_shown_total(currency: str, parts: list[str]) -> None:
    """In currencies of two, no and three digits."""
    lines, total = shown_rows(_table(currency, *parts))
    assert total is not None
    assert sum(Fraction(line[2]) for line in lines) == Fraction(total[2])
    assert [len(line[2].partition(".")[2]) for line in lines] == [{"EUR": 2, "JPY": 0, "KWD": 3}[currency]] * 3


def test_a_total_that_is_no_sum_is_refused() -> None:
    """Money that does not add up never reaches a face."""
    with pytest.raises(ValueError, match="does not add up"):
        Table("t", "T", (Column("cost", "Cost", MONEY),), ((_money("1", "EUR"),),), (_money("2", "EUR"),))


def test_a_row_has_a_cell_for_each_column() -> None:
    """A row too short is refused."""
    with pytest.raises(ValueError, match="1 cells under 2"):
        Table("t", "T", (Column("a_kwh", "A", KWH), Column("b_kwh", "B", KWH)), ((1.0,),))


def test_frames_are_raw_or_in_words() -> None:
    """Raw under keys; converted, keys too, in US units; words under headings with the total last."""
    table = _table("EUR", "0.5", "0.5")
    assert list(frame(table)["end_c"]) == [60.0, 61.0]
    assert list(frame(table, Style("us"))["end_f"]) == [140.0, 141.8]
    shown = shown_frame(table)
    assert list(shown.columns) == ["Step", "End, °C", "Cost, EUR"]
    assert list(shown["Cost, EUR"]) == ["0.50", "0.50", "1.00"]


def test_a_terminal_obeys_nothing_that_a_person_wrote() -> None:
    """Brackets stay, escapes show as text."""
    found = Found(code="x", severity="over", said=Sentence("{a} is over", a=WRITTEN("[/b]\x1b]0;t[link=http://x]y")))
    told = Told(key="t", title="T", findings=(found,), tables=(_table("EUR", "1"),))
    console = Console(width=80, highlight=False, record=True, force_terminal=True)
    with console.capture() as shown:
        console.print(terminal(told))
    assert "S0 [b]" in shown.get()
    assert "\x1b]" not in shown.get()
    assert "[link=http://x]y" in shown.get()


def test_json_says_what_is_told() -> None:
    """Facts, tables, findings and sentences, with a version."""
    told = Told(
        key="t", title="T", headline=Sentence("{e} it is", e=KWH(1.234)), facts={"totals": {"energy_kwh": KWH(1.234)}},
        tables=(_table("EUR", "1"),),
    )  # fmt: skip
    found = document(told)
    assert found["totals"] == {"energy_kwh": 1.234}
    assert found["phases"] == [{"step": "S0 [b]", "end_c": 60.0, "cost": 1.0}]
    assert found["said"] == ["1.23 kWh it is"]
    assert found["schema"] == 2
