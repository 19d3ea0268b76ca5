"""What a page gets to show: the work, its answer, and the place for the first sentence."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import streamlit as st

from energyplan.app.answers import TariffText, answer_of, start_of
from energyplan.app.pieces import look, problems
from energyplan.app.plaintext import plain
from energyplan.app.state import Work
from energyplan.errors import EnergyPlanError
from energyplan.plan import Plan
from energyplan.report.answer import Answer
from energyplan.report.charttheme import ChartLook
from energyplan.units import Display

__all__ = ["Desk", "desk_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Desk:
    """One look at the work. ``answer`` is None when there is none; ``error`` then says why."""

    work: Work
    plan: Plan
    tariff: TariffText | None
    wall: datetime
    show: Display
    look: ChartLook
    answer: Answer | None
    error: EnergyPlanError | None
    head: Any

    def headline(self, sentence: str) -> None:
        """Write the page's answer where the eye falls first."""
        with self.head:
            st.title(plain(sentence), anchor=False)

    def answered(self) -> Answer | None:
        """The answer; without one, shows what is in its way and how to mend it."""
        if self.answer is None and self.error is not None:
            self.headline("This day can't be worked out yet.")
            problems(self.error, what="What is in the way")
            st.text("Undo takes back the last change; Set-up shows every input.")
        return self.answer


def desk_of(work: Work, head: Any) -> Desk:
    """Work out the answer to what is on the desk."""
    found, error = None, None
    try:
        found = answer_of(work.plan, work.tariff, start_of(work.plan, work.tariff, work.wall, work.reading))
    except EnergyPlanError as raised:
        error = raised
    return Desk(
        work=work,
        plan=work.plan,
        tariff=work.tariff,
        wall=work.wall,
        show=work.show,
        look=look(),
        answer=found,
        error=error,
        head=head,
    )
