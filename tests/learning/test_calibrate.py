"""Planted vessels are found again, with honest intervals; what a log can't tell is said."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import parse_log
from energyplan.learning.model import (
    METER_SD_FRAC,
    VESSEL_SD_FRAC,
    WATER_SD_FRAC,
    Factors,
    Setting,
    Supply,
    path_c,
)
from energyplan.learning.result import measured_plan
from energyplan.plan.file import read_plan
from energyplan.telling.learning import remark_said

LOGS = 20
ROUGH = {"noise_k": 0.3, "round_k": 1.0, "gaps_frac": 0.1}
FINE = {"noise_k": 0.1, "round_k": 0.1, "gaps_frac": 0.05}


def planted(rng, vessel, water_j_per_k):
    """A vessel with random loss, exponent, elements; water and own heat off by as much as the fit allows for."""
    water_j = (water_j_per_k(27.0) - 5000.0) * (1 + rng.normal(0, WATER_SD_FRAC))
    own_j = 5000.0 * (1 + rng.normal(0, VESSEL_SD_FRAC))
    return vessel(
        loss_w_per_k=rng.uniform(3.5, 9.0),
        stored_j_per_k=water_j + own_j,
        element_w=rng.uniform(2250, 2625),
        exponent=rng.uniform(1.0, 1.25),
        beside_w=3.0,
    )


def told(remark):
    """A remark in words."""
    return str(remark_said(remark))


def covered(measured, truth):
    """Whether the interval holds the truth."""
    return measured.low <= truth <= measured.high


@pytest.mark.parametrize("kind", ["cool-down", "heat-up and cool-down", "metered heat-up and cool-down"])
def test_the_intervals_cover_what_was_planted(kind, vessel, water_j_per_k, plan):
    """95 % intervals cover 90 % or more of what was planted in 20 rough logs (0.3 K noise, 1 K steps, 10 % gaps).

    The logs are made by an explicit Euler integrator with a loss that goes as the 1.0th to 1.25th power; each of
    water, vessel and meter is off by a draw from the error that the intervals allow for.
    """
    rng = np.random.default_rng(20)
    hits = {"loss": [], "stored": [], "power": []}
    for _ in range(LOGS):
        kettle = planted(rng, vessel, water_j_per_k)
        meter_frac = 1 + rng.normal(0, METER_SD_FRAC)
        if kind == "cool-down":
            kettle.temperature_c = 75.0
            kettle.run(rng.integers(75, 120))
        else:
            kettle.heat_to(76.0).run(rng.integers(75, 120))
        columns = "energy_kwh" if kind.startswith("metered") else ""
        found = calibrate(parse_log(kettle.csv(rng, columns, meter_frac=meter_frac, **ROUGH)), plan)
        hits["loss"].append(covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c)))
        if kind != "cool-down":
            hits["power"].append(covered(found.element_power_w, kettle.element_w))
        if columns:
            hits["stored"].append(covered(found.stored_heat_j_per_k, kettle.stored_j_per_k))
        assert found.stored_heat_j_per_k.known == bool(columns)
    for name, found_hits in hits.items():
        assert not found_hits or np.mean(found_hits) >= 0.90, (name, np.mean(found_hits))


@pytest.mark.parametrize("seed", range(25))
def test_a_log_that_cant_separate_two_always_says_so(seed, vessel, water_j_per_k, plan):
    """A cool-down never claims power or stored heat, a plain heat-up never loss or stored heat; each says why."""
    rng = np.random.default_rng(seed)
    kettle = planted(rng, vessel, water_j_per_k)
    kettle.temperature_c = 75.0
    cooled = calibrate(parse_log(kettle.run(90).csv(rng, **ROUGH)), plan)
    assert cooled.heat_loss_w_per_k.known
    assert "can't be told apart" in told(cooled.stored_heat_j_per_k.why)
    assert "plug-in meter" in told(cooled.stored_heat_j_per_k.why)
    assert "can't tell power from stored heat" in told(cooled.element_power_w.why)
    heated = calibrate(parse_log(planted(rng, vessel, water_j_per_k).heat_to(72.0).csv(rng, **ROUGH)), plan)
    assert "can't tell the two apart" in told(heated.heat_loss_w_per_k.why)
    assert "element power" in told(heated.heat_loss_w_per_k.why)
    assert "cool-down" in told(heated.heat_loss_w_per_k.why)
    assert "can't be told apart" in told(heated.stored_heat_j_per_k.why)
    assert heated.element_power_w.known
    assert "cool-down" in heated.next_tests


def test_a_metered_heat_up_tells_loss_from_stored_heat_only_if_it_can(vessel, water_j_per_k, plan):
    """A short rough metered heat-up says that loss and stored heat can't be told apart; the stored heat is told."""
    rng = np.random.default_rng(4)
    found = calibrate(parse_log(planted(rng, vessel, water_j_per_k).heat_to(70.0).csv(rng, "power_w", **ROUGH)), plan)
    assert "the stored heat" in told(found.heat_loss_w_per_k.why)
    assert found.stored_heat_j_per_k.known


