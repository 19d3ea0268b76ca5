"""Water and its vapour against IAPWS reference libraries and published tables."""

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from fluids import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from iapws.iapws97 import _PSat_T, _TSat_P

from energyplan.physics.water import (
    boiling_point_c,
    density_kg_per_m3,
    enthalpy_j_per_kg,
    latent_heat_j_per_kg,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
    specific_heat_j_per_kg_k,
    vapour_density_kg_per_m3,
)

KELVIN = 273.15
liquid_c = st.floats(0.1, 105.0)


def liquid(name: str, temperature_c: float) -> float:
    """Property of liquid water from IAPWS-95, at 0.3 MPa so that it stays liquid above 100 °C."""
    return PropsSI(name, "T", temperature_c + KELVIN, "P", 3e5, "Water")


@pytest.mark.parametrize(("kelvin", "mega_pa"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1)])
def test_saturation_pressure_has_the_verification_values(kelvin: float, mega_pa: float) -> None:
    """R7-97 table 35 prints these values (from memory; iapws 1.5 reproduces them below)."""
    assert float(saturation_pressure_pa(kelvin - KELVIN)) == pytest.approx(mega_pa * 1e6, rel=1e-8)
    assert _PSat_T(kelvin) == pytest.approx(mega_pa, rel=1e-8)


@pytest.mark.parametrize(("mega_pa", "kelvin"), [(0.1, 0.372755919e3), (1.0, 0.453035632e3)])
def test_boiling_point_has_the_verification_values(mega_pa: float, kelvin: float) -> None:
    """R7-97 table 36 prints these values (from memory; iapws 1.5 reproduces them below)."""
    assert float(boiling_point_c(mega_pa * 1e6)) + KELVIN == pytest.approx(kelvin, rel=1e-8)
    assert _TSat_P(mega_pa) == pytest.approx(kelvin, rel=1e-8)


@given(st.floats(0.0, 110.0))
def test_saturation_pressure_follows_if97(temperature_c: float) -> None:
    """The same equation as in the library iapws (IF97, region 4): agreement to rounding."""
    assert float(saturation_pressure_pa(temperature_c)) == pytest.approx(
        _PSat_T(temperature_c + KELVIN) * 1e6, rel=1e-10
    )


@given(st.floats(0.1, 110.0))
def test_saturation_pressure_follows_iapws95(temperature_c: float) -> None:
    """IAPWS-95 in CoolProp differs by 0.01 % at most."""
    reference_pa = PropsSI("P", "T", temperature_c + KELVIN, "Q", 0, "Water")
    assert float(saturation_pressure_pa(temperature_c)) == pytest.approx(reference_pa, rel=2e-4)


@given(st.floats(5.0, 105.0))
def test_saturation_pressure_follows_the_psychrometric_handbook(temperature_c: float) -> None:
    """ASHRAE's Hyland-Wexler equation (psychrolib 2.5) differs by 0.08 % at most."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    reference_pa = psychrolib.GetSatVapPres(temperature_c)
    assert float(saturation_pressure_pa(temperature_c)) == pytest.approx(reference_pa, rel=1e-3)


@given(st.floats(0.5, 120.0))
def test_boiling_point_inverts_the_saturation_pressure(temperature_c: float) -> None:
    """Equations 30 and 31 are exact inverses: 1e-8 K."""
    assert float(boiling_point_c(saturation_pressure_pa(temperature_c))) == pytest.approx(temperature_c, abs=1e-8)


# Boiling points over the standard atmosphere, computed with CoolProp 8 (IAPWS-95) at ISO 2533 pressures.
@pytest.mark.parametrize(
    ("altitude_m", "boils_c"), [(0, 99.974), (500, 98.313), (1000, 96.649), (2000, 93.317), (3000, 89.977)]
)
def test_water_boils_lower_in_the_mountains(altitude_m: float, boils_c: float) -> None:
    """Values computed with CoolProp 8; agreement 0.003 K."""
    assert float(boiling_point_c(pressure_at_altitude_pa(altitude_m))) == pytest.approx(boils_c, abs=0.01)


def test_a_thousand_feet_cost_a_degree() -> None:
    """1.06 K per 305 m: a brewing magazine's article on altitude, as common practice has it; 5 %."""
    fall_k = float(boiling_point_c(pressure_at_altitude_pa(0.0)) - boiling_point_c(pressure_at_altitude_pa(305.0)))
    assert fall_k == pytest.approx(1.06, rel=0.06)


