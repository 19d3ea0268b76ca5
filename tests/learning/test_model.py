"""The balance along measured power: against the brew day's own, a closed form, and the parts it is made of."""

import numpy as np
import pytest

from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.learning.fit import Curve, fit_factors
from energyplan.learning.model import Factors, Setting, Supply, path_c, tables
from energyplan.physics.contents import Contents
from energyplan.physics.drift import drift
from energyplan.physics.losscurve import loss_curve

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
