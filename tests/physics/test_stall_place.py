"""Where a ramp stalls: found wherever it begins, for each draw by itself."""

import numpy as np
import pytest

from energyplan.physics import balance
from energyplan.physics.losscurve import loss_curve
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import Shell


def test_each_draw_stalls_at_its_own_temperature() -> None:
    """Against 5 W/K over 20 °C, heat P stalls at 20 + P/5 (by hand): within 1 mK, or where it begins."""
    around = Surroundings(air_c=20.0, radiant_c=20.0, humidity_frac=0.5, pressure_pa=101_325.0)
    shell = Shell(diameter_m=0.35, height_m=0.45, emissivity=0.25, heat_loss_w_per_k=5.0)
    losses = loss_curve(around, shell, "on", np.full(4, 0.8), low_c=0.0, high_c=102.0)
    heat_w = np.array([170.0, 200.0, 225.0, 400.0])
    stalls, at_c, needed_w = balance.stall(balance.way(np.full(4, 55.0), np.full(4, 66.0), losses), heat_w)
    assert stalls.tolist() == [True, True, True, False]
    assert at_c[:3] == pytest.approx(np.maximum(20 + heat_w[:3] / 5, 55.0), abs=1e-3)
    assert at_c[3] == 66.0
    assert needed_w == pytest.approx(np.full(4, 230.0), rel=1e-6)
