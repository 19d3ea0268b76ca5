"""What stays in the visitor's own browser: read once, written back, told when it can't be kept."""

import json
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, field
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import uuid4

import streamlit as st

from energyplan.app.answers import BrewedText, TariffText, tariff_of
from energyplan.app.state import Day, Lying, OwnBrewery, Work
from energyplan.app.tariffdraft import TariffDraft, draft_read, draft_text
from energyplan.base.errors import EnergyPlanError
from energyplan.base.records import dataclass
from energyplan.plan.file import parse_plan, plan_to_toml

__all__ = ["Kept", "Storage", "day_read", "day_text", "kept_texts", "lying_beside", "storage", "work_kept"]

NAME = "energyplan_storage"


# What may go wrong on the way: storage that is blocked by the browser's settings, full, or missing. What a tab has on
# its desk it finds again even if another tab wrote later; all else is shared, and nothing is written twice, because
# another tab may have written in between.
SCRIPT = """
const MARK = "energyplan."
const READ = Symbol.for("energyplan.read"), DONE = Symbol.for("energyplan.done")
const places = name => ["desk", "prices", "draft"].includes(name) ? [localStorage, sessionStorage] : [localStorage]
export default function ({ data, setTriggerValue }) {
  let trouble = ""
  const found = {}
  const tried = act => {
    try { act() } catch (error) { trouble = error.name === "QuotaExceededError" ? "full" : "blocked" }
  }
  const done = window[DONE] ??= {}
  for (const [name, text] of Object.entries(data.write))
    if (done[name] !== text) tried(() => {
      for (const place of places(name))
        text === null ? place.removeItem(MARK + name) : place.setItem(MARK + name, text)
      done[name] = text
    })
  if (data.read) {
    window[DONE] = {}
    tried(() => {
      for (const place of places("desk"))
        for (const name of Object.keys(place))
          if (name.startsWith(MARK)) found[name.slice(MARK.length)] = place.getItem(name)
    })
    // A page that is drawn anew calls this once more; its session has heard all of it.
    if (window[READ] !== data.read) setTriggerValue("found", { found, trouble })
    window[READ] = data.read
  }
  else if (trouble !== data.trouble) setTriggerValue("trouble", trouble)
}
"""