# J. D. Forbes, "Further experiments and remarks on the measurement of heights by the boiling point of water",
# Trans. Royal Society of Edinburgh 21 (1857): boiling point [degF], pressure [inches of mercury]. From memory, as the
# teaching data set of 17 readings; his barometer was reduced to 32 degF.
FORBES = [
    (194.5, 20.79), (194.3, 20.79), (197.9, 22.40), (198.4, 22.67), (199.4, 23.15), (199.9, 23.35), (200.9, 23.89),
    (201.1, 23.99), (201.4, 24.02), (201.3, 24.01), (203.6, 25.14), (204.6, 26.57), (209.5, 28.49), (208.6, 27.76),
    (210.7, 29.04), (211.9, 29.88), (212.2, 30.06),
]  # fmt: skip


def test_boiling_points_measured_in_the_alps() -> None:
    """Forbes' readings of 1857 (from memory): within 0.8 K each, 0.3 K in the median (he read to 0.1 degF)."""
    fahrenheit, inches = np.array(FORBES).T
    misses_k = (fahrenheit - 32) / 1.8 - boiling_point_c(inches * 3386.389)
    assert np.abs(misses_k).max() < 0.8
    assert abs(float(np.median(misses_k))) < 0.3


@given(st.floats(-400.0, 6000.0))
def test_pressure_follows_the_standard_atmosphere(altitude_m: float) -> None:
    """U.S. Standard Atmosphere 1976 in fluids 1.3: the same below 11 km; it counts geopotential height: 0.1 %."""
    assert float(pressure_at_altitude_pa(altitude_m)) == pytest.approx(ATMOSPHERE_1976(altitude_m).P, rel=1e-3)


@given(liquid_c)
def test_density_follows_iapws95(temperature_c: float) -> None:
    """CoolProp at 0.3 MPa; observed agreement 0.011 % (mostly the pressure)."""
    assert float(density_kg_per_m3(temperature_c)) == pytest.approx(liquid("D", temperature_c), rel=2e-4)


@given(liquid_c)
def test_specific_heat_follows_iapws95(temperature_c: float) -> None:
    """CoolProp at 0.3 MPa; observed agreement 0.03 %."""
    assert float(specific_heat_j_per_kg_k(temperature_c)) == pytest.approx(liquid("C", temperature_c), rel=5e-4)


@given(liquid_c, liquid_c)
def test_enthalpy_differences_follow_iapws95(one_c: float, other_c: float) -> None:
    """CoolProp at 0.3 MPa; 0.03 % of the difference and 1 J."""
    reference = liquid("H", one_c) - liquid("H", other_c)
    ours = float(enthalpy_j_per_kg(one_c) - enthalpy_j_per_kg(other_c))
    assert ours == pytest.approx(reference, rel=5e-4, abs=2.0)


@given(liquid_c)
def test_specific_heat_is_the_slope_of_enthalpy(temperature_c: float) -> None:
    """Central difference over 2 mK of the closed forms."""
    step_k = 1e-3
    rise = float(enthalpy_j_per_kg(temperature_c + step_k) - enthalpy_j_per_kg(temperature_c - step_k))
    assert rise / (2 * step_k) == pytest.approx(float(specific_heat_j_per_kg_k(temperature_c)), rel=1e-6)


def test_enthalpy_is_counted_from_freezing() -> None:
    """Nought at the triple point, as IAPWS has it: at 0 °C and 0.1 MPa it is that of IAPWS-95, 0.06 kJ/kg."""
    reference = PropsSI("H", "T", KELVIN + 0.02, "P", 1e5, "Water")
    assert float(enthalpy_j_per_kg(0.02)) == pytest.approx(reference, abs=1.0)


@given(st.floats(0.1, 110.0))
def test_latent_heat_follows_iapws95(temperature_c: float) -> None:
    """CoolProp 8; observed agreement 0.04 %."""
    kelvin = temperature_c + KELVIN
    reference = PropsSI("H", "T", kelvin, "Q", 1, "Water") - PropsSI("H", "T", kelvin, "Q", 0, "Water")
    assert float(latent_heat_j_per_kg(temperature_c)) == pytest.approx(reference, rel=1e-3)


