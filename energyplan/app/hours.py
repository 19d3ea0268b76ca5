"""When the brewer brews: the hours of the plan, entered in the bar and obeyed by every page."""

from collections.abc import Mapping
from datetime import time, timedelta
from typing import Any

import streamlit as st

from energyplan.advice.starts import usual_hours
from energyplan.app.pieces import quiet
from energyplan.app.state import Work, current
from energyplan.plan.model import Hours
from energyplan.plan.values import MINUTES_PER_DAY

__all__ = ["WEEKDAYS", "hours_form", "hours_words"]

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def hours_form(work: Work) -> None:
    """Show the hours of the plan, or those assumed, and take changes of them into the plan."""
    hours, version = usual_hours(work.plan), work.version
    first, last = (_clock(minute) for minute in hours.somebody_there_min or (0, MINUTES_PER_DAY))
    quiet("Every page keeps to these hours.")
    keys = {name: f"hours_{name}_{version}" for name in ("earliest", "done_by", "somebody_there", "not_on")}
    take: dict[str, Any] = {"on_change": _take_hours, "args": (keys,)}
    left, right = st.columns(2)
    left.time_input("Start not before", _clock(hours.earliest_min), key=keys["earliest"], step=900, **take)
    right.time_input("Done by", _clock(hours.done_by_min), key=keys["done_by"], step=900, **take)
    there = (first or time(0), last or time(23, 59))
    st.slider(
        "Somebody is there", time(0), time(23, 59), there, key=keys["somebody_there"],
        step=timedelta(minutes=30), format="HH:mm",
        help="Switching on, boils, additions, and grain that goes in or comes out need somebody there", **take,
    )  # fmt: skip
    st.pills(
        "Not on", list(WEEKDAYS), selection_mode="multi", default=list(hours.not_on), key=keys["not_on"],
        format_func=str.capitalize, **take,
    )  # fmt: skip


def hours_words(hours: Hours) -> str:
    """The hours in a few words.

    >>> from energyplan.plan.file import read_plan
    >>> hours_words(usual_hours(read_plan("demo")))
    '06:00-23:00, somebody there'
    """
    there_min = hours.somebody_there_min or (0, MINUTES_PER_DAY)
    start = f"start from {_words(hours.earliest_min)}, " if hours.earliest_min else ""
    done = f"done by {_words(hours.done_by_min)}, " if hours.done_by_min else ""
    off = f", not on {' '.join(map(str.capitalize, hours.not_on))}" if hours.not_on else ""
    words = f"{start}{done}{_words(there_min[0])}-{_words(there_min[1])}, somebody there{off}"
    return f"{words[:1].upper()}{words[1:]}"


def _words(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _clock(minute: int | None) -> time | None:
    """A minute of the day; the field's last one stands for midnight."""
    if minute is None:
        return None
    return time(23, 59) if minute == MINUTES_PER_DAY else time(*divmod(minute, 60))


def _minute_words(moment: time | None) -> str | None:
    return None if moment is None else "24:00" if moment == time(23, 59) else f"{moment:%H:%M}"


def _take_hours(keys: Mapping[str, str]) -> None:
    given = {name: st.session_state[key] for name, key in keys.items()}
    first, last = given["somebody_there"]
    current().enter_together(
        {
            ("hours", "earliest"): _minute_words(given["earliest"]),
            ("hours", "done_by"): _minute_words(given["done_by"]),
            ("hours", "somebody_there"): [f"{first:%H:%M}", _minute_words(last)],
            ("hours", "not_on"): [name for name in WEEKDAYS if name in given["not_on"]],
        }
    )