def test_a_fine_day_of_water_tells_everything(vessel, water_j_per_k, plan):
    """Heat-up and cool-down with a good thermometer and a meter: all within 3 %, the vessel's own heat within 30 %."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0, 6500.0), element_w=2400.0, beside_w=3.0)
    rng = np.random.default_rng(8)
    found = calibrate(parse_log(kettle.heat_to(76.0).run(120).csv(rng, "power_w", **FINE)), plan)
    assert found.heat_loss_w_per_k.value == pytest.approx(6.0, rel=0.03)
    assert found.stored_heat_j_per_k.value == pytest.approx(kettle.stored_j_per_k, rel=0.02)
    assert found.vessel_heat_j_per_k.value == pytest.approx(6500.0, rel=0.3)
    assert found.element_power_w.value == pytest.approx(2400.0, rel=0.005)
    assert found.element_frac == pytest.approx(2400 / 2500, rel=0.005)
    assert found.rmse_k == pytest.approx(0.1, abs=0.03)
    assert found.scale == "meter"
    assert found.next_tests == ()
    assert {stretch.kind for stretch in found.stretches} == {"metered", "cooling"}


def test_a_switch_between_two_readings_of_the_power_widens_the_intervals(vessel):
    """Read every 30 s, elements that keep a temperature switch unseen for three times as long as if read every 10 s."""
    kettle = vessel(
        loss_w_per_k=5.0, stored_j_per_k=118e3, element_w=2400.0, air_c=11.0, pump_heat_w=18.0, beside_w=33.0
    )
    kettle.heat_to(70.0).hold(70.0, 60, 700.0).run(60)
    widths = []
    for every_s in (10.0, 30.0):
        text = kettle.csv(np.random.default_rng(1), "power_w lid", every_s=every_s, **FINE)
        stored = calibrate(parse_log(text), read_plan("demo")).stored_heat_j_per_k
        assert covered(stored, 118e3)
        widths.append(stored.high - stored.low)
    assert widths[1] > 1.5 * widths[0]


def test_other_water_and_air_than_planned(vessel, water_j_per_k, plan):
    """Water and air of the test replace those of the plan; without them the loss would be a third too large."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(20.0), element_w=2400.0, air_c=15.0)
    kettle.temperature_c = 75.0
    log = parse_log(kettle.run(100).csv(np.random.default_rng(1), **FINE))
    assert calibrate(log, plan, water_l=20.0, air_c=15.0).heat_loss_w_per_k.value == pytest.approx(6.0, rel=0.03)
    assert calibrate(log, plan).heat_loss_w_per_k.value > 7.5


def test_a_rest_with_pulses_read_as_moments_of_the_power_misleads_nobody(vessel, water_j_per_k, plan):
    """Pulses of half a minute to two, read once a minute, then a cool-down: within 15 % where told, and intervals hold.

    With the rest's power taken at its word, losses of 0.65 to 1.9 times the truth came with ±20 %.
    """
    rng, found, held = np.random.default_rng(3), [], []
    for _ in range(24):
        kettle = vessel(loss_w_per_k=rng.uniform(3.5, 9.0), stored_j_per_k=water_j_per_k(27.0), element_w=2450.0,
                        beside_w=3.0)  # fmt: skip
        kettle.heat_to(66.0).hold(66.0, rng.uniform(40, 80), rng.uniform(500, 2450)).run(40)
        told = calibrate(parse_log(kettle.csv(rng, "power_w", **{**FINE, "gaps_frac": 0.0})), plan)
        if told.heat_loss_w_per_k.known:
            truth = kettle.loss_at_w_per_k(told.reference_c)
            found.append(told.heat_loss_w_per_k.value / truth)
            held.append(covered(told.heat_loss_w_per_k, truth))
    assert len(held) >= 12
    assert np.mean(held) >= 0.9
    assert found == pytest.approx(np.ones(len(found)), abs=0.15)


