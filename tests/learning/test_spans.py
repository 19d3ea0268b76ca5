"""Stretches of a log: jumps, switches, windows, the grain; and what the setting knows of the plan."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from tests_byhand import bins_of

from energyplan.learning.bins import binned, noise_k
from energyplan.learning.logfile import parse_log
from energyplan.learning.model import Setting, with_filling
from energyplan.learning.spans import (
    COOLING_WINDOW_C,
    HEATING_WINDOW_C,
    Span,
    _blocks,
    _by_slope,
    _joined,
    _jumps,
    _kind,
    _lautering,
    _long_states,
    _metered,
    _runs,
    _stretches,
    _too_little,
    _with_grain_until,
    find_spans,
)
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


# By hand ----------------------------------------------------------------------------------------------------


def minutes_of(shown_c, watts=None, lid=-1):
    """A reading a minute; one power all along, or one for each minute."""
    count = len(shown_c)
    return bins_of(
        60.0 * np.arange(count), shown_c, None if watts is None else np.broadcast_to(watts, count - 1), lid=lid
    )


def known(**more):
    """What is known of a vessel, with no thermometer's scatter and no losses unless said."""
    given = {
        "scatter_k": 0.0, "resolution_k": 0.1, "heating_k_per_s": 0.0, "still_k_per_s": 0.0, "off_w": 50.0,
        "capacity_j_per_k": 120e3, "mash_in": None, "lauter_c": None, "has_grain": False,
        "cooling_k_per_s": np.zeros_like,
    }  # fmt: skip
    return SimpleNamespace(**{**given, **more})


def span_of(kind, bins):
    """A stretch that is fitted as it was found."""
    return Span(kind=kind, bins=bins, whole=bins, lid="on", stage="water")


def alone(span, setting):
    """Why a span of one part tells too little."""
    return _too_little(span, [span], setting)


@pytest.mark.parametrize(
    ("minutes", "drop_k", "resolution_k", "enough"),
    [
        (20, 2.0, 0.1, True), (19, 2.0, 0.1, False), (20, 1.9, 0.1, False), (20, 2.0, 1.0, True), (20, 2.1, 1.1, False),
        (20, 2.2, 1.1, True),
    ],
)  # fmt: skip
def test_a_cool_down_lasts_twenty_minutes_and_falls_two_kelvins(minutes, drop_k, resolution_k, enough):
    """Or two steps of the thermometer, if that is more; else it is told what it has and what it needs."""
    bins = minutes_of(np.linspace(70.0, 70.0 - drop_k, minutes + 1))
    fault = alone(span_of("cooling", bins), known(resolution_k=resolution_k))
    assert (fault is None) is enough
    if fault is not None:
        assert dict(fault) == {
            "from_c": 70.0, "to_c": 70.0 - drop_k, "drop_k": pytest.approx(drop_k), "lasted_min": minutes,
            "low_c": 42.0, "high_c": 80.0, "least_k": max(2.0, 2 * resolution_k), "least_min": 20.0,
        }  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "minutes", "rise_k", "code"),
    [
        ("heating", 8, 6.0, None), ("heating", 7, 6.0, "heat-up too short"), ("heating", 8, 5.9, "heat-up too short"),
        ("heating", 8, -1.0, "heat-up too short"), ("metered", 8, 0.0, None), ("metered", 7, 9.0, "metered too short"),
    ],
)  # fmt: skip
def test_a_heat_up_lasts_eight_minutes_and_rises_six_kelvins(kind, minutes, rise_k, code):
    """With a meter the minutes alone count."""
    every_s = 60.0 * minutes / 8
    fault = alone(span_of(kind, bins_of(every_s * np.arange(9), np.linspace(50, 50 + rise_k, 9))), known())
    assert (None if fault is None else fault.code) == code
    if fault is not None:
        assert fault["lasted_min"] == pytest.approx(minutes)
        if kind == "heating":
            assert fault["rise_k"] == pytest.approx(max(rise_k, 0.0))


@pytest.mark.parametrize(
    ("every_s", "count", "enough"), [(60, 8, True), (60, 7, False), (300, 2, True), (600, 2, True)]
)
def test_eight_minutes_of_bins_are_the_fewest(every_s, count, enough):
    """Of a log read each minute eight bins; of one read every five or ten minutes two."""
    whole = bins_of(every_s * np.arange(60.0), np.linspace(80, 40, 60))
    part = bins_of(np.linspace(0, 1500, count), np.linspace(75, 65, count))
    assert (alone(replace(span_of("cooling", whole), bins=part), known()) is None) is enough


