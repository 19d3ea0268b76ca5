"""The one object of a session: what lies on the desk, with its history, and what the form can't take yet."""

from collections.abc import Iterator, Mapping
from dataclasses import field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.app.answers import BrewedText, TariffText, brewed_text
from energyplan.app.editing import (
    BREWERY,
    KeyNumber,
    brewery_toml,
    entered_after,
    in_brewery,
    typed_after,
    with_entries,
)
from energyplan.app.tariffdraft import TariffDraft
from energyplan.base.errors import EnergyPlanError
from energyplan.base.records import dataclass
from energyplan.base.units import Display, UnitSystem
from energyplan.plan.file import PlanFiles, PlanText, demo_plans, parse_plan, plan_files
from energyplan.plan.model import Plan
from energyplan.plan.writing import Typed, changed_texts, plan_spelled, with_brewed

__all__ = [
    "FIRST_PLAN", "FIRST_START", "FOLD", "Day", "Lying", "OwnBrewery", "Work", "brewery_of", "current",
    "packaged_plans", "tomorrow",
]  # fmt: skip

FOLD = "fold_"  # keys of what opens begin with it
FIRST_PLAN = "demo"
FIRST_START = time(8, 30)
MOST_UNDO = 100

Path = tuple[str, ...]


@lru_cache(maxsize=1)
def packaged_plans() -> Mapping[str, Plan]:
    """The plans that come with the program, by name; the demo first."""
    read = {name: parse_plan(text, source=name) for name, text in demo_plans().items()}
    return dict(sorted(read.items(), key=lambda entry: (entry[0] != FIRST_PLAN, entry[0])))


def file_stem(name: str) -> str:
    """A file name that every system takes."""
    kept = "".join(letter if letter.isalnum() or letter in "-_" else "-" for letter in name)
    return kept.strip("-")[:60] or "plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day that can be brewed: its plan, its prices, its start on the local clock.

    ``entered`` says what the visitor has written or measured: paths of entries, and rows of lists as
    `energyplan.app.editing.row_mark` writes them. All else is assumed. ``texts`` are the files that it came from, its
    own first, then its brewery's, by name: their comments and spelling are kept. ``typed`` are quantities as they were
    typed, to be saved so.
    """

    plan: Plan
    tariff: TariffText | None
    wall: datetime
    file_name: str = ""
    entered: frozenset[Path] = frozenset()
    texts: tuple[tuple[str, str], ...] = ()
    typed: Typed = ()

    @property
    def name(self) -> str:
        """Name of the plan's file: as it came, else by its title."""
        return self.texts[0][0] if self.texts else f"{file_stem(self.plan.title)}.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnBrewery:
    """What stays the same from day to day, kept apart from them: its tables as text, its prices, what was entered."""

    toml: str
    tariff: TariffText | None = None
    entered: frozenset[Path] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """What lies on the desk and in the drawer, and the days brewed so far: one step back brings all of it back."""

    day: Day
    drawer: tuple[tuple[str, Day], ...] = ()
    brewery: OwnBrewery | None = None
    brewed: tuple[BrewedText, ...] = ()


def brewery_of(day: Day) -> OwnBrewery:
    """The brewery in which a day is brewed."""
    entered = frozenset(path for path in day.entered if path and path[0] in (*BREWERY, "prices"))
    return OwnBrewery(toml=brewery_toml(day.plan), tariff=day.tariff, entered=entered)


def brewed_in(files: PlanFiles, texts: Mapping[str, str]) -> Iterator[BrewedText]:
    """The brewed days that came with a plan's files, as far as their plans came along; other texts by name."""
    for day in files.brewery.brewed:
        try:
            if day.plan == files.own.name:
                yield brewed_text(files.plan, day)
            elif day.plan in texts:
                yield brewed_text(parse_plan(texts[day.plan], source=day.plan, beside=texts), day)
        except EnergyPlanError:
            continue


@lru_cache(maxsize=16)
def files_of(day: Day, brewed: tuple[BrewedText, ...]) -> dict[str, str]:
    """A day as files by name: its plan, and its brewery's if it came with one, else all in one.

    Comments and spelling stay where its texts can be changed in their own style. Brewed days stand in the brewery's
    file; without one, those of this plan in its own.
    """
    name = day.name
    (_, own), *others = day.texts or ((name, demo_plans().get(day.file_name, "")),)
    shared = PlanText(*others[0]) if others else None
    try:
        texts = changed_texts(plan_files(PlanText(name, own), shared), day.plan, day.typed)
    except EnergyPlanError:
        texts = PlanText(name, plan_spelled(day.plan, day.typed)), shared
    *rest, holder = (text for text in texts if text is not None)
    for one in brewed:
        if rest or one.day.plan == name:
            holder = with_brewed(holder, one.day)
    return {text.name: text.text for text in (*rest, holder)}


