"""The shape of what is told, and that faces only format it."""

from fractions import Fraction

import pytest
from rich.console import Console

from energyplan.base.kinds import CELSIUS, KWH, MONEY, WRITTEN, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import Sentence
from energyplan.faces.frames import document, frame, shown_rows
from energyplan.faces.terminal import terminal
from energyplan.telling.told import Column, Found, Table, Told, cell, from_days
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


COLUMNS = (Column("step", "Step", WRITTEN), Column("end_c", "End", CELSIUS, detail=1), Column("why", "Why", WRITTEN),
           Column("raw", "Raw", KWH, detail=2, signed=True))  # fmt: skip


def test_a_face_shows_the_columns_of_its_detail_that_are_not_blank() -> None:
    """Rows and total alike; a table without rows keeps its columns."""
    table = Table("t", "T", COLUMNS, (("a", 60.0, None, 1.0), ("b", None, None, 2.0)), ("all", None, None, 3.0))
    seen = [table.at(detail) for detail in (0, 1, 2)]
    assert [[column.key for column in one.columns] for one in seen] == [
        ["step"], ["step", "end_c"], ["step", "end_c", "raw"],
    ]  # fmt: skip
    assert seen[1].rows == (("a", 60.0), ("b", None))
    assert [one.total for one in seen] == [("all",), ("all", None), ("all", None, 3.0)]
    assert (seen[0].key, seen[0].title) == ("t", "T")
    empty = Table("t", "T", COLUMNS, ())
    assert [column.key for column in empty.at(1).columns] == ["step", "end_c", "why"]
    assert empty.at(1).total is None
    only_total = Table("t", "T", COLUMNS, ((None, None, None, None),), (None, None, "sum", None))
    assert [column.key for column in only_total.at(0).columns] == ["why"]
    assert list(table)[1] == {"step": "b", "end_c": None, "why": None, "raw": 2.0}
    with pytest.raises(ValueError, match=r"^table t: 2 cells under 4 columns: \('sum', 1\)$"):
        Table("t", "T", COLUMNS, (), ("sum", 1))


def test_a_cell_is_of_its_column_s_kind_unless_it_has_one() -> None:
    """Blank stays blank; a sign where more is written with a plus."""
    assert cell(COLUMNS[1], None) is None
    assert cell(COLUMNS[1], 60.0) == CELSIUS(60.0)
    assert cell(COLUMNS[1], KWH(1.0)) == KWH(1.0)
    said = Sentence("x")
    assert cell(COLUMNS[1], said) is said
    assert str(cell(COLUMNS[3], 1.0)) == "+1.00 kWh"
    assert str(cell(COLUMNS[1], 1.0)) == "1 °C"


def test_money_may_stand_beside_blanks_and_under_another_total() -> None:
    """What has no cost counts as nothing; a total that is no money is no sum; nor is one of no parts."""
    cost = (Column("cost", "Cost", MONEY),)
    assert Table("t", "T", cost, ((None,), (_money("1", "EUR"),)), (_money("1", "EUR"),)).total
    assert Table("t", "T", cost, ((_money("1", "EUR"),),), (None,)).total == (None,)
    assert Table("t", "T", cost, ((None,),), (_money("5", "EUR"),)).total
    with pytest.raises(ValueError, match=r"^table t: cost does not add up to its total$"):
        Table("t", "T", cost, ((_money("1", "EUR"),), (_money("1", "EUR"),)), (_money("1", "EUR"),))


def test_a_table_is_found_by_its_key_wherever_it_stands() -> None:
    """Here, in a part, in a part of a part; else not."""
    one, two, three = (Table(key, key, COLUMNS, ()) for key in ("one", "two", "three"))
    inner = Told(key="c", title="C", tables=(three,))
    outer = Told(key="b", title="B", tables=(two,), parts=(inner,))
    told = Told(key="a", title="A", tables=(one,), parts=(Told(key="x", title="X"), outer))
    assert [told.table(key) for key in ("one", "two", "three")] == [one, two, three]
    with pytest.raises(KeyError, match="four"):
        told.table("four")


def test_brewed_days_stand_behind_a_comma() -> None:
    """None, one, several."""
    assert [str(from_days(days)) for days in (0, 1, 2)] == ["", ", from 1 brewed day", ", from 2 brewed days"]
