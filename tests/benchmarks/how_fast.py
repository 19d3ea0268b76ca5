"""How fast the planner is: measured here and now, as a table for the help page on accuracy.

``python -m tests.benchmarks.how_fast`` rewrites the table between its markers in the page, with machine, date and the
ratios to what one would write otherwise. Each figure is the best of several runs in this one process.
"""

import os
import platform
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))

from reference import by_runge_kutta, by_scipy, reference_day

from energyplan.advice.pricing import Pricing
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions, run
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan
from energyplan.tariffs.priceline import price_line, price_line_around
from energyplan.tariffs.startcosts import start_units
from energyplan.tariffs.steps import metered
from energyplan.tariffs.tarifffile import load_tariff

ROOT = Path(__file__).parent.parent.parent
MARKERS = ("<!-- how-fast:begin -->", "<!-- how-fast:end -->")
DRAWS = 10_000
START = datetime(2026, 12, 5, 9, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table."""

    what: str
    takes: str
    against: str


def seconds_of(action: Callable[[], object], repeats: int = 3) -> float:
    """Shortest time of several runs [s]."""
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        action()
        times.append(time.perf_counter() - begun)
    return min(times)


def drawn(count: int, seed: int = 5) -> Conditions:
    """Conditions of many brew days: seven that vary by a few per cent or kelvin, around those of the demo."""
    draw = np.random.default_rng(seed)
    return Conditions(
        air_c=draw.uniform(6.0, 16.0, count),
        water_c=draw.uniform(9.0, 15.0, count),
        grain_c=draw.uniform(11.0, 18.0, count),
        voltage_v=draw.uniform(221.0, 239.0, count),
        element_factor=draw.uniform(0.92, 1.05, count),
        loss_factor=draw.uniform(0.75, 1.25, count),
        open_surface_factor=draw.uniform(0.75, 1.25, count),
    )


def one_of(conditions: Conditions, draw: int) -> Conditions:
    """A single draw."""
    return Conditions(**{name: float(np.asarray(getattr(conditions, name))[draw]) for name in conditions.__slots__})


def peak_mb(action: Callable[[], object]) -> float:
    """Most memory that an action holds at a time [MB]."""
    tracemalloc.start()
    action()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def days_by_scipy_s(plan: Plan, extract_kg: float, conditions: Conditions, days: int = 10) -> float:
    """Time of one day by `solve_ivp` as it is usually written: one call a phase, rtol 1e-6 [s]."""
    usual = by_scipy("RK45", 1e-6)

    def some() -> None:
        for draw in range(days):
            reference_day(plan, one_of(conditions, draw), extract_kg, usual)

    return seconds_of(some, 1) / days


def _many_days(plan: Plan) -> Iterator[Row]:
    extract_kg, conditions = simulate(plan).wort.extract_kg, drawn(DRAWS)

    def many() -> object:
        return run(plan, conditions, extract_kg=extract_kg, go_on=True)

    took_s = seconds_of(many, 7)
    scipy_s = days_by_scipy_s(plan, extract_kg, conditions) * DRAWS
    stepped_s = seconds_of(lambda: reference_day(plan, conditions, extract_kg, by_runge_kutta(30.0)), 1)
    yield Row(
        what=f"{DRAWS:,} demo days, six uncertain inputs",
        takes=f"{took_s:.2f} s, {peak_mb(many):.0f} MB",
        against=f"{scipy_s / took_s:,.0f} x `solve_ivp` (10 days, extrapolated); "
        f"{stepped_s / took_s:.0f} x vectorised Runge-Kutta at 30 s",
    )
    yield Row(
        what="One demo day",
        takes=f"{1000 * seconds_of(lambda: run(plan, extract_kg=extract_kg), 30):.1f} ms",
        against="",
    )


def _answers(plan: Plan) -> Iterator[Row]:
    line = price_line_around(load_tariff("demo"), START - timedelta(days=1), START + timedelta(days=2))
    pricing = Pricing(line=line, start=START, first=START, last=START)
    ranges_s = seconds_of(lambda: spread(plan, pricing=pricing, how=SpreadRun(draws=DRAWS)))
    yield Row(what=f"Ranges of {DRAWS:,} days with cost and amps", takes=f"{ranges_s:.2f} s", against="")
    year = price_line(load_tariff("demo"), date(2026, 1, 1), date(2027, 1, 2))
    day = metered(simulate(plan).profiles)
    first_s = int(year.edges_s[0])
    starts_s = seconds_of(lambda: start_units(day, year, first_s=first_s, count=525_600), 7)
    yield Row(what="Cost of every start of a year, 525,600", takes=f"{1000 * starts_s:.1f} ms", against="")


def _process_s(*arguments: str, repeats: int = 7) -> float:
    """Time of a process whose modules are compiled already, as on any start but the first."""
    command = [sys.executable, *arguments]
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return seconds_of(lambda: subprocess.run(command, check=True, capture_output=True, cwd="/", env=env), repeats)  # noqa: S603


def _commands() -> Iterator[Row]:
    pandas_s = _process_s("-c", "import pandas")
    for shown in ("--help", "report demo --tariff demo"):
        took_s = _process_s("-m", "energyplan", *shown.split())
        yield Row(
            what=f"`energyplan {shown}`, whole command",
            takes=f"{took_s:.2f} s",
            against=f'{took_s / pandas_s:.2f} x `python -c "import pandas"`',
        )


def table() -> str:
    """The table in Markdown, with machine and date."""
    plan = read_plan("demo")
    rows = [*_many_days(plan), *_answers(plan), *_commands()]
    lines = [f"| {row.what} | {row.takes} | {row.against} |" for row in rows]
    where = f"{os.cpu_count()} cores ({platform.machine()}), Python {platform.python_version()}, numpy {np.__version__}"
    head = ["| what | takes | against |", "| --- | --- | --- |"]
    return "\n".join([*head, *lines, "", f"Measured {datetime.now(tz=UTC):%Y-%m-%d} on {where}, one process."])


def rewritten(page: str, content: str) -> str:
    """The page with the table between its markers replaced."""
    begin, end = (page.index(marker) for marker in MARKERS)
    return page[: begin + len(MARKERS[0])] + "\n" + content + "\n" + page[end:]


if __name__ == "__main__":
    page = ROOT / "energyplan" / "docs" / "accuracy.md"
    page.write_text(rewritten(page.read_text(encoding="utf-8"), table()), encoding="utf-8")
