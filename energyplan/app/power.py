"""Power: what each hold and boil is set to, needs, and is advised; the sag of one step against its cap."""

import streamlit as st

from energyplan.advice.power import PowerRow, with_advised_caps
from energyplan.advice.settings import with_hold_caps
from energyplan.app.answers import sag_of
from energyplan.app.desk import Desk
from energyplan.app.pictures import document
from energyplan.app.pieces import chart, problems, sentences, table
from energyplan.app.plaintext import plain
from energyplan.errors import EnergyPlanError
from energyplan.report.answer import Answer
from energyplan.report.charts import sag_curve, sag_marks
from energyplan.report.sentences import power_sentence
from energyplan.report.tables import power_table, sag_table

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(power_sentence(answer))
    if not answer.power.rows:
        st.text("No step holds a temperature or boils.")
        return
    table(power_table(answer.power, at_hand.show), alt="Set, needed and advised power of each hold and boil")
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
    _one_step(at_hand, answer)


def _one_step(at_hand: Desk, answer: Answer) -> None:
    st.subheader("One step and its cap", anchor=False)
    rows = {row.step: row for row in answer.power.rows}
    name = st.selectbox("Step", list(rows), key="power_step")
    row = rows[name]
    try:
        curve = sag_of(at_hand.plan, name)
    except EnergyPlanError as error:
        problems(error, what="This step has no curve")
        return
    step_w = max(int(at_hand.plan.vessel.power_step_w), 1)
    most_w = _on_step(max(row.set_w, row.advised_w, *curve.caps_w) + step_w, step_w)
    # The key has the end of the scale in it: a value beyond a shorter scale would be an error.
    key, first_w = f"cap_{most_w}_{name}", _on_step(row.advised_w, step_w)
    cap_w = st.slider("Cap while holding, W", 0, most_w, first_w, step_w, key=key)
    caps = (("set", row.set_w), ("advised", row.advised_w), ("slider", float(cap_w)))
    marks, frame = sag_marks(curve, at_hand.show, caps), sag_table(curve, at_hand.show)
    drawn = sag_curve(frame, marks, at_hand.look, description=_description(row, at_hand))
    chart(document(drawn), key="sag_chart")
    tried = sag_of(at_hand.plan, name, float(cap_w))
    st.text(
        f"With {cap_w} W it falls to {at_hand.show.temperature(float(tried.lowest_c[0]))} in the worst plausible case, "
        f"and is outside the band for {tried.outside_band_min[0]:.0f} of {tried.hold_min:.0f} min."
    )
    st.text(_said(row, at_hand))
    changed = with_hold_caps(at_hand.plan, {name: float(cap_w)})
    st.button(
        f"Set {cap_w} W for {plain(name)}", key="take_cap", disabled=changed == at_hand.plan,
        on_click=at_hand.work.replace, args=(changed,),
    )  # fmt: skip


def _on_step(value_w: float, step_w: int) -> int:
    return int(value_w // step_w * step_w)


def _description(row: PowerRow, at_hand: Desk) -> str:
    return (
        f"Lowest temperature of {row.step} against the cap on its power, in the worst plausible case. Advised are "
        f"{row.advised_w:.0f} W, which keep {at_hand.show.temperature(row.lowest_c)}."
    )


def _said(row: PowerRow, at_hand: Desk) -> str:
    return (
        f"{row.advised_w:.0f} W advised, {row.needed_w:.0f} W needed: {row.why}. In the worst plausible case the power "
        f"set lets it fall to {at_hand.show.temperature(row.set_lowest_c)}, the advised one to "
        f"{at_hand.show.temperature(row.lowest_c)}."
    )
