"""The brew day at the house's meter: contract and month's peak."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import ModuleType

import numpy as np
import pytest

from energyplan.advice.household import Household, household, with_cap
from energyplan.advice.odds import does_as_often
from energyplan.base.errors import BrewDayError
from energyplan.circuits.findings import Finding
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Element, HouseSupply, Lid, OtherLoad, Plan, Site, Step
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.findings import FindingTeller

START = datetime(2026, 12, 5, 9, 2, tzinfo=UTC)
PEAK = """
[tariff]
name = "Test"
currency = "EUR"
price_unit = "EUR/kWh"
time_zone = "Europe/Dublin"
[[tariff.band]]
name = "all"
price = 0.3
[tariff.peak_charge]
window_minutes = {minutes}
price_per_kw_month = 4
free_up_to_kw = {free}
"""


def said(finding: Finding) -> str:
    """Return what a finding says."""
    return str(FindingTeller(START, UTC)(finding).said)


def mend(finding: Finding) -> str:
    """Return what would mend it."""
    told = FindingTeller(START, UTC)(finding)
    return str(told.mend) if told.mend else ""


@pytest.fixture(scope="module")
def charged() -> Callable[..., Tariff]:
    """A tariff with a peak charge."""
    return lambda minutes=15, free=1.0: parse_tariff(PEAK.format(minutes=minutes, free=free))


def _day(demo: Plan, *loads: OtherLoad, **supply: float) -> BrewDay:
    alone = {"second_heater": None, "batch": demo.batch.model_copy(update={"sparge_water_l": 0.0})}
    steps = tuple(step.model_copy(update={"before": step.before[:1]}) for step in demo.steps[:-1])
    tables = {"supply": HouseSupply(**supply), "house_loads": loads, "steps": steps, "other_loads": ()}
    return simulate(demo.model_copy(update=alone | tables))


def _brute_peak_kw(day: BrewDay, start: datetime, minutes: int, base_kw: float, loads: tuple[OtherLoad, ...]) -> float:
    """Highest mean over windows of the clock, from the energy second by second (Dublin's winter clock is UTC)."""
    profile, seconds = day.profiles[0], np.arange(0, int(day.duration_s) + 1)
    watts = profile.at(profile.mean_w, seconds + 0.5)
    clock_s = int(start.timestamp()) + seconds
    found: dict[int, float] = {}
    for key in np.unique(clock_s // (60 * minutes)):
        window_s = np.arange(key * 60 * minutes, (key + 1) * 60 * minutes)
        brew_w = watts[clock_s // (60 * minutes) == key].sum()
        clock_min = window_s // 60 % 1440
        house_w = sum(
            load.power_w * load.duty * ((clock_min >= load.from_min) & (clock_min < load.to_min)).sum()
            for load in loads
        )
        found[int(key)] = (brew_w + house_w) / (60 * minutes) / 1000 + base_kw
    return max(found.values())


def test_nothing_entered_nothing_said(demo_day: BrewDay, charged: Callable[..., Tariff]) -> None:
    """None without contract and charge; each alone is answered."""
    assert household(demo_day, START, UTC) is None
    plain = parse_tariff(PEAK.partition("[tariff.peak_charge]")[0])
    assert household(demo_day, START, UTC, plain) is None
    peak_only = household(demo_day, START, UTC, charged())
    assert peak_only is not None
    assert (peak_only.contract, [found.code for found in peak_only.findings]) == (None, ["month_peak"])
    assert not peak_only.is_over


@pytest.mark.parametrize("minutes", [15, 30, 60])
def test_the_peak_is_that_of_a_walk_second_by_second(demo: Plan, charged: Callable[..., Tariff], minutes: int) -> None:
    """With a base load and an oven at a share of the time."""
    oven = OtherLoad(name="Oven", power_w=2000.0, duty=0.6, from_min=12 * 60, to_min=13 * 60 + 10)
    day = _day(demo, oven, base_load_w=200.0)
    found = household(day, START, UTC, charged(minutes))
    assert found is not None
    assert found.peak is not None
    (finding,) = found.findings
    assert finding.facts["steps"]
    assert f"({', '.join(finding.facts['steps'])})" in said(finding).replace(" and ", ", ")
    brute_kw = _brute_peak_kw(day, START, minutes, 0.2, (oven,))
    assert found.peak.peak_kw == pytest.approx(brute_kw, abs=2e-3)
    assert float(found.peak.added) == pytest.approx(4 * (brute_kw - found.peak.present_kw), abs=0.02)


def _with_lid(plan: Plan, lid: Lid) -> Plan:
    """The plan with another lid in its boils."""
    steps = tuple(step.model_copy(update={"lid": lid}) if step.boil else step for step in plan.steps)
    return plan.model_copy(update={"steps": steps})


def test_the_cap_keeps_below_the_present_peak_and_the_next_does_not(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """With 2.5 kW reached this month: the day under the cap stays below it; 100 W more would not; the wort stays."""
    day = _day(_with_lid(demo, "ajar"), base_load_w=300.0, month_peak_w=2500.0)
    found = household(day, START, UTC, charged())
    assert found is not None
    assert found.ways is not None
    assert found.ways.cap_w is not None
    assert found.ways.capped is not None
    assert _brute_peak_kw(found.ways.capped, START, 15, 0.3, ()) <= 2.5 + 2e-3
    more = simulate(with_cap(day.plan, found.ways.cap_w + 100.0), extract=day.wort.extract_kg)
    assert _brute_peak_kw(more, START, 15, 0.3, ()) > 2.5
    assert found.ways.added_min == pytest.approx((found.ways.capped.duration_s - day.duration_s) / 60)
    assert found.ways.added_min > 0
    assert found.ways.capped.wort.end_l == pytest.approx(day.wort.end_l, abs=1e-3)
    assert does_as_often(found.ways.capped, day)
    assert "a pulsed element keeps too" in mend(found.findings[0])


def test_a_cap_that_lets_a_hold_or_a_boil_fail_is_no_way(
    demo: Plan, builders: ModuleType, charged: Callable[..., Tariff]
) -> None:
    """An open boil that is near its limit on a bad day; a hold at 85 °C with the lid off that 1000 W would not keep."""
    found = household(_day(demo, base_load_w=300.0, month_peak_w=2500.0), START, UTC, charged())
    assert found is not None
    assert found.ways is not None
    assert found.ways.cap_w is None
    steps = (Step(name="Up", target_c=85.0), Step(name="Hot", target_c=85.0, hold_s=3600.0, lid="off"))
    plan = builders.water_plan(*steps, vessel=builders.vessel(3000.0), site=Site(air_c=10.0))
    sags = simulate(with_cap(plan, 1000.0))
    assert sags.phases[-1].lowest_c < 84.0
    held = household(simulate(plan), START, UTC, charged(free=1.05))
    assert held is not None
    assert held.ways is not None
    assert held.ways.cap_w is None


def test_the_shift_is_the_least_one(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """An oven at noon on top of the boil: every smaller shift of five minutes still passes the peak."""
    oven = OtherLoad(name="Oven", power_w=2000.0, from_min=12 * 60, to_min=13 * 60)
    day = _day(demo, oven, month_peak_w=3000.0)
    found = household(day, START, UTC, charged())
    assert found is not None
    assert found.ways is not None
    for shift_s, sign in ((found.ways.later_s, 1), (found.ways.earlier_s, -1)):
        assert shift_s is not None
        peaks = [
            _brute_peak_kw(day, START + timedelta(seconds=sign * moved), 15, 0.0, (oven,))
            for moved in np.arange(300.0, shift_s + 1, 300.0)
        ]
        assert peaks[-1] <= 3.0 + 2e-3
        assert all(peak > 3.0 for peak in peaks[:-1])
    assert mend(found.findings[0]).lower().startswith("start ")


def test_what_is_there_already_costs_nothing(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """A month's peak of 5 kW, or 5 kW that are free: nothing is added, and nothing needs mending."""
    reached = household(_day(demo, month_peak_w=5000.0), START, UTC, charged())
    free = household(_day(demo), START, UTC, charged(free=5.0))
    for found, words in ((reached, "has it already"), (free, "that is free")):
        assert found is not None
        assert found.peak is not None
        assert found.peak.added.units == 0
        assert found.ways is None
        assert (found.findings[0].severity, mend(found.findings[0])) == ("ok", "")
        assert words in said(found.findings[0])


def test_where_nothing_helps_it_is_said(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """A present peak of 0.9 kW: every cap that brews passes it; the least of these adds least, and that is told."""
    day = _day(_with_lid(demo, "ajar"), base_load_w=400.0)
    found = household(day, START, UTC, charged(free=0.9))
    assert found is not None
    assert found.ways is not None
    assert (found.ways.cap_w, found.ways.later_s, found.ways.earlier_s) == (None, None, None)
    assert mend(found.findings[0]).startswith("Nothing was found")
    assert found.peak is not None
    assert found.ways.left is not None
    assert found.ways.least_cap_w is not None
    assert found.ways.capped is not None
    assert float(found.ways.left) == pytest.approx(
        4 * (_brute_peak_kw(found.ways.capped, START, 15, 0.4, ()) - 0.9), abs=0.02
    )
    assert found.ways.left.units < found.peak.added.units / 2
    assert f"capped at {found.ways.least_cap_w:.0f} W it adds {float(found.ways.left):.2f} EUR only (+" in mend(
        found.findings[0]
    )
    with suppress(BrewDayError):  # a lower one can't be brewed, or not as often
        lower = simulate(with_cap(day.plan, found.ways.least_cap_w - 100.0), extract=day.wort.extract_kg)
        assert not does_as_often(lower, day)


def test_the_contract_names_the_steps(demo: Plan) -> None:
    """2.8 kW of elements under 2 kW: every step that heats; 'over', so the household is."""
    found: Household | None = household(_day(demo, contracted_w=2000.0), START, UTC)
    assert found is not None
    assert found.contract is not None
    assert found.is_over
    assert set(found.contract.steps) == {"Strike", "Saccharification", "Mash-out", "Towards the boil", "Boil"}
    assert [finding.code for finding in found.findings] == ["contract"]


def test_switched_elements_whose_least_is_too_much(builders, charged: Callable[..., Tariff]) -> None:
    """1500 W is the least of two switched elements: above a free 0.5 kW no cap keeps below, though none stalls."""
    pair = tuple(Element(power_w=power_w, voltage_v=230.0) for power_w in (2000.0, 1500.0))
    plan = builders.water_plan(
        Step(name="Heat", target_c=60.0), vessel=builders.vessel(elements=pair, control="switched")
    )
    found = household(simulate(plan), START, UTC, charged(free=0.5))
    assert found is not None
    assert found.ways is not None
    assert (found.ways.cap_w, found.ways.least_cap_w) == (None, 1500.0)
    milder = household(simulate(plan), START, UTC, charged(free=1.9))
    assert milder is not None
    assert milder.ways is not None
    assert milder.ways.cap_w == 1500.0
    assert "kg less steam" not in mend(milder.findings[0])


@pytest.mark.parametrize("lower_w", [100.0, 700.0])
def test_a_smaller_contract_is_never_milder(demo: Plan, lower_w: float) -> None:
    """Severity and the elements that may be on go one way with the contracted power."""
    order = ("ok", "note", "over")
    day = _day(demo, OtherLoad(name="Oven", power_w=2000.0, from_min=12 * 60, to_min=13 * 60))
    plan = day.plan
    found = []
    for contracted_w in np.arange(6500.0, 1500.0, -lower_w):
        supply = HouseSupply(contracted_w=float(contracted_w))
        tried = household(replace(day, plan=plan.model_copy(update={"supply": supply})), START, UTC)
        assert tried is not None
        assert tried.contract is not None
        found.append(tried.contract)
    ranks = [order.index(one.finding.severity) for one in found]
    assert ranks == sorted(ranks)
    assert (ranks[0], ranks[-1]) == (0, 2)
    elements = [one.elements_w for one in found if one.elements_w is not None]
    assert elements == sorted(elements, reverse=True)


# By hand ---------------------------------------------------------------------------------------------------------


def test_a_cap_lowers_what_is_above_it_and_nothing_else(builders: ModuleType) -> None:
    """Of ramps at 3 kW (all), 2 and 1: 1.5 kW, 1.5 and 1; holds alike."""
    steps = (
        Step(name="A", target_c=50.0),
        Step(name="B", target_c=60.0, ramp_power_w=2000.0, hold_s=60.0, hold_power_w=900.0),
        Step(name="C", target_c=70.0, ramp_power_w=1000.0, hold_s=60.0),
    )  # fmt: skip
    capped = with_cap(builders.water_plan(*steps), 1500.0)
    assert [step.ramp_power_w for step in capped.steps] == [1500.0, 1500.0, 1000.0]
    assert [step.hold_power_w for step in capped.steps] == [1500.0, 900.0, 1500.0]


def test_what_keeps_below_a_peak_is_told_with_its_numbers(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """The cap with its minutes, kWh and steam, and shifts in minutes: those of the ways themselves."""
    day = _day(demo, OtherLoad(name="Oven", power_w=1500.0, from_min=690, to_min=750), month_peak_w=3200.0)
    found = household(day, START, UTC, charged())
    assert found is not None
    assert found.ways is not None
    remedies = {one.code: dict(one.facts) for one in found.findings[-1].remedies}
    ways = found.ways
    if ways.cap_w is not None:
        assert remedies["cap"] == {
            "cap_w": ways.cap_w, "added_min": ways.added_min, "added_kwh": ways.added_kwh,
            "less_steam_kg": ways.less_steam_kg,
        }  # fmt: skip
        assert ways.capped is not None
        assert ways.added_min == pytest.approx((ways.capped.duration_s - day.duration_s) / 60)
        assert ways.added_kwh == pytest.approx(ways.capped.energy_kwh - day.energy_kwh)
        assert ways.less_steam_kg == pytest.approx(day.wort.evaporated_kg - ways.capped.wort.evaporated_kg)
        assert ways.capped.wort.end_l == pytest.approx(day.wort.end_l, abs=1e-4)
    assert remedies["start"] == {
        "later_min": None if ways.later_s is None else ways.later_s / 60,
        "earlier_min": None if ways.earlier_s is None else ways.earlier_s / 60,
    }
    facts = found.findings[-1].facts
    assert facts["window_min"] == 15
    at_s = (found.peak.peak_start - START).total_seconds()
    assert facts["at_s"] == at_s
    assert set(facts["steps"]) == {
        phase.step for phase in day.phases if phase.start_s < at_s + 900 and phase.end_s > at_s
    }


@pytest.mark.parametrize(("month_peak_w", "adds"), [(3000.0, False), (2400.0, True)])
def test_a_peak_that_was_had_adds_nothing(
    demo: Plan, charged: Callable[..., Tariff], month_peak_w: float, *, adds: bool
) -> None:
    """2.8 kW of the vessel under 3 kW of this month, and over 2.4; where nothing is added no way is looked for."""
    found = household(_day(demo, month_peak_w=month_peak_w), START, UTC, charged())
    assert found is not None
    assert (found.ways is not None) is adds
    assert found.findings[-1].severity == ("note" if adds else "ok")
    assert found.findings[-1].case == ("adds" if adds else "had already")
    assert not found.is_over
    free = household(_day(demo, month_peak_w=0.0), START, UTC, charged(free=3.0))
    assert free is not None
    assert free.findings[-1].case == "free"


def test_no_shift_is_looked_for_beyond_twelve_hours(demo: Plan, charged: Callable[..., Tariff]) -> None:
    """An oven of 1.5 kW all day long: no hour of it is better, and that is told."""
    day = _day(demo, OtherLoad(name="Oven", power_w=1500.0), month_peak_w=3200.0)
    found = household(day, START, UTC, charged())
    assert found is not None
    assert found.ways is not None
    assert (found.ways.later_s, found.ways.earlier_s) == (None, None)
