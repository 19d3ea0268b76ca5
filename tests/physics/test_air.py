"""Properties of air against a reference library and textbook tables."""

import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from energyplan.physics.air import (
    air_conductivity_w_per_m_k,
    air_kinematic_viscosity_m2_per_s,
    air_prandtl,
    dry_air_density_kg_per_m3,
    ideal_vapour_density_kg_per_m3,
)
from energyplan.physics.water import saturation_pressure_pa

KELVIN = 273.15
film_c = st.floats(-20.0, 100.0)


@given(film_c)
def test_conductivity_follows_the_reference_library(temperature_c: float) -> None:
    """CoolProp's air; 1.5 % (the standard atmosphere's formula of 1976 against today's)."""
    reference = PropsSI("L", "T", temperature_c + KELVIN, "P", 101_325, "Air")
    assert float(air_conductivity_w_per_m_k(temperature_c)) == pytest.approx(reference, rel=0.015)


@given(film_c, st.floats(70e3, 105e3))
def test_viscosity_follows_the_reference_library(temperature_c: float, pressure_pa: float) -> None:
    """CoolProp's air; 1 %."""
    state = ("T", temperature_c + KELVIN, "P", pressure_pa, "Air")
    reference = PropsSI("V", *state) / PropsSI("D", *state)
    assert float(air_kinematic_viscosity_m2_per_s(temperature_c, pressure_pa)) == pytest.approx(reference, rel=0.01)


@given(film_c)
def test_prandtl_follows_the_reference_library(temperature_c: float) -> None:
    """CoolProp's air; 2.5 % (its specific heat is taken as constant)."""
    reference = PropsSI("PRANDTL", "T", temperature_c + KELVIN, "P", 101_325, "Air")
    assert float(air_prandtl(temperature_c)) == pytest.approx(reference, rel=0.025)


# Incropera et al., Fundamentals of Heat and Mass Transfer, table A.4 (from memory): air at 1 atm, 300 and 350 K.
@pytest.mark.parametrize(
    ("kelvin", "conductivity", "viscosity", "prandtl"),
    [(300, 26.3e-3, 15.89e-6, 0.707), (350, 30.0e-3, 20.92e-6, 0.700)],
)
def test_the_textbook_table_of_air(kelvin: float, conductivity: float, viscosity: float, prandtl: float) -> None:
    """Within 1 %, viscosity within 2 % of the table (1.7 % seen; CoolProp lies 1 % from the table too)."""
    temperature_c = kelvin - KELVIN
    assert float(air_conductivity_w_per_m_k(temperature_c)) == pytest.approx(conductivity, rel=0.01)
    assert float(air_kinematic_viscosity_m2_per_s(temperature_c, 101_325.0)) == pytest.approx(viscosity, rel=0.02)
    assert float(air_prandtl(temperature_c)) == pytest.approx(prandtl, rel=0.01)


@given(st.floats(5.0, 45.0), st.floats(0.0, 1.0), st.floats(70e3, 103e3))
def test_moist_air_follows_the_psychrometric_handbook(air_c: float, humidity: float, pressure_pa: float) -> None:
    """Dry air and vapour per m3 against psychrolib 2.5 (ASHRAE 2017, ch. 1); 0.2 %."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(air_c, humidity, pressure_pa)
    reference = 1 / psychrolib.GetMoistAirVolume(air_c, ratio, pressure_pa)
    vapour_pa = humidity * float(saturation_pressure_pa(air_c))
    assert float(dry_air_density_kg_per_m3(air_c, pressure_pa, vapour_pa)) == pytest.approx(reference, rel=2e-3)
    vapour = float(ideal_vapour_density_kg_per_m3(air_c, vapour_pa))
    assert vapour == pytest.approx(reference * ratio, rel=2e-3, abs=1e-6)


def test_air_at_the_boil_is_all_vapour() -> None:
    """When the vapour has the whole pressure no dry air is left."""
    assert float(dry_air_density_kg_per_m3(100.0, 101_325.0, 101_325.0)) == 0.0
    assert float(dry_air_density_kg_per_m3(100.0, 101_325.0, 120_000.0)) == 0.0
