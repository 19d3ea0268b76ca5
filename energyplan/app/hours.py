"""When the brewer brews: the hours of the plan, entered in one place and obeyed by every page."""

from datetime import time
from typing import Any

import streamlit as st

from energyplan.advice.starts import usual_hours
from energyplan.app.state import Work, current
from energyplan.plan.place import Hours

__all__ = ["hours_form"]

WEEKDAYS = {"mon": "Mon", "tue": "Tue", "wed": "Wed", "thu": "Thu", "fri": "Fri", "sat": "Sat", "sun": "Sun"}


def hours_form(work: Work) -> Hours:
    """Show the hours of the plan, or those assumed, and take changes of them into the plan."""
    hours = usual_hours(work.plan)
    _begin("when_earliest", _time(hours.earliest_min))
    _begin("when_finish", _time(hours.done_by_min))
    opens_min, closes_min = hours.somebody_there_min or (0, 24 * 60)
    _begin("when_opens", _time(opens_min))
    _begin("when_closes", _time(closes_min))
    _begin("when_off", list(hours.not_on))
    st.time_input("Not before", key="when_earliest", step=900, on_change=_take_time, args=("earliest", "when_earliest"),
                  help="Empty means any time")  # fmt: skip
    st.time_input("Done by", key="when_finish", step=900, on_change=_take_time, args=("done_by", "when_finish"))
    st.time_input("Somebody is there from", key="when_opens", step=900, on_change=_take_home,
                  help="Switching on, boils, additions, and grain going in or out need a person")  # fmt: skip
    st.time_input("Somebody is there until", key="when_closes", step=900, on_change=_take_home,
                  help="00:00 is the end of the day")  # fmt: skip
    st.pills("Not on", list(WEEKDAYS), selection_mode="multi", format_func=lambda name: WEEKDAYS[name], key="when_off",
             on_change=_take_off, wrap=True)  # fmt: skip
    return hours


def _begin(key: str, value: Any) -> None:
    """The plan is what an entry shows, whoever changed it."""
    st.session_state[key] = value


def _time(minute: int | None) -> time | None:
    return None if minute is None else time(minute // 60 % 24, minute % 60)


def _take_time(name: str, key: str) -> None:
    at: time | None = st.session_state[key]
    _enter(name, f"{at:%H:%M}" if at else None)


def _take_home() -> None:
    opens, closes = (st.session_state[key] or time(0) for key in ("when_opens", "when_closes"))
    _enter("somebody_there", [f"{opens:%H:%M}", f"{closes:%H:%M}" if closes > time(0) else "24:00"])


def _take_off() -> None:
    _enter("not_on", list(st.session_state["when_off"] or ()))


def _enter(name: str, value: Any) -> None:
    """One entry changes; what was only assumed till then is entered with it."""
    work = current()
    assumed = usual_hours(work.plan).model_dump(by_alias=True, exclude_none=True, exclude_defaults=True)
    for key, entry in {**assumed, name: value}.items():
        work.enter(("hours", key), list(entry) if isinstance(entry, tuple) else entry)
