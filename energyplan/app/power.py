"""Power: what each hold and boil is set to, needs, and is advised; the sag of one step against its cap."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.power import PowerRow, with_advised_caps
from energyplan.advice.variants import with_hold_caps
from energyplan.app.answers import sag_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, plain, problems, said, show_table, style
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import WATTS, write
from energyplan.base.sentence import words
from energyplan.faces.charts.charts import sag_curve, sag_marks
from energyplan.faces.frames import frame
from energyplan.telling.power import power_told, sag_description, sag_told, tried_sentence, why_sentence

__all__ = ["page"]

MOST_STOPS = 60  # of the slider
TWICE = 2  # the needed power is where the curve bends; beyond twice of it nothing changes


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    told = power_told(answer.power)
    at_hand.headline(told.headline or told.title)
    if not answer.power.rows:
        return
    said(*(finding.said for finding in told.findings), *told.sentences)
    show_table(told.table("power"), alt="Set, needed and advised power of each hold and boil")
    advised = with_advised_caps(at_hand.plan, answer.power)
    st.button(
        "Take all advised",
        key="take_advised",
        disabled=advised == at_hand.plan,
        on_click=at_hand.work.replace,
        args=(advised,),
        help="Writes the advised powers into the plan; Undo takes them back",
    )
    said(*told.cautions)
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
    marks = sag_marks(curve.target_c, curve.band_k, at_hand.show, caps)
    frame_of_caps = frame(sag_told(curve, every=1).table("caps"), style())
    drawn = sag_curve(frame_of_caps, marks, at_hand.look, description=words(sag_description(row), at_hand.style))
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
