"""The page Keep: days kept in this browser by name, files in and out, sheets, two days side by side."""

from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import answer_of, comparison_of
from energyplan.app.desk import Desk
from energyplan.app.header import save_buttons, text_of
from energyplan.app.pieces import chart, chosen_part, plain, problems, quiet, said, show_table, style
from energyplan.app.sharing import LEFT_OUT, left_out
from energyplan.app.state import Work, brewery_of, current, file_stem, packaged_plans
from energyplan.app.storage import storage
from energyplan.base.errors import EnergyPlanError, visible
from energyplan.base.kinds import WORD, WRITTEN, Style, Value
from energyplan.base.sentence import words
from energyplan.faces.charts import beside_chart
from energyplan.faces.files import Making, file_bytes, first_page
from energyplan.faces.frames import frame
from energyplan.faces.sheet import PAPERS, Paper
from energyplan.plan.file import parse_plan
from energyplan.plan.model import Plan
from energyplan.telling.comparison import Side, comparison_told, courses_table, sides_told
from energyplan.telling.files import file_told

__all__ = ["PARTS", "drawer", "page", "sheets", "side_by_side"]

MOST = 50


def drawer(at_hand: Desk) -> None:
    """Days by name: keep the one on the desk, open one, duplicate it, throw it away."""
    work = at_hand.work
    at_hand.headline(_kept_words(len(work.lying.drawer)))
    if storage().keeps:
        quiet(
            "Kept in this browser: the day on the desk, its prices, your brewery, and the days that you put by here. "
            "Nothing of it lies on a server."
        )
    kept = dict(work.lying.drawer)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        name = st.text_input("Name", work.plan.title, key=f"drawer_name_{work.version}", max_chars=60, width=320)
        is_there = name.strip() in kept
        words = "Put this day by, in place of the one with this name" if is_there else "Put this day by"
        is_off = not name.strip() or (len(kept) >= MOST and not is_there)
        st.button(words, key="put_by", on_click=_put_by, args=(name,), disabled=is_off)
    if not name.strip():
        quiet("Give it a name first.")
    if len(kept) >= MOST:
        quiet(f"{MOST} days are put by, and no more can be: remove one first.")
    for place, (title, _) in enumerate(work.lying.drawer):
        with st.container(horizontal=True, vertical_alignment="center", border=True):
            st.markdown(f"**{plain(visible(title))}**", width="stretch")
            st.button("Open", key=f"drawer_open_{place}", on_click=_open, args=(title,))
            st.button("Duplicate", key=f"drawer_copy_{place}", on_click=_duplicate, args=(title,),
                      disabled=len(kept) >= MOST)  # fmt: skip
            st.button("Remove", key=f"drawer_drop_{place}", on_click=_drop, args=(title,))
    _brewery(work)
    _link(work)


def _brewery(work: Work) -> None:
    """The brewery that is kept apart from the days: put it under the day on the desk, or keep that of the desk."""
    st.header("Your brewery", anchor=False)
    kept, here = work.lying.brewery, brewery_of(work.day)
    if kept == here:
        st.text("The day on the desk is brewed in the brewery that you keep: vessel, place, circuit, prices and hours.")
        return
    if kept is None:
        st.text("Vessel, place, circuit, prices and hours can be kept apart from the days, for the next one.")
    else:
        st.text("The day on the desk is brewed elsewhere than in the brewery that you keep.")
    with st.container(horizontal=True):
        if kept is not None:
            st.button("Brew this day in the one kept", key="brew_in", on_click=work.brew_in, args=(kept,))
        words = "Keep this brewery" if kept is None else "Keep the one on the desk instead"
        st.button(words, key="keep_brewery", on_click=work.keep_brewery)


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


FILES = (
    (".pdf", "application/pdf", "The sheets (PDF)", "A page for the electrician and one for the brew day"),
    (".ics", "text/calendar", "The calendar (ICS)", "Phases, and reminders for what needs hands"),
    (".csv", "text/csv", "The phases (CSV)", "Times, temperatures, kWh and cost of every phase"),
    (".png", "image/png", "The day as a picture (PNG)", "The chart of the first page"),
    (".svg", "image/svg+xml", "The day as a drawing (SVG)", "The same, to scale as you like"),
)


def sheets(at_hand: Desk) -> None:
    """Show the page."""
    at_hand.headline("Take the day along: on paper, in the calendar, as a file.")
    stem = file_stem(at_hand.plan.title)
    with _row("The plan (TOML)", "Everything that you entered; open it here again."):
        save_buttons(at_hand.work, key="take_plan")
    if at_hand.answer is None:
        at_hand.answered()
        return
    paper: Paper = st.segmented_control(
        "Paper", PAPERS, default="us-letter" if at_hand.show.system == "us" else "a4", required=True,
        format_func=lambda name: {"a4": "A4", "us-letter": "US letter"}[name], key=f"paper_{at_hand.show.system}",
    )  # fmt: skip
    for ending, mime, title, what in FILES:
        with _row(title, what):
            _file(at_hand, ending, mime, stem, paper)
        if ending == ".pdf":
            place = st.container(key="first_page")
    with place:
        _preview(at_hand.answer, Style(at_hand.show.system), paper)


def _preview(answer: Answer, how: Style, paper: Paper) -> None:
    """The first page as it will be printed."""
    try:
        with st.spinner("Setting the first page"):
            page = _first_page(answer, how, paper)
    except EnergyPlanError as error:
        problems(error, what="The first page can't be shown")
        return
    quiet("The first page of the PDF")
    st.image(page, width="stretch", alt="The first page of the PDF as it is printed; the PDF itself is read aloud")


