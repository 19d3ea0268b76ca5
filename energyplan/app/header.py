"""The bar on top: whose day it is, its start, and the hours in which the brewer brews."""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import partial
from typing import Any

import streamlit as st

from energyplan.advice.starts import usual_hours
from energyplan.app.answers import NO_TARIFF, TariffText, packaged, readings_of, tariff_of
from energyplan.app.editing import written_in
from energyplan.app.firstcard import assumed_values
from energyplan.app.pieces import plain, popped, problems, quiet
from energyplan.app.state import Work, brewed_in, current, packaged_plans
from energyplan.base.errors import EnergyPlanError, FileError
from energyplan.plan.brewery import with_shared
from energyplan.plan.file import parse_plan_files
from energyplan.plan.model import Hours
from energyplan.plan.values import MINUTES_PER_DAY
from energyplan.tariffs.clock import zone_of
from energyplan.tariffs.tariff import zone_name

__all__ = ["WEEKDAYS", "chosen_in", "desk_row", "hours_form", "hours_words", "save_buttons", "text_of"]

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


LONGEST_LABEL = 28


MOST_BYTES = 5_000_000


def desk_row(work: Work) -> None:
    """Show what the answer rests on, as a row of buttons that open."""
    with st.container(horizontal=True, gap="small", vertical_alignment="center", key="desk"):
        _plan(work)
        _tariff(work)
        _start(work)
        _hours(work)
        assumed_values(work)
        _units(work)
        if work.past:
            st.button("Undo", key="undo", on_click=work.undo, icon=":material/undo:", help="Take back the last change")
    _over(work)
    _reading(work)
    if work.problem is not None:
        problems(work.problem, what="That file can't be used as it is")


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_LABEL else text[: LONGEST_LABEL - 1].rstrip() + "…"


def _ready_made(what: str, titles: Mapping[str, str], here: str, take: Callable[[str], None]) -> None:
    """A button for each plan or tariff that comes with the program; that on the desk is marked.

    No select box: the first thing in a popover has the focus, and a box that loses it while a file is opened sends
    its old choice once more.
    """
    st.text(f"A {what} that comes with the program")
    for name, title in titles.items():
        is_here = name == here
        mark = ":material/check:" if is_here else None
        st.button(plain(title), key=f"{what}_{name}", on_click=take, args=(name,), icon=mark, disabled=is_here,
                  width="stretch")  # fmt: skip
    if here not in titles:
        quiet(f"A {what} of your own is open.")


def _plan(work: Work) -> None:
    box = popped(plain(_short(work.plan.title)), icon=":material/description:", key="plan")
    if box is None:
        return
    titles = {name: plan.title for name, plan in packaged_plans().items()}
    with box:
        _ready_made("plan", titles, work.file_name, _take_packaged_plan)
        st.file_uploader(
            "Open a plan file (TOML), with that of its brewery if it uses one",
            type=["toml"],
            accept_multiple_files=True,
            key="plan_file",
            on_change=_take_plan_file,
        )
        save_buttons(work, key="save")


def save_buttons(work: Work, *, key: str) -> None:
    """A button for the plan, and one for its brewery if it is a file of its own; each is written when it is pressed."""
    for words, name in zip(("Save the plan", "Save its brewery"), work.file_names, strict=False):
        st.download_button(
            words, partial(work.file_text, name), file_name=name, mime="application/toml", on_click="ignore",
            key=key if words == "Save the plan" else f"{key}_brewery",
        )  # fmt: skip


def _take_packaged_plan(name: str) -> None:
    work = current()
    work.open(replace(work.day, plan=packaged_plans()[name], file_name=name, entered=frozenset(), texts=()))


def _take_plan_file() -> None:
    work, given = current(), st.session_state["plan_file"]
    work.problem = None
    if not given:
        return
    try:
        texts = {file.name: text_of(file) for file in given}
        name = next((name for name, text in texts.items() if "[[step]]" in text), given[0].name)
        own = texts.pop(name)
        files = parse_plan_files(own, source=name, beside=texts)
        tables = with_shared(tomllib.loads(own), tomllib.loads(files.shared.text if files.shared else ""))
        used = ((files.shared.name, files.shared.text),) if files.shared else ()
        work.open(
            replace(work.day, plan=files.plan, file_name="", entered=written_in(tables), texts=((name, own), *used))
        )
        for brewed in brewed_in(files, texts):
            work.keep_brewed(brewed)
    except EnergyPlanError as error:
        work.problem = error


