"""What the framework leaves undone for those who use keyboard or ears: a link past the bar, rings, sizes, roles."""

from pathlib import Path

import streamlit as st

__all__ = ["reach"]

# The link must be the first thing on the page, before the framework's own bar, so a script puts it there.
SCRIPT = """
const ID = "skip-link"
export default function () {
  if (!document.getElementById(ID)) {
    const link = document.createElement("a")
    link.id = ID
    link.href = "#answer"
    link.textContent = "Skip to the answer"
    link.addEventListener("click", event => {
      event.preventDefault()
      const first = document.querySelector("h1")
      if (first) { first.tabIndex = -1; first.focus(); first.scrollIntoView({ block: "center" }) }
    })
    document.body.prepend(link)
  }
  document.documentElement.lang = "en"
}
"""
STYLE = Path(__file__).with_name("style.css")


def reach() -> None:
    """Lay the style and the link past the bar over the page."""
    st.html(STYLE)
    with st.container(key="reach"):
        st.components.v2.component("energyplan_reach", js=SCRIPT)(key="reach_script", height=1)
