"""The browser's own storage: what was kept there is read once when a visitor comes, and what changes is written back.

A component without markup carries texts between this session and the visitor's browser. Nothing is kept on the server.
"""

from collections.abc import Mapping
from dataclasses import field
from typing import Any

import streamlit as st

from energyplan.base.records import dataclass

__all__ = ["Kept", "Storage", "storage"]

NAME = "energyplan_storage"
# What may go wrong on the way: storage that is blocked by the browser's settings, full, or missing.
SCRIPT = """
const MARK = "energyplan."
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
  if (data.read) setTriggerValue("found", { found, trouble })
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
    """One visitor's storage as far as this session knows it: what is to be written, what went wrong."""

    found: Kept | None = None
    written: dict[str, str | None] = field(default_factory=dict)
    trouble: str = ""

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
            said = _mounted("read", {"write": {}, "read": True, "trouble": ""}).found
        if said is None:
            st.stop()
        self.found = _checked(said)
        self.trouble = self.found.trouble

    def write(self) -> None:
        """Hand what changed to the browser; each part on its own, so that only what changed travels."""
        with st.container(key="storage_out", gap=None):
            for group in dict.fromkeys(name.partition(".")[0] for name in self.written):
                part = {name: text for name, text in self.written.items() if name.partition(".")[0] == group}
                _mounted(group, {"write": part, "read": False, "trouble": self.trouble})


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
