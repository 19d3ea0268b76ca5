"""Waiting on cheap heat: refusals, prices below zero, own power; schedules are followed in the tests of advice."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from energyplan.base.errors import BrewDayError, TariffError
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.heatedwater import HeatedStretch, Schedule, WaterToHeat
from energyplan.tariffs.priceline import HOLE, PriceLine
from energyplan.tariffs.waiting import Filling, wait_for_cheap_heat

START = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)
CAPACITY_J_PER_K = 110_000.0


def line_of(minutes: list[int], prices: list[int], **given) -> PriceLine:
    """A line from lengths of its steps, beginning at START."""
    return PriceLine(
        edges_s=utc_s(START) + 60 * np.concatenate([[0], np.cumsum(minutes)]).astype(np.int64),
        micro_per_kwh=np.array(prices, dtype=np.int64),
        band=np.array(given.pop("band", [0] * len(prices)), dtype=np.int64),
        band_names=("a",),
        currency="EUR",
        zone="Europe/Dublin",
        **given,
    )


def water_of(loss_w_per_k: float = 4.5, *, strike_c: float = 70.0, **change) -> WaterToHeat:
    """Water of 15 °C in air of 15 °C, 2000 W; the loss is straight in the temperature."""
    temperatures_c = np.linspace(10.0, 80.0, 701)
    given = {
        "temperatures_c": temperatures_c,
        "stored_j": CAPACITY_J_PER_K * temperatures_c,
        "loss_w": loss_w_per_k * (temperatures_c - 15.0),
        "tap_c": 15.0,
        "strike_c": strike_c,
        "air_c": 15.0,
        "heat_w": 2000.0,
        "meter_w": 2000.0,
    }
    return WaterToHeat(**(given | change))


def test_water_left_alone_cools_as_newton_has_it() -> None:
    """A constant loss per kelvin over a constant capacity: the difference to the air falls by e in C / UA."""
    water = water_of()
    loss_w_per_k = water.lost_w(water.stored_at(65.0)) / (65.0 - water.air_c)
    left_k = (70.0 - water.air_c) * np.exp(-loss_w_per_k * 6 * 3600 / CAPACITY_J_PER_K)
    cooled_c = water.temperature_at(water.left_alone_j(water.stored_at(70.0), 6 * 3600.0))
    assert cooled_c - water.air_c == pytest.approx(left_k, rel=1e-7)


def test_cheap_night_dear_morning() -> None:
    """Night 0.10 to 04:00, then 0.30; mash at 06:00: heat to the last minute of the night, top up, more kWh.

    Coasting and topping up takes less energy than holding (common practice, no source).
    """
    line = line_of([360, 240], [100_000, 300_000])
    plan = wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=8))
    assert [run.end for run in plan.stretches] == [START + timedelta(hours=6), plan.ready]
    assert plan.filled == plan.stretches[0].start
    assert plan.waits
    assert 0 < plan.extra_kwh < 4.5 * 55.0 * 2 / 1000
    assert plan.lands_c == pytest.approx(70.0, abs=0.02)


def test_the_time_it_takes_is_that_of_the_closed_form() -> None:
    """C dT/dt = P - UA (T - T_air): 110 kJ/K, 15 to 70 °C, 2 kW, 4.5 W/K: tau ln(P / (P - UA 55 K)) by hand."""
    seconds = CAPACITY_J_PER_K / 4.5 * np.log(2000.0 / (2000.0 - 4.5 * 55.0))
    plan = wait_for_cheap_heat(water_of(), line_of([600], [1]), earliest=START, ready=START + timedelta(hours=5))
    assert plan.direct_kwh == pytest.approx(seconds * 2000.0 / 3.6e6, rel=1e-7)
    assert not plan.waits


def test_a_bare_vessel_and_a_narrow_spread_don_t_pay() -> None:
    """0.15 against 0.16 with a high loss: heating straight before is the plan itself."""
    line = line_of([360, 240], [150_000, 160_000])
    plan = wait_for_cheap_heat(water_of(12.0), line, earliest=START, ready=START + timedelta(hours=10))
    assert plan.saving.units == 0
    assert plan.extra_kwh == 0.0


def test_without_loss_heat_waits_as_little_as_it_can() -> None:
    """Nothing leaks: 110 kJ/K x 55 K at 2 kW are 50 min 25 s, straight before."""
    line = line_of([600], [200_000])
    plan = wait_for_cheap_heat(water_of(0.0), line, earliest=START, ready=START + timedelta(hours=5))
    assert plan.energy_kwh == pytest.approx(110_000 * 55 / 3.6e6)
    assert (plan.stretches[0].start, plan.stretches[0].end) == (plan.ready - timedelta(seconds=3025), plan.ready)


def test_no_hot_water_is_kept_to_earn_by_a_price_below_zero() -> None:
    """Two hours at -0.20: heated once, at their end."""
    line = line_of([240, 120, 240], [300_000, -200_000, 300_000])
    plan = wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=8))
    assert plan.stretches[0].end == START + timedelta(hours=6)
    assert plan.energy_kwh < plan.direct_kwh + 1.0
    assert plan.cost.units < 0


def test_own_power_draws_the_heating_to_itself() -> None:
    """2.5 kW left over from 02:00 to 03:00 that would have earned 0.05: heated then, for 0.05 a kWh, and topped up."""
    line = line_of([240, 60, 300], [300_000] * 3, surplus_mw=np.array([0, 2_500_000, 0]), export_micro_per_kwh=50_000)
    plan = wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=6))
    assert plan.stretches[0].end == START + timedelta(hours=5)
    assert float(plan.cost) < 0.5 * float(plan.direct_cost)


def test_standby_runs_from_the_filling_on() -> None:
    """3 W for the eight hours of a filling in the evening are 24 Wh."""
    line = line_of([600], [100_000])
    given = {"earliest": START, "ready": START + timedelta(hours=8), "filling": Filling(at=START)}
    silent, humming = (wait_for_cheap_heat(water_of(standby_w=w), line, **given) for w in (0.0, 3.0))
    assert humming.energy_kwh - silent.energy_kwh == pytest.approx(0.024)


def test_heating_that_can_t_be_planned() -> None:
    """Too little time, too little power, a hole in the prices, odd times, an odd line."""
    line = line_of([300, 300], [1, 2])
    with pytest.raises(BrewDayError, match=r"2000 W can't have the water hot after 30 min: it takes 54 min"):
        wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(minutes=30))
    with pytest.raises(BrewDayError, match="the loss eats up the heat"):
        wait_for_cheap_heat(water_of(60.0), line, earliest=START, ready=START + timedelta(hours=8))
    late, odd = Filling(at=START + timedelta(hours=7, minutes=30)), timedelta(seconds=30)
    with pytest.raises(BrewDayError, match="filled then"):
        wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=8), filling=late)
    with pytest.raises(ValueError, match="whole number of minutes"):
        wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(seconds=90))
    with pytest.raises(ValueError, match="within a minute"):
        wait_for_cheap_heat(water_of(), line, earliest=START + odd, ready=START + timedelta(hours=8) + odd)
    holed = line_of([300, 300], [1, 2], band=[0, HOLE])
    with pytest.raises(TariffError, match="no price from"):
        wait_for_cheap_heat(water_of(), holed, earliest=START, ready=START + timedelta(hours=8))


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"strike_c": 14.0}, "strike_c"),
        ({"strike_c": 90.0}, "strike_c"),
        ({"heat_w": 0.0}, "heat_w"),
        ({"meter_w": float("nan")}, "meter_w"),
        ({"standby_w": -1.0}, "standby_w"),
        ({"stored_j": np.zeros(701)}, "stored_j"),
        ({"tap_c": 5.0}, "tap_c"),
    ],
)
def test_water_out_of_range(change: dict, named: str) -> None:
    """Each names the number."""
    with pytest.raises(ValueError, match=named):
        water_of(**change)


# --- plans worked by hand: C dT/dt = P - UA (T - T_air), whose time constant is 110 kJ/K / 4.5 W/K = 6.79 h ---
TAU_S = CAPACITY_J_PER_K / 4.5
ONE_HOUR = timedelta(hours=1)


def heating_s(from_c: float, to_c: float, air_c: float = 15.0, heat_w: float = 2000.0) -> float:
    """Seconds of full power from one temperature to another."""
    end_c = air_c + heat_w / 4.5
    return TAU_S * float(np.log((end_c - from_c) / (end_c - to_c)))


def topped_up_s(wait_s: float, air_c: float = 15.0) -> float:
    """Seconds of full power at the end of a wait that bring water of 70 °C back to it."""
    seconds = 0.0
    for _ in range(50):
        cooled_c = air_c + (70.0 - air_c) * float(np.exp(-(wait_s - seconds) / TAU_S))
        seconds = heating_s(cooled_c, 70.0, air_c)
    return seconds


def test_a_cheap_hour_and_a_half_in_the_middle_of_a_dear_night() -> None:
    """0.10 from 03:00 to 04:30, else 0.50; wanted at 06:00.

    What leaks in 90 min is cheaper than the spread: filled and heated to the strike at the end of the cheap stretch,
    and topped up at the very end.
    """
    line = line_of([300, 90, 300], [500_000, 100_000, 500_000])
    plan = wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=8))
    first, second = plan.stretches
    assert (first.end, second.end) == (START + timedelta(minutes=390), plan.ready)
    lasts_s = [(run.end - run.start).total_seconds() for run in plan.stretches]
    assert lasts_s == pytest.approx([heating_s(15.0, 70.0), topped_up_s(5400.0)], abs=40)
    assert plan.filled == first.start
    by_hand = (0.10 * lasts_s[0] + 0.50 * lasts_s[1]) * 2000 / 3.6e6
    assert float(plan.cost) == pytest.approx(by_hand, rel=1e-6)
    assert float(plan.direct_cost) == pytest.approx(0.50 * heating_s(15.0, 70.0) * 2000 / 3.6e6, rel=1e-3)
    assert float(plan.saving) == pytest.approx(float(plan.direct_cost) - float(plan.cost), rel=1e-9)
    assert plan.extra_kwh == pytest.approx(sum(lasts_s) * 2000 / 3.6e6 - plan.direct_kwh, rel=1e-6)


def test_cold_water_in_a_warm_room_is_put_in_just_before_it_is_heated() -> None:
    """Tap 5 °C, room 25 °C, the same prices: the room must not warm it for nothing, nor dear minutes be paid for it."""
    line = line_of([300, 90, 300], [500_000, 100_000, 500_000])
    temperatures_c = np.linspace(0.0, 90.0, 901)
    water = water_of(
        temperatures_c=temperatures_c, stored_j=CAPACITY_J_PER_K * temperatures_c,
        loss_w=4.5 * (temperatures_c - 25.0), tap_c=5.0, air_c=25.0,
    )  # fmt: skip
    plan = wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(hours=8))
    first, second = plan.stretches
    assert (plan.filled, first.end, second.end) == (first.start, START + timedelta(minutes=390), plan.ready)
    lasts_s = [(run.end - run.start).total_seconds() for run in plan.stretches]
    assert lasts_s == pytest.approx([heating_s(5.0, 70.0, 25.0), topped_up_s(5400.0, 25.0)], abs=40)


@pytest.mark.parametrize(("spread", "waits"), [(20_000, False), (400_000, True)])
def test_a_wait_pays_where_what_leaks_is_cheaper_than_the_spread(spread: int, *, waits: bool) -> None:
    """Three hours between cheap and wanted leak a third of the heat (1 - e^-3/6.79): 0.10 against 0.12, and 0.50."""
    line = line_of([300, 180], [100_000, 100_000 + spread])
    plan = wait_for_cheap_heat(water_of(), line, earliest=START, ready=START + timedelta(hours=8))
    assert plan.waits is waits
    assert (plan.extra_kwh > 0) is waits
    if waits:
        assert plan.stretches[0].end == START + timedelta(minutes=300)
        assert plan.lands_c == pytest.approx(70.0, abs=0.02)


def test_a_filling_of_its_own_moment_is_kept_to() -> None:
    """Filled at 23:00: what the room does to 15 °C water in a room of 15 °C is nothing, so it waits for its heat."""
    line = line_of([480], [200_000])
    at = START + ONE_HOUR
    plan = wait_for_cheap_heat(
        water_of(), line, earliest=START, ready=START + timedelta(hours=8), filling=Filling(at=at)
    )
    (run,) = plan.stretches
    assert plan.filled == at
    assert run.end == plan.ready
    assert (run.end - run.start).total_seconds() == pytest.approx(heating_s(15.0, 70.0), abs=1)


def test_filled_only_while_somebody_is_there() -> None:
    """Somebody is up until 23:00 and again from 05:30, too late to heat: the last minute at which somebody is there."""
    there = np.zeros(480, dtype=bool)
    there[:60] = True
    there[450:] = True
    line = line_of([480], [200_000])
    plan = wait_for_cheap_heat(
        water_of(), line, earliest=START, ready=START + timedelta(hours=8), filling=Filling(minutes=there)
    )
    assert plan.filled == START + timedelta(minutes=59)
    assert plan.stretches[-1].end == plan.ready
    always = wait_for_cheap_heat(
        water_of(), line, earliest=START, ready=START + timedelta(hours=8),
        filling=Filling(minutes=np.ones(480, dtype=bool)),
    )  # fmt: skip
    assert always.filled == always.ready - timedelta(seconds=float(np.ceil(heating_s(15.0, 70.0))))


def test_prices_and_plan_need_only_be_whole_minutes_apart() -> None:
    """Both 20 s past the minute."""
    odd = timedelta(seconds=20)
    shifted = line_of([240, 240], [100_000, 300_000])
    line = PriceLine(
        edges_s=shifted.edges_s + 20, micro_per_kwh=shifted.micro_per_kwh, band=shifted.band, band_names=("a",),
        currency="EUR", zone="Europe/Dublin",
    )  # fmt: skip
    plain = wait_for_cheap_heat(water_of(), shifted, earliest=START, ready=START + timedelta(hours=8))
    plan = wait_for_cheap_heat(water_of(), line, earliest=START + odd, ready=START + timedelta(hours=8) + odd)
    assert (plan.filled - odd, plan.cost.units) == (plain.filled, plain.cost.units)


def test_own_power_that_covers_a_part_is_a_part_of_the_price() -> None:
    """1 kW left over all night under 2 kW of heating: half of each kWh costs what its export pays.

    Of two hours alike but for it the one with it is taken: 0.5 x 0.30 + 0.5 x 0.05 = 0.175 a kWh.
    """
    surplus = np.array([0, 1_000_000, 0])
    line = line_of([240, 90, 150], [300_000] * 3, surplus_mw=surplus, export_micro_per_kwh=50_000)
    plan = wait_for_cheap_heat(water_of(2.0), line, earliest=START, ready=START + timedelta(hours=8))
    first = plan.stretches[0]
    assert first.end == START + timedelta(minutes=330)
    first_kwh = (first.end - first.start).total_seconds() * 2000 / 3.6e6
    assert float(plan.cost) == pytest.approx(0.175 * first_kwh + 0.30 * (plan.energy_kwh - first_kwh), rel=1e-3)


def test_heating_by_the_closed_form_from_any_heat() -> None:
    """Seconds and heats of the table against tau ln(...), in either direction, and where the loss eats up the heat."""
    water = water_of()
    for from_c, to_c in ((15.0, 70.0), (40.0, 41.0), (20.5, 69.95)):
        from_j, to_j = (water.stored_at(at_c) for at_c in (from_c, to_c))
        assert from_j == pytest.approx(CAPACITY_J_PER_K * from_c)
        assert water.temperature_at(from_j) == pytest.approx(from_c)
        seconds = heating_s(from_c, to_c)
        assert water.heating_s(from_j, to_j) == pytest.approx(seconds, rel=1e-6)
        assert water.heated_j(from_j, seconds) == pytest.approx(to_j, rel=1e-6)
    assert water.lost_w(water.stored_at(65.0)) == pytest.approx(4.5 * 50.0)
    weak = water_of(heat_w=200.0)  # 200 W hold 4.5 W/K x 44.4 K: never 60 °C
    assert weak.heating_s(weak.stored_at(15.0), weak.stored_at(60.0)) == np.inf
    assert np.isfinite(weak.heating_s(weak.stored_at(15.0), weak.stored_at(59.0)))


@pytest.mark.parametrize("seconds", [1.0, 599.0, 600.0, 601.0, 40_000.0])
def test_cooling_is_newton_s_for_any_time(seconds: float) -> None:
    """Water at 70 °C and water colder than the room: e^(-t / tau) either way."""
    water = water_of(air_c=15.0)
    for at_c in (70.0, 10.5):
        left_c = water.temperature_at(water.left_alone_j(water.stored_at(at_c), seconds))
        assert left_c - 15.0 == pytest.approx((at_c - 15.0) * np.exp(-seconds / TAU_S), rel=1e-6)


def test_a_schedule_on_the_clock_and_at_the_meter() -> None:
    """Filled at 23:00, heated from 00:00 to 00:30 and from 05:00 to 05:10, wanted at 06:00: 2 kW and 3 W of standby."""
    water = water_of(standby_w=3.0)
    filled_s = utc_s(START + ONE_HOUR)
    runs = ((3600.0, 5400.0), (21_600.0, 22_200.0))
    plan = Schedule(water=water, filled_s=filled_s, runs=runs, lands_c=70.0, lasts_s=25_200)
    at = [START + timedelta(hours=hours) for hours in (2, 2.5, 7, 7 + 1 / 6)]
    assert plan.stretches == (HeatedStretch(start=at[0], end=at[1]), HeatedStretch(start=at[2], end=at[3]))
    assert plan.load.edges_s.tolist() == [0.0, 3600.0, 5400.0, 21_600.0, 22_200.0, 25_200.0]
    assert plan.load.mean_w.tolist() == [3.0, 2003.0, 3.0, 2003.0, 3.0]
    assert plan.load.energy_kwh == pytest.approx(2.0 * 2400 / 3600 + 0.003 * 7)


@pytest.mark.parametrize(("change", "fits"), [
    ({"tap_c": 10.0}, True), ({"tap_c": 9.9}, False), ({"air_c": 10.0}, True), ({"air_c": 9.9}, False),
    ({"strike_c": 79.9}, True), ({"strike_c": 80.0}, False), ({"tap_c": 69.9}, True), ({"tap_c": 70.0}, False),
    ({"air_c": 70.0}, False), ({"standby_w": 0.0}, True), ({"heat_w": -1.0}, False), ({"heat_w": np.inf}, False),
    ({"standby_w": np.inf}, False),
])  # fmt: skip
def test_water_at_the_ends_of_its_table(change: dict, *, fits: bool) -> None:
    """From 10 to 80 °C: tap and room within, the strike above both and below its end."""
    if fits:
        water_of(**change)
    else:
        with pytest.raises(ValueError, match="expected"):
            water_of(**change)
