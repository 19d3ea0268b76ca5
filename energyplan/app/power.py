"""Power: what each hold and boil is set to, needs, and is advised; the sag of one step against its cap."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.holds import SagCurve
from energyplan.advice.power import PowerRow, with_advised_caps
from energyplan.advice.power_settings import with_hold_caps
from energyplan.app.answers import sag_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, sentences, table
from energyplan.app.plaintext import plain
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.charts import sag_curve, sag_marks
from energyplan.report.sentences import power_sentence
from energyplan.report.tables import power_table, sag_table

__all__ = ["page"]

MOST_STOPS = 60  # of the slider
TWICE = 2  # the needed power is where the curve bends; beyond twice of it nothing changes
SHOWN_MIN = 0.5  # shorter than what is told as a minute
LABELS = {"set_w": "Set, W", "needed_w": "Needed", "advised_w": "Advised", "change_kwh": "kWh"}


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(power_sentence(answer, at_hand.show))
    if not answer.power.rows:
        st.text("No step holds a temperature or boils.")
        return
    frame = power_table(answer.power, at_hand.show)
    first = ["step", "set_w", "needed_w", "advised_w", "change_kwh"]
    ordered = frame[[*first, *(name for name in frame.columns if name not in first)]]
    table(ordered, alt="Set, needed and advised power of each hold and boil", labels=LABELS)
    advised = with_advised_caps(at_hand.plan, answer.power)
    st.button(
        "Take all advised",
        key="take_advised",
        disabled=advised == at_hand.plan,
        on_click=at_hand.work.replace,
        args=(advised,),
        help="Writes the advised powers into the plan; Undo takes them back",
    )
    sentences(*answer.power.notes)
    st.subheader("One step and its cap", anchor=False)
    _one_step(at_hand, answer)


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
        curve = sag_of(at_hand.plan, name, _caps_w(scale_w))
    except EnergyPlanError as error:
        problems(error, what="This step has no curve")
        return
    first_w = max(cap_w for cap_w in scale_w if cap_w <= row.advised_w)
    # The key has the end of the scale in it: a value beyond a shorter scale would be an error.
    key = f"cap_{scale_w[-1]}_{name}"
    cap_w = float(st.slider("Cap while holding, W", 0, scale_w[-1], first_w, scale_w[1], key=key))
    caps = (("set", row.set_w), ("advised", row.advised_w), ("slider", cap_w))
    marks, frame = sag_marks(curve, at_hand.show, caps), sag_table(curve, at_hand.show)
    drawn = sag_curve(frame, marks, at_hand.look, description=_description(row, at_hand))
    chart(drawn, key="sag_chart")
    sentences(_tried(at_hand, curve, cap_w), _said(row, at_hand))
    changed = with_hold_caps(at_hand.plan, {name: cap_w})
    st.button(
        f"Set {cap_w:.0f} W for {plain(name)}", key="take_cap", disabled=changed == at_hand.plan,
        on_click=at_hand.work.replace, args=(changed,),
    )  # fmt: skip


def _scale_w(row: PowerRow, at_hand: Desk) -> range:
    """Caps [W] that the slider can stand at: steps that the vessel can be set to, up to all that could matter."""
    step_w = max(int(at_hand.plan.vessel.power_step_w), 1)
    most_w = int(max(row.set_w, row.advised_w, TWICE * row.needed_w)) // step_w + 1
    every = most_w // MOST_STOPS + 1
    return range(0, (most_w + every) * step_w, every * step_w)


def _caps_w(scale_w: range) -> tuple[float, ...]:
    """Caps of the curve: every stop of the slider, and enough between them to draw the bend."""
    between = (scale_w[-1] * place / MOST_STOPS for place in range(MOST_STOPS))
    return tuple(sorted({*(float(cap_w) for cap_w in scale_w), *between}))


def _tried(at_hand: Desk, curve: SagCurve, cap_w: float) -> str:
    """How far the step sags with the slider's cap, and for how long."""
    place = list(curve.caps_w).index(cap_w)
    lowest = at_hand.show.temperature(float(curve.lowest_c[place]))
    outside_min = float(curve.outside_band_min[place])
    worst = "in the worst plausible case"
    if outside_min < SHOWN_MIN:
        return f"With {cap_w:.0f} W it stays in the band, at {lowest} or more, {worst}."
    return (
        f"With {cap_w:.0f} W it falls to {lowest} {worst}, and is outside the band for {outside_min:.0f} of "
        f"{curve.hold_min:.0f} min."
    )


def _description(row: PowerRow, at_hand: Desk) -> str:
    return (
        f"Lowest temperature of {row.step} against the cap on its power, in the worst plausible case. Advised are "
        f"{row.advised_w:.0f} W, which keep {at_hand.show.temperature(row.lowest_c)}."
    )


def _said(row: PowerRow, at_hand: Desk) -> str:
    return (
        f"{row.advised_w:.0f} W advised, {row.needed_w:.0f} W needed: {row.why}. Lowest in that case: "
        f"{at_hand.show.temperature(row.set_lowest_c)} with the power set, {at_hand.show.temperature(row.lowest_c)} "
        "with the one advised."
    )
