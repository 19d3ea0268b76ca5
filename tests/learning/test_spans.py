"""Stretches of a log: jumps, switches, windows, the grain; and what the setting knows of the plan."""

import numpy as np
import pytest

from energyplan.learning.bins import binned, noise_k
from energyplan.learning.logfile import parse_log
from energyplan.learning.model import Setting, with_filling
from energyplan.learning.spans import COOLING_WINDOW_C, HEATING_WINDOW_C, find_spans
from energyplan.plan.file import read_plan

FINE = {"noise_k": 0.1, "round_k": 0.1, "gaps_frac": 0.0}


def found_in(kettle, plan, columns="", **how):
    """Spans of a vessel's log."""
    log = parse_log(kettle.csv(np.random.default_rng(1), columns, **{**FINE, **how}))
    bins = binned(log)
    setting = Setting(plan=plan, scatter_k=noise_k(bins, log.resolution_k), resolution_k=log.resolution_k)
    return find_spans(bins, setting, log)


def new(vessel, water_j_per_k, **more):
    """The vessel of the plan."""
    given = {"loss_w_per_k": 6.0, "stored_j_per_k": water_j_per_k(27.0), "element_w": 2500.0, "beside_w": 3.0}
    return vessel(**{**given, **more})


def test_windows_of_heating_and_cooling(vessel, water_j_per_k, plan):
    """Without a meter: heating from cold to 85 degC, cooling from 80 degC; borders and settling left out."""
    kettle = new(vessel, water_j_per_k).heat_to(95.0)
    top_s = kettle.time_s
    heating, cooling = found_in(kettle.run(200), plan).spans
    assert (heating.kind, cooling.kind) == ("heating", "cooling")
    assert heating.bins.times_s[0] >= 180.0
    assert heating.bins.temperature_c.max() <= HEATING_WINDOW_C[1] + 0.5
    assert cooling.bins.times_s[0] >= top_s + 120.0
    assert cooling.bins.temperature_c.max() <= COOLING_WINDOW_C[1] + 0.5
    assert cooling.whole.temperature_c.max() > 90.0


def test_a_switch_of_the_elements_cuts_a_metered_log(vessel, water_j_per_k, plan):
    """Heating, a rest of half an hour, heating: two metered stretches and a cooling one."""
    kettle = new(vessel, water_j_per_k).heat_to(60.0).run(30).heat_to(75.0)
    kinds = [span.kind for span in found_in(kettle, plan, "power_w").spans]
    assert kinds == ["metered", "cooling", "metered"]


def test_a_thermostat_is_not_cut_into_pieces(vessel, water_j_per_k, plan):
    """Pulses of some minutes, read every 20 s, stay one stretch."""
    kettle = new(vessel, water_j_per_k, temperature_c=66.0).hold(66.0, 90, 800)
    (span,) = found_in(kettle, plan, "power_w", every_s=20.0).spans
    assert span.kind == "metered"
    assert span.duration_s > 75 * 60


def test_pulses_that_no_two_readings_of_the_power_see_are_left_out(vessel, water_j_per_k, plan):
    """Half a minute of 2500 W every few, read once a minute: what that took is open, unless a running total counts it.

    The rest behind it may begin with pulses that nobody saw: it is taken from three of their distances on.
    """
    kettle = new(vessel, water_j_per_k).heat_to(66.0).hold(66.0, 60, 2500)
    held_s = kettle.time_s
    kettle.run(90)
    found = found_in(kettle, plan, "power_w")
    assert [span.kind for span in found.spans] == ["metered", "cooling"]
    assert found.spans[1].bins.times_s[0] > held_s + 300.0
    assert [note.code for note in found.notes] == ["pulses unread"]
    assert found.notes[0]["interval_min"] == pytest.approx(1.0)
    counted = found_in(kettle, plan, "energy_kwh", round_kwh=0.001)
    assert [span.kind for span in counted.spans] == ["metered", "metered", "cooling"]
    assert counted.notes == ()


def test_the_grain_goes_in_where_it_is_expected(vessel, water_j_per_k):
    """A mash-in of 4 K is seen through 0.3 K of noise and 1 K of rounding, with the contents changed from there on."""
    demo = read_plan("demo")
    kettle = new(vessel, water_j_per_k, air_c=11.0, temperature_c=12.0, beside_w=33.0, pump_heat_w=18.0)
    kettle.heat_to(71.0).hold(71.0, 6, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000).run(8).heat_to(67.0)
    spans = found_in(kettle.hold(67.0, 60, 500), demo, "power_w", noise_k=0.3, round_k=1.0).spans
    assert spans[0].stage == "water"
    assert {span.stage for span in spans if span.bins.times_s[0] > 57 * 60} == {"mash"}


