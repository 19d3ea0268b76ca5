"""The whole answer: its parts are those of the day, its prices reach a little beyond it, its powers keep ratings."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from energyplan.advice.answer import PRICED_AROUND, advised_plan, answer
from energyplan.advice.odds import day_ranges
from energyplan.advice.power import advise
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError, TariffError
from energyplan.circuits import enough
from energyplan.circuits.check import check
from energyplan.day.brewday import BrewDay
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, Hours, HouseSupply, Plan, Step
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
DAY = timedelta(days=1)


def test_the_parts_of_an_answer_are_those_of_the_day(demo: Plan, demo_day: BrewDay) -> None:
    """Day, cost, circuit, powers and ranges, each as it is worked out alone."""
    tariff = load_tariff("demo")
    found = answer(demo, tariff, START)
    line = price_line_around(tariff, START - DAY, START + DAY)
    assert found.day.energy_kwh == demo_day.energy_kwh
    assert found.price.total.total == price(demo_day.profiles, line, START).total
    assert found.price.vessel.total == price(demo_day.profiles[0], line, START).total
    heater = price(demo_day.profiles[1], line, START).total
    assert float(found.price.beside_vessel) == pytest.approx(float(heater), abs=2e-6)
    phases = sum(float(found.price.of_phase(phase)) for phase in found.day.phases)
    assert phases == pytest.approx(float(found.price.vessel.total), abs=2e-5)
    assert found.circuit.peak_a == check(demo_day.profiles, demo.circuit, demo.other_loads, START, UTC).peak_a
    assert found.power.rows == advise(demo_day).rows
    assert found.ranges == day_ranges(demo_day, found.price.total)
    assert (found.house, found.learned, found.price.ends, found.price.estimate) == (None, None, None, None)
    assert (found.zone, found.start) == ("Europe/Dublin", START)


def test_prices_are_shown_two_hours_before_and_after(demo: Plan) -> None:
    """The line reaches from two hours before the first load to two after the end, and is priced there."""
    found = answer(demo, load_tariff("demo"), START)
    first_s = min(float(profile.edges_s[0]) for profile in found.day.profiles)
    assert timedelta(hours=2) == PRICED_AROUND
    edges = found.price.line.edges_s
    assert edges[0] <= START.timestamp() + min(first_s, 0.0) - 7200
    assert edges[-1] >= START.timestamp() + found.day.duration_s + 7200


def test_clock_and_finish(demo: Plan) -> None:
    """In Dublin's summer an hour ahead of UTC; the end is that of the day."""
    found = answer(demo, None, datetime(2026, 6, 5, 7, 30, tzinfo=UTC))
    dublin = answer(demo, load_tariff("demo"), datetime(2026, 6, 5, 7, 30, tzinfo=UTC))
    assert dublin.clock(5400.0).strftime("%H:%M") == "10:00"
    assert dublin.finish - dublin.start == timedelta(seconds=dublin.day.duration_s)
    assert found.price is None
    on_the_wall = answer(demo, load_tariff("demo"), "2026-06-05T08:30")
    assert on_the_wall.start == datetime(2026, 6, 5, 7, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("hours", "start_hour", "keeps"),
    [
        (Hours(), 3, True), (Hours(earliest_min=480), 7, False), (Hours(earliest_min=480), 8, True),
        (Hours(not_on=("sat",)), 8, False), (Hours(not_on=("sun",)), 8, True),
        (Hours(somebody_there_min=(420, 960)), 8, True), (Hours(somebody_there_min=(420, 960)), 12, False),
    ],
)  # fmt: skip
def test_a_start_keeps_the_brewer_s_hours(demo: Plan, hours: Hours, start_hour: int, *, keeps: bool) -> None:
    """Of 5 December, a Saturday; where none are entered every start does."""
    mine = demo.model_copy(update={"hours": hours})
    assert answer(mine, load_tariff("demo"), datetime(2026, 12, 5, start_hour, tzinfo=UTC)).keeps_hours is keeps


