"""The balance along measured power: against the brew day's own, a closed form, and the parts it is made of."""

import numpy as np
import pytest

from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.learning.fit import Curve, fit_factors
from energyplan.learning.model import Factors, Setting, Supply, _Stacks, path_c, tables
from energyplan.physics.contents import Contents
from energyplan.physics.drift import drift
from energyplan.physics.losscurve import loss_curve
from energyplan.plan.file import parse_plan

ONE = np.ones(1)
NO_BEND = np.zeros(1)


def contents_of(water_kg, vessel_j_per_k=5000.0):
    """Water in a vessel."""
    none = np.zeros(1)
    return Contents(
        water_kg=none + water_kg,
        extract_kg=none,
        grain_kg=none,
        grain_j_per_kg_k=none + 1670.0,
        vessel_j_per_k=none + vessel_j_per_k,
    )


def plain(factors=None):
    """All factors 1."""
    given = factors or {}
    kinds = ("loss", "stored_heat", "power", "open_surface")
    return Factors(bend=given.get("bend", NO_BEND), apart_k=NO_BEND, **{name: given.get(name, ONE) for name in kinds})


def supply_of(count, element_w=0.0, pump_w=0.0):
    """The same heat between all readings."""
    return Supply(element_w=np.full(count - 1, element_w), pump_w=np.full(count - 1, pump_w))


def level(contents, shell):
    """Wetted share of the side wall: a log is read with the law of a plan, whatever the lid."""
    return contents.filled_l(np.array([60.0])) / shell.volume_l


@pytest.mark.parametrize("lid", ["on", "off", "ajar"])
@pytest.mark.parametrize("power_w", [0.0, 400.0])
def test_it_is_the_balance_of_the_brew_day(plan, lid, power_w):
    """For constant power it agrees with `energyplan.physics.balance.drift` within 20 mK over 3 h (observed 8 mK)."""
    contents, around, shell = contents_of(26.0), surroundings_of(plan), shell_of(plan)
    times_s = np.arange(0.0, 3 * 3600 + 1, 300.0)
    curve = loss_curve(around, shell, lid, level(contents, shell), low_c=0.0, high_c=102.0)
    whole = drift(contents, np.array([75.0]), np.array([times_s[-1]]), np.array([power_w]), curve)
    vessel = tables(around, shell, lid, contents, low_c=-1.0, high_c=101.0)
    path = path_c(np.array([75.0]), times_s, supply_of(times_s.size, power_w), vessel, plain())
    assert path[-1, 0] == pytest.approx(float(whole.end_c[0]), abs=0.02)


def test_a_linear_loss_gives_the_exponential(plan):
    """25 kg of water (4186 J/kgK at 62 degC, CoolProp) cooling at 5 W/K: T = 20 + 46 exp(-5 t / C), closed form."""
    contents = contents_of(25.0, 0.0)
    shell = shell_of(plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"heat_loss_w_per_k": 5.0})}))
    vessel = tables(surroundings_of(plan), shell, "on", contents, low_c=-1.0, high_c=101.0)
    times_s = np.linspace(0.0, 3600.0, 61)
    path = path_c(np.array([66.0]), times_s, supply_of(61), vessel, plain())
    assert path[-1, 0] == pytest.approx(20 + 46 * np.exp(-5 * 3600 / (25 * 4186.0)), abs=0.005)


def test_the_parts_of_the_loss_add_up(plan):
    """Closed and open part together are the loss of the brew day's curve; with the lid on nothing is open."""
    contents, around, shell = contents_of(26.0), surroundings_of(plan), shell_of(plan)
    at_c = np.array([45.0, 66.0, 88.0])
    for lid in ("on", "off"):
        curve = loss_curve(around, shell, lid, level(contents, shell), low_c=0.0, high_c=102.0)
        vessel = tables(around, shell, lid, contents, low_c=-1.0, high_c=101.0)
        np.testing.assert_allclose(vessel.loss_w(at_c), curve.total_w(at_c[:, None])[:, 0], rtol=1e-4)
        assert vessel.open_w.any() == (lid == "off")
    assert (vessel.closed_loss_w(at_c) < vessel.loss_w(at_c)).all()
    np.testing.assert_allclose(vessel.capacity_j_per_k(at_c), contents.capacity_j_per_k(at_c), rtol=1e-5)


