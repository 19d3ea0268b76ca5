"""Everything that the house's meter sees around a brew day."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from types import ModuleType
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.load import LoadProfile
from energyplan.circuits.house import House, house_of
from energyplan.plan.model import Circuit, HouseSupply, OtherLoad, Plan, Step

START = datetime(2026, 5, 1, 8, tzinfo=UTC)


def _plan(builders: ModuleType, **tables: object) -> Plan:
    plan: Plan = builders.water_plan(Step(name="Heat", target_c=60.0), **tables)
    return plan


def _minute_sums(plan: Plan, profiles: list[LoadProfile], start: datetime, zone: ZoneInfo, minute: int) -> list[float]:
    """On-power and mean power in the middle of a minute, load by load, without any grid of edges."""
    at_s = 60.0 * minute + 30.0
    on = mean = plan.supply.base_load_w if plan.supply else 0.0
    for profile in profiles:
        for left, right, heater, other, mean_w in zip(
            profile.edges_s[:-1], profile.edges_s[1:], profile.heater_w_per_v2, profile.other_w, profile.mean_w,
            strict=True,
        ):  # fmt: skip
            if left <= at_s < right:
                on += heater * plan.voltage_v**2 + other
                mean += mean_w
    local = (start + timedelta(seconds=at_s)).astimezone(zone)
    clock_min = local.hour * 60 + local.minute + 0.5
    for load in (*plan.other_loads, *plan.house_loads):
        inside = load.from_min <= clock_min < load.to_min
        if load.from_min > load.to_min:
            inside = clock_min >= load.from_min or clock_min < load.to_min
        on += load.power_w * inside
        mean += load.power_w * load.duty * inside
    return [on, mean]


@given(
    windows=st.lists(st.tuples(st.integers(0, 1439), st.integers(0, 1440)), max_size=4),
    hour=st.integers(0, 23),
    shift_min=st.integers(-700, 700),
)
@settings(max_examples=40)
def test_sums_are_those_of_a_walk_minute_by_minute(
    builders: ModuleType,
    profile: Callable[..., LoadProfile],
    windows: list[tuple[int, int]],
    hour: int,
    shift_min: int,
) -> None:
    """On and mean power of every minute, with the day moved by some minutes, over a clock change."""
    zone = ZoneInfo("Europe/Dublin")
    start = datetime(2026, 10, 25, tzinfo=UTC) + timedelta(hours=hour - 12)
    loads = tuple(
        OtherLoad(name=f"Load {number}", power_w=100.0 * (number + 1), duty=0.4, from_min=begin, to_min=end)
        for number, (begin, end) in enumerate(windows)
        if begin != end
    )
    plan = _plan(builders, other_loads=loads[:2], house_loads=loads[2:], supply=HouseSupply(base_load_w=150.0))
    profiles = [
        profile("Vessel", [(0, 50, 1.0), (60, 120, 0.2)], power_w=3000.0, voltage_v=230.0, other_w=30.0),
        profile("Second heater", [(-20, 40, 1.0)], power_w=1500.0, voltage_v=230.0),
    ]
    totals = house_of(plan, profiles, start, zone).totals(60.0 * shift_min)
    for minute in range(-20, 120):
        step = int(np.searchsorted(totals.edges_s, 60.0 * minute + 30.0) - 1)
        moved = start + timedelta(minutes=shift_min)
        expected = _minute_sums(plan, profiles, moved, zone, minute)
        assert [totals.on_w[step], totals.mean_w[step]] == pytest.approx(expected, abs=1e-6)


def test_wires_and_high_voltage_by_hand(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """2300 W, 230 V behind the wires of 2.5 mm2, 18 m.

    By hand: G = 2300/230^2 = 43.478 mS; r = 0.3206 ohm (8.906 mohm/m warm, there and back): 230^2 G/(1 + r G) =
    2300/1.01394 = 2268.4 W. At 253 V and 1.05 G = 45.652 mS: 253^2 x 0.045652/(1 + 0.014637) = 2880.0 W; the pump's
    30 W become 36.3 W.
    """
    circuit = Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=18.0)
    plan = _plan(builders, circuit=circuit)
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=2300.0, voltage_v=230.0, other_w=30.0)
    load = house_of(plan, [vessel], START, UTC).loads[0]
    assert load.heater_w[0] == pytest.approx(2268.4, abs=1.0)
    assert load.on_w[0] - load.heater_w[0] == pytest.approx(30.0)
    assert load.high_w[0] == pytest.approx(2880.0 + 36.3, abs=2.0)


def test_a_load_that_never_comes_on_is_no_load(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """A window in the hour that the clock skips leaves nothing; the base load stays."""
    skipped = OtherLoad(name="Night store", power_w=2000.0, from_min=75, to_min=105)
    plan = _plan(builders, house_loads=(skipped,), supply=HouseSupply(base_load_w=100.0))
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=2000.0, voltage_v=230.0)
    house = house_of(plan, [vessel], datetime(2026, 3, 29, 7, tzinfo=UTC), ZoneInfo("Europe/Dublin"))
    assert [load.name for load in house.loads] == ["Vessel"]
    assert house.totals().on_w == pytest.approx([2100.0])
    assert house.beside() == ()


def test_what_is_beside_moves_with_the_clock(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """Started an hour later, an oven of 09:30 to 10:00 comes on an hour earlier in the day's own seconds."""
    oven = OtherLoad(name="Oven", power_w=2000.0, duty=0.5, from_min=570, to_min=600)
    plan = _plan(builders, house_loads=(oven,))
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=2000.0, voltage_v=230.0)
    house: House = house_of(plan, [vessel], START, UTC)
    (now,), (later,) = house.beside(), house.beside(3600.0)
    assert now.edges_s.tolist() == [5400.0, 7200.0]
    assert later.edges_s.tolist() == [1800.0, 3600.0]
    assert later.energy_kwh == pytest.approx(0.5)
