"""The drawer: days kept in this browser by name."""

from dataclasses import replace

import streamlit as st

from energyplan.app.desk import Desk
from energyplan.app.pieces import plain, quiet
from energyplan.app.sharing import LEFT_OUT, left_out
from energyplan.app.state import Work, current
from energyplan.app.storage import storage

__all__ = ["drawer"]

MOST = 50


def drawer(at_hand: Desk) -> None:
    """Days by name: keep the one on the desk, open one, duplicate it, throw it away."""
    work = at_hand.work
    at_hand.headline(_kept_words(len(work.lying.drawer)))
    if storage().says:
        st.text("This browser keeps nothing; save the plan as a file.")
    else:
        quiet(
            "Kept in this browser: the day on the desk, its prices, and the days that you put by here. "
            "Nothing of it lies on a server."
        )
    kept = dict(work.lying.drawer)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        name = st.text_input("Name", work.plan.title, key=f"drawer_name_{work.version}", max_chars=60, width=320)
        st.button("Put this day by", key="put_by", on_click=_put_by, args=(name,), disabled=len(kept) >= MOST)
    for place, (title, _) in enumerate(work.lying.drawer):
        with st.container(horizontal=True, vertical_alignment="center", border=True):
            st.markdown(f"**{plain(title)}**", width="stretch")
            st.button("Open", key=f"drawer_open_{place}", on_click=_open, args=(title,))
            st.button("Duplicate", key=f"drawer_copy_{place}", on_click=_duplicate, args=(title,))
            st.button("Remove", key=f"drawer_drop_{place}", on_click=_drop, args=(title,))
    _link(work)


def _kept_words(number: int) -> str:
    if number == 0:
        return "No day is put by yet."
    return f"{number} days are put by." if number > 1 else "One day is put by."


def _link(work: Work) -> None:
    """What the address of this page carries, and what it leaves out."""
    st.header("A link to this day", anchor=False)
    missing = " and ".join(LEFT_OUT[word] for word in left_out(work))
    st.text("The address of this page is the link: it carries plan, prices, start and units.")
    if missing:
        st.text(f"It leaves out {missing}, which are your own: send the file as well.")


def _put_by(name: str) -> None:
    work = current()
    if name.strip():
        work.put_by({**dict(work.lying.drawer), name.strip(): work.day})


def _open(name: str) -> None:
    work = current()
    work.open(dict(work.lying.drawer)[name])


def _duplicate(name: str) -> None:
    work, kept = current(), dict(current().lying.drawer)
    copy = next(f"{name} ({number})" for number in range(2, MOST + 3) if f"{name} ({number})" not in kept)
    day = kept[name]
    work.put_by({**kept, copy: replace(day, plan=day.plan.model_copy(update={"title": copy[:80]}))})


def _drop(name: str) -> None:
    work = current()
    work.put_by({title: day for title, day in work.lying.drawer if title != name})