def test_only_ratios_show_in_temperatures(plan):
    """Loss, stored heat and power all 10 % larger give the same temperatures."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "on", contents_of(26.0), low_c=-1.0, high_c=101.0)
    times_s = np.linspace(0.0, 3600.0, 31)
    larger = dict.fromkeys(("loss", "stored_heat", "power"), 1.1 * ONE)
    paths = [path_c(np.array([20.0]), times_s, supply_of(31, 2000.0), vessel, plain(given)) for given in ({}, larger)]
    np.testing.assert_allclose(paths[0], paths[1], atol=1e-9)


def test_a_bend_turns_about_its_reference(plan):
    """A bent loss keeps its value at the reference; a negative bend lowers it above and raises it below."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "on", contents_of(26.0), low_c=-1.0, high_c=101.0)
    bent = vessel.bent_at(66.0, plan.site.air_c)
    at = {c: float(np.interp(c, bent.grid_c, bent.bent_w)) for c in (40.0, 66.0, 90.0)}
    assert at[66.0] == pytest.approx(0.0, abs=1.0)
    assert at[40.0] < 0 < at[90.0]
    assert not vessel.bent_w.any()


def test_water_leaves_by_the_open_surface(plan):
    """With the lid off it cools faster than the same loss without loss of water would have it."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "off", contents_of(5.0), low_c=-1.0, high_c=101.0)
    times_s = np.linspace(0.0, 3600.0, 31)
    both = [path_c(np.array([95.0]), times_s, supply_of(31, 1500.0), vessel, plain({"open_surface": k * ONE}))
            for k in (1.0, 1.5)]  # fmt: skip
    assert both[1][-1, 0] < both[0][-1, 0]


def test_readings_without_an_error_leave_the_scatter_that_was_expected(plan):
    """Of a curve that the model meets exactly, twice the scatter of the thermometer is twice the width."""
    contents, around, shell = contents_of(26.0), surroundings_of(plan), shell_of(plan)
    vessel, times_s = tables(around, shell, "on", contents, low_c=-1.0, high_c=101.0), np.arange(0.0, 7201.0, 60.0)
    path = path_c(np.array([75.0]), times_s, supply_of(times_s.size), vessel, plain())
    curve = Curve(times_s=times_s, temperature_c=path[:, 0], readings=np.ones(times_s.size),
                  supply=supply_of(times_s.size), vessel=vessel)  # fmt: skip
    fine, coarse = (fit_factors([curve], ["loss"], {}, scatter_k) for scatter_k in (0.1, 0.2))
    assert fine.factors["loss"] == pytest.approx(1.0, abs=1e-4)
    assert coarse.sd["loss"] / fine.sd["loss"] == pytest.approx(2.0, rel=1e-3)


def test_a_pump_takes_its_heat_off_what_cools(plan):
    """100 W of pump, six tenths of them in the wort: 60 W less than without cool the vessel with its elements off."""

    def cools_w(pump_w):
        vessel = plan.vessel.model_copy(update={"pump_w": pump_w, "pump_heat": 0.6})
        steps = tuple(step.model_copy(update={"pump": True}) for step in plan.steps)
        pumped = plan.model_copy(update={"vessel": vessel, "steps": steps})
        setting = Setting(plan=pumped, scatter_k=0.1, resolution_k=0.1)
        return setting.still_k_per_s * setting.capacity_j_per_k

    assert cools_w(0.0) - cools_w(100.0) == pytest.approx(60.0)


def test_a_bend_by_hand(plan):
    """Half as far above the air as the reference, ln 1/2 of the loss; within half a kelvin of the air no nearer."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "on", contents_of(26.0), low_c=-1.0, high_c=101.0)
    bent = vessel.bent_at(66.0, 20.0)
    for at_c, times in ((43.0, 0.5), (66.0, 1.0), (89.0, 1.5), (20.0, 0.5 / 46), (-1.0, 21 / 46)):
        place = int(np.flatnonzero(vessel.grid_c == at_c)[0])
        assert bent.bent_w[place] == pytest.approx(vessel.closed_w[place] * np.log(times))


