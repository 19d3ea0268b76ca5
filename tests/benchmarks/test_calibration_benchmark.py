"""How long it takes to read and fit the longest log that is promised: 10 hours, a reading a second.

Run with ``pytest tests/benchmarks --benchmark-enable``; without it the case runs once and checks its result.
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import parse_log
from energyplan.plan.file import read_plan

LIMIT_S = 3.0


@pytest.fixture(scope="module")
def long_log() -> str:
    """10 h of the demo plan's vessel, a reading a second: 36,000 rows from the independent vessel of the tests."""
    path = Path(__file__).parent.parent / "learning" / "kitchen.py"
    spec = importlib.util.spec_from_file_location("bench_kitchen", path)
    assert spec is not None
    assert spec.loader is not None
    kitchen = importlib.util.module_from_spec(spec)
    sys.modules["bench_kitchen"] = kitchen
    spec.loader.exec_module(kitchen)
    kitchen.STEP_S = 1.0
    vessel = kitchen.Vessel(loss_w_per_k=5.0, stored_j_per_k=118_000.0, element_w=2650.0, air_c=11.0, beside_w=33.0,
                            pump_heat_w=18.0, temperature_c=12.0)  # fmt: skip
    vessel.heat_to(75.0).run((36_000 - vessel.time_s) / 60)
    return vessel.csv(np.random.default_rng(1), "power_w lid", every_s=1.0, gaps_frac=0.0, round_k=0.1, noise_k=0.1)


def test_ten_hours_at_a_reading_a_second(benchmark, long_log):
    """Read and fitted within 3 s in all (observed 0.2 s on one core), to the planted loss."""
    plan = read_plan("demo")
    found = benchmark(lambda: calibrate(parse_log(long_log), plan))
    if benchmark.enabled:
        assert benchmark.stats.stats.max < LIMIT_S
    assert long_log.count("\n") > 36_000
    assert found.heat_loss_w_per_k.value == pytest.approx(5.0, rel=0.03)
