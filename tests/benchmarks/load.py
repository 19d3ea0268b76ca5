"""Many visitors for minutes: ``python -m tests.benchmarks.load --visitors 50 --minutes 5``.

Serves the app as its command does, lets every visitor go from page to page and now and then enter another
diameter, and says how long answers took, whether each visitor saw its own day, and what became of the server's memory.
"""

import argparse
import importlib.util
import random
import statistics
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

QUERY = "day=2026-12-05&at=08:30"
PAGES = ("", "when", "circuit", "power", "your-brewery", "keep")
VESSEL_CM = 36.0
CHANGES = 0.2  # of the visits to a page
THINKS_S = (5.0, 25.0)  # a page is read before the next one is asked for


@dataclass(slots=True)
class Seen:
    """What visitors met: seconds of every answer, what went wrong, memory of the server [MB] by the second."""

    answers_s: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    memory_mb: list[tuple[float, float]] = field(default_factory=list)

    def told(self) -> str:
        """The figures in one line."""
        times = sorted(self.answers_s)
        p95_s = times[int(0.95 * (len(times) - 1))]
        half, last = self.memory_mb[len(self.memory_mb) // 2][1], self.memory_mb[-1][1]
        rise = statistics.linear_regression(*zip(*self.memory_mb[len(self.memory_mb) // 2 :], strict=True)).slope * 60
        return (
            f"{len(times)} answers, median {statistics.median(times):.2f} s, 95 % within {p95_s:.2f} s, "
            f"{len(self.faults)} faults, memory {half:.0f} MB after half of the time, {last:.0f} MB at the end, "
            f"{rise:+.1f} MB a minute between"
        )


def _of_the_browser_tests(name: str) -> ModuleType:
    path = Path(__file__).parent.parent / "browser" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"load_{name}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _memory_mb(process: int) -> float:
    lines = Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def _visit(address: str, number: int, until: float, seen: Seen) -> None:
    """One visitor's stroll: its own vessel, page after page; the day's first sentence must stay its own."""
    draw = random.Random(number)  # noqa: S311 - a stroll, no secret
    with _of_the_browser_tests("visitor").Visitor(address, QUERY) as guest:
        own = ""
        time.sleep(min(draw.uniform(0.0, THINKS_S[1]), max(until - time.monotonic(), 0.0) / 2))  # not all come at once

        def asked(page: str, **typed: str) -> str:
            begun = time.monotonic()
            said: str = guest.ask(page, **typed)
            seen.answers_s.append(time.monotonic() - begun)
            return said

        while time.monotonic() < until:
            try:
                if draw.random() < CHANGES:
                    asked("your-brewery")
                    asked("your-brewery", vessel_diameter=f"{VESSEL_CM + draw.randrange(80) / 10:.1f} cm")
                    own = asked("")
                else:
                    page = draw.choice(PAGES)
                    said = asked(page)
                    if page == "" and own and said != own:
                        seen.faults.append(f"visitor {number} saw {said!r} instead of {own!r}")
            except Exception as error:  # noqa: BLE001 - whatever goes wrong is what is counted
                seen.faults.append(f"visitor {number}: {error!r}")
                return
            time.sleep(min(draw.uniform(*THINKS_S), max(until - time.monotonic(), 0.0)))


def stroll(visitors: int, minutes: float) -> Seen:
    """Let visitors stroll through the app for some minutes."""
    seen = Seen()
    serving = _of_the_browser_tests("visits").serving
    with (
        TemporaryDirectory() as folder,
        serving(Path(folder)) as (address, process),
        ThreadPoolExecutor(visitors) as pool,
    ):
        begun = time.monotonic()
        until = begun + 60 * minutes
        walks = [pool.submit(_visit, address, number, until, seen) for number in range(visitors)]
        while any(not walk.done() for walk in walks):
            seen.memory_mb.append((time.monotonic() - begun, _memory_mb(process)))
            time.sleep(1.0)
    return seen


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--visitors", type=int, default=50)
    asked.add_argument("--minutes", type=float, default=5.0)
    chosen = asked.parse_args()
    found = stroll(chosen.visitors, chosen.minutes)
    print(found.told())  # noqa: T201
    print("\n".join(found.faults[:5]))  # noqa: T201