def test_tables_are_read_between_their_points_and_end_where_they_end(plan):
    """Every half kelvin from -1 to 101 °C: in between a straight line, beyond either end the last value."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "off", contents_of(26.0), low_c=-1.0, high_c=101.0)
    assert (vessel.grid_c[0], vessel.grid_c[-1], vessel.grid_c[1]) == (-1.0, 101.0, -0.5)
    stacks, at_c = _Stacks(vessel), np.array([-9.0, 43.3, 66.0, 100.9, 130.0])
    assert stacks.loss_w(at_c, plain()) == pytest.approx(vessel.loss_w(at_c))
    water_j, beside_j = stacks.heats(at_c)
    assert water_j * vessel.water_kg + beside_j == pytest.approx(vessel.capacity_j_per_k(at_c))
    assert stacks.vapour(at_c) == pytest.approx(np.interp(at_c, vessel.grid_c, vessel.vapour_kg_per_s))


def test_each_factor_acts_on_its_own_part(plan):
    """The closed loss moves with the air and by its factor and bend, the open one by its own."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "off", contents_of(26.0), low_c=-1.0, high_c=101.0)
    vessel = vessel.bent_at(66.0, 20.0)
    place = {c: int(np.flatnonzero(vessel.grid_c == c)[0]) for c in (60.0, 62.0)}
    closed_w, bent_w, open_w = vessel.closed_w[place[60.0]], vessel.bent_w[place[60.0]], vessel.open_w[place[62.0]]
    factors = Factors(loss=1.2 * ONE, bend=0.1 * ONE, apart_k=2.0 * ONE, stored_heat=ONE, power=ONE,
                      open_surface=0.5 * ONE)  # fmt: skip
    found = _Stacks(vessel).loss_w(np.array([62.0]), factors)
    assert found == pytest.approx([1.2 * (closed_w + 0.1 * bent_w) + 0.5 * open_w])


def test_readings_far_apart_are_walked_between(plan):
    """Two hours in one step from reading to reading, or in 120: the same temperature within 1 mK."""
    vessel = tables(surroundings_of(plan), shell_of(plan), "off", contents_of(8.0), low_c=-1.0, high_c=101.0)
    ends = [
        path_c(np.array([90.0]), np.linspace(0.0, 7200.0, count), supply_of(count, 800.0), vessel, plain())[-1, 0]
        for count in (2, 121)
    ]
    assert ends[0] == pytest.approx(ends[1], abs=1e-3)


def test_what_a_plan_says_of_its_powers(plan):
    """3 W of standby, a pump of 30 W that gives 6 tenths, 2500 W of elements: 33 W beside them, off below 108 W."""
    vessel = plan.vessel.model_copy(update={"pump_w": 30.0, "pump_heat": 0.6})
    setting = Setting(plan=plan.model_copy(update={"vessel": vessel}), scatter_k=0.1, resolution_k=0.1)
    assert (setting.beside_w, setting.pump_heat_w, setting.off_w) == (33.0, 18.0, pytest.approx(33.0 + 75.0))
    assert setting.heating_k_per_s == pytest.approx(2500 / setting.capacity_j_per_k)
    assert setting.apart_sd_k == pytest.approx((1.0 + 0.25) ** 0.5)