@pytest.mark.parametrize(
    ("lasts_min", "falls_k", "enough"), [((12, 9), (1.2, 0.9), True), ((10, 9), (1.2, 0.9), False), ((), (), False),
                                         ((12, 9), (1.1, 0.8), False), ((20,), (2.0,), True)]
)  # fmt: skip
def test_parts_of_a_cool_down_tell_together_what_one_does(lasts_min, falls_k, enough):
    """Twenty minutes and two kelvins in all; none at all is too little."""
    whole = span_of("cooling", bins_of(60.0 * np.arange(61), np.linspace(75, 69, 61)))
    parts = [
        replace(whole, bins=bins_of(60.0 * np.arange(minutes + 1), np.linspace(70, 70 - fall_k, minutes + 1)))
        for minutes, fall_k in zip(lasts_min, falls_k, strict=True)
    ]
    assert (_too_little(whole, parts, known()) is None) is enough


@pytest.mark.parametrize(
    ("slope", "steepest", "kind"),
    [
        (0.36, 0.36, "heating"), (0.34, 0.34, None), (0.61, 1.0, "heating"), (0.59, 1.0, None),
        (-0.026, 1.0, "cooling"), (-0.024, 1.0, None), (0.0, 0.0, None),
    ],
)  # fmt: skip
def test_what_a_slope_says(slope, steepest, kind):
    """A third of full power and six tenths of the steepest heats; a quarter of the loss cools; or a thermostat."""
    assert _kind(slope, steepest, known(heating_k_per_s=1.0, still_k_per_s=0.1)) == kind


def test_neighbours_of_one_kind_are_one_stretch():
    """Pieces that were cut for a bend alone are joined; what lies between two kinds parts them."""
    ranges, kinds = [(0, 5), (5, 9), (9, 12), (12, 20), (20, 30)], ["heating", "heating", None, "cooling", "cooling"]
    assert _joined(ranges, kinds) == [(0, 9, "heating"), (9, 12, None), (12, 30, "cooling")]


def test_runs_of_bins_inside_a_window():
    """Three and two in a row, where two are enough, or three."""
    inside = np.array([True, True, True, False, True, True, False, True])
    assert [run.tolist() for run in _runs(inside, 2)] == [[0, 1, 2], [4, 5]]
    assert [run.tolist() for run in _runs(inside, 3)] == [[0, 1, 2]]
    assert _runs(~inside & inside, 1) == []


@pytest.mark.parametrize(
    ("minutes", "ranges"),
    [
        ([20, 20, 20], [(0, 19), (21, 39), (41, 60)]),  # on, off, on: without the minute on either side of a switch
        ([5, 5, 5, 5, 5], [(0, 25)]),  # pulses
        ([5, 5, 5, 15], [(0, 14), (16, 30)]),  # a rest of a quarter of an hour behind them
        ([5, 5, 5, 14], [(0, 29)]),
        ([15, 5, 5], [(0, 14), (16, 25)]),
        ([1, 20], [(2, 21)]),  # nothing is left of a single minute
    ],
)
def test_elements_that_stay_for_a_quarter_of_an_hour_were_switched(minutes, ranges):
    """Shorter ones are pulses of a thermostat, which stay in one stretch."""
    on = np.repeat(np.arange(len(minutes)) % 2 == 0, minutes)
    assert _long_states(on, np.full(on.size, 60.0)) == ranges


@pytest.mark.parametrize(
    ("jumps", "lids", "stretches"),
    [
        ([], [0] * 8, [(0, 8, None)]),
        ([3], [0] * 8, [(0, 4, None), (4, 8, 3)]),
        ([3, 4], [0] * 8, [(0, 4, None), (5, 8, 3)]),  # one change that took two intervals
        ([0], [0] * 8, [(0, 1, None), (1, 8, 0)]),
        ([], [0, 0, 0, 2, 2, 2, 0, 0], [(0, 3, None), (3, 6, None), (6, 8, None)]),
        ([4], [0, 0, 0, 2, 2, 2, 2, 2], [(0, 3, None), (3, 5, None), (5, 8, 4)]),
    ],
)
def test_a_log_is_cut_at_jumps_and_where_the_lid_moves(jumps, lids, stretches):
    """Ranges of bins, and for each the last bin before the jump that led to it."""
    broken = np.isin(np.arange(7), jumps)
    assert list(_stretches(broken, np.array(lids, dtype=np.int8))) == stretches


