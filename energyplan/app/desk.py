"""What a page gets to show: the work, its answer, and the place for the first sentence."""

from collections.abc import Mapping
from dataclasses import field, replace
from datetime import datetime
from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import TariffText, answer_of, learned_of, start_of, tariff_of
from energyplan.app.pieces import chart, day_document, look, plain, problems, style
from energyplan.app.state import Work
from energyplan.base.errors import EnergyPlanError, TariffError
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence, words
from energyplan.base.units import Display
from energyplan.day.brewday import simulate
from energyplan.faces.charttheme import ChartLook
from energyplan.plan.model import Plan
from energyplan.tariffs.tariff import zone_name
from energyplan.telling.day import day_sentence

__all__ = ["Desk", "HowFar", "desk_of", "how_far"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HowFar:
    """The steps that can be brewed as a plan of their own, the step that can't, and the plan without its cap.

    ``reached`` is None when it is the first step; ``mended`` is None when more power doesn't help.
    """

    reached: Plan | None
    step: str
    mended: Plan | None


@lru_cache(maxsize=32)
def how_far(plan: Plan) -> HowFar | None:
    """Find the step in which a plan fails; None if it doesn't, or if no step is to blame.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> how_far(read_plan("demo")) is None
    True
    """
    if _can_be_brewed(plan):
        return None
    reached = None
    for count in range(1, len(plan.steps) + 1):
        part = _first_steps(plan, count)
        if not _can_be_brewed(part):
            step = plan.steps[count - 1]
            return HowFar(reached=reached, step=step.name, mended=_with_all_elements(plan, count - 1))
        reached = part
    return None


def _first_steps(plan: Plan, count: int) -> Plan:
    """The first steps alone, without what refers to later ones."""
    kept = {step.name for step in plan.steps[:count]}
    second = plan.second_heater
    changes: dict[str, object] = {"steps": plan.steps[:count]}
    if second is not None and second.ready_at_step not in kept:
        changes["second_heater"] = None
    return plan.model_copy(update=changes)


def _with_all_elements(plan: Plan, place: int) -> Plan | None:
    step = plan.steps[place]
    if step.ramp_power_w is None:
        return None
    steps = [*plan.steps]
    steps[place] = step.model_copy(update={"ramp_power_w": None})
    mended = plan.model_copy(update={"steps": tuple(steps)})
    return mended if _can_be_brewed(mended) else None


def _can_be_brewed(plan: Plan) -> bool:
    try:
        simulate(plan)
    except EnergyPlanError:
        return False
    return True


STALE = "The prices don't reach this day, so nothing here has a cost."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Desk:
    """One look at the work. ``answer`` is None when there is none; ``error`` then says why.

    ``stale`` says why the prices don't reach this day; the answer then has no cost, and ``tariff`` is None.
    """

    work: Work
    plan: Plan
    tariff: TariffText | None
    wall: datetime
    show: Display
    look: ChartLook
    answer: Answer | None
    error: EnergyPlanError | None
    head: Any
    stale: TariffError | None = None
    is_below: bool = False
    pages: Mapping[str, Any] = field(default_factory=dict)

    def below(self) -> "Desk":
        """The same for a part further down, whose answer is no heading of the page."""
        return replace(self, head=st.container(gap="xsmall"), is_below=True)

    def headline(self, said: str | Sentence) -> None:
        """Write the page's answer where the eye falls first, and below it that it has no cost where prices end."""
        with self.head:
            text = plain(said if isinstance(said, str) else words(said, style()))
            if self.is_below:
                st.header(text, anchor=False, divider="gray")
                return
            st.title(text, anchor=False)
            if self.stale is not None:
                st.markdown(
                    f":orange[**● The prices don't reach this day, so nothing here has a cost.**] {_why(self.stale)}"
                )

    def answered(self) -> Answer | None:
        """The answer; without one, shows what is in its way and how to mend it."""
        if self.answer is None and self.error is not None:
            self.headline("This day can't be worked out yet.")
            problems(self.error, what="What is in the way")
            _how_far(self)
            undo = "Undo takes back the last change; the" if self.work.past else "The"
            st.text(f"{undo} fields on Day and on Your brewery show every entry.")
        return self.answer


def desk_of(work: Work, head: Any, pages: Mapping[str, Any]) -> Desk:
    """Work out the answer to what is on the desk; without its cost where the prices don't reach the day."""
    found, error, stale = None, None, None
    try:
        start = start_of(work.plan, work.tariff, work.wall, work.reading)
        learned = learned_of(work.plan, work.tariff, work.lying.brewed)
        try:
            found = answer_of(work.plan, work.tariff, start, learned)
        except TariffError as raised:
            stale = raised
            found = answer_of(_on_the_clock_of(work.plan, work.tariff), None, start, learned)
    except EnergyPlanError as raised:
        error = raised
    return Desk(
        work=work,
        plan=work.plan,
        tariff=None if stale else work.tariff,
        wall=work.wall,
        show=work.show,
        look=look(),
        answer=found,
        error=error,
        head=head,
        stale=stale,
        pages=pages,
    )


def _why(stale: TariffError) -> str:
    """Where the prices end, and what helps."""
    first = str(stale.problems[0].message if stale.problems else stale.message)
    mend = "Open newer prices in the row below, change them on the page Your brewery, or move the start."
    return plain(f"{first[:1].upper()}{first[1:].rstrip('.')}. {mend}")


def _on_the_clock_of(plan: Plan, source: TariffText | None) -> Plan:
    """The plan with the clock that it has beside a tariff whose prices are left aside."""
    if source is None:
        return plan
    site = plan.site.model_copy(update={"time_zone": zone_name(plan.site, tariff_of(source))})
    return plan.model_copy(update={"site": site})


def _how_far(at_hand: Desk) -> None:
    """How far the day gets, as a chart, and a way out if all elements are one."""
    found = how_far(at_hand.plan)
    if found is None:
        return
    if found.mended is not None:
        st.button(
            f"Heat {plain(found.step)} with all elements", key="mend_ramp", on_click=at_hand.work.replace,
            args=(found.mended,), help="Takes the cap of this ramp away; Undo brings it back",
        )  # fmt: skip
    if found.reached is None:
        st.text(f"{found.step} is the first step; nothing comes before it.")
        return
    try:
        start = start_of(at_hand.plan, at_hand.work.tariff, at_hand.wall, at_hand.work.reading)
        reached = answer_of(_on_the_clock_of(found.reached, at_hand.work.tariff), None, start)
    except EnergyPlanError:
        return
    st.text(f"As far as it goes, {found.step} left out: {words(day_sentence(reached), style())}")
    chart(day_document(reached, at_hand.show, at_hand.look), key="as_far_as_it_goes")
