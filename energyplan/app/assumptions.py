"""What is still assumed, counted in the bar and led through one by one."""

import json
from dataclasses import replace

import streamlit as st

from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.entries import SECTIONS
from energyplan.app.fields import entry_at, field
from energyplan.app.pieces import quiet
from energyplan.app.plaintext import plain
from energyplan.app.state import Path, Work, current
from energyplan.app.yours import assumed, default_of

__all__ = ["assumed_values", "count_words", "name_of", "rows_assumed"]

LISTS = {
    ("step",): "Step", ("vessel", "element"): "Element", ("other_load",): "Other load", ("task",): "Task",
    ("house_load",): "Load of the house",
}  # fmt: skip
OTHERS = {
    ("site", "time_zone"): "Time zone",
    ("hours",): "Hours",
    ("second_heater", "ready_at_step"): "Step of the second heater",
}
SHOWN = 3


def still_assumed(work: Work) -> tuple[Path, ...]:
    """Everything that counts and that the visitor never wrote; packaged prices last."""
    own_prices = work.tariff is not None and not work.tariff.is_packaged
    is_priced = own_prices or work.tariff is None or ("prices",) in work.day.entered
    return (*assumed(work.plan, work.day.entered), *(() if is_priced else (("prices",),)))


def count_words(number: int) -> str:
    """How many values are assumed.

    >>> count_words(12), count_words(1), count_words(0)
    ('12 values are assumed', '1 value is assumed', 'Every value is yours')
    """
    if number == 0:
        return "Every value is yours"
    return f"{number} values are assumed" if number > 1 else "1 value is assumed"


def assumed_values(work: Work) -> None:
    """Count them, and lead through them: each is confirmed, mended, or left for later."""
    paths = still_assumed(work)
    with st.popover(count_words(len(paths)), icon=":material/help:", key="assumed"):
        if not paths:
            return
        place = st.session_state.setdefault("assumed_place", 0) % len(paths)
        quiet("A dot marks what nobody measured or wrote down yet. One after the other:")
        for path in (paths[place:] + paths[:place])[:SHOWN]:
            _one(work, path)
        left, right = st.columns(2)
        left.button("Later", key="assumed_later", on_click=_later, args=(place + SHOWN,), width="stretch")
        right.button(
            "They are so", key="assumed_so", on_click=_so, args=((paths[place:] + paths[:place])[:SHOWN],),
            width="stretch", help="Takes the dots off these; Undo brings them back",
        )  # fmt: skip


def _one(work: Work, path: Path) -> None:
    entry = entry_at(path)
    if entry is not None:
        field(work, entry, prefix="led_")
        return
    st.markdown(f"**{plain(name_of(path))}**  \n{plain(_value(work, path))}")


def name_of(path: Path) -> str:
    """What stands at a path, in the words of its field."""
    entry = entry_at(path)
    if entry is not None:
        section = next(part for part in SECTIONS if entry in (*part.entries, *part.further))
        return f"{section.title}: {entry.label}"
    if path[:-1] in LISTS:
        row = json.loads(path[-1])
        return f"{LISTS[path[:-1]]} {row.get('name', '')}".strip()
    return {("prices",): "Prices", **OTHERS}.get(path, " ".join(path[-1].split("_")).capitalize())


def _value(work: Work, path: Path) -> str:
    if path == ("prices",):
        return "Invented prices that come with the program. Enter yours on the page Your brewery."
    if path == ("hours",):
        return "From 06:00 to 23:00, somebody there. Change them above."
    if path[:-1] in LISTS:
        row = json.loads(path[-1])
        return ", ".join(
            f"{key.replace('_', ' ')} {value}" for key, value in row.items() if key not in ("name", "addition")
        )
    value = entry_of(plan_tables(work.plan), path)
    return str(default_of(path) if value is None else value)


def _later(place: int) -> None:
    st.session_state["assumed_place"] = place


def _so(paths: tuple[Path, ...]) -> None:
    work = current()
    day = replace(
        work.day, entered=work.day.entered | {path if path != ("hours",) else ("hours", "earliest") for path in paths}
    )
    work.lay(replace(work.lying, day=day))


def rows_assumed(work: Work, path: Path) -> None:
    """Which rows of a list nobody wrote: said below it, because a table's cells take no mark."""
    rows = [name_of(one).partition(" ")[2] or "all" for one in assumed(work.plan, work.day.entered) if one[:-1] == path]
    if rows:
        st.markdown(f":orange[●] :small[Still assumed: {plain(', '.join(dict.fromkeys(rows)))}.]")