def test_what_is_over_on_the_circuit_or_at_the_house_is_over(builders, demo: Plan) -> None:
    """3 kW on 10 A; on 16 A nothing; a contract of 2 kW; none of them where none is entered."""
    step = Step(name="Warm", target_c=60.0)

    def over(**tables: object) -> tuple[bool, bool]:
        found = answer(builders.water_plan(step, **tables), None, START)
        return found.is_over, found.house is None

    assert over() == (False, True)
    assert over(circuit=Circuit(voltage_v=230.0, breaker_a=16.0)) == (False, True)
    assert over(circuit=Circuit(voltage_v=230.0, breaker_a=10.0)) == (True, True)
    assert over(supply=HouseSupply(contracted_w=2000.0)) == (True, False)
    assert over(supply=HouseSupply(contracted_w=9000.0)) == (False, False)
    with pytest.raises(PlanError, match=r"no \[circuit\]"):
        _ = answer(builders.water_plan(step), None, START).sizes


def test_sizes_are_worked_out_once(builders, monkeypatch: pytest.MonkeyPatch) -> None:
    """The largest power, which the sizes tell and a remedy names, is looked for once for an answer."""
    looked: list[float] = []
    find = enough.largest_power

    def counted(*given: Any) -> enough.LargestPower:
        looked.append(1.0)
        return find(*given)

    monkeypatch.setattr(enough, "largest_power", counted)
    step = Step(name="Strike", target_c=66.0, hold_s=600.0)
    found = answer(builders.water_plan(step, circuit=Circuit(voltage_v=230.0, breaker_a=10.0)), None, START)
    breaker = next(one for one in found.mended(found.findings) if one.code == "breaker")
    told_w = [way.facts["elements_w"] for way in breaker.remedies if way.code == "fewer elements"]
    assert told_w == [found.sizes[1].power_w]
    assert found.sizes is found.sizes
    assert looked == [1.0]


ENDS = (
    '[tariff]\nname = "Ends"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
    'valid_to = 2026-11-30\n[[tariff.band]]\nname = "all"\nprice = 0.3\n'
)


def test_a_tariff_that_ended_prices_nothing(demo: Plan) -> None:
    """A list of prices may be guessed on; one price that ended is none."""
    with pytest.raises(TariffError):
        answer(demo, parse_tariff(ENDS), START)
    before = answer(demo, parse_tariff(ENDS), datetime(2026, 11, 20, 8, 30, tzinfo=UTC))
    assert float(before.price.total.total) == pytest.approx(0.3 * before.day.energy_kwh, abs=1e-5)


def test_advised_powers_that_keep_the_ratings_are_taken(builders) -> None:
    """A switched vessel of 2 and 1 kW on 10 A: what would take the circuit over stays as it is set."""
    lake = read_plan("lakeside")
    found = answer(lake, None, START)
    plan = advised_plan(found)
    rows = {row.step: row for row in found.power.rows if row.enough}
    assert all(step.hold_power_w == rows[step.name].advised_w for step in plan.steps if step.name in rows)
    weak = builders.water_plan(
        Step(name="Hot", target_c=90.0, hold_s=3600.0, lid="off", hold_power_w=1000.0, ramp_power_w=2000.0),
        Step(name="Boil", boil=True, hold_s=600.0, lid="on", hold_power_w=2000.0, ramp_power_w=2000.0),
        vessel=builders.vessel(2000.0, 1000.0, control="switched"), circuit=Circuit(voltage_v=230.0, breaker_a=10.0),
    )  # fmt: skip
    answered = answer(weak, None, START)
    kept = advised_plan(answered)
    assert not answer(kept, None, START).is_over
    for step, before in zip(kept.steps, weak.steps, strict=True):
        row = next(row for row in answered.power.rows if row.step == step.name)
        assert step.hold_power_w in (before.hold_power_w, row.advised_w)
    every = with_hold_caps(weak, {row.step: row.advised_w for row in answered.power.rows if row.enough})
    assert answered.is_over or every == kept or answer(every, None, START).is_over


def test_an_answer_is_its_own_even_where_a_part_is_replaced(demo: Plan) -> None:
    """Findings are those of circuit and house, in that order; without either there are none."""
    found = answer(demo, None, START)
    assert found.findings == found.circuit.findings
    assert replace(found, circuit=None).findings == ()
    assert replace(found, circuit=None).is_over is False