def step(by_k, from_c=60.0):
    """Twenty minutes at one temperature, and twenty at another."""
    return np.r_[np.full(20, from_c), np.full(20, from_c + by_k)]


@pytest.mark.parametrize(
    ("by_k", "more", "jumps"),
    [
        (-1.25, {}, True), (-1.15, {}, False), (1.25, {}, True), (1.15, {}, False),
        (-1.75, {"resolution_k": 3.0}, False), (-1.85, {"resolution_k": 3.0}, True),  # six tenths of a step
        (-3.1, {"scatter_k": 1.0}, False), (-3.25, {"scatter_k": 1.0}, True),  # 4.5 times that of two means of four
        (8.3, {"heating_k_per_s": 0.01}, False), (8.5, {"heating_k_per_s": 0.01}, True),  # thrice full power for 4 min
        (-1.5, {"cooling_k_per_s": lambda at_c: np.full_like(at_c, 1e-3)}, False),  # 1.3 times an open lid's loss
        (-1.55, {"cooling_k_per_s": lambda at_c: np.full_like(at_c, 1e-3)}, True),
    ],
)  # fmt: skip
def test_a_jump_is_more_than_elements_and_an_open_lid_can_do(by_k, more, jumps):
    """Means of four minutes on either side, 240 s apart; 1.2 K, or what the thermometer can't tell, is let pass."""
    found = _jumps(minutes_of(step(by_k)), known(**more))
    assert found.any() == jumps
    assert found[19] == jumps


@pytest.mark.parametrize(("by_k", "jumps"), [(-0.25, True), (-0.15, False)])
def test_what_the_meter_put_in_should_have_warmed(by_k, jumps):
    """1 kW for 4 min are 2 K in 120 kJ/K; half of that, without which something cold went in: 0.2 K of fall do."""
    assert _jumps(minutes_of(step(by_k), 1000.0), known()).any() == jumps
    assert not _jumps(minutes_of(step(by_k), 40.0), known()).any()  # the pump alone


def heated_then(by_k, to_c=71.0, from_c=60.0):
    """Heated up for half an hour, held for ten minutes, then a fall."""
    return np.r_[np.linspace(from_c, to_c, 30), np.full(10, to_c), np.full(20, to_c + by_k)]


@pytest.mark.parametrize(
    ("shown_c", "drop_k", "scatter_k", "jumps"),
    [
        (heated_then(-2.0), 3.0, 0.0, True),  # six tenths of the 3 K expected, and 0.12 K that it cools meanwhile
        (heated_then(-1.85), 3.0, 0.0, False),
        (heated_then(-2.0), 3.4, 0.0, False),
        (heated_then(-2.0), 3.0, 0.6, False),  # 4.5 times the scatter of two means of four
        (heated_then(-2.1), 3.0, 0.6, True),
        (heated_then(-2.0, 75.1), 3.0, 0.0, False),  # 4 K off the strike: something else
        (heated_then(-2.0, 74.9), 3.0, 0.0, True),
        (heated_then(-2.0, 66.9), 3.0, 0.0, False),
        (heated_then(-2.0, 71.0, 66.1), 3.0, 0.0, False),  # not heated by 5 K
        (heated_then(-2.0, 71.0, 65.9), 3.0, 0.0, True),
    ],
)
def test_grain_falls_by_six_tenths_of_what_is_expected(shown_c, drop_k, scatter_k, jumps):
    """Into water of about the strike that was heated; an open lid may cool by 3 K in these minutes."""
    setting = known(mash_in=(71.0, drop_k), scatter_k=scatter_k, still_k_per_s=0.0005, heating_k_per_s=0.01,
                    cooling_k_per_s=lambda at_c: np.full_like(at_c, 0.01))  # fmt: skip
    found = _jumps(minutes_of(shown_c), setting)
    assert found.any() == jumps
    assert found[39] == jumps


def test_what_lies_between_two_jumps_within_four_minutes_is_one_change():
    """A sensor taken out and put back: all intervals from the first jump to the second; after five minutes two."""
    for apart, one in ((4, True), (5, False)):
        shown_c = np.r_[np.full(20, 70.0), np.full(apart, 68.75), np.full(20, 70.0)]
        found = np.flatnonzero(_jumps(minutes_of(shown_c), known()))
        assert found.tolist() == (list(range(19, 24)) if one else [19, 24])


WARMS, COOLS = np.arange(-5.0, 95.0), np.arange(95.0, 30.0, -1.0)