def test_a_metered_rest_alone_does_not_tell_the_stored_heat(vessel, water_j_per_k, plan):
    """It warms nothing: the loss is told, and why the stored heat is not."""
    kettle = vessel(loss_w_per_k=5.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, beside_w=3.0,
                    temperature_c=66.0)  # fmt: skip
    found = calibrate(parse_log(kettle.hold(66.0, 90, 600).csv(np.random.default_rng(1), "energy_kwh", **FINE)), plan)
    assert covered(found.heat_loss_w_per_k, 5.0)
    assert found.stored_heat_j_per_k.why.code == "stored too short"


@pytest.mark.parametrize("columns", ["power_w", "energy_kwh"])
def test_a_whole_brew_day_with_a_meter(columns, vessel, water_j_per_k):
    """Strike, mash-in, rests and mash-out of the demo day tell loss, stored heat and power; the boil is left out.

    The loss to 15 %: a mash is metered over ten kelvins alone, air and thermometer may be off by 2 and 1 K, and how
    steeply a lidded vessel's loss grows is left open.
    """
    kettle = vessel(
        loss_w_per_k=4.6, stored_j_per_k=water_j_per_k(27.0), element_w=2650.0, air_c=11.0, beside_w=33.0,
        pump_heat_w=18.0, temperature_c=12.0,
    )  # fmt: skip
    kettle.heat_to(71.0).hold(71.0, 5, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000).run(8).heat_to(67.0, 1500)
    kettle.hold(67.0, 60, 400).heat_to(76.0, 2000).hold(76.0, 10, 1500).run(20).heat_to(98.0).boil(40, 2200)
    log = parse_log(kettle.csv(np.random.default_rng(3), columns, round_kwh=0.01, **FINE))
    found = calibrate(log, read_plan("demo"))
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))
    assert found.heat_loss_w_per_k.half_width_frac < 0.15
    assert found.stored_heat_j_per_k.value == pytest.approx(water_j_per_k(27.0), rel=0.02)
    assert found.element_power_w.value == pytest.approx(2650.0, rel=0.02)
    assert {"water", "mash"} == {stretch.stage for stretch in found.stretches}
    assert max(stretch.to_c for stretch in found.stretches) < 80.0


def test_a_whole_brew_day_without_a_meter_tells_the_power(vessel, water_j_per_k):
    """Without a meter only the strike ramp tells something: the element power."""
    kettle = vessel(loss_w_per_k=4.6, stored_j_per_k=water_j_per_k(27.0), element_w=2650.0, air_c=11.0,
                    pump_heat_w=18.0, temperature_c=12.0)  # fmt: skip
    kettle.heat_to(71.0).hold(71.0, 5, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000).run(8).heat_to(67.0, 1500)
    kettle.hold(67.0, 60, 400).heat_to(76.0, 2000).hold(76.0, 10, 1500).run(20).heat_to(98.0)
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(3), **ROUGH)), read_plan("demo"))
    assert covered(found.element_power_w, 2650.0)
    assert not found.heat_loss_w_per_k.known


