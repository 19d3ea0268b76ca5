"""What hangs on this breaker and what elsewhere: a switch for each load, the second heater among them."""

from typing import Any

import streamlit as st

from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.pieces import plain, quiet
from energyplan.app.state import Work, current

__all__ = ["loads_by_breaker"]

SECOND = ("second_heater", "own_circuit")
HERE, ELSEWHERE = ("other_load",), ("house_load",)


def loads_by_breaker(work: Work) -> None:
    """Show the switches; nothing where only the vessel hangs on the circuit."""
    tables = plan_tables(work.plan)
    here, elsewhere = (entry_of(tables, path) or [] for path in (HERE, ELSEWHERE))
    if not here and not elsewhere and work.plan.second_heater is None:
        return
    st.subheader("On this breaker", anchor=False)
    quiet("Switched off: it hangs on another breaker. It is still paid for, and no longer part of this circuit.")
    with st.container(horizontal=True, gap="large", key="breakers"):
        if work.plan.second_heater is not None:
            key = f"on_second_{work.version}"
            on = not work.plan.second_heater.own_circuit
            st.toggle("Second water heater", on, key=key, on_change=_move_second, args=(key,))
        for path, rows in ((HERE, here), (ELSEWHERE, elsewhere)):
            for place, row in enumerate(rows):
                key = f"on_{path[0]}_{place}_{row['name']}_{work.version}"
                st.toggle(plain(row["name"]), path == HERE, key=key, on_change=_move, args=(path, place))


def _move_second(key: str) -> None:
    current().enter(SECOND, None if st.session_state[key] else True)


def _move(path: tuple[str, ...], place: int) -> None:
    """Move a load to the other breaker."""
    work = current()
    tables = plan_tables(work.plan)
    other = ELSEWHERE if path == HERE else HERE
    rows: list[Any] = list(entry_of(tables, path))
    moved = rows.pop(place)
    work.enter_together({path: rows, other: [*(entry_of(tables, other) or []), moved]})
    work.redraw()
