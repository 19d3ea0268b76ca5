"""The app: questions as pages, what they rest on above them, the answer first."""

import gc
import time
from collections.abc import Callable, Mapping
from dataclasses import field
from functools import cache, partial
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit import net_util

from energyplan.app import brewery, circuit, day, keep, power, when
from energyplan.app.desk import Desk, desk_of
from energyplan.app.fields import begin_marks, show_marks
from energyplan.app.firstcard import first_visit
from energyplan.app.header import chosen_in, desk_row
from energyplan.app.pieces import lead_to
from energyplan.app.sharing import LEFT_OUT, asked_for, first_work
from energyplan.app.state import Work, current
from energyplan.app.storage import kept_texts, storage
from energyplan.base.records import dataclass

__all__ = ["VIEWS", "reach", "run"]

# The framework would ask another machine for the address of this one before it refuses somebody's page.
net_util._external_ip = ""  # noqa: SLF001 - there is no setting for it

# The link must be the first thing on the page, before the framework's own bar, so a script puts it there.
SCRIPT = """
const ID = "skip-link"
export default function () {
  if (!document.getElementById(ID)) {
    const link = document.createElement("a")
    link.id = ID
    link.href = "#stMain"
    link.textContent = "Skip to the answer"
    link.addEventListener("click", event => {
      event.preventDefault()
      const first = document.querySelector("h1")
      if (first) { first.tabIndex = -1; first.focus(); first.scrollIntoView({ block: "center" }) }
    })
    const past = document.createElement("nav")
    past.ariaLabel = "Past the bar"
    past.append(link)
    document.body.prepend(past)
    // The framework's places for files say that they are decoration, and carry a name all the same.
    const named = () => document.querySelectorAll("[data-testid='stFileUploaderDropzone'][role='presentation']")
      .forEach(place => place.setAttribute("role", "group"))
    // Not every browser takes a decimal comma in a field for a number: some drop it, and 2,5 becomes 25.
    document.addEventListener("beforeinput", event => {
      if (event.data === "," && event.target.type === "number") {
        event.preventDefault()
        document.execCommand("insertText", false, ".")
      }
    }, true)
    // A box of the bar is filled once it is open: who opened it by a key goes on in it.
    let byKey = false
    document.addEventListener("pointerdown", () => { byKey = false }, true)
    document.addEventListener("keydown", event => {
      byKey = ["Enter", " "].includes(event.key) && event.target.matches("[data-testid='stPopoverButton']")
    }, true)
    const entered = () => {
      const first = byKey
        && document.querySelector("[data-testid='stPopoverBody'] :is(button:enabled, input, [tabindex='0'])")
      if (first) { byKey = false; first.focus() }
    }
    new MutationObserver(() => { named(); entered() }).observe(document.body, { subtree: true, childList: true })
  }
  document.documentElement.lang = "en"
}
"""


STYLE = Path(__file__).with_name("style.css")


def reach() -> None:
    """Lay the style and the link past the bar over the page."""
    st.html(STYLE)
    with st.container(key="reach"):
        st.components.v2.component("energyplan_reach", js=SCRIPT)(key="reach_script", height=1)


MARK = Path(__file__).with_name("mark.svg")


@dataclass(frozen=True, slots=True)
class _View:
    """A question, the address of its page, what shows it, and the addresses that it or its parts had before.

    ``first`` shows the answer and its chart, and comes before all else; a page without a chart has none.
    """

    title: str
    address: str
    page: Callable[[Desk], None]
    earlier: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    first: Callable[[Desk], None] | None = None


VIEWS = (
    _View("Day", "", day.page, {"day": {}, "by-the-clock": {"fold_room": True}}, day.first),
    _View("When", "when", when.page),
    _View("Circuit", "circuit", circuit.page, first=circuit.first),
    _View("Power", "power", power.page, {"worth-changing": {"fold_worth": True}}, power.first),
    _View(
        "Your brewery",
        "your-brewery",
        brewery.page,
        {
            "set-up": {"part_your-brewery": brewery.PARTS[0]},
            "your-vessel": {"part_your-brewery": brewery.PARTS[0]},
            "prices": {"part_your-brewery": brewery.PARTS[2]},
        },
    ),
    _View(
        "Keep",
        "keep",
        keep.page,
        {"take-along": {"part_keep": keep.PARTS[1]}, "side-by-side": {"part_keep": keep.PARTS[2]}},
    ),
)