@given(st.floats(0.1, 110.0))
def test_vapour_density_follows_iapws95(temperature_c: float) -> None:
    """CoolProp 8; observed agreement 0.05 %."""
    reference = PropsSI("D", "T", temperature_c + KELVIN, "Q", 1, "Water")
    assert float(vapour_density_kg_per_m3(temperature_c)) == pytest.approx(reference, rel=1e-3)


# Computed with CoolProp 8 (IAPWS-95).
@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"),
    [(20, 2339.3), (50, 12352), (66, 26183), (78, 43703), (90, 70182), (100, 101418)],
)
def test_saturation_pressures_of_a_brew_day(temperature_c: float, pressure_pa: float) -> None:
    """Values at the temperatures of a brew day; agreement 0.01 %."""
    assert float(saturation_pressure_pa(temperature_c)) == pytest.approx(pressure_pa, rel=2e-4)


@pytest.mark.parametrize(
    ("temperature_c", "density"), [(10, 999.70), (20, 998.21), (60, 983.20), (80, 971.79), (99, 959.07)]
)
def test_densities_of_a_brew_day(temperature_c: float, density: float) -> None:
    """Computed with CoolProp 8; agreement 0.002 %."""
    assert float(density_kg_per_m3(temperature_c)) == pytest.approx(density, rel=5e-5)


def test_water_shrinks_four_percent_from_the_boil() -> None:
    """Hot and cold litres differ by 4 % (common practice, no source; 30 L hot is 28.8 L cold)."""
    assert 30 * float(density_kg_per_m3(99.0) / density_kg_per_m3(20.0)) == pytest.approx(28.8, abs=0.05)


@pytest.mark.parametrize(("temperature_c", "specific_heat"), [(20, 4184), (60, 4185), (99, 4215)])
def test_specific_heats_of_a_brew_day(temperature_c: float, specific_heat: float) -> None:
    """Computed with CoolProp 8; agreement 0.02 %."""
    assert float(specific_heat_j_per_kg_k(temperature_c)) == pytest.approx(specific_heat, rel=5e-4)


@pytest.mark.parametrize(("temperature_c", "kilo_joule"), [(66, 2342.9), (100, 2256.4)])
def test_latent_heats_of_a_brew_day(temperature_c: float, kilo_joule: float) -> None:
    """Computed with CoolProp 8; agreement 0.01 %."""
    assert float(latent_heat_j_per_kg(temperature_c)) == pytest.approx(kilo_joule * 1000, rel=5e-4)


@pytest.mark.parametrize(("mass_kg", "from_c", "to_c", "kwh"), [(25, 10, 66, 1.6267), (28, 20, 99, 2.5740)])
def test_heating_water_takes_the_tabled_energy(mass_kg: float, from_c: float, to_c: float, kwh: float) -> None:
    """Computed with CoolProp 8; agreement 0.02 %."""
    stored = mass_kg * float(enthalpy_j_per_kg(to_c) - enthalpy_j_per_kg(from_c)) / 3.6e6
    assert stored == pytest.approx(kwh, rel=1e-3)


def test_a_kilogram_of_steam_takes_five_eighths_of_a_kilowatt_hour() -> None:
    """0.62680 kWh per kg at the boil, computed with CoolProp 8; agreement 0.01 %."""
    assert float(latent_heat_j_per_kg(boiling_point_c(101_325.0))) / 3.6e6 == pytest.approx(0.62680, rel=3e-4)


def test_arrays_keep_their_shape() -> None:
    """Every function of one temperature works on arrays element by element."""
    grid_c = np.array([[10.0, 60.0], [80.0, 99.0]])
    for function in (saturation_pressure_pa, density_kg_per_m3, specific_heat_j_per_kg_k, enthalpy_j_per_kg,
                     latent_heat_j_per_kg, vapour_density_kg_per_m3):  # fmt: skip
        values = function(grid_c)
        assert values.shape == grid_c.shape
        assert values[1, 0] == float(function(80.0))
