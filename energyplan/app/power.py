"""Power: a bar for each hold and boil, the sag of one step against its cap, and what else is worth changing."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer, advised_plan
from energyplan.advice.batchchoices import BatchQuestion
from energyplan.advice.compare import BestPlan, Option
from energyplan.advice.heat import KeptWater
from energyplan.advice.power import PowerRow
from energyplan.advice.savings import START, Saving, Savings, group_of
from energyplan.advice.variants import all_elements_w, with_hold_caps
from energyplan.app.answers import batches_of, best_of, sag_of, savings_of, ticked_of
from energyplan.app.desk import Desk
from energyplan.app.fields import suffix, typed
from energyplan.app.pieces import chart, folded, plain, problems, quiet, said, show_table, style
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import WATTS, write
from energyplan.base.sentence import words
from energyplan.base.units import DURATION, TEMPERATURE, VOLUME
from energyplan.faces.charts import best_chart, power_bars, sag_curve, sag_marks
from energyplan.faces.frames import frame
from energyplan.tariffs.clock import to_local
from energyplan.telling.batches import batches_told
from energyplan.telling.best import way_name, way_told, ways_of, ways_told
from energyplan.telling.measures import GROUPS, savings_told, ticked_sentence
from energyplan.telling.power import BARS, advised_sentence, bars_table, power_headline, power_told, why_sentence
from energyplan.telling.ramps import sag_description, sag_told, tried_sentence

__all__ = ["first", "page"]

MOST_STOPS = 60  # of the slider
TWICE = 2  # the needed power is where the curve bends; beyond twice of it nothing changes


def first(at_hand: Desk) -> None:
    """Show the powers in a sentence and as bars."""
    if (answer := at_hand.answered()) is None:
        return
    headline = power_headline(answer.power)
    at_hand.headline(headline)
    if answer.power.rows:
        table = bars_table(answer.power, all_elements_w(at_hand.plan.vessel))
        heard = f"Power of each hold and boil. {words(headline, style())} The table below has the numbers."
        chart(power_bars(frame(table, style()), at_hand.look, description=heard), key="power_bars")


def page(at_hand: Desk) -> None:
    """Show the rest of the page; what else is worth changing is worked out when its fold is opened."""
    if (answer := at_hand.answer) is None:
        return
    told = power_told(answer.power)
    if answer.power.rows:
        _advised(at_hand, answer)
        said(*(finding.said for finding in told.findings), *told.sentences)
        show_table(told.table("power"), alt="Set, needed and advised power of each hold and boil", detail=0)
        said(*told.cautions)
        st.header("One step and its cap", anchor=False)
        _one_step(at_hand, answer)
    if fold := folded("What else is worth changing", "worth"):
        with fold:
            _worth(at_hand.below(), answer)


def _advised(at_hand: Desk, answer: Answer) -> None:
    """The button that takes what is advised, with what it does beside it."""
    quiet(words(BARS, style()))
    advised = advised_plan(answer)
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "Take all advised", key="take_advised", disabled=advised == at_hand.plan,
            on_click=at_hand.work.replace, args=(advised,), help="Undo takes them back",
        )  # fmt: skip
        said(advised_sentence(answer.power, {step.name: step.hold_power_w for step in advised.steps}))


@st.fragment
def _one_step(at_hand: Desk, answer: Answer) -> None:
    """The sag of one step; run alone when the step or the slider moves."""
    if at_hand.work.plan != at_hand.plan:
        st.rerun()  # the button below set a power, and the whole page speaks of the old one
    rows = {row.step: row for row in answer.power.rows}
    name = st.selectbox("Step", list(rows), key="power_step", width=420)
    row = rows[name]
    scale_w = _scale_w(row, at_hand)
    try:
        curve = sag_of(at_hand.plan, name, _caps_w(scale_w), answer.learned)
    except EnergyPlanError as error:
        problems(error, what="This step has no curve")
        return
    first_w = max(cap_w for cap_w in scale_w if cap_w <= row.advised_w)
    # The key has the end of the scale in it: a value beyond a shorter scale would be an error.
    key = f"cap_{scale_w[-1]}_{name}"
    cap_w = float(st.slider("Cap while holding, W", 0, scale_w[-1], first_w, scale_w[1], key=key))
    caps = (("set", row.set_w), ("advised", row.advised_w), ("slider", cap_w))
    marks = sag_marks(curve.target_c, curve.band_k, at_hand.show, caps)
    frame_of_caps = frame(sag_told(curve, every=1).table("caps"), style())
    drawn = sag_curve(frame_of_caps, marks, at_hand.look, description=words(sag_description(row), style()))
    chart(drawn, key="sag_chart")
    said(tried_sentence(curve, cap_w), why_sentence(row))
    changed = with_hold_caps(at_hand.plan, {name: cap_w})
    st.button(
        f"Set {write(WATTS(cap_w))} for {plain(name)}", key="take_cap", disabled=changed == at_hand.plan,
        on_click=at_hand.work.replace, args=(changed,),
    )  # fmt: skip


def _scale_w(row: PowerRow, at_hand: Desk) -> range:
    """Caps [W] that the slider can stand at: steps that the vessel can be set to, up to all that could matter.

    The scale hangs on the step alone, so that setting a cap leaves the slider where it is; it ends with the elements.
    """
    step_w = max(int(at_hand.plan.vessel.power_step_w), 1)
    plates_w = sum(element.power_w for element in at_hand.plan.vessel.elements)
    most = int(min(max(row.advised_w, TWICE * row.needed_19_of_20_w), plates_w)) // step_w + 1
    every = most // MOST_STOPS + 1
    return range(0, (most + every) * step_w, every * step_w)


def _caps_w(scale_w: range) -> tuple[float, ...]:
    """Caps of the curve: every stop of the slider, and enough between them to draw the bend."""
    between = (scale_w[-1] * place / MOST_STOPS for place in range(MOST_STOPS))
    return tuple(sorted({*(float(cap_w) for cap_w in scale_w), *between}))


# What else is worth changing --------------------------------------------------------------------------------------


def _worth(at_hand: Desk, answer: Answer) -> None:
    """Changes in three groups, the best ways to brew, more beer."""
    with st.container(horizontal=True):
        brews = int(
            st.number_input("Brews in a year", 1, 1000, 20, key="worth_brews", persist_state="session", width=200)
        )
        jacket = st.number_input(
            "What a jacket costs", 0.0, None, None, key="worth_jacket", persist_state="session", width=200,
            placeholder="not entered", help="In the money of your prices; the numbers say after how many brews it pays",
        )  # fmt: skip
    try:
        with st.spinner("Simulating each change"):
            found = savings_of(at_hand.plan, at_hand.tariff, answer.start, int(brews), jacket)
    except EnergyPlanError as error:
        at_hand.headline("What a change is worth can't be worked out.")
        problems(error, what="What is in the way")
        return
    told = savings_told(found)
    at_hand.headline(told.headline or told.title)
    with at_hand.head:
        said(*told.sentences)
    _changes(at_hand, answer, found)
    if fold := folded("Every change in numbers, and what is not counted", "changes"):
        with fold:
            show_table(told.table("rows"), alt="What each change saves on a brew and in a year")
            said(*told.parts[0].sentences)
    _ways(at_hand, answer)
    if fold := folded("A bigger batch, or two on one day", "batches"):
        with fold:
            _more_beer(at_hand, answer)


@st.fragment
def _changes(at_hand: Desk, answer: Answer, found: Savings) -> None:
    """Each change with a tick box and a button; run alone on a tick, and works the ticked ones out together."""
    if at_hand.work.plan != at_hand.plan or at_hand.work.wall != at_hand.wall:
        st.rerun()  # a button below changed the plan, and the whole page speaks of the old one
    rows = list(zip(found.rows, savings_told(found).table("rows"), strict=False))
    ticked: list[str] = []
    for group, title in GROUPS.items():
        inside = [(row, cells) for row, cells in rows if group_of(row.keys[0]) == group]
        if inside:
            st.subheader(title, anchor=False)
        ticked += [row.keys[0] for row, cells in inside if _change(answer, row, cells)]
    if not ticked:
        quiet("Tick what you would do: it is then worked out together, because changes act on each other.")
        return
    try:
        with st.spinner("Simulating them together"):
            taken = ticked_of(at_hand.plan, at_hand.tariff, answer.start, frozenset(ticked))
    except EnergyPlanError as error:
        problems(error, what="These don't go together")
        return
    with st.container(horizontal=True, vertical_alignment="center", border=True):
        said(ticked_sentence(found, taken))
        if isinstance(taken, Saving):
            st.button(
                "Apply what is ticked", key="apply_ticked", type="primary", on_click=_apply, args=(taken, answer.zone)
            )


def _change(answer: Answer, row: Saving, cells: Mapping[str, Any]) -> bool:
    """One change: whether it is ticked, what it is worth, what is to be minded, and its button."""
    name, worth, risk = (words(cells[key], style()) if cells[key] else "" for key in ("change", "text", "risk"))
    with st.container(horizontal=True, vertical_alignment="center"):
        with st.container(gap=None):
            is_ticked = st.checkbox(
                f"{plain(name)}: **{plain(worth)}** a brew", key=f"tick_{row.keys[0]}", persist_state="session"
            )
            if risk:
                quiet(risk)
        st.button(
            "Apply",
            key=f"apply_{row.keys[0]}",
            on_click=_apply,
            args=(row, answer.zone),
            help=f"Changes the plan: {name}",
        )
    return is_ticked


def _apply(taken: Saving, zone: str) -> None:
    current().take(taken.day.plan, to_local(taken.start, zone) if START in taken.keys and taken.start else None)
    for key in taken.keys:
        st.session_state[f"tick_{key}"] = False


def _more_beer(at_hand: Desk, answer: Answer) -> None:
    """Show the ways to more wort."""
    try:
        question = _question(at_hand)
        with st.spinner("Simulating the other ways"):
            found = batches_of(at_hand.plan, at_hand.tariff, answer.start, question)
    except EnergyPlanError as error:
        problems(error, what="That can't be worked out")
        return
    told = batches_told(found)
    show_table(told.table("ways"), alt="Energy, cost, time and volume of each way to brew")
    said(*(finding.said for finding in told.findings), *told.sentences, *told.cautions)


def _question(at_hand: Desk) -> BatchQuestion:
    litres, degrees = ("L", "degC") if at_hand.show.system == "metric" else ("gal", "degF")
    end, between, kept, warm = st.columns(4)
    for key, unit in (("end", litres), ("between", "min"), ("kept", litres), ("warm", degrees.replace("deg", "°"))):
        suffix(f"batches_{key}", unit)
    end_text = end.text_input("Wort after the boil", key="batches_end", placeholder="the most that fits")
    between_s = typed(between.text_input("Between two batches", "30", key="batches_between"), DURATION, "min")
    kept_l = typed(kept.text_input("Chiller water kept", key="batches_kept", placeholder="none"), VOLUME, litres)
    usual = "55" if degrees == "degC" else "131"
    kept_c = typed(warm.text_input("Its temperature", usual, key="batches_warm"), TEMPERATURE, degrees)
    water = None if kept_l is None or kept_c is None else KeptWater(volume_l=kept_l, temperature_c=kept_c)
    return BatchQuestion(end_l=typed(end_text, VOLUME, litres), between_s=between_s or 0.0, kept=water)


KEPT, OPEN = "the one that is set", "any of that day in your hours"


WHAT = (
    "Powers of the ramps, starts of the day and waits of the strike water are tried together; holds and boils keep "
    "their powers, and the same wort comes out. Each way keeps every rating where that is possible."
)


def _ways(at_hand: Desk, answer: Answer) -> None:
    """Show what may be tried, and what came of it once it was asked for."""
    st.subheader("Cheaper, quicker, gentler", anchor=False)
    quiet(WHAT)
    keep_start = _keeps_start(at_hand)
    if not st.toggle("Try them; it takes a second or two", key="best_go", persist_state="session"):
        return
    try:
        with st.spinner("Trying ways"):
            found = best_of(at_hand.plan, at_hand.tariff, answer.start, answer.learned, keep_start=keep_start)
    except EnergyPlanError as error:
        problems(error, what="No way could be tried")
        return
    _choose(at_hand, answer, found)


def _keeps_start(at_hand: Desk) -> bool:
    options = (OPEN, KEPT) if at_hand.tariff else (KEPT,)
    key = f"best_start_{at_hand.tariff is None}"
    start = st.segmented_control(
        "Start", options, default=options[0], required=True, key=key, persist_state="session",
        help="Another start keeps the hours in the bar above",
    )  # fmt: skip
    return start == KEPT


def _choose(at_hand: Desk, answer: Answer, found: tuple[BestPlan, ...]) -> None:
    ways = ways_of(found)
    told = ways_told(ways, answer.zone)
    headline = told.headline or told.title
    headline_words = headline if isinstance(headline, str) else words(headline, style())
    st.text(headline_words)
    table = told.table("ways")
    description = f"Ways to brew the day: minutes against cost or energy. {headline_words}"
    drawn = best_chart(frame(table, style()), at_hand.look, currency=_currency(found), description=description)
    chart(drawn, key="best_chart")
    show_table(table, alt="Ways to brew the day")
    others = ways[1:]
    if not others:
        return
    names = [plain(f"{one.number}. {words(way_name(one), style())}") for one in others]
    place = st.radio("Which one", range(len(others)), format_func=names.__getitem__, key="best_which")
    chosen = others[place or 0]
    said(*way_told(chosen, found[0], answer.zone).sentences)
    st.button("Take this way over", key="take_best_plan", on_click=_take, args=(chosen.option, answer.zone),
              help="Its powers and water go into the plan, its start into the row above; Undo takes back")  # fmt: skip


def _currency(found: tuple[BestPlan, ...]) -> str:
    cost = found[0].planned.cost
    return "" if cost is None else cost.currency


def _take(option: Option, zone: str) -> None:
    current().take(option.plan, to_local(option.start, zone) if option.start else None)
