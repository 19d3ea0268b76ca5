"""How fast the planner is: measured here and now, as a table for the help page on accuracy.

``python -m tests.benchmarks.how_fast`` rewrites the table between its markers in the page, with machine, date and the
ratios to what one would write otherwise. Each figure is the best of several runs in this one process.
"""

import os
import platform
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from zoneinfo import ZoneInfo

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))

from reference import by_runge_kutta, by_scipy, reference_day

from energyplan.advice import odds
from energyplan.advice.power import advise
from energyplan.advice.pricing import Pricing
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.circuits.check import check
from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions, run
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, OtherLoad, Plan, Step
from energyplan.tariffs.priceline import price_line, price_line_around
from energyplan.tariffs.startcosts import start_units
from energyplan.tariffs.steps import metered
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

ROOT = Path(__file__).parent.parent.parent
MARKERS = ("<!-- how-fast:begin -->", "<!-- how-fast:end -->")
DRAWS = 10_000
PAIRS = 15
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
        what=f"{DRAWS:,} demo days, seven uncertain inputs",
        takes=f"{took_s:.2f} s, {peak_mb(many):.0f} MB",
        against=f"{scipy_s / took_s:,.0f} x `solve_ivp` (10 days, extrapolated); "
        f"{stepped_s / took_s:.0f} x vectorised Runge-Kutta at 30 s",
    )
    one_s = seconds_of(lambda: run(plan, extract_kg=extract_kg), 30)
    yield Row(
        what="One demo day",
        takes=f"{1000 * one_s:.1f} ms",
        against=f'{one_s / _process_s("-c", "import pandas"):.3f} x `python -c "import pandas"` (0.01 aimed at)',
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


#: Commands, and the time that they are to take at most, as a multiple of importing pandas.
COMMANDS = {
    "--help": 0.2,
    "report demo --tariff demo": 1.0,
    "power demo": 1.6,
    "savings demo --tariff demo": 2.2,
    "sheet demo --tariff demo --start 2026-12-05T08:30 --force --output {file}": 3.0,
}


def command_s(shown: str, pairs: int = PAIRS) -> tuple[float, float]:
    """Time of a whole command [s], and as a multiple of importing pandas: medians of pairs, one after the other."""
    with tempfile.TemporaryDirectory() as folder:
        words = shown.format(file=Path(folder) / "sheet.pdf").split()
        times = [
            (_process_s("-m", "energyplan", *words, repeats=1), _process_s("-c", "import pandas", repeats=1))
            for _ in range(pairs + 1)
        ][1:]  # the first pair may have to compile
    return median(own_s for own_s, _ in times), median(own_s / pandas_s for own_s, pandas_s in times)


def _commands() -> Iterator[Row]:
    for shown, aim in COMMANDS.items():
        own_s, ratio = command_s(shown)
        yield Row(
            what=f"`energyplan {shown.partition(' --force')[0]}`, whole command",
            takes=f"{own_s:.2f} s",
            against=f'{ratio:.2f} x `python -c "import pandas"` ({aim:g} aimed at)',
        )


def many_steps(plan: Plan, count: int) -> Plan:
    """A plan of many short rests, each a little warmer than the one before."""
    rests = tuple(Step(name=f"Rest {k}", target_c=30 + 45 * k / count, hold_s=60.0) for k in range(count))
    return plan.model_copy(update={"steps": rests, "second_heater": None})


def exponent(counts: Sequence[int], action: Callable[[int], Callable[[], object]]) -> float:
    """Exponent of the processor's time over a count: the slope in logarithms, of the best of three runs each."""
    times_s = []
    for count in counts:
        act, best_s = action(count), float("inf")
        for _ in range(3):
            begun = time.process_time()
            act()
            best_s = min(best_s, time.process_time() - begun)
        times_s.append(best_s)
    return float(np.polyfit(np.log(counts), np.log(times_s), 1)[0])


def _tariff(bands: int, days: int) -> Tariff:
    """A tariff of many bands a day, or with a list of hourly prices of so many days."""
    head = '[tariff]\nname = "T"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Vienna"\n'
    if days:
        first = datetime(2026, 1, 1, tzinfo=UTC)
        rows = (f"{first + timedelta(hours=k):%Y-%m-%dT%H:%MZ},{10 + k % 24}" for k in range(24 * days))
        series = head + '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
        return parse_tariff(series, series_texts={"p.csv": "\n".join(["start,price", *rows, ""])})
    times = [f"{15 * k // 60 % 24:02}:{15 * k % 60:02}" for k in range(bands + 1)]
    cells = (
        f'[[tariff.band]]\nname = "b{k}"\nprice = {10 + k}\nfrom = "{times[k]}"\nto = "{times[k + 1]}"\n'
        for k in range(bands)
    )
    return parse_tariff(head + "".join(cells) + '[[tariff.band]]\nname = "base"\nprice = 5\notherwise = true\n')


def _draws(count: int) -> Callable[[], object]:
    plan, conditions = read_plan("demo"), drawn(count)
    extract_kg = simulate(plan).wort.extract_kg
    return lambda: run(plan, conditions, extract_kg=extract_kg, go_on=True)


def _steps(count: int) -> Callable[[], object]:
    plan = many_steps(read_plan("demo"), count)
    return lambda: simulate(plan)


def _advised(count: int) -> Callable[[], object]:
    day = simulate(many_steps(read_plan("demo"), count))

    def anew() -> object:
        odds.drawn.cache_clear()
        odds.day_odds.cache_clear()
        return advise(day)

    return anew


def _rest(count: int) -> Callable[[], object]:
    plan = read_plan("demo")
    longer = {"pause_s": 86_400.0 * count}
    steps = tuple(step.model_copy(update=longer) if step.pause_s else step for step in plan.steps)
    return lambda: run(plan.model_copy(update={"steps": steps}))


def _loads(count: int) -> Callable[[], object]:
    others = [OtherLoad(name=f"L{n}", power_w=50.0, from_min=n, to_min=n + 90) for n in range(count)]
    circuit, profiles = Circuit(voltage_v=230.0, breaker_a=16.0), simulate(read_plan("demo")).profiles
    return lambda: check(profiles, circuit, others, START, ZoneInfo("Europe/Vienna"))


def _bands(count: int) -> Callable[[], object]:
    tariff = _tariff(count, 0)
    return lambda: price_line(tariff, date(2026, 1, 1), date(2026, 3, 1))


def _series(count: int) -> Callable[[], object]:
    tariff = _tariff(0, count)
    return lambda: price_line(tariff, date(2026, 1, 2), date(2026, 1, 1) + timedelta(days=count - 3))


GROWTH: dict[str, tuple[Callable[[int], Callable[[], object]], tuple[int, ...]]] = {
    "draws of a day": (_draws, (4000, 8000, 16_000, 32_000)),
    "steps of a day": (_steps, (25, 50, 100, 200)),
    "steps of the advice on powers": (_advised, (25, 50, 100, 200)),
    "days of a rest": (_rest, (2, 8, 32, 128)),
    "other loads of a circuit": (_loads, (5, 10, 20, 40)),
    "bands of a tariff, over two months": (_bands, (12, 24, 48, 90)),
    "days of an hourly list of prices": (_series, (45, 90, 180, 360)),
}


def _growth() -> Iterator[Row]:
    """How the time grows with what a plan, a circuit or a tariff may have much of."""
    for what, (action, counts) in GROWTH.items():
        takes = f"exponent {exponent(counts, action):.2f}"
        yield Row(what=f"Growth over {what}", takes=takes, against=f"{counts[0]:,} to {counts[-1]:,}; 1.1 aimed at")


def table() -> str:
    """The table in Markdown, with machine and date."""
    plan = read_plan("demo")
    rows = [*_many_days(plan), *_answers(plan), *_commands(), *_growth()]
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
