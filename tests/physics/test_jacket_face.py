"""A jacket among surfaces that are warmer or colder than the air: its face settles where the heat balances."""

import numpy as np
import pytest
from scipy.optimize import brentq

from energyplan.physics.losses import (
    Plate,
    Surroundings,
    natural_convection_w_per_m2_k,
    plate_loss_w_per_m2,
    radiation_w_per_m2,
)

PRESSURE_PA = 101_325.0


@pytest.mark.parametrize("air_c", [-10.0, 0.0, 15.0, 40.0])
@pytest.mark.parametrize("radiant_c", [-10.0, 5.0, 15.0, 40.0])
@pytest.mark.parametrize("resistance", [0.02, 0.4, 0.9, 2.0])
def test_the_loss_is_that_of_a_face_in_balance(air_c: float, radiant_c: float, resistance: float) -> None:
    """Conduction through the jacket equals convection plus radiation, as a bracketing root finder (scipy) has it."""
    around = Surroundings(air_c=air_c, radiant_c=radiant_c, humidity_frac=0.5, pressure_pa=PRESSURE_PA)
    plate = Plate(facing="sideways", length_m=0.48, emissivity=0.9, resistance_m2_k_per_w=resistance)

    def surplus(face_c: float) -> float:
        convected = natural_convection_w_per_m2_k(face_c, around, plate) * (face_c - air_c)
        return float((66.0 - face_c) / resistance - convected - radiation_w_per_m2(face_c, radiant_c, 0.9))

    face_c = brentq(surplus, min(air_c, radiant_c) - 1, 66.0, xtol=1e-10)
    expected = (66.0 - face_c) / resistance
    assert float(plate_loss_w_per_m2(66.0, around, plate)) == pytest.approx(expected, rel=1e-4)


def test_a_thicker_jacket_loses_less_whatever_stands_around() -> None:
    """With walls 15 K warmer or colder than the air, every millimetre more of jacket takes a little off."""
    for air_c, radiant_c in ((0.0, 15.0), (15.0, 0.0), (20.0, 20.0)):
        around = Surroundings(air_c=air_c, radiant_c=radiant_c, humidity_frac=0.5, pressure_pa=PRESSURE_PA)
        losses = [
            float(plate_loss_w_per_m2(45.0, around, Plate(facing="sideways", length_m=0.48, emissivity=0.9,
                                                          resistance_m2_k_per_w=0.001 * mm / 0.04)))
            for mm in range(1, 60)
        ]  # fmt: skip
        assert (np.diff(losses) < 0).all()
