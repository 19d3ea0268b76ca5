"""The one object of a session: the plan on the desk with its history, the tariff, the start, the units."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any, TypeVar

import streamlit as st

from energyplan.app.answers import TariffText, packaged
from energyplan.app.editing import with_entries
from energyplan.app.sharing import changes_between, with_changes
from energyplan.app.tariffdraft import TariffDraft
from energyplan.base.errors import EnergyPlanError
from energyplan.base.units import Display, UnitSystem
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.plan.model import Plan

__all__ = ["FIRST_PLAN", "FIRST_TARIFF", "Work", "asked_for", "current", "packaged_plans"]

Moment = TypeVar("Moment", date, time)

FIRST_PLAN = "demo"
FIRST_TARIFF = {"demo": "two_rate", "lakeside": "dear_evening"}
FIRST_START = time(8, 30)
MOST_UNDO = 100


@lru_cache(maxsize=1)
def packaged_plans() -> Mapping[str, Plan]:
    """The plans that come with the program, by name; the demo first."""
    read = {name: parse_plan(text, source=name) for name, text in demo_plans().items()}
    return dict(sorted(read.items(), key=lambda entry: (entry[0] != FIRST_PLAN, entry[0])))


@dataclass(slots=True)
class Work:
    """What is on the desk of one visitor.

    ``opened`` is the plan as it was opened or last saved, ``past`` what it was before each change. ``version``
    counts up whenever the plan is replaced from outside the form, so that the form's widgets begin anew from
    ``base``, the plan of that moment. ``pending`` are entries of the form that the plan can't take yet, by their path,
    and ``faults`` say why; some entries are right only together. ``reading`` picks one of the two moments at which a
    clock that goes back shows the start. ``draft`` is a tariff that is being changed.
    """

    plan: Plan
    opened: Plan
    base: Plan
    file_name: str
    tariff: TariffText | None
    wall: datetime
    reading: int | None = None
    units: UnitSystem = "metric"
    past: list[Plan] = field(default_factory=list)
    version: int = 0
    problem: EnergyPlanError | None = None
    pending: dict[tuple[str, ...], Any] = field(default_factory=dict)
    faults: dict[tuple[str, ...], EnergyPlanError] = field(default_factory=dict)
    draft: TariffDraft | None = None
    page: str = ""

    @property
    def is_changed(self) -> bool:
        """Whether there is something to save."""
        return self.plan != self.opened

    @property
    def show(self) -> Display:
        """How numbers are written."""
        return Display(self.units)

    def change(self, plan: Plan) -> None:
        """Take a changed plan, and remember the one before."""
        if plan == self.plan:
            return
        self.past = [*self.past[-(MOST_UNDO - 1) :], self.plan]
        self.plan = plan

    def replace(self, plan: Plan) -> None:
        """Take a plan that was made elsewhere than in the form, such as one with the advised powers."""
        self.change(plan)
        self.renew()

    def renew(self) -> None:
        """Let the form begin anew from the plan as it is; what could not be taken is forgotten."""
        self.pending, self.faults = {}, {}
        self.redraw()

    def redraw(self) -> None:
        """Let the form begin anew from the plan as it is, with the entries that could not be taken."""
        self.base = self.plan
        self.version += 1

    def turn_to(self, page: str) -> None:
        """Note the page that is shown; forms of another one begin anew, because the browser forgets their entries."""
        if page != self.page:
            self.page = page
            self.redraw()
            if self.draft is not None:
                self.draft.redraw()

    def enter(self, path: tuple[str, ...], value: Any) -> bool:
        """Put an entry into the plan, together with those that wait if only that is right; else let it wait.

        Returns whether the plan has taken it.
        """
        error: EnergyPlanError | None = None
        for changes in ({**self.pending, path: value}, {path: value}):
            try:
                self.change(with_entries(self.plan, changes))
            except EnergyPlanError as raised:
                error = raised
                continue
            for taken in changes:
                self.pending.pop(taken, None)
                self.faults.pop(taken, None)
            return True
        if error is not None:
            self.pending[path], self.faults[path] = value, error
        return False

    def undo(self) -> None:
        """Go back by one change."""
        if self.past:
            self.plan = self.past.pop()
            self.renew()

    def reset(self) -> None:
        """Go back to the plan as it was opened; this can be undone too."""
        self.replace(self.opened)

    def open(self, plan: Plan, file_name: str) -> None:
        """Put another plan on the desk."""
        self.plan = self.opened = plan
        self.file_name, self.past, self.problem = file_name, [], None
        self.renew()

    def use_tariff(self, tariff: TariffText | None) -> None:
        """Put another tariff on the desk; the list of packaged ones then shows none."""
        self.tariff, self.problem, self.draft = tariff, None, None
        st.session_state["tariff"] = None

    def start_at(self, wall: datetime) -> None:
        """Move the start to another time of the local clock."""
        self.wall = wall.replace(tzinfo=None)
        st.session_state["day"], st.session_state["at"] = self.wall.date(), self.wall.time()

    def saved(self) -> None:
        """Note that the plan on the desk is the one in the file."""
        self.opened = self.plan


def current() -> Work:
    """The session's desk; on the first visit the demo, or what the address asks for."""
    if "work" not in st.session_state:
        st.session_state["work"] = _first()
    work: Work = st.session_state["work"]
    return work


def _first() -> Work:
    """What lies on the desk of somebody who comes in: packaged things only, whatever the address says."""
    plans, tariffs, asked = packaged_plans(), packaged(), st.query_params
    name = asked.get("plan", FIRST_PLAN)
    name = name if name in plans else FIRST_PLAN
    tariff = asked.get("tariff", FIRST_TARIFF.get(name, "two_rate"))
    plan = with_changes(plans[name], asked.to_dict())
    return Work(
        plan=plan,
        opened=plans[name],
        base=plan,
        past=[plans[name]] if plan != plans[name] else [],
        file_name=name,
        tariff=tariffs.get(tariff),
        wall=datetime.combine(_moment(date, "day", _tomorrow()), _moment(time, "at", FIRST_START)),
        units="us" if asked.get("units") == "us" else "metric",
    )


def asked_for(work: Work) -> dict[str, str]:
    """What an address must say for a visitor to find the same plan, tariff, start and units.

    A few changed entries of a packaged plan go along; plans and tariffs of the visitor's own stay with the visitor.
    """
    plan = work.file_name if work.file_name in packaged_plans() else FIRST_PLAN
    usual = {
        "plan": FIRST_PLAN,
        "tariff": FIRST_TARIFF.get(plan, "two_rate"),
        "day": _tomorrow().isoformat(),
        "at": f"{FIRST_START:%H:%M}",
        "units": "metric",
    }
    tariff = "none" if work.tariff is None else work.tariff.name if work.tariff.is_packaged else usual["tariff"]
    now = {
        "plan": plan,
        "tariff": tariff,
        "day": work.wall.date().isoformat(),
        "at": f"{work.wall:%H:%M}",
        "units": work.units,
    }
    changes = changes_between(packaged_plans()[plan], work.plan) if work.file_name in packaged_plans() else ()
    return {key: value for key, value in now.items() if value != usual[key]} | dict(changes)


def _moment(kind: type[Moment], key: str, otherwise: Moment) -> Moment:
    """A day or a time from the address; what can't be read is left aside."""
    try:
        return kind.fromisoformat(st.query_params[key])
    except (KeyError, ValueError):
        return otherwise


def _tomorrow() -> date:
    return (datetime.now(UTC) + timedelta(days=1)).date()