def test_lautering_ends_the_mash(vessel, water_j_per_k):
    """A rest at mash-out temperature may be the lifting of the grain: neither it nor what follows is used."""
    demo = read_plan("demo")
    kettle = new(vessel, water_j_per_k, air_c=11.0, temperature_c=12.0, beside_w=33.0, pump_heat_w=18.0)
    kettle.heat_to(71.0).hold(71.0, 6, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000).run(8).heat_to(67.0, 1500)
    kettle.hold(67.0, 40, 500).heat_to(76.0, 2000).hold(76.0, 10, 1500)
    lauter_s = kettle.time_s
    kettle.run(30).heat_to(95.0)
    for columns in ("power_w", ""):
        found = found_in(kettle, demo, columns)
        assert all(span.bins.times_s[-1] < lauter_s + 120 for span in found.spans)


def test_two_drops_end_a_mash_day(vessel, water_j_per_k):
    """After a second drop nobody knows what is in the vessel: said, and left out."""
    demo = read_plan("demo")
    kettle = new(vessel, water_j_per_k, air_c=11.0, temperature_c=12.0, beside_w=33.0, pump_heat_w=18.0)
    kettle.heat_to(71.0).hold(71.0, 10, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000).run(20)
    kettle.add(8 * 4180.0, 20.0).run(60)
    assert any(note.code == "after the mash" for note in found_in(kettle, demo, "power_w").notes)


def test_a_jump_in_the_first_minutes_is_survived(vessel, water_j_per_k, plan):
    """A sensor put in late makes a first reading far off; the rest is used."""
    kettle = new(vessel, water_j_per_k, temperature_c=75.0).run(90)
    kettle.rows[0] = (0.0, 20.0, 3.0, "on")
    (span,) = found_in(kettle, plan).spans
    assert span.kind == "cooling"
    assert span.bins.temperature_c.min() > 60.0


def test_the_setting_follows_the_plan(plan):
    """Full power, capacity, error of the pin by hand; a plan without grain has no mash-in and no lautering."""
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    assert setting.full_w == pytest.approx(2500.0)
    assert setting.capacity_j_per_k == pytest.approx(26.976 * 4187 + 5000, rel=2e-3)
    # 1.5 % of 113 kJ/K and 10 % of 5 kJ/K, squared and added, over 118 kJ/K
    assert setting.pin_sd_frac("water") == pytest.approx(np.hypot(0.015 * 113e3, 500) / 118e3, rel=0.02)
    assert setting.mash_in is None
    assert setting.lauter_c is None
    assert 1.25 < setting.loss_exponent < 1.6  # bare wall, and a headspace over two thirds of water


def test_the_setting_of_a_mash():
    """The demo's grain goes in at 71 degC, leaves at 76 degC; mash stores more than water.

    By hand it cools the water to (118 x 71 + 9.7 x 15 + 110) / 127.7 = 67.6 degC: 118 kJ/K of water and vessel,
    5.8 kg of malt at 1.67 kJ/kgK, 19 kJ/kg of wetting.
    """
    setting = Setting(plan=read_plan("demo"), scatter_k=0.1, resolution_k=0.1)
    strike_c, drop_k = setting.mash_in
    assert strike_c == 71.0
    assert drop_k == pytest.approx(3.4, abs=0.2)
    assert setting.lauter_c == 76.0
    assert 0.013 < setting.pin_sd_frac("mash") < 0.016
    at_c = np.array([66.0])
    mash, water = (setting.vessel("on", stage).capacity_j_per_k(at_c) for stage in ("mash", "water"))
    # 5.8 kg of malt at 1.67 kJ/kgK; what dissolves of it counts with the larger heat of sugar in water.
    assert 5.8 * 1670 < float((mash - water)[0]) < 1.3 * 5.8 * 1670


def test_a_filling_replaces_water_and_grain():
    """Other water means no grain; other air only changes the air."""
    demo = read_plan("demo")
    changed = with_filling(demo, 20.0, 18.0)
    assert (changed.batch.water_l, changed.batch.grain_kg, changed.site.air_c) == (20.0, 0.0, 18.0)
    assert with_filling(demo, None, None) == demo