TROUBLES = {
    "full": "This browser's storage is full: what changes now is not kept. Save the plan as a file on the page Keep.",
    "blocked": "This browser keeps nothing for this page: save the plan as a file on the page Keep.",
    "other": "The day that this browser had kept can't be read by this version; it begins anew.",
    "left": "Some of what this browser keeps can't be read by this version and is not shown.",
}
NOT_KEPT = ("full", "blocked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a browser had kept: texts by name, and what stood in the way."""

    texts: Mapping[str, str]
    trouble: str = ""


@dataclass(slots=True)
class Storage:
    """One visitor's storage as far as this session knows it: what is to be written, what went wrong.

    ``session`` is what the browser tells sessions apart by: it reads for each of them once. ``trouble`` is that of what
    was found, ``troubles`` are those of each part that was written; ``left`` names what can't be read.
    """

    found: Kept | None = None
    written: dict[str, str | None] = field(default_factory=dict)
    trouble: str = ""
    troubles: dict[str, str] = field(default_factory=dict)
    left: frozenset[str] | None = None
    session: str = field(default_factory=lambda: uuid4().hex)

    def keep(self, name: str, text: str | None) -> None:
        """Keep a text under a name from the end of this run on; None takes it away, but not what can't be read."""
        known = self.found.texts.get(name) if self.found else None
        if self.written.get(name, known) != text and not (text is None and name in self._unread()):
            self.written[name] = text

    def texts(self) -> dict[str, str]:
        """All that is kept: found at first, changed since."""
        both = {**(self.found.texts if self.found else {}), **self.written}
        return {name: text for name, text in both.items() if text is not None}

    def _unread(self) -> frozenset[str]:
        """Names of what was found and can't be read: by another version it can."""
        if self.left is None:
            found = self.found.texts if self.found else {}
            self.left = frozenset(name for name, text in found.items() if not _reads(name, text))
        return self.left

    @property
    def keeps(self) -> bool:
        """Whether what changes now is kept."""
        return not any(one in NOT_KEPT for one in (self.trouble, *self.troubles.values()))

    @property
    def says(self) -> str:
        """What stands in the way, in words; "" when nothing does."""
        left = "left" if any(_is_ours(name) for name in self._unread()) else ""
        known = [one for one in (*self.troubles.values(), self.trouble, left) if one]
        return TROUBLES.get(known[0], "") if known else ""

    def wait(self) -> None:
        """On the first run of a session, wait for what the browser had kept."""
        place = st.container(key="storage_in")  # always: what comes later would be made anew when it goes
        if self.found is not None:
            return
        with place:
            said = _mounted("read", {"write": {}, "read": self.session, "trouble": ""}).found
        if said is None:
            st.stop()
        self.found = _checked(said)
        self.trouble = self.found.trouble

    def write(self) -> None:
        """Hand what changed to the browser; each part on its own, so that only what changed travels."""
        usual = self.found.trouble if self.found else ""
        with st.container(key="storage_out", gap=None):
            for group in dict.fromkeys(name.partition(".")[0] for name in self.written):
                part = {name: text for name, text in self.written.items() if name.partition(".")[0] == group}
                _mounted(group, {"write": part, "read": "", "trouble": self.troubles.get(group, usual)})


def storage() -> Storage:
    """The storage of this session's visitor."""
    if "storage" not in st.session_state:
        st.session_state["storage"] = Storage()
    found: Storage = st.session_state["storage"]
    return found


def _checked(said: Any) -> Kept:
    """What came from the browser, which could have sent anything."""
    try:
        texts = {name: text for name, text in said["found"].items() if isinstance(text, str)}
        return Kept(texts=texts, trouble=said["trouble"] if said["trouble"] in TROUBLES else "")
    except (TypeError, KeyError, AttributeError):
        return Kept(texts={}, trouble="other")


def _mounted(group: str, data: dict[str, Any]) -> Any:
    mount, key = st.components.v2.component(NAME, js=SCRIPT), f"storage_{group}"

    def troubled() -> None:
        storage().troubles[group] = str(st.session_state[key].get("trouble") or "")

    return mount(key=key, data=data, height=1, on_found_change=lambda: None, on_trouble_change=troubled)


SCHEMA = 2


DESK, PRICES, DRAFT, BREWERY, BREWED, DRAWER = "desk", "prices", "draft", "brewery", "brewed.", "day."
ALL_BREWED = "brewed"  # brewed days as an earlier version kept them: all in one text


def kept_texts(work: Work, address: Mapping[str, str]) -> dict[str, str | None]:
    """Texts to keep, by name; ``address`` is that of the desk, so that a reload is told from somebody's link."""
    lying = work.lying
    desk = {
        "schema": SCHEMA, "day": _day(lying.day), "units": work.units,
        "greeted": work.greeted, "borrowed": work.borrowed, "address": dict(address),
    }  # fmt: skip
    return {
        DESK: json.dumps(desk),
        PRICES: _tariff_text(lying.day.tariff),
        DRAFT: draft_text(work.draft),
        BREWERY: None if lying.brewery is None else _brewery_text(lying.brewery),
        **{f"{BREWED}{one.day.date}": _brewed_text(one) for one in lying.brewed},
        **{f"{DRAWER}{name}": day_text(day) for name, day in lying.drawer},
    }


@contextmanager
def _reading() -> Iterator[None]:
    """Whatever a text from a browser lacks, or has too much, is a ValueError."""
    try:
        yield
    except (EnergyPlanError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError(str(error)) from error


def work_kept(texts: Mapping[str, str]) -> tuple[Work, dict[str, str]] | None:
    """The work that texts keep, and the address that it had; None where there is none.

    Raises
    ------
    ValueError
        If its day was written by another version, or is broken.
    """
    if DESK not in texts:
        return None
    with _reading():
        desk = json.loads(texts[DESK])
        if desk["schema"] != SCHEMA:
            raise ValueError(desk["schema"])
        priced = PRICES in texts and _reads(PRICES, texts[PRICES])
        tariff = _tariff_read(json.loads(texts[PRICES])) if priced else None
        lying = lying_beside(texts, _day_read(desk["day"], tariff))
        work = Work(
            lying=lying, base=lying.day.plan, opened=lying.day.plan, units="us" if desk["units"] == "us" else "metric",
            greeted=bool(desk["greeted"]), borrowed=tuple(map(str, desk["borrowed"])),
            draft=_draft_read(texts.get(DRAFT), tariff),
        )  # fmt: skip
        return work, {str(key): str(value) for key, value in desk["address"].items()}


def lying_beside(texts: Mapping[str, str], day: Day) -> Lying:
    """A day with the drawer, the brewery and the brewed days that texts keep, as far as they can be read."""
    good = {name: text for name, text in texts.items() if _reads(name, text)}
    brewed = [
        one for name, text in good.items() if name == ALL_BREWED or name.startswith(BREWED)
        for one in _brewed_read(text)
    ]  # fmt: skip
    return Lying(
        day=day,
        drawer=tuple(
            (name.removeprefix(DRAWER), day_read(good[name])) for name in sorted(good) if name.startswith(DRAWER)
        ),
        brewery=_brewery_read(good[BREWERY]) if BREWERY in good else None,
        brewed=tuple(sorted({one.day.date: one for one in brewed}.values(), key=lambda one: one.day.date)),
    )


def _is_ours(name: str) -> bool:
    """Whether this version keeps something under a name."""
    return name in (PRICES, BREWERY, ALL_BREWED) or name.startswith((BREWED, DRAWER))


def _reads(name: str, text: str) -> bool:
    """Whether this version knows a text; the day on the desk tells its own troubles."""
    try:
        if name.startswith(DRAWER):
            day_read(text)
        elif name == BREWERY:
            _brewery_read(text)
        elif name == PRICES:
            with _reading():
                _tariff_read(json.loads(text))
        elif _is_ours(name):
            _brewed_read(text)
        return _is_ours(name) or name in (DESK, DRAFT)
    except ValueError:
        return False


def _draft_read(text: str | None, tariff: TariffText | None) -> TariffDraft | None:
    """Prices on their way to the desk; half typed, they are no reason to lose the day."""
    try:
        with _reading():
            return None if text is None else draft_read(text, tariff)
    except ValueError:
        return None


@lru_cache(maxsize=16)
def _brewery_text(brewery: OwnBrewery) -> str:
    return json.dumps(
        {"toml": brewery.toml, "prices": _tariff(brewery.tariff), "entered": sorted(brewery.entered)}
    )  # fmt: skip


@lru_cache(maxsize=16)
def _brewery_read(text: str) -> OwnBrewery:
    with _reading():
        found = json.loads(text)
        tomllib.loads(found["toml"])
        return OwnBrewery(
            toml=str(found["toml"]), tariff=_tariff_read(found["prices"]),
            entered=frozenset(tuple(map(str, path)) for path in found["entered"]),
        )  # fmt: skip


@lru_cache(maxsize=512)
def _brewed_text(brewed: BrewedText) -> str:
    return json.dumps({"plans": [plan_to_toml(brewed.plan)], "days": [{"plan": 0, "read": brewed.text}]})


@lru_cache(maxsize=512)
def _brewed_read(text: str) -> tuple[BrewedText, ...]:
    with _reading():
        found = json.loads(text)
        plans = [parse_plan(plan, source="kept") for plan in found["plans"]]
        days = tuple(BrewedText(plan=plans[one["plan"]], text=str(one["read"])) for one in found["days"])
        for one in days:
            one.day  # noqa: B018 - what can't be read raises
        return days


@lru_cache(maxsize=64)
def day_text(day: Day) -> str:
    """A day with its prices as one text."""
    return json.dumps({"schema": SCHEMA, "day": _day(day), "prices": _tariff(day.tariff)})


@lru_cache(maxsize=64)
def day_read(text: str) -> Day:
    """The day that a text keeps.

    Raises
    ------
    ValueError
        If it keeps none.
    """
    with _reading():
        found = json.loads(text)
        return _day_read(found["day"], _tariff_read(found["prices"]))


@lru_cache(maxsize=64)
def _day(day: Day) -> dict[str, Any]:
    return {
        "plan": plan_to_toml(day.plan), "entered": sorted(day.entered),
        "file_name": day.file_name, "wall": day.wall.isoformat(), "texts": day.texts, "typed": day.typed,
    }  # fmt: skip


def _day_read(found: Any, tariff: TariffText | None) -> Day:
    return Day(
        plan=parse_plan(found["plan"], source="kept"),
        entered=frozenset(tuple(map(str, path)) for path in found["entered"]),
        file_name=str(found["file_name"]),
        texts=tuple((str(name), str(text)) for name, text in found.get("texts", ())),
        typed=tuple((tuple(_key(key) for key in path), str(text)) for path, text in found.get("typed", ())),
        wall=datetime.fromisoformat(found["wall"]).replace(tzinfo=None),
        tariff=tariff,
    )


def _key(key: object) -> str | int:
    """A key on the way to a value, or the place of a row."""
    return key if isinstance(key, int) else str(key)


@lru_cache(maxsize=16)
def _tariff_text(tariff: TariffText | None) -> str:
    return json.dumps(_tariff(tariff))


def _tariff(tariff: TariffText | None) -> dict[str, Any] | None:
    return None if tariff is None else asdict(tariff)


def _tariff_read(found: Any) -> TariffText | None:
    """A tariff that can be read: whatever lies on the desk has prices."""
    if found is None:
        return None
    source = TariffText(
        name=str(found["name"]), text=str(found["text"]), is_packaged=bool(found["is_packaged"]),
        series=tuple((str(name), str(text)) for name, text in found["series"]),
    )  # fmt: skip
    tariff_of(source)
    return source