def test_fahrenheit_is_as_good(vessel, water_j_per_k, plan):
    """The same log in whole degF gives the same loss."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=75.0)
    text = kettle.run(100).csv(np.random.default_rng(1), **FINE)
    rows = [line.split(",") for line in text.splitlines()[1:]]
    degf = "time,temperature_f\n" + "\n".join(f"{time},{float(c) * 1.8 + 32:.0f}" for time, c in rows)
    found = calibrate(parse_log(degf), plan)
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


# Lids -------------------------------------------------------------------------------------------------------


def cooling(vessel, water_j_per_k, temperature_c=75.0):
    """A vessel that loses 5 W/K with the lid on."""
    return vessel(loss_w_per_k=5.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=temperature_c)


@pytest.mark.parametrize("seed", range(4))
def test_a_lid_opened_half_way_is_seen(seed, vessel, water_j_per_k, plan):
    """Opened after 45 of 90 min, without a column that says so: named with its minute, and only the first part used."""
    kettle = cooling(vessel, water_j_per_k).run(45).run(45, lid="off")
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(seed), **ROUGH)), plan)
    assert any("was the lid open" in told(note) for note in found.notes)
    assert found.stretches[0].end_s < 48 * 60
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


def test_a_lid_opened_for_ten_minutes_is_left_out(vessel, water_j_per_k, plan):
    """Opened in the middle for ten minutes: both parts around it are used."""
    kettle = cooling(vessel, water_j_per_k).run(50).run(10, lid="off").run(40)
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(1), **FINE)), plan)
    assert len(found.stretches) == 2
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


def test_a_lid_closed_half_way_uses_the_second_part(vessel, water_j_per_k, plan):
    """Closed after 30 min: the second part counts."""
    kettle = cooling(vessel, water_j_per_k, 82.0).run(30, lid="off").run(80)
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(1), **FINE)), plan)
    assert found.stretches[0].start_s > 28 * 60
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


def test_a_lid_column_gives_the_open_surface_too(vessel, water_j_per_k, plan):
    """With a column for the lid, the open stretch gives a factor on the open surface near that of the published table.

    The planted surface is the published table of hot open tanks (see `kitchen.py`); the model is within 25 % of it.
    """
    kettle = cooling(vessel, water_j_per_k).run(60).run(40, lid="off")
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(2), "lid", **FINE)), plan)
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))
    assert found.open_surface_factor.value == pytest.approx(1.1, abs=0.2)
    assert {stretch.lid for stretch in found.stretches} == {"on", "off"}
    assert any("lid was moved" in told(note) for note in found.notes)


def test_a_cool_down_from_95_with_the_lid_off_is_refused(vessel, water_j_per_k, plan):
    """From 95 degC, lid off: refused, with words about the lid, whether or not a column tells; too hot ends early."""
    rng = np.random.default_rng(6)
    found = calibrate(parse_log(cooling(vessel, water_j_per_k, 95.0).run(120, lid="off").csv(rng, **ROUGH)), plan)
    assert "lid off" in told(found.heat_loss_w_per_k.why)
    assert "2 to 4 times" in told(found.heat_loss_w_per_k.why)
    named = calibrate(
        parse_log(cooling(vessel, water_j_per_k, 95.0).run(120, lid="off").csv(rng, "lid", **ROUGH)), plan
    )
    assert "the lid was off" in told(named.heat_loss_w_per_k.why)
    brief = calibrate(parse_log(cooling(vessel, water_j_per_k, 95.0).run(30, lid="off").csv(rng, **ROUGH)), plan)
    assert "hotter, vapour escapes" in told(brief.heat_loss_w_per_k.why)


def test_a_cool_down_from_95_with_the_lid_on_uses_what_lies_near_mash_temperature(vessel, water_j_per_k, plan):
    """From 95 degC with the lid on only 80 to 42 degC are fitted, and the loss comes out."""
    kettle = cooling(vessel, water_j_per_k, 95.0).run(300)
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(6), **FINE)), plan)
    assert found.stretches[0].from_c < 80.5
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


# What tells nothing -----------------------------------------------------------------------------------------


def test_too_short_or_too_little_is_said_with_numbers(vessel, water_j_per_k, plan):
    """A quarter of an hour isn't enough: kelvin and minutes are named, and what to do."""
    found = calibrate(parse_log(cooling(vessel, water_j_per_k).run(16).csv(np.random.default_rng(1), **FINE)), plan)
    assert "too short" in told(found.heat_loss_w_per_k.why)
    assert "20 min are due" in told(found.heat_loss_w_per_k.why)
    assert found.element_power_w.why.code == "nothing fitted"
    assert (found.rmse_k, found.scale, found.stretches) == (None, "none", ())
    assert len(found.next_tests) == 2


def test_a_short_heat_up_is_too_short(vessel, water_j_per_k, plan):
    """Five minutes of heating tell nothing, with a meter or without."""
    for columns in ("", "power_w"):
        kettle = vessel(loss_w_per_k=5.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0)
        found = calibrate(parse_log(kettle.run(11, 2400.0).csv(np.random.default_rng(1), columns, **FINE)), plan)
        assert "too short" in told(found.heat_loss_w_per_k.why)