def text_of(given: Any) -> str:
    """Text of an uploaded file.

    Raises
    ------
    FileError
        If it is too large, or not text.
    """
    content: bytes = given.getvalue()
    if len(content) > MOST_BYTES:
        raise FileError(f"{given.name}: {len(content)} bytes is too large; at most {MOST_BYTES}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileError(f"{given.name}: not a text file; save it as UTF-8") from None


def _tariff(work: Work) -> None:
    box = popped(plain(_short(_tariff_title(work.tariff))), icon=":material/payments:", key="tariff")
    if box is None:
        return
    titles = {**{name: _tariff_title(source) for name, source in packaged().items()}, NO_TARIFF: "No tariff"}
    chosen = NO_TARIFF if work.tariff is None else work.tariff.name if work.tariff.is_packaged else ""
    with box:
        _ready_made("tariff", titles, chosen, _take_packaged_tariff)
        st.file_uploader(
            "Open a tariff file (TOML), with the CSV of its prices if it has one",
            type=["toml", "csv"],
            accept_multiple_files=True,
            key="tariff_files",
            on_change=_take_tariff_files,
        )


def _tariff_title(source: TariffText | None) -> str:
    return "No tariff" if source is None else tariff_of(source).name


def _take_packaged_tariff(name: str) -> None:
    current().use_tariff(packaged().get(name))


def _take_tariff_files() -> None:
    work, given = current(), st.session_state["tariff_files"]
    work.problem = None
    if not given:
        return
    try:
        work.use_tariff(_tariff_from(given))
    except EnergyPlanError as error:
        work.problem = error


def _tariff_from(given: Sequence[Any]) -> TariffText:
    """A tariff that reads well, from uploaded files.

    Raises
    ------
    EnergyPlanError
        If there is not exactly one TOML, or it says something impossible.
    """
    tables = [file for file in given if file.name.endswith(".toml")]
    if len(tables) != 1:
        raise FileError(f"{len(tables)} TOML files: hand in one tariff, and the CSV files that it names")
    series = tuple((file.name, text_of(file)) for file in given if file is not tables[0])
    source = TariffText(name=tables[0].name, text=text_of(tables[0]), series=series)
    tariff_of(source)
    return source


def _start(work: Work) -> None:
    box = popped(f"Start {plain(f'{work.wall:%H:%M, %a %d %b}')}", icon=":material/schedule:", key="start")
    if box is None:
        return
    st.session_state["day"], st.session_state["at"] = work.wall.date(), work.wall.time()
    with box:
        st.date_input("Day", key="day", format="YYYY-MM-DD", on_change=_take_start)
        st.time_input("Start, local clock", key="at", step=300, on_change=_take_start)


def _take_start() -> None:
    work = current()
    day: date = st.session_state["day"]
    at: time | None = st.session_state["at"]
    work.start_at(datetime.combine(day, at or work.wall.time()))


def _hours(work: Work) -> None:
    if box := popped(plain(hours_words(usual_hours(work.plan))), icon=":material/home:", key="hours"):
        with box:
            hours_form(work)


def _over(work: Work) -> None:
    """A day that was kept, and lies back: say so, and offer the next one at the same time of day."""
    now = datetime.now(zone_of(zone_name(work.plan.site, tariff_of(work.tariff) if work.tariff else None)))
    if work.wall.date() >= now.date() - timedelta(days=1):  # today's, or one that began before midnight
        return
    following = datetime.combine(now.date() + timedelta(days=1), work.wall.time())
    with st.container(border=True, horizontal=True, vertical_alignment="center", key="start_over"):
        st.markdown(f"This start was on {plain(f'{work.wall:%a %d %b %Y}')}.")
        st.button(f"Start tomorrow at {plain(f'{following:%H:%M}')}", key="start_tomorrow", on_click=work.start_at,
                  args=(following,))  # fmt: skip


TWICE = ("the first time", "the second time")


def chosen_in(work: Work) -> None:
    """Take over what was chosen in the row, which is drawn later than what it changes."""
    work.units = st.session_state.get("units") or work.units
    chosen = st.session_state.get("reading")
    work.reading = TWICE.index(chosen) if chosen is not None and _is_twice(work) else None


def _is_twice(work: Work) -> bool:
    return len(readings_of(work.plan, work.tariff, work.wall)) > 1


def _reading(work: Work) -> None:
    """Let the visitor say which of two moments is meant, when a clock that goes back shows the start twice."""
    if _is_twice(work):
        st.segmented_control("The clock shows this start twice that night: take", TWICE, key="reading")


def _units(work: Work) -> None:
    st.session_state["units"] = work.units  # another page's field takes nothing over from that of the last one
    st.segmented_control(
        "Units",
        ["metric", "us"],
        required=True,
        format_func=lambda system: "°C, L" if system == "metric" else "°F, gal",
        key="units",
        label_visibility="collapsed",
        on_change=work.redraw,
    )
