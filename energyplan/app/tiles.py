"""Tiles: a few numbers, each a link to the page that says more about it."""

from collections.abc import Iterable, Mapping
from typing import Any

import streamlit as st

from energyplan.app.pieces import SIGNS, style
from energyplan.app.plaintext import plain
from energyplan.base.sentence import words
from energyplan.telling.tiles import Tile

__all__ = ["tiles"]


def tiles(place: Any, shown: Iterable[Tile], pages: Mapping[str, Any], *, key: str) -> None:
    """Show tiles side by side, two to a row on a phone."""
    with place.container(horizontal=True, key=key, gap="small"):
        for tile in shown:
            note = words(tile.note, style()) if tile.note is not None else " "
            sign = f"{SIGNS['over']} " if tile.severity == "over" else ""
            label = f"{tile.title} **{plain(words(tile.value, style()))}** :small[{sign}{plain(note)}]"
            st.page_link(pages[tile.key], label=label, width="stretch")
