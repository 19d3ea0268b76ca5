"""Ten thousand brew days at once: how long, how much memory, how it grows; and how far it is from an exact integrator.

Run with ``pytest tests/benchmarks --benchmark-enable``; without it each case runs once, on fewer draws.
"""

import time
from datetime import timedelta
from types import ModuleType

import pytest

from energyplan.day.brewday import simulate
from energyplan.day.course import AS_PLANNED, Conditions, run
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan, Step


@pytest.fixture(scope="module")
def demo() -> Plan:
    """The packaged plan."""
    return read_plan("demo")


def seconds_of(plan: Plan, conditions, extract_kg: float, repeats: int) -> float:  # type: ignore[no-untyped-def]
    """Shortest of several runs [s]."""
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        run(plan, conditions, extract_kg=extract_kg, go_on=True)
        times.append(time.perf_counter() - begun)
    return min(times)


@pytest.mark.benchmark(group="days")
def test_ten_thousand_days(benchmark, demo: Plan, how_fast: ModuleType, reference: ModuleType) -> None:  # type: ignore[no-untyped-def]
    """Against one `solve_ivp` a phase (5,000 x aimed at) and a plain vectorised Runge-Kutta at 30 s (5 x aimed at)."""
    draws, extract_kg = 10_000 if benchmark.enabled else 50, simulate(demo).wort.extract_kg
    conditions = how_fast.drawn(draws)
    course = benchmark(run, demo, conditions, extract_kg=extract_kg, go_on=True)
    own_s = seconds_of(demo, conditions, extract_kg, 3)
    scipy_s = how_fast.days_by_scipy_s(demo, extract_kg, conditions, 10 if benchmark.enabled else 1) * draws
    begun = time.perf_counter()
    stepped = reference.reference_day(demo, conditions, extract_kg, reference.by_runge_kutta(30.0))
    benchmark.extra_info["times_solve_ivp"] = scipy_s / own_s
    benchmark.extra_info["times_runge_kutta_30_s"] = (time.perf_counter() - begun) / own_s
    duration_s = course.legs[-1].end_s
    assert duration_s == pytest.approx(stepped.duration_s, rel=1e-4)
    assert course.end_c == pytest.approx(stepped.ends_c[-1], abs=0.01)


@pytest.mark.benchmark(group="days")
def test_one_day(benchmark, demo: Plan) -> None:  # type: ignore[no-untyped-def]
    """The aim is 3 ms."""
    course = benchmark(run, demo, extract_kg=simulate(demo).wort.extract_kg)
    assert course.legs


#: What a plan, a circuit or a tariff may have much of.
MUCH = (
    "draws of a day", "steps of a day", "steps of the advice on powers", "days of a rest", "other loads of a circuit",
    "bands of a tariff, over two months", "days of an hourly list of prices",
)  # fmt: skip


@pytest.mark.parametrize("what", MUCH)
def test_time_grows_no_faster_than_what_there_is_much_of(benchmark, how_fast: ModuleType, what: str) -> None:  # type: ignore[no-untyped-def]
    """Exponent of at most 1.1; without ``--benchmark-enable`` on fewer, and only nothing square."""
    assert tuple(how_fast.GROWTH) == MUCH
    action, counts = how_fast.GROWTH[what]
    found = benchmark.pedantic(how_fast.exponent, (counts if benchmark.enabled else counts[:3], action), rounds=1)
    benchmark.extra_info["exponent"] = found
    assert found <= (1.1 if benchmark.enabled else 1.5)


def test_a_day_of_two_hundred_steps_has_all_its_phases(demo: Plan, how_fast: ModuleType) -> None:
    """A ramp and a hold each."""
    day = simulate(how_fast.many_steps(demo, 200))
    assert len(day.phases) == 400
    assert day.balance_error < 1e-9


def test_memory_of_ten_thousand_days(demo: Plan, how_fast: ModuleType) -> None:
    """Below 200 MB with all their legs."""
    extract_kg, conditions = simulate(demo).wort.extract_kg, how_fast.drawn(10_000)
    assert how_fast.peak_mb(lambda: run(demo, conditions, extract_kg=extract_kg, go_on=True)) < 200


OTHERWISE = Conditions(
    air_c=7.0, water_c=9.0, grain_c=8.0, voltage_v=222.0, element_factor=0.97, loss_factor=1.2, open_surface_factor=0.8
)


@pytest.mark.parametrize("name", ["demo", "lakeside"])
@pytest.mark.parametrize("conditions", [AS_PLANNED, OTHERWISE], ids=["as planned", "all seven inputs otherwise"])
def test_a_day_against_an_exact_integrator(name: str, conditions: Conditions, reference: ModuleType) -> None:
    """DOP853 at rtol 1e-10 on the loss relations themselves: 1e-4 kWh (otherwise 2e-4) and 0.01 K asked."""
    plan = read_plan(name)
    day = simulate(plan, conditions)
    exact = reference.reference_day(
        plan, conditions, day.wort.extract_kg, reference.by_scipy("DOP853", 1e-10), exact_losses=True
    )
    within_kwh = 1e-4 if conditions is AS_PLANNED else 2e-4
    assert day.profiles[0].energy_kwh == pytest.approx(float(exact.energy_kwh[0]), abs=within_kwh)
    ends_c = {phase.step: phase.to_c for phase in day.phases}
    told = [ends_c.get(step.name, float("nan")) for step in plan.steps]
    assert told == pytest.approx(exact.ends_c[:, 0].tolist(), abs=0.01)


def test_a_hold_of_thirty_days_answers(demo: Plan) -> None:
    """Thirty days at 66 °C under the lid: loss times time, to the joule."""
    keeping = Step(name="Keep", target_c=66.0, hold_s=timedelta(days=30).total_seconds())
    day = simulate(demo.model_copy(update={"steps": (keeping,), "second_heater": None}))
    hold = day.phases[-1]
    assert hold.heat_j == pytest.approx(hold.needed_w * timedelta(days=30).total_seconds(), rel=1e-12)