@dataclass(slots=True)
class Work:
    """What is on the desk of one visitor.

    ``opened`` is the plan as it came on the desk, ``past`` what lay there before each change. ``keys`` change
    whenever the plan is replaced from outside the form, so that the form's widgets begin anew from ``base``, the plan
    of that moment. ``pending`` are entries of the form that the plan can't take yet, by their path, and ``faults`` say
    why; some entries are right only together. ``reading`` picks one of the two moments at which a clock that goes back
    shows the start. ``draft`` is a tariff that is being changed. ``greeted`` says that the first visit is over;
    ``borrowed`` names what a link left out. ``unfolded`` are the folds, and boxes of the bar, that are open.
    """

    lying: Lying
    base: Plan
    opened: Plan
    reading: int | None = None
    units: UnitSystem = "metric"
    past: list[Lying] = field(default_factory=list)
    keys: KeyNumber = field(default_factory=KeyNumber)
    problem: EnergyPlanError | None = None
    pending: dict[Path, Any] = field(default_factory=dict)
    faults: dict[Path, EnergyPlanError] = field(default_factory=dict)
    draft: TariffDraft | None = None
    page: str = ""
    greeted: bool = False
    entering: bool = False
    borrowed: tuple[str, ...] = ()
    unfolded: frozenset[str] = frozenset()

    @property
    def day(self) -> Day:
        """The day on the desk."""
        return self.lying.day

    @property
    def plan(self) -> Plan:
        """Its plan."""
        return self.lying.day.plan

    @property
    def tariff(self) -> TariffText | None:
        """Its prices."""
        return self.lying.day.tariff

    @property
    def wall(self) -> datetime:
        """Its start on the local clock."""
        return self.lying.day.wall

    @property
    def file_name(self) -> str:
        """Name of the packaged plan that it is, or of the file from which it came."""
        return self.lying.day.file_name

    @property
    def is_changed(self) -> bool:
        """Whether the plan has been changed since it came on the desk."""
        return self.plan != self.opened

    @property
    def version(self) -> int:
        """Number in the keys of the forms."""
        return self.keys.number

    @property
    def show(self) -> Display:
        """How numbers are written."""
        return Display(self.units)

    def lay(self, lying: Lying) -> None:
        """Let something else lie there, and remember what lay there before."""
        if lying == self.lying:
            return
        self.past = [*self.past[-(MOST_UNDO - 1) :], self.lying]
        self.lying = lying
        self._show_start()

    def change(self, plan: Plan, written: Mapping[Path, Any] | None = None) -> None:
        """Take a changed plan; ``written`` is what the visitor wrote, and where."""
        written = written or {}
        if plan == self.plan and not written:
            return
        own = entered_after(self.day.entered, self.plan, plan, tuple(written))
        typed = typed_after(self.day.typed, plan, written)
        self.lay(replace(self.lying, day=replace(self.day, plan=plan, entered=own, typed=typed)))

    def enter_together(self, changes: Mapping[Path, Any]) -> None:
        """Put entries into the plan that are right only together, or keep in mind why that can't be."""
        try:
            self.change(with_entries(self.plan, changes), changes)
        except EnergyPlanError as error:
            self.problem = error

    def replace(self, plan: Plan) -> None:
        """Take a plan that was made elsewhere than in the form, such as one with the advised powers."""
        self.change(plan)
        self.renew()

    def take(self, plan: Plan, wall: datetime | None) -> None:
        """Take a plan and a start that were found together; one step back undoes both."""
        own = entered_after(self.day.entered, self.plan, plan, ())
        wall = self.wall if wall is None else wall.replace(tzinfo=None)
        self.lay(replace(self.lying, day=replace(self.day, plan=plan, wall=wall, entered=own)))
        self.renew()

    def renew(self) -> None:
        """Let the form begin anew from the plan as it is; what could not be taken is forgotten."""
        self.pending, self.faults = {}, {}
        self.redraw()

    def redraw(self) -> None:
        """Let the form begin anew from the plan as it is, with the entries that could not be taken."""
        self.base = self.plan
        self.keys.renew()

    def has_run(self) -> None:
        """A run has come to its end: its forms are all that the browser shows."""
        for keys in (self.keys, *([self.draft.keys] if self.draft else [])):
            keys.has_run()

    def turn_to(self, page: str) -> None:
        """Note what is shown; forms that were not there begin anew, because the browser forgets what was typed."""
        unfolded = frozenset(
            str(key) for key, is_open in st.session_state.items() if str(key).startswith(FOLD) and is_open
        )
        was, self.unfolded = self.unfolded, unfolded
        if page != self.page or unfolded - was:
            self.page = page
            self.redraw()
            if self.draft is not None:
                self.draft.redraw()

    def enter(self, path: Path, value: Any) -> bool:
        """Put an entry into the plan, together with those that wait if only that is right; else let it wait.

        Returns whether the plan has taken it.
        """
        error: EnergyPlanError | None = None
        for changes in ({**self.pending, path: value}, {path: value}):
            try:
                self.change(with_entries(self.plan, changes), changes)
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
            self.lying, self.problem, self.draft = self.past.pop(), None, None
            self._show_start()
            self.renew()

    def open(self, day: Day, *, keeps_brewery: bool = False) -> None:
        """Put another day on the desk; its brewery may be kept apart with it."""
        brewery = brewery_of(day) if keeps_brewery else self.lying.brewery
        self.lay(replace(self.lying, day=day, brewery=brewery))
        self.opened = day.plan
        self.problem, self.draft, self.greeted, self.entering = None, None, True, False
        self.renew()

    def use_tariff(self, tariff: TariffText | None) -> None:
        """Put another tariff on the desk."""
        self.lay(replace(self.lying, day=replace(self.day, tariff=tariff)))
        self.problem, self.draft = None, None

    def start_at(self, wall: datetime) -> None:
        """Move the start to another time of the local clock."""
        self.lay(replace(self.lying, day=replace(self.day, wall=wall.replace(tzinfo=None))))

    def keep_brewery(self) -> None:
        """Keep the brewery of the day on the desk apart from it."""
        self.lay(replace(self.lying, brewery=brewery_of(self.day)))

    def brew_in(self, brewery: OwnBrewery) -> None:
        """Brew the day on the desk in another brewery; why that can't be is kept in mind."""
        try:
            plan = in_brewery(self.plan, brewery.toml)
        except EnergyPlanError as error:
            self.problem = error
            return
        of_the_day = frozenset(path for path in self.day.entered if not path or path[0] not in (*BREWERY, "prices"))
        day = replace(self.day, plan=plan, tariff=brewery.tariff, entered=of_the_day | brewery.entered)
        self.lay(replace(self.lying, day=day))
        self.renew()

    def put_by(self, drawer: Mapping[str, Day]) -> None:
        """Let other days lie in the drawer."""
        self.lay(replace(self.lying, drawer=tuple(sorted(drawer.items()))))

    def keep_brewed(self, brewed: BrewedText) -> None:
        """Keep a brewed day; one of the same date goes."""
        others = [one for one in self.lying.brewed if one.day.date != brewed.day.date]
        self.lay(replace(self.lying, brewed=tuple(sorted([*others, brewed], key=lambda one: one.day.date))))

    @property
    def file_names(self) -> tuple[str, ...]:
        """Names of the files as which the day on the desk is saved: its plan, and its brewery if it came with one."""
        return (self.day.name, *(name for name, _ in self.day.texts[1:2]))

    def file_text(self, name: str) -> str:
        """What one of them holds; the brewery's, else the plan's, has the brewed days."""
        return files_of(self.day, self.lying.brewed)[name]

    def drop_brewed(self, place: int) -> None:
        """Forget a brewed day."""
        kept = self.lying.brewed
        self.lay(replace(self.lying, brewed=(*kept[:place], *kept[place + 1 :])))

    def _show_start(self) -> None:
        """Let the fields of the bar show the start."""
        st.session_state["day"], st.session_state["at"] = self.wall.date(), self.wall.time()


def current() -> Work:
    """The session's desk."""
    work: Work = st.session_state["work"]
    return work


def tomorrow() -> date:
    """The day on which a first visitor's day begins."""
    return (datetime.now(UTC) + timedelta(days=1)).date()