@pytest.mark.parametrize(
    ("shown_c", "watts", "lid", "kind", "from_c", "to_c"),
    [
        (WARMS, 2000.0, -1, "metered", 3.0, 85.0),
        (WARMS[10:], 2000.0, -1, "metered", 8.0, 85.0),  # from the third minute on
        (WARMS, 2000.0, 2, "metered", 42.0, 92.0),
        (COOLS, 3.0, -1, "cooling", 80.0, 42.0),
        (COOLS[20:], 3.0, -1, "cooling", 75.0, 42.0),  # a rest that begins the log has nothing to settle
        (COOLS, 3.0, 1, "cooling", 92.0, 42.0),
    ],
)
def test_the_windows_of_a_metered_stretch(shown_c, watts, lid, kind, from_c, to_c):
    """One kelvin a minute: 3 to 85 °C heated, 80 to 42 °C at rest, 92 to 42 °C under an open lid."""
    (span,) = _metered(minutes_of(shown_c, watts, lid), "water", known())
    assert (span.kind, span.bins.temperature_c[0], span.bins.temperature_c[-1]) == (kind, from_c, to_c)
    assert span.whole.times_s.size == len(shown_c)
    assert (span.lid, span.stage) == (("on", "ajar", "off")[max(lid, 0)], "water")


def test_a_rest_behind_a_heat_up_settles_for_three_minutes():
    """The minute of the switch is left out on both sides, and the three that follow it."""
    shown_c = np.r_[np.arange(40.0, 70.0), np.arange(70.0, 45.0, -1)]
    heated, rests = _metered(minutes_of(shown_c, np.r_[[2000.0] * 30, [3.0] * 24]), "water", known())
    assert (heated.bins.times_s[0], heated.bins.times_s[-1]) == (180.0, 29 * 60.0)
    assert (rests.bins.times_s[0], rests.bins.times_s[-1]) == ((31 + 3) * 60.0, 54 * 60.0)


@pytest.mark.parametrize(("lauter_c", "stage", "kinds"), [
    (73.0, "mash", ["metered"]), (71.0, "mash", ["metered"]), (76.0, "mash", ["metered", "cooling"]),
    (73.0, "water", ["metered", "cooling"]), (None, "mash", ["metered", "cooling"]),
])  # fmt: skip
def test_a_rest_near_the_last_target_of_a_mash_may_be_the_lifting_of_the_grain(lauter_c, stage, kinds):
    """It begins at 72 °C: within 2 K of the last target or above, nothing from there on is used."""
    shown_c = np.r_[np.arange(43.0, 73.0), np.arange(73.0, 48.0, -1)]
    bins = minutes_of(shown_c, np.r_[[2000.0] * 30, [3.0] * 24])
    assert [span.kind for span in _metered(bins, stage, known(lauter_c=lauter_c))] == kinds


@pytest.mark.parametrize(("from_c", "leaves"), [(74.1, True), (73.9, False)])
def test_two_kelvins_below_the_last_target_the_grain_may_leave(from_c, leaves):
    """The demo's mash-out is at 76 °C; without grain nothing leaves."""
    assert _lautering(minutes_of([from_c, 70.0]), known(lauter_c=76.0)) is leaves
    assert not _lautering(minutes_of([from_c, 70.0]), known())


@pytest.mark.parametrize(("lauter_c", "until"), [(None, 30), (60.0, 17), (58.0, 15), (80.0, 30)])
def test_beyond_its_last_target_the_grain_has_left(lauter_c, until):
    """From 45 °C up by a kelvin a minute: to 1.5 K and two scatters (of 0.3 K) above the last target."""
    bins = minutes_of(np.arange(40.0, 80.0))
    assert _with_grain_until(bins, 5, 30, known(lauter_c=lauter_c, scatter_k=0.3)) == until + (0 if until == 30 else 6)


@pytest.mark.parametrize(
    ("kind", "lid", "from_min", "to_min"),
    [("heating", -1, 3, 25 - 2), ("cooling", -1, 25 + 3, 55), ("cooling", 2, 25 + 3, 55)],
)
def test_without_a_meter_a_stretch_leaves_its_borders_out(kind, lid, from_min, to_min):
    """Heated for 25 min and left for 30: three minutes to settle, two before a cut; the log's end is no cut."""
    shown_c = np.r_[np.linspace(45.0, 70.0, 26), 70.0 - 0.2 * np.arange(1, 31)]
    setting = known(scatter_k=0.05, heating_k_per_s=0.02, still_k_per_s=0.003)
    found = {span.kind: span for span in _by_slope(minutes_of(shown_c, lid=lid), "water", setting)}[kind]
    assert found.bins.times_s[0] / 60 == pytest.approx(from_min, abs=1.0)
    assert found.bins.times_s[-1] / 60 == pytest.approx(to_min, abs=1.0)


