"""Parts of a page: a long one shows one part at a time, and what takes long waits until somebody opens it."""

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

__all__ = ["chosen_part", "folded", "lead_to"]


def chosen_part(page: str, parts: Sequence[str]) -> str:
    """A row of parts of which one is shown."""
    key = f"part_{page}"
    chosen = st.segmented_control(
        "Part of this page", parts, default=None if key in st.session_state else parts[0], required=True, key=key,
        label_visibility="collapsed", persist_state="session",
    )  # fmt: skip
    return chosen or parts[0]


def folded(title: str, key: str) -> Any | None:
    """A fold that is filled only while it is open; None while it isn't."""
    fold = st.expander(title, key=f"fold_{key}", on_change="rerun")
    return fold if fold.open else None


def lead_to(state: Mapping[str, Any]) -> None:
    """Open the part or the fold to which an address leads."""
    for key, value in state.items():
        st.session_state[key] = value