@pytest.mark.parametrize(
    ("loss_w_per_k", "pump_w", "still_w"), [(5.0, 0.0, 230.0), (5.0, 100.0, 130.0), (0.5, 100.0, 1.0)]
)
def test_how_fast_a_vessel_cools_by_itself(loss_w_per_k, pump_w, still_w, plan):
    """46 K above the air, less what the pump gives; never less than a watt."""
    vessel = plan.vessel.model_copy(
        update={"heat_loss_w_per_k": loss_w_per_k, "pump_w": pump_w, "pump_heat": 1.0}
    )  # fmt: skip
    setting = Setting(plan=plan.model_copy(update={"vessel": vessel}), scatter_k=0.1, resolution_k=0.1)
    assert setting.still_k_per_s * setting.capacity_j_per_k == pytest.approx(still_w, rel=1e-3)
    if pump_w == 0.0:
        assert setting.loss_exponent == pytest.approx(1.0, abs=0.01)


STEPS = """
[vessel]
diameter = "36 cm"
height = "48 cm"
[[vessel.element]]
power = "2500 W"
voltage = "230 V"
[batch]
water = "27 L"
water_temperature = "15 degC"
grain = "{grain}"
[site]
air = "20 degC"
"""


def setting_of(*steps, grain="5 kg"):
    """The setting of a plan of steps: target, and what happens before."""
    rows = [
        f'[[step]]\nname = "Step {place}"\n' + (f'target = "{target} degC"\n' if target else 'pause = "5 min"\n')
        + (f"before = [{before!r}]\n" if before else "")
        for place, (target, before) in enumerate(steps)
    ]  # fmt: skip
    plan = parse_plan(STEPS.format(grain=grain) + "".join(rows))
    return Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)


@pytest.mark.parametrize(
    ("steps", "strike_c", "lauter_c"),
    [
        ([(72, ""), (66, "add grain"), (76, ""), (None, "remove grain")], 72.0, 76.0),
        ([(72, ""), (66, "add grain"), (70, ""), (None, "remove grain")], 72.0, 70.0),  # what was before is no target
        ([(72, ""), (66, "add grain"), (76, ""), (68, ""), (None, "remove grain")], 72.0, 76.0),  # the highest
        ([(40, ""), (72, ""), (None, "add grain"), (76, ""), (None, "remove grain")], 72.0, 76.0),  # the last before
        ([(72, ""), (66, "add grain"), (76, "")], 72.0, None),  # it stays in
    ],
)
def test_where_the_grain_goes_in_and_out(steps, strike_c, lauter_c):
    """The strike is the last target before the grain; it leaves at the highest target since."""
    setting = setting_of(*steps)
    assert setting.has_grain
    assert setting.mash_in[0] == strike_c
    assert 2.0 < setting.mash_in[1] < 5.0
    assert setting.lauter_c == lauter_c


def test_an_error_of_the_pin_by_hand(plan):
    """27 L and 5 kg: 1.5 % of the water, a tenth of the vessel, a twentieth of the malt, squared and added."""
    setting = setting_of((72, ""), (66, "add grain"), (76, ""))
    vessel_j, grain_j = setting.plan.vessel.own_heat_j_per_k, 5 * 1670.0
    whole_j = float(setting.vessel("on", "mash").capacity_j_per_k(np.array([66.0]))[0])
    expected = np.hypot.reduce([0.015 * (whole_j - vessel_j - grain_j), 0.1 * vessel_j, 0.05 * grain_j]) / whole_j
    assert setting.pin_sd_frac("mash") == pytest.approx(expected, rel=0.01)
    water_j = setting.capacity_j_per_k
    expected = np.hypot(0.015 * (water_j - vessel_j), 0.1 * vessel_j) / water_j
    assert setting.pin_sd_frac("water") == pytest.approx(expected, rel=1e-3)
    assert setting.filled_l(66.0) == pytest.approx(27 * 0.9991 / 0.9800, rel=2e-3)  # 15 and 66 °C, IAPWS-95
