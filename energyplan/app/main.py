"""The app: questions as pages, what they rest on above them, the answer first.

Run by ``energyplan app``, or by ``streamlit run`` on this file or on the door at the root.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import streamlit as st

from energyplan.app import byclock, circuit, day, power, prices, setup, sidebyside, takealong, vessel, when, worth
from energyplan.app.desk import Desk, desk_of
from energyplan.app.header import desk_row
from energyplan.app.state import current

__all__ = ["run"]

MARK = Path(__file__).with_name("mark.svg")


@dataclass(frozen=True, slots=True)
class _View:
    """A question, the address of its page, and what shows it."""

    title: str
    address: str
    show: Callable[[Desk], None]


VIEWS = (
    _View("The day", "day", day.page),
    _View("When", "when", when.page),
    _View("By the clock", "by-the-clock", byclock.page),
    _View("Circuit", "circuit", circuit.page),
    _View("Power", "power", power.page),
    _View("Worth changing", "worth-changing", worth.page),
    _View("Side by side", "side-by-side", sidebyside.page),
    _View("Your vessel", "your-vessel", vessel.page),
    _View("Set-up", "set-up", setup.page),
    _View("Prices", "prices", prices.page),
    _View("Take along", "take-along", takealong.page),
)


def run() -> None:
    """Show the page that was asked for."""
    st.set_page_config(page_title="energyplan", page_icon=str(MARK), layout="wide")
    st.logo(str(MARK), size="large")
    shown: list[Desk] = []
    pages = [
        st.Page(partial(_show, view, shown), title=view.title, url_path=view.address, default=view is VIEWS[0])
        for view in VIEWS
    ]
    chosen = st.navigation(pages, position="hidden")
    # The drawer that a narrow screen gets otherwise stays open over the page that was chosen in it.
    with st.container(horizontal=True, gap="xxsmall", key="pages"):
        for page in pages:
            st.page_link(page, width="content")
    head = st.container(gap="xsmall")
    work = current()
    work.turn_to(chosen.title)
    desk_row(work)
    shown.append(desk_of(work, head))
    chosen.run()


def _show(view: _View, desks: list[Desk]) -> None:
    view.show(desks[0])


if __name__ == "__main__":
    run()