def test_a_hold_without_a_meter_tells_nothing_and_with_one_the_loss(vessel, water_j_per_k, plan):
    """Under a thermostat the temperatures alone tell nothing; with the meter the loss, but neither of the others."""
    rng = np.random.default_rng(1)
    kettle = vessel(loss_w_per_k=5.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=66.0,
                    beside_w=3.0).hold(66.0, 90, 600)  # fmt: skip
    blind = calibrate(parse_log(kettle.csv(rng, **ROUGH)), plan)
    assert "nothing cools by itself" in told(blind.heat_loss_w_per_k.why)
    found = calibrate(parse_log(kettle.csv(rng, "energy_kwh", round_kwh=0.01, **ROUGH)), plan)
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))
    assert "heats too little" in told(found.stored_heat_j_per_k.why)
    assert "never ran steadily" in told(found.element_power_w.why)


@pytest.mark.parametrize("columns", ["", "power_w"])
def test_a_dead_element_is_named(columns, vessel, water_j_per_k, plan):
    """1500 W from elements of 1500 and 1000 W: no power is claimed, and the sum that fits is named."""
    kettle = vessel(loss_w_per_k=5.0, stored_j_per_k=water_j_per_k(27.0), element_w=1500.0, beside_w=3.0)
    found = calibrate(parse_log(kettle.heat_to(70.0).csv(np.random.default_rng(1), columns, **FINE)), plan)
    assert "1500 W alone" in told(found.element_power_w.why)
    assert "an element is dead" in told(found.element_power_w.why)
    assert found.element_frac is None


def test_a_loss_far_above_the_estimate_raises_a_question(vessel, water_j_per_k, plan):
    """Twice the estimate is told, with the question whether the lid was on; a stored heat far off raises another."""
    kettle = vessel(loss_w_per_k=15.0, stored_j_per_k=water_j_per_k(31.0), element_w=2400.0, beside_w=3.0)
    found = calibrate(parse_log(kettle.heat_to(75.0).run(60).csv(np.random.default_rng(1), "power_w", **FINE)), plan)
    assert found.heat_loss_w_per_k.value == pytest.approx(15.0, rel=0.05)
    assert any("was the lid on" in told(note) for note in found.notes)
    assert any("more than water and vessel as entered" in told(note) for note in found.notes)


@pytest.mark.parametrize("columns", ["", "power_w"])
def test_more_power_than_the_elements_have_is_odd(columns, vessel, water_j_per_k, plan):
    """Plates give 5 % more and mains a tenth of the voltage, 27 % in all: 45 % more is something else, not taken."""

    def of_elements(times):
        kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0), element_w=times * 2500, beside_w=3.0)
        text = kettle.heat_to(76.0).csv(np.random.default_rng(2), columns, noise_k=0.1, round_k=0.1)
        return calibrate(parse_log(text), plan)

    odd = of_elements(1.45)
    assert odd.element_power_w.why.code == "strong power"
    assert odd.element_frac is None
    assert "an element is missing in the plan" in told(odd.element_power_w.why)
    assert of_elements(1.2).element_frac == pytest.approx(1.2, rel=0.03)


def test_less_stored_heat_than_the_contents_leaves_no_vessel(vessel, water_j_per_k, plan):
    """Where the water explains it all, the vessel's own share isn't told; the rest is."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(26.0, 100.0), element_w=2400.0, beside_w=3.0)
    found = calibrate(parse_log(kettle.heat_to(75.0).run(60).csv(np.random.default_rng(1), "power_w", **FINE)), plan)
    assert "too little to tell the vessel's own share" in told(found.vessel_heat_j_per_k.why)
    assert measured_plan(plan, found).vessel.stored_heat_j_per_k is None


def test_something_cold_that_isnt_planned_ends_the_fit(vessel, water_j_per_k, plan):
    """Cold water poured in half way: what comes after isn't used, and that is said."""
    kettle = cooling(vessel, water_j_per_k).run(60).add(5 * 4180.0, 10.0).run(60)
    found = calibrate(parse_log(kettle.csv(np.random.default_rng(1), **FINE)), plan)
    assert found.stretches[-1].end_s < 62 * 60
    assert any("Something cold went in" in told(note) for note in found.notes)
    assert covered(found.heat_loss_w_per_k, kettle.loss_at_w_per_k(found.reference_c))


