"""The elements' power from a meter, and which of them seem to run."""

import numpy as np
import pytest

from energyplan.learning.bins import binned
from energyplan.learning.fit import likely_on, metered_power
from energyplan.learning.logfile import parse_log
from energyplan.learning.model import Setting

COUNTS_J = {"power_w": 0.0, "energy_kwh": 3.6e4}


def power_of(kettle, plan, columns, **how):
    """Measured power."""
    log = parse_log(kettle.csv(np.random.default_rng(1), columns, round_k=0.1, **how))
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    return metered_power(binned(log), setting, COUNTS_J[columns])


@pytest.mark.parametrize(("columns", "round_kwh"), [("power_w", 0.001), ("energy_kwh", 0.01)])
def test_full_power_is_found_between_other_things(columns, round_kwh, vessel, plan):
    """A cap, full power, a thermostat: the full power is 2380 W within 1.5 %, and its interval holds it."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=118e3, element_w=2380.0, beside_w=3.0)
    kettle.heat_to(30.0, 1200.0).heat_to(66.0).hold(66.0, 60, 900).heat_to(76.0)
    found = power_of(kettle, plan, columns, round_kwh=round_kwh)
    assert found.value == pytest.approx(2380.0, rel=0.015)
    assert found.low < 2380.0 < found.high


def test_a_coarse_meter_leaves_the_power_wider_open(vessel, plan):
    """A heat-up of 2.1 kWh read in steps of 0.1 instead of 0.01 kWh: the interval widens, and still holds 2380 W."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=118e3, element_w=2380.0, beside_w=3.0).heat_to(76.0)
    setting, found = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1), {}
    for step_kwh in (0.01, 0.1):
        log = parse_log(kettle.csv(np.random.default_rng(1), "energy_kwh", round_k=0.1, round_kwh=step_kwh))
        found[step_kwh] = metered_power(binned(log), setting, step_kwh * 3.6e6)
        assert found[step_kwh].low < 2380.0 < found[step_kwh].high
    assert found[0.1].high - found[0.1].low > 1.1 * (found[0.01].high - found[0.01].low)


def test_a_cool_down_has_no_power(vessel, plan):
    """A meter that sees next to nothing gives none; neither does a log without one."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=118e3, element_w=2380.0, beside_w=3.0, temperature_c=75.0).run(60)
    assert power_of(kettle, plan, "power_w") is None
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    log = parse_log(kettle.csv(np.random.default_rng(1)))
    assert metered_power(binned(log), setting, 0.0) is None


def test_which_elements_seem_to_run(plan):
    """1000 and 1500 W are each one of the two; 2000 W is neither."""
    setting = Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)
    assert likely_on(1030.0, setting) == (1000.0,)
    assert likely_on(1480.0, setting) == (1500.0,)
    assert likely_on(2000.0, setting) == ()
