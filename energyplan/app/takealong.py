"""Take along: the plan, the sheets, the calendar, the table and the picture as files."""

from datetime import UTC, datetime
from typing import Any

import streamlit as st

from energyplan.app.desk import Desk
from energyplan.app.header import file_stem
from energyplan.app.pieces import problems
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.files import Making, file_bytes
from energyplan.faces.sheet import PAPERS, Paper
from energyplan.plan.file import plan_to_toml
from energyplan.telling.files import file_told

__all__ = ["page"]

FILES = (
    (".pdf", "application/pdf", "The sheets (PDF)", "A page for the electrician and one for the brew day"),
    (".ics", "text/calendar", "The calendar (ICS)", "Phases, and reminders for what needs hands"),
    (".csv", "text/csv", "The phases (CSV)", "Times, temperatures, kWh and cost of every phase"),
    (".png", "image/png", "The day as a picture (PNG)", "The chart of the first page"),
    (".svg", "image/svg+xml", "The day as a drawing (SVG)", "The same, to scale as you like"),
)


def page(at_hand: Desk) -> None:
    """Show the page."""
    at_hand.headline("Take the day along: on paper, in the calendar, as a file.")
    stem = file_stem(at_hand.plan.title)
    with _row("The plan (TOML)", "Everything that you entered; open it here again."):
        st.download_button(
            "Save the plan", plan_to_toml(at_hand.plan), f"{stem}.toml", "application/toml",
            key="take_plan", on_click="ignore",
        )  # fmt: skip
    if at_hand.answer is None:
        at_hand.answered()
        return
    paper: Paper = st.segmented_control(
        "Paper", PAPERS, default="us-letter" if at_hand.show.system == "us" else "a4", required=True,
        format_func=lambda name: {"a4": "A4", "us-letter": "US letter"}[name], key=f"paper_{at_hand.show.system}",
    )  # fmt: skip
    for ending, mime, title, words in FILES:
        with _row(title, words):
            _file(at_hand, ending, mime, stem, paper)


def _row(title: str, words: str) -> Any:
    """What a file is, and beside it the place for its button."""
    row = st.container(border=True, horizontal=True, vertical_alignment="center", gap="medium")
    with row.container(width="stretch", gap="xxsmall"):
        st.markdown(f"**{title}**  \n{words}")
    return row


def _file(at_hand: Desk, ending: str, mime: str, stem: str, paper: Paper) -> None:
    """Make the file when it is asked for: a PDF takes longer than a page should."""
    if at_hand.answer is None:
        return
    answer, style = at_hand.answer, at_hand.style

    def made() -> bytes:
        making = Making(style=style, paper=paper, stamp=datetime.now(UTC).replace(microsecond=0))
        return file_bytes(file_told(answer, ending), ending, making)

    try:
        st.download_button(
            f"Save {stem}{ending}", made, f"{stem}{ending}", mime, key=f"take{ending}", on_click="ignore"
        )
    except EnergyPlanError as error:
        problems(error, what="This file can't be made")