@lru_cache(maxsize=8)
def _first_page(answer: Answer, how: Style, paper: Paper) -> bytes:
    return first_page(file_told(answer, ".pdf"), Making(style=how, paper=paper))


def _row(title: str, what: str) -> Any:
    """What a file is, and beside it the place for its button."""
    row = st.container(border=True, horizontal=True, vertical_alignment="center", gap="medium")
    with row.container(width="stretch", gap="xxsmall"):
        st.markdown(f"**{title}**  \n{what}")
    return row


def _file(at_hand: Desk, ending: str, mime: str, stem: str, paper: Paper) -> None:
    """Make the file when it is asked for: a PDF takes longer than a page should."""
    if at_hand.answer is None:
        return
    answer, style = at_hand.answer, Style(at_hand.show.system)

    def made() -> bytes:
        making = Making(style=style, paper=paper, stamp=datetime.now(UTC).replace(microsecond=0))
        return file_bytes(file_told(answer, ending), ending, making)

    try:
        st.download_button(
            f"Save {stem}{ending}", made, f"{stem}{ending}", mime, key=f"take{ending}", on_click="ignore"
        )
    except EnergyPlanError as error:
        problems(error, what="This file can't be made")


AS_OPENED, OWN, BY = "as it was opened", "a plan file of your own", "put by: "


def side_by_side(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    try:
        other = _other(at_hand.work)
        found = None if other is None else answer_of(other, at_hand.tariff, answer.start)
    except EnergyPlanError as error:
        at_hand.headline("The other plan can't be put beside this one.")
        problems(error, what="What is in the way")
        return
    if other is None or found is None:
        at_hand.headline("Hand in the plan to put beside this one.")
        return
    if other == at_hand.plan:
        at_hand.headline("Both plans are the same.")
        st.text("Change something on the page Day or Your brewery, or choose another plan.")
        return
    _both(at_hand, _other_side(found, at_hand.plan), Side(answer=answer, name=WORD("on the desk"), heading="Desk"))


def _other_side(found: Answer, plan: Plan) -> Side:
    title = found.day.plan.title
    if title == plan.title:
        return Side(answer=found, name=WORD("the plan as opened"), heading="Opened")
    return Side(answer=found, name=WRITTEN(title), heading="Other")


def _other(work: Work) -> Plan | None:
    """The plan to compare with; None while its file is missing.

    Raises
    ------
    EnergyPlanError
        If the file that was handed in is no plan.
    """
    plans, by = packaged_plans(), {f"{BY}{name}": day.plan for name, day in work.lying.drawer}
    options = [AS_OPENED, *by, *(name for name in plans if plans[name] != work.opened), OWN]
    names = {**{key: f"{key.removeprefix(BY)}, put by" for key in by}, **{name: plans[name].title for name in plans}}
    # With nothing changed yet, another plan answers more than the same one does.
    chosen = st.selectbox(
        "Put beside it", options, 0 if work.is_changed else 1, key="beside", width=420, persist_state="session",
        format_func={AS_OPENED: f"The plan {AS_OPENED}", OWN: "A plan file of your own", **names}.__getitem__,
    )  # fmt: skip
    if chosen == OWN:
        given = st.file_uploader("Plan file (TOML)", type=["toml"], key="beside_file")
        return None if given is None else parse_plan(text_of(given), source=given.name)
    return {**plans, **by}.get(chosen, work.opened)


def _both(at_hand: Desk, other: Side, desk: Side) -> None:
    told = sides_told(other, desk)
    headline = words(told.headline, style()) if told.headline else ""
    at_hand.headline(headline)
    lines = (WORD("as opened") if isinstance(other.name, Value) and other.name.kind is WORD else other.name, desk.name)
    courses = courses_table([
        (name, side.answer.day.trajectory.times_s, side.answer.day.trajectory.temperatures_c)
        for name, side in zip(lines, (other, desk), strict=True)
    ])  # fmt: skip
    description = f"Temperature of both days from switching on. {headline} The tables below have the numbers."
    chart(beside_chart(frame(courses, style()), at_hand.look, description=description), key="beside_chart")
    show_table(told.table("totals"), alt="Both days as wholes")
    st.header("Phase by phase", anchor=False)
    show_table(told.table("phases"), alt="Energy, cost, minutes and largest current of each phase of both")
    _causes(at_hand, other.answer, desk.answer)
    plan = other.answer.day.plan
    if at_hand.plan != plan:
        st.button("Put the other plan on the desk", key="take_other", on_click=_take, args=(plan,),
                  help="Undo takes it back")  # fmt: skip


def _causes(at_hand: Desk, other: Answer, desk: Answer) -> None:
    st.header("What makes the difference", anchor=False)
    try:
        with st.spinner("Swapping one cause after the other"):
            found = comparison_of(other.day.plan, desk.day.plan, at_hand.tariff, desk.start)
    except EnergyPlanError as error:
        problems(error, what="It can't be told by cause")
        return
    told = comparison_told(found)
    said(*told.sentences)
    show_table(told.table("causes"), alt="Change of the energy by cause")


def _take(plan: Plan) -> None:
    current().replace(plan)


PARTS = ("Days", "Sheets and files", "Side by side")


def page(at_hand: Desk) -> None:
    """Show the page."""
    part = chosen_part("keep", PARTS)
    if part == PARTS[0]:
        drawer(at_hand)
    elif part == PARTS[1]:
        sheets(at_hand)
    else:
        side_by_side(at_hand)