@given(
    knots=st.lists(st.floats(-5.0, 108.0), min_size=2, max_size=7),
    minutes=st.floats(3.0, 900.0),
    seed=st.integers(0, 10_000),
    columns=st.sampled_from(["", "power_w", "energy_kwh", "lid"]),
)
def test_any_log_is_answered(knots, minutes, seed, columns):
    """Whatever a log shows, each value is known, positive and inside its interval, or says why it isn't."""
    rng = np.random.default_rng(seed)
    times = np.sort(rng.uniform(0.0, minutes, 60))
    shown = np.interp(times, np.linspace(0.0, minutes, len(knots)), knots) + rng.normal(0, 0.2, 60)
    extra = {
        "power_w": rng.choice([0.0, 3.0, 2700.0], 60),
        "energy_kwh": np.floor(100 * np.cumsum(rng.choice([0.0, 0.03], 60))) / 100,
        "lid": rng.choice(["on", "off", "ajar"], 60),
    }.get(columns)
    head = "time,temperature_c" + (f",{columns}" if columns else "")
    rows = [f"{times[k]:.4f},{shown[k]:.1f}" + ("" if extra is None else f",{extra[k]}") for k in range(60)]
    found = calibrate(parse_log("\n".join([head, *rows])), read_plan("demo"))
    for name in ("heat_loss_w_per_k", "stored_heat_j_per_k", "vessel_heat_j_per_k", "element_power_w"):
        value = getattr(found, name)
        assert (0 < value.low <= value.value <= value.high) if value.known else value.why


# A log that the model itself has made --------------------------------------------------------------------------


def of_the_model(plan, lid, minutes, from_c, element_w=0.0):
    """Readings of a minute of the plan's own vessel, to a hundredth of a kelvin, with the lid named and metered."""
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    vessel, times_s, ones = setting.vessel(lid, "water"), 60.0 * np.arange(minutes + 1), np.ones(1)
    supply = Supply(element_w=np.full(minutes, element_w), pump_w=np.zeros(minutes))
    factors = Factors(loss=ones, bend=0 * ones, apart_k=0 * ones, stored_heat=ones, power=ones, open_surface=ones)
    shown_c = path_c(np.array([from_c]), times_s, supply, vessel, factors)[:, 0]
    rows = [f"{at / 60:.0f},{c:.2f},{lid},{element_w + 3:.0f}" for at, c in zip(times_s, shown_c, strict=True)]
    return "\n".join(["time,temperature_c,lid,power_w", *rows])


def blind(text):
    """The same without its meter."""
    return "\n".join(row.rpartition(",")[0] for row in text.splitlines())


@pytest.mark.parametrize("lid", ["off", "ajar"])
def test_an_open_vessel_as_planned_is_found_as_planned(lid, plan):
    """Cooled open alone the walls are taken as estimated, and the open surface comes out as modelled."""
    found = calibrate(parse_log(blind(of_the_model(plan, lid, 90, 90.0))), plan)
    assert found.open_surface_factor.value == pytest.approx(1.0, abs=0.03)
    assert found.heat_loss_w_per_k.why.code == "lid was off"
    assert found.scale == "volume"


@pytest.mark.parametrize("metered", [False, True])
def test_a_heat_up_as_planned_gives_the_planned_power(metered, plan):
    """2500 W with a loss as estimated: the power to half a per cent; with a meter the stored heat too."""
    text = of_the_model(plan, "on", 45, 15.0, 2500.0)
    found = calibrate(parse_log(text if metered else blind(text)), plan)
    assert found.element_power_w.value == pytest.approx(2500.0, rel=5e-3)
    assert found.element_frac == pytest.approx(1.0, abs=5e-3)
    stored = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1).capacity_j_per_k
    if metered:
        assert found.stored_heat_j_per_k.value == pytest.approx(stored, rel=0.01)
    assert found.stored_heat_j_per_k.known is metered


def test_a_cool_down_as_planned_gives_the_planned_loss(plan):
    """With the lid on: the model's own loss at the reference to 1.5 % (how it bends is left open); no more is noted."""
    found = calibrate(parse_log(blind(of_the_model(plan, "on", 90, 75.0))), plan)
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    loss_w = float(setting.vessel("on", "water").closed_loss_w(np.array([found.reference_c]))[0])
    assert found.heat_loss_w_per_k.value == pytest.approx(loss_w / (found.reference_c - 20.0), rel=0.015)
    assert [note.code for note in found.notes] == ["scale by water", "loss enough", "air as entered", "taken as off"]
    assert found.filled_l == pytest.approx(27 * 0.9991 / 0.98, rel=0.01)