# The browser lays out all that has come before it draws a chart, so the rest of a page waits until it is drawn
# [s; our choice: with 0.03 some charts still waited, with 0.06 none was drawn sooner].
DRAWING_S = 0.05


def run() -> None:
    """Show the page that was asked for."""
    st.logo(str(MARK), size="large")
    shown: list[Callable[[_View], None]] = []
    pages = [
        st.Page(partial(_show, view, shown), title=view.title, url_path=view.address or None, default=not view.address)
        for view in VIEWS
    ]
    led = [
        st.Page(partial(_lead_on, page, state), title=page.title, url_path=address, visibility="hidden")
        for view, page in zip(VIEWS, pages, strict=True)
        for address, state in view.earlier.items()
    ]
    chosen = st.navigation([*pages, *led], position="hidden")
    if chosen in led:
        chosen.run()
    st.set_page_config(page_title=f"{chosen.title}, energyplan", page_icon=str(MARK), layout="wide")
    begin_marks()
    reach()
    storage().wait()
    links, head = st.container(), st.container(gap="xsmall")
    work = _work()
    work.turn_to(chosen.title)
    chosen_in(work)
    with st.container():
        first_visit(work)
    row = st.container()
    at_hand = desk_of(work, head, {view.address: page for view, page in zip(VIEWS, pages, strict=True)})

    def show(view: _View) -> None:
        _keep(work)  # before what takes its time: a reload in the meantime loses nothing
        if view.first is not None:
            view.first(at_hand)
            time.sleep(DRAWING_S)
        with links:
            _bar(pages)
        with row:
            desk_row(work)
            _said(work)
        view.page(at_hand)

    shown.append(show)
    chosen.run()
    show_marks()
    work.has_run()
    _settle()


@cache
def _settle() -> None:
    """Once a first page is shown: what all modules hold stays, and no later search for garbage goes through it."""
    gc.collect()
    gc.freeze()
    gc.collect()  # how soon the next full search comes hangs on how much the last one found: now little


def _bar(pages: list[Any]) -> None:
    # The drawer that a narrow screen gets otherwise stays open over the page that was chosen in it.
    with st.container(horizontal=True, gap="xxsmall", key="pages"):
        for page in pages:
            st.page_link(page, width="content")


def _show(view: _View, shown: list[Callable[[_View], None]]) -> None:
    shown[0](view)


def _lead_on(page: Any, state: Mapping[str, Any]) -> None:
    """An address that a page had before leads to where it is now."""
    lead_to(state)
    st.switch_page(page, query_params=st.query_params.to_dict())


def _work() -> Work:
    """The session's desk; on the first run as it was left in this browser, or as the address asks."""
    if "work" not in st.session_state:
        store = storage()
        st.session_state["work"], is_read = first_work(store.texts(), st.query_params.to_dict())
        store.trouble = store.trouble if is_read else "other"
    return current()


def _said(work: Work) -> None:
    """What stands in the way of keeping, and what a link left out: said once, above the page."""
    if says := storage().says:
        st.warning(says)
    if work.borrowed:
        missing = " and ".join(LEFT_OUT[word] for word in work.borrowed)
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            st.markdown(
                f"This link left out {missing} of the one who sent it: those that you see are not the sender's."
            )
            st.button("I see", key="borrowed_seen", on_click=_seen, args=(work,))


def _seen(work: Work) -> None:
    work.borrowed = ()


def _keep(work: Work) -> None:
    """Put what can be shared into the address, and all of the desk into the browser's storage."""
    address = asked_for(work)
    if st.query_params.to_dict() != address:
        st.query_params.from_dict(address)
    store = storage()
    texts = kept_texts(work, address)
    for name in store.texts():
        if name not in texts:
            texts[name] = None
    for name, text in texts.items():
        store.keep(name, text)
    store.write()