@pytest.mark.parametrize(
    ("shown_c", "lid", "from_c", "to_c"),
    [(WARMS, -1, 3.0, 85.0), (WARMS, 2, 42.0, 92.0), (COOLS, -1, 80.0, 42.0), (COOLS, 2, 92.0, 42.0)],
)  # fmt: skip
def test_the_windows_of_one_slope_without_a_meter(shown_c, lid, from_c, to_c):
    """A kelvin a minute, from -5 to 94 °C or from 95 to 31: what begins the log has nothing to settle."""
    setting = known(scatter_k=0.05, heating_k_per_s=0.02, still_k_per_s=0.003)
    (span,) = _by_slope(minutes_of(shown_c, lid=lid), "water", setting)
    assert (span.bins.temperature_c[0], span.bins.temperature_c[-1]) == (from_c, to_c)


@pytest.mark.parametrize(
    ("poured", "has_grain", "stages", "code"),
    [
        ([(20, -5.0)], False, ["water"], "something cold"),
        ([(20, +5.0)], False, ["water", "water"], None),
        ([(20, -5.0)], True, ["water", "mash"], None),
        ([(20, -5.0), (40, -5.0)], True, ["water", "mash"], "after the mash"),
        ([], True, ["water"], None),
    ],
)
def test_what_goes_in_cold_changes_the_contents(poured, has_grain, stages, code):
    """The first fall of a plan with grain is its mash; another one, or one of water alone, ends what is known."""
    shown_c = np.full(60, 66.0)
    for minute, by_k in poured:
        shown_c[minute:] += by_k
    notes = []
    blocks = list(_blocks(minutes_of(shown_c), known(has_grain=has_grain), notes))
    assert [stage for _, stage in blocks] == stages
    assert [note.code for note in notes] == ([] if code is None else [code])
    # Over the three minutes on either side of a pour means of four minutes still differ by more than 1.2 K.
    sizes = {0: [60], 1: [17, 37], 2: [17, 14]}[len(poured)]
    assert [block.times_s.size for block, _ in blocks] == sizes[: len(stages)]


def test_blocks_of_less_than_eight_minutes_are_passed_over():
    """Two pours of hot water: the minutes between them, without three beside each, tell nothing below eight."""
    for minutes, sizes in ((13, [17, 24]), (14, [17, 8, 23])):
        shown_c = np.full(60, 50.0)
        shown_c[20:] += 5.0
        shown_c[20 + minutes :] += 5.0
        blocks = list(_blocks(minutes_of(shown_c), known(), []))
        assert [block.times_s.size for block, _ in blocks] == sizes


@pytest.mark.parametrize(("peak_c", "has_grain", "count"), [(85.1, True, 1), (84.9, True, 2), (85.1, False, 2)])
def test_with_grain_nothing_is_used_behind_what_got_near_the_boil(peak_c, has_grain, count):
    """Hotter than 85 °C, and then a jump: of a mash day that is the end; of water the rest is used too."""
    shown_c = np.r_[np.linspace(65, peak_c, 20), np.full(10, peak_c), np.full(30, peak_c + 12)]
    setting = known(has_grain=has_grain, heating_k_per_s=0.01)
    assert len(list(_blocks(minutes_of(shown_c), setting, []))) == count


@pytest.mark.parametrize(("lids", "codes", "sizes"), [
    ([-1] * 20 + [0] * 20, [], [40]),  # not told means on
    ([0] * 20 + [2] * 20, ["lid moved"], [20, 20]),
    ([-1] * 20 + [1] * 20, ["lid moved"], [20, 20]),
    ([2] * 40, [], [40]),
])  # fmt: skip
def test_a_lid_that_is_told_otherwise_later_was_moved(lids, codes, sizes):
    """The log is cut there, and that is said; one that is told late to be on was on before."""
    bins, notes = replace(minutes_of(np.full(40, 66.0)), lid=np.array(lids, dtype=np.int8)), []
    assert [block.times_s.size for block, _ in _blocks(bins, known(), notes)] == sizes
    assert [note.code for note in notes] == codes
