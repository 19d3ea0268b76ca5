"""What stays in the visitor's own browser: read once, written back, told when it can't be kept."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, field
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import uuid4

import streamlit as st

from energyplan.app.answers import BrewedText, TariffText
from energyplan.app.state import Day, Lying, OwnBrewery, Work
from energyplan.base.errors import EnergyPlanError
from energyplan.base.records import dataclass
from energyplan.plan.file import parse_plan, plan_to_toml

__all__ = ["Kept", "Storage", "day_read", "day_text", "kept_texts", "storage", "work_kept"]

NAME = "energyplan_storage"


# What may go wrong on the way: storage that is blocked by the browser's settings, full, or missing.
SCRIPT = """
const MARK = "energyplan."
const READ = Symbol.for("energyplan.read")
export default function ({ data, setTriggerValue }) {
  let trouble = ""
  const found = {}
  try {
    for (const [name, text] of Object.entries(data.write))
      text === null ? localStorage.removeItem(MARK + name) : localStorage.setItem(MARK + name, text)
    if (data.read)
      for (const name of Object.keys(localStorage))
        if (name.startsWith(MARK)) found[name.slice(MARK.length)] = localStorage.getItem(name)
  } catch (error) {
    trouble = error.name === "QuotaExceededError" ? "full" : "blocked"
  }
  if (data.read) {
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
    "other": "What this browser had kept can't be read by this version; it begins anew.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a browser had kept: texts by name, and what stood in the way."""

    texts: Mapping[str, str]
    trouble: str = ""


@dataclass(slots=True)
class Storage:
    """One visitor's storage as far as this session knows it: what is to be written, what went wrong.

    ``session`` is what the browser tells sessions apart by: it reads for each of them once.
    """

    found: Kept | None = None
    written: dict[str, str | None] = field(default_factory=dict)
    trouble: str = ""
    session: str = field(default_factory=lambda: uuid4().hex)

    def keep(self, name: str, text: str | None) -> None:
        """Keep a text under a name from the end of this run on; None takes it away."""
        known = self.found.texts.get(name) if self.found else None
        if self.written.get(name, known) != text:
            self.written[name] = text

    def texts(self) -> dict[str, str]:
        """All that is kept: found at first, changed since."""
        both = {**(self.found.texts if self.found else {}), **self.written}
        return {name: text for name, text in both.items() if text is not None}

    @property
    def says(self) -> str:
        """What stands in the way, in words; "" when nothing does."""
        return TROUBLES.get(self.trouble, "")

    def wait(self) -> None:
        """On the first run of a session, wait for what the browser had kept."""
        if self.found is not None:
            return
        with st.container(key="storage_in"):
            said = _mounted("read", {"write": {}, "read": self.session, "trouble": ""}).found
        if said is None:
            st.stop()
        self.found = _checked(said)
        self.trouble = self.found.trouble

    def write(self) -> None:
        """Hand what changed to the browser; each part on its own, so that only what changed travels."""
        with st.container(key="storage_out", gap=None):
            for group in dict.fromkeys(name.partition(".")[0] for name in self.written):
                part = {name: text for name, text in self.written.items() if name.partition(".")[0] == group}
                _mounted(group, {"write": part, "read": "", "trouble": self.trouble})


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
        storage().trouble = str(st.session_state[key].get("trouble") or "")

    return mount(key=key, data=data, height=1, on_found_change=lambda: None, on_trouble_change=troubled)


SCHEMA = 2


DESK, PRICES, BREWERY, BREWED, DRAWER = "desk", "prices", "brewery", "brewed", "day."


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
        BREWERY: None if lying.brewery is None else _brewery_text(lying.brewery),
        BREWED: _brewed_text(lying.brewed),
        **{f"{DRAWER}{name}": day_text(day) for name, day in lying.drawer},
    }


def work_kept(texts: Mapping[str, str]) -> tuple[Work, dict[str, str]] | None:
    """The work that texts keep, and the address that it had; None where there is none.

    Raises
    ------
    ValueError
        If they were written by another version, or are broken.
    """
    if DESK not in texts:
        return None
    try:
        desk = json.loads(texts[DESK])
        if desk["schema"] != SCHEMA:
            raise ValueError(desk["schema"])
        tariff = _tariff_read(json.loads(texts[PRICES])) if PRICES in texts else None
        lying = Lying(
            day=_day_read(desk["day"], tariff),
            drawer=tuple(sorted(_drawer(texts).items())),
            brewery=_brewery_read(texts.get(BREWERY)),
            brewed=tuple(_brewed_read(texts.get(BREWED))),
        )
        work = Work(
            lying=lying, base=lying.day.plan, opened=lying.day.plan, units="us" if desk["units"] == "us" else "metric",
            greeted=bool(desk["greeted"]), borrowed=tuple(map(str, desk["borrowed"])),
        )  # fmt: skip
        return work, {str(key): str(value) for key, value in desk["address"].items()}
    except (EnergyPlanError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error


def _drawer(texts: Mapping[str, str]) -> dict[str, Day]:
    """Days in the drawer; one that can't be read is left where it is and not shown."""
    found = {}
    for key, text in texts.items():
        if key.startswith(DRAWER):
            try:
                found[key.removeprefix(DRAWER)] = day_read(text)
            except ValueError:
                continue
    return found


@lru_cache(maxsize=16)
def _brewery_text(brewery: OwnBrewery) -> str:
    return json.dumps(
        {"toml": brewery.toml, "prices": _tariff(brewery.tariff), "entered": sorted(brewery.entered)}
    )  # fmt: skip


def _brewery_read(text: str | None) -> OwnBrewery | None:
    if text is None:
        return None
    found = json.loads(text)
    return OwnBrewery(
        toml=str(found["toml"]), tariff=_tariff_read(found["prices"]),
        entered=frozenset(tuple(map(str, path)) for path in found["entered"]),
    )  # fmt: skip


@lru_cache(maxsize=8)
def _brewed_text(brewed: tuple[BrewedText, ...]) -> str | None:
    """Brewed days as one text; plans that several of them share are written once."""
    if not brewed:
        return None
    plans = list(dict.fromkeys(one.plan for one in brewed))
    days = [{"plan": plans.index(one.plan), "read": one.text} for one in brewed]
    return json.dumps({"plans": [plan_to_toml(plan) for plan in plans], "days": days})


def _brewed_read(text: str | None) -> Iterator[BrewedText]:
    """Brewed days; those that can't be read are left aside."""
    if text is None:
        return
    try:
        found = json.loads(text)
        plans = [parse_plan(plan, source="kept") for plan in found["plans"]]
    except (EnergyPlanError, ValueError, KeyError, TypeError):
        return
    for one in found["days"]:
        try:
            brewed = BrewedText(plan=plans[one["plan"]], text=str(one["read"]))
            if brewed.day:
                yield brewed
        except (ValueError, LookupError, TypeError):
            continue


@lru_cache(maxsize=64)
def day_text(day: Day) -> str:
    """A day with its prices as one text."""
    return json.dumps({"schema": SCHEMA, "day": _day(day), "prices": _tariff(day.tariff)})


def day_read(text: str) -> Day:
    """The day that a text keeps.

    Raises
    ------
    ValueError
        If it keeps none.
    """
    try:
        found = json.loads(text)
        return _day_read(found["day"], _tariff_read(found["prices"]))
    except (EnergyPlanError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error


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
    if found is None:
        return None
    return TariffText(
        name=str(found["name"]), text=str(found["text"]), is_packaged=bool(found["is_packaged"]),
        series=tuple((str(name), str(text)) for name, text in found["series"]),
    )  # fmt: skip
