"""How quick the app is in a browser: ``python -m tests.benchmarks.in_the_browser --rounds 20``.

Every round opens a plan that no cache knows, changes one thing and waits until the page's first chart is drawn anew;
between them the framework alone does the same with an empty script. Printed are milliseconds, and how many empty reruns
that is: a busy machine slows both.
"""

import argparse
import importlib.util
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Any

START = "day=2026-12-05&at=08:30"
PATIENCE_MS = 60_000
# An empty page of the framework: one field, one chart that shows what was typed.
EMPTY = """
import streamlit as st
typed = st.text_input("Water at the start", "27 L")
st.title("Empty")
st.vega_lite_chart({"data": {"values": [{"a": typed, "b": 1}]}, "mark": "bar",
                    "encoding": {"x": {"field": "b", "type": "quantitative"}, "y": {"field": "a", "type": "nominal"}}})
"""
CHART = "[data-testid='stVegaLiteChart']"
# Milliseconds from a key or a click to the drawing of a chart: the first of the page anew, or one that was not there.
# What is drawn has new nodes in a chart; other changes of the page are passed over without a search.
WATCH = f"""
isNew => {{ window.drawn = new Promise((tell, fail) => {{
  const CHART = "{CHART}", drawn = () => document.querySelectorAll(`${{CHART}} svg`).length, before = drawn()
  let began = 0
  for (const kind of ["keydown", "pointerdown"])
    document.addEventListener(kind, () => {{ began = began || performance.now() }}, true)
  const isDrawn = change => {{
    const chart = change.target.closest?.(CHART)
    return chart && (isNew ? drawn() > before : chart !== change.target && chart === document.querySelector(CHART)
      && chart.querySelector("svg"))
  }}
  const watch = new MutationObserver(changes => {{
    if (began && changes.some(isDrawn))
      {{ watch.disconnect(); requestAnimationFrame(() => tell(performance.now() - began)) }}
  }})
  watch.observe(document.body, {{subtree: true, childList: true}})
  setTimeout(() => fail(new Error("never drawn")), 30000)
}}) }}
"""


@dataclass(slots=True)
class Figures:
    """Milliseconds of each round."""

    ms: list[float] = field(default_factory=list)

    @property
    def median(self) -> float:
        """Half of the rounds took less."""
        return statistics.median(self.ms)

    @property
    def p95(self) -> float:
        """Nineteen rounds of twenty took less."""
        return sorted(self.ms)[max(round(0.95 * len(self.ms)) - 1, 0)]


def _visits() -> ModuleType:
    path = Path(__file__).parent.parent / "browser" / "visits.py"
    spec = importlib.util.spec_from_file_location("browser_visits", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@contextmanager
def _empty(visits: ModuleType, folder: Path) -> Iterator[str]:
    """The framework alone, served with the app's settings."""
    script = folder / "empty.py"
    script.write_text(EMPTY)
    port = visits._free_port()
    flags = ["--server.headless=true", f"--server.port={port}", "--browser.gatherUsageStats=false"]
    command = [sys.executable, "-m", "streamlit", "run", str(script), *flags, "--runner.postScriptGC=false"]
    with subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:  # noqa: S603
        try:
            visits._wait_until_healthy(port)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.wait(20)


def _typed(page: Any, water_l: float) -> None:
    field_ = page.get_by_label("Water at the start", exact=True).first
    field_.fill(f"{water_l:.2f}")
    field_.press("Enter")


def _day(page: Any, water_l: float) -> None:
    """Another amount of water, typed on Day."""
    _typed(page, water_l)


def _circuit(page: Any, _water_l: float) -> None:
    """A load moved to another breaker."""
    page.locator("[data-testid='stMain'] [data-testid='stCheckbox'] label").first.click()


def _power(page: Any, _water_l: float) -> None:
    """A cap set by the button under the curve."""
    page.get_by_role("button", name=re.compile(r"^Set \d")).click()


def _apply(page: Any, _water_l: float) -> None:
    """A measure taken over."""
    page.get_by_role("button", name="Apply", exact=True).nth(1).click()


def _ways(page: Any, _water_l: float) -> None:
    """The best ways, asked for."""
    page.get_by_text("Try them", exact=False).first.click()


def _unfold(page: Any, title: str) -> None:
    page.get_by_text(title, exact=True).first.click()


# What is measured: page, fold to open first, what is done, whether it draws one chart more.
KINDS: dict[str, tuple[str, str, Callable[[Any, float], None], bool]] = {
    "change on Day": ("", "Batch and steps", _day, False),
    "change on Circuit": ("circuit", "", _circuit, False),
    "change on Power": ("power", "", _power, False),
    "Apply of a measure": ("power", "What else is worth changing", _apply, False),
    "best ways": ("power", "What else is worth changing", _ways, True),
}


def _settled(page: Any) -> None:
    page.wait_for_selector("[data-test-script-state='notRunning']")
    page.wait_for_timeout(500)


def measured(rounds: int, waters: Iterator[float]) -> dict[str, Figures]:
    """Every kind and the empty page in turn, so many rounds of each."""
    from playwright.sync_api import sync_playwright

    visits, found = _visits(), {name: Figures() for name in ("empty rerun", *KINDS)}
    with (
        TemporaryDirectory() as folder,
        visits.serving(Path(folder)) as (address, _),
        _empty(visits, Path(folder)) as bare,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=str(visits.CHROMIUM), args=visits.FLAGS)
        page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
        page.set_default_timeout(PATIENCE_MS)
        for turn in range(rounds + 1):
            warm = turn > 0  # the first round is not counted: modules are read, the browser compiles
            for name, figures in found.items():
                took_ms = _round(page, name, address if name in KINDS else bare, next(waters))
                figures.ms += [took_ms] if warm else []
        browser.close()
    return found


def _round(page: Any, name: str, address: str, water_l: float) -> float:
    where, fold, act, is_new = KINDS.get(name, ("", "", _day, False))
    page.goto(f"{address}/{where}?{START}&batch.water={water_l:.2f}+L")
    page.wait_for_selector(f"{CHART} svg")
    _settled(page)
    if fold:
        _unfold(page, fold)
        _settled(page)
    page.evaluate(WATCH, is_new)
    act(page, water_l + 5.0)
    return float(page.evaluate("window.drawn"))


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=20)
    chosen = asked.parse_args()
    # Litres that nobody asked for before: they hang on the second of the day.
    first_l = 25.0 + time.time() % 3.0
    results = measured(chosen.rounds, (first_l + 0.01 * step for step in count()))
    empty = results["empty rerun"]
    for title, one in results.items():
        ratio = f"{one.median / empty.median:.1f} and {one.p95 / empty.p95:.1f} empty reruns"
        print(f"{title:20} median {one.median:5.0f} ms, 95 % within {one.p95:5.0f} ms: {ratio}")  # noqa: T201
