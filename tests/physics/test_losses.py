"""Losses of single surfaces against the library ht, textbook examples and the published table of open tanks."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.core import Grashof
from ht.conv_external import Nu_horizontal_plate_laminar_Baehr
from ht.conv_free_immersed import Nu_horizontal_plate_McAdams, Nu_vertical_plate_Churchill
from ht.radiation import q_rad
from hypothesis import assume, example, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from energyplan.physics.losses import (
    Plate,
    Surroundings,
    evaporation_kg_per_m2_s,
    forced_convection_w_per_m2_k,
    natural_convection_w_per_m2_k,
    plate_loss_w_per_m2,
    radiation_w_per_m2,
)
from energyplan.physics.water import latent_heat_j_per_kg

KELVIN = 273.15
GRAVITY = 9.80665
BRANCH_RAYLEIGH = 1e7  # McAdams changes from the laminar to the turbulent relation, with a jump of 6 %

hot_c = st.floats(30.0, 105.0)
air_c = st.floats(0.0, 40.0)
size_m = st.floats(0.2, 0.6)
emissivities = st.floats(0.05, 1.0)


def still(air: float, *, radiant: float | None = None, humidity: float = 0.5, draught: float = 0.0) -> Surroundings:
    """Room air at sea level."""
    return Surroundings(
        air_c=air, radiant_c=air if radiant is None else radiant, humidity_frac=humidity, pressure_pa=101_325.0,
        draught_m_per_s=draught,
    )  # fmt: skip


def air_film(surface_c: float, air: float) -> tuple[float, float, float]:
    """Conductivity, Prandtl number, kinematic viscosity of the air film, from CoolProp."""
    state = ("T", (surface_c + air) / 2 + KELVIN, "P", 101_325, "Air")
    return PropsSI("L", *state), PropsSI("PRANDTL", *state), PropsSI("V", *state) / PropsSI("D", *state)


def reference_coefficient(surface_c: float, air: float, length_m: float, facing: str) -> tuple[float, float]:
    """Coefficient [W/m2K] and Rayleigh number from ht's correlations on CoolProp's air."""
    conductivity, prandtl, viscosity = air_film(surface_c, air)
    film_k = (surface_c + air) / 2 + KELVIN
    grashof = Grashof(L=length_m, beta=1 / film_k, T1=surface_c, T2=air, nu=viscosity, g=GRAVITY)
    if facing == "sideways":
        nusselt = Nu_vertical_plate_Churchill(prandtl, grashof)
    else:
        nusselt = Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=facing == "up")
    return nusselt * conductivity / length_m, prandtl * grashof


@given(hot_c, air_c, size_m, emissivities)
def test_walls_agree_with_ht(surface_c: float, air: float, height_m: float, emissivity: float) -> None:
    """Churchill-Chu and radiation, 30-105 °C, air 0-40 °C, 0.2-0.6 m: 2 % asked, 0.3 % seen (properties of air)."""
    assume(surface_c - air > 2)
    coefficient, _ = reference_coefficient(surface_c, air, height_m, "sideways")
    reference = coefficient * (surface_c - air) + q_rad(emissivity, surface_c + KELVIN, air + KELVIN)
    plate = Plate(facing="sideways", length_m=height_m, emissivity=emissivity)
    assert float(plate_loss_w_per_m2(surface_c, still(air), plate)) == pytest.approx(reference, rel=0.02)


@given(hot_c, air_c, size_m, emissivities, st.sampled_from(["up", "down"]))
def test_lid_and_base_agree_with_ht(
    surface_c: float, air: float, diameter_m: float, emissivity: float, facing: str
) -> None:
    """McAdams and radiation over the same range: 2 % asked, 0.4 % seen.

    At Ra = 1e7 the published relation jumps by 6 %, and there ht and we may choose different branches,
    because our air differs by 1 %: that strip is left out (a lid of 0.6 m reaches it at 40 K, one of 0.4 m does not).
    """
    assume(surface_c - air > 2)
    length_m = diameter_m / 4
    coefficient, rayleigh = reference_coefficient(surface_c, air, length_m, facing)
    assume(facing == "down" or abs(rayleigh / BRANCH_RAYLEIGH - 1) > 0.06)
    reference = coefficient * (surface_c - air) + q_rad(emissivity, surface_c + KELVIN, air + KELVIN)
    plate = Plate(facing=facing, length_m=length_m, emissivity=emissivity)
    assert float(plate_loss_w_per_m2(surface_c, still(air), plate)) == pytest.approx(reference, rel=0.02)


@given(hot_c, air_c, size_m, st.floats(0.1, 3.0))
def test_a_draught_agrees_with_ht(surface_c: float, air: float, length_m: float, draught: float) -> None:
    """Laminar flat plate; ht's is Baehr's 0.664 Re^(1/2) Pr^(1/3): 2 %."""
    conductivity, prandtl, viscosity = air_film(surface_c, air)
    reference = Nu_horizontal_plate_laminar_Baehr(draught * length_m / viscosity, prandtl) * conductivity / length_m
    ours = float(forced_convection_w_per_m2_k(surface_c, still(air, draught=draught), length_m))
    assert ours == pytest.approx(reference, rel=0.02)


def test_still_air_has_no_forced_convection() -> None:
    """Without a draught the forced part is nought."""
    assert float(forced_convection_w_per_m2_k(66.0, still(20.0), 0.3)) == 0.0


@given(hot_c, air_c, st.floats(0.05, 5.0), st.sampled_from(["sideways", "up", "down"]))
def test_a_draught_never_lowers_the_loss(surface_c: float, air: float, draught: float, facing: str) -> None:
    """Mixed convection lies above each of its parts, and below their sum."""
    assume(surface_c > air)
    plate = Plate(facing=facing, length_m=0.1, emissivity=0.25)
    calm = float(plate_loss_w_per_m2(surface_c, still(air), plate))
    blown = float(plate_loss_w_per_m2(surface_c, still(air, draught=draught), plate))
    along_m = 0.1 if facing == "sideways" else 0.4
    forced = float(forced_convection_w_per_m2_k(surface_c, still(air, draught=draught), along_m)) * (surface_c - air)
    assert calm <= blown <= calm + forced + 1e-9


# Incropera et al., example 9.2 (from memory): a glass fire screen 0.71 m high and 1.02 m wide, 232 °C in air of 23 °C.
def test_the_fire_screen_of_the_textbook() -> None:
    """Nu 147 and 1060 W by convection (the example's air is read from tables): 1 %, 0.6 % seen."""
    plate = Plate(facing="sideways", length_m=0.71, emissivity=1.0)
    coefficient = float(natural_convection_w_per_m2_k(232.0, still(23.0), plate))
    conductivity, _, _ = air_film(232.0, 23.0)
    assert coefficient * 0.71 / conductivity == pytest.approx(147, rel=0.015)
    assert coefficient * 0.71 * 1.02 * (232 - 23) == pytest.approx(1060, rel=0.015)


# Incropera et al., example 9.3 (from memory): a bare duct 0.75 m wide, 0.3 m high, 45 °C, in a room of 15 °C.
# The book has 4.23 W/m2K on the sides, by the plate's laminar relation (its eq. 9.27), and 246 W/m altogether.
def test_the_duct_of_the_textbook() -> None:
    """Top and base within 2 % of the book's; with Churchill and Chu's relation on the sides 5.5 % above its 246 W/m."""
    around = still(15.0)
    side = float(natural_convection_w_per_m2_k(45.0, around, Plate(facing="sideways", length_m=0.3, emissivity=1.0)))
    top = float(natural_convection_w_per_m2_k(45.0, around, Plate(facing="up", length_m=0.375, emissivity=1.0)))
    base = float(natural_convection_w_per_m2_k(45.0, around, Plate(facing="down", length_m=0.375, emissivity=1.0)))
    flat_w, sides_w = (top + base) * 0.75 * 30, 2 * side * 0.3 * 30
    assert flat_w == pytest.approx(246 - 2 * 4.23 * 0.3 * 30, rel=0.02)
    assert flat_w + sides_w == pytest.approx(246, rel=0.06)


# Engineering reference site, "Heat Loss from Open Water Tanks", painted steel walls, air 15.6 °C, W/m2K (as published).
@pytest.mark.parametrize(("wall_c", "coefficient"), [(65.6, 11.36), (98.9, 13.63)])
def test_painted_tank_walls(wall_c: float, coefficient: float) -> None:
    """Paint of emissivity 0.95, half a metre high: 10 % asked, 6 % seen."""
    plate = Plate(facing="sideways", length_m=0.5, emissivity=0.95)
    ours = float(plate_loss_w_per_m2(wall_c, still(15.6), plate)) / (wall_c - 15.6)
    assert ours == pytest.approx(coefficient, rel=0.10)


@given(st.floats(-20, 120), st.floats(-20, 50), emissivities)
def test_radiation_agrees_with_ht(surface_c: float, radiant_c: float, emissivity: float) -> None:
    """The Stefan-Boltzmann law, with the sign of the difference (ht has an older constant: 2e-6)."""
    reference = q_rad(emissivity, surface_c + KELVIN, radiant_c + KELVIN)
    assert float(radiation_w_per_m2(surface_c, radiant_c, emissivity)) == pytest.approx(reference, rel=1e-5, abs=1e-6)


@given(hot_c, air_c, st.floats(0.001, 0.05), emissivities, st.sampled_from(["sideways", "up", "down"]))
def test_a_jackets_face_settles_where_heat_passes(
    inside_c: float, air: float, thickness_m: float, emissivity: float, facing: str
) -> None:
    """The face found by scipy's brentq gives the same flux to 1e-6."""
    around, resistance = still(air), thickness_m / 0.04
    bare = Plate(facing=facing, length_m=0.3, emissivity=emissivity)
    jacket = Plate(facing=facing, length_m=0.3, emissivity=emissivity, resistance_m2_k_per_w=resistance)

    def surplus(face_c: float) -> float:
        return (inside_c - face_c) / resistance - float(plate_loss_w_per_m2(face_c, around, bare))

    low_c, high_c = min(inside_c, air) - 1, max(inside_c, air) + 1
    face_c = brentq(surplus, low_c, high_c, xtol=1e-12)
    reference = float(plate_loss_w_per_m2(face_c, around, bare))
    # Where McAdams' relation jumps no face balances exactly; the flux then lies on one side of the jump.
    assume(abs(surplus(face_c)) < 1e-6)
    assert float(plate_loss_w_per_m2(inside_c, around, jacket)) == pytest.approx(reference, rel=1e-6, abs=1e-6)


@given(hot_c, air_c, st.floats(0.0005, 0.05), emissivities)
def test_a_jacket_never_raises_the_loss(inside_c: float, air: float, thickness_m: float, emissivity: float) -> None:
    """With the same outer emissivity a jacket only adds resistance."""
    assume(inside_c > air + 0.5)
    around = still(air)
    bare = Plate(facing="sideways", length_m=0.4, emissivity=emissivity)
    jacket = Plate(facing="sideways", length_m=0.4, emissivity=emissivity, resistance_m2_k_per_w=thickness_m / 0.04)
    assert 0 < float(plate_loss_w_per_m2(inside_c, around, jacket)) < float(plate_loss_w_per_m2(inside_c, around, bare))


@given(st.floats(0.0, 40.0), st.sampled_from(["sideways", "up", "down"]), st.sampled_from([0.0, 0.25]))
def test_nothing_is_lost_at_the_temperature_of_the_room(air: float, facing: str, resistance: float) -> None:
    """No difference, no flux."""
    plate = Plate(facing=facing, length_m=0.3, emissivity=0.9, resistance_m2_k_per_w=resistance)
    assert float(plate_loss_w_per_m2(air, still(air), plate)) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("resistance", [0.0, 0.25])
def test_cold_contents_gain_heat(resistance: float) -> None:
    """Tap water of 5 °C in a room of 25 °C takes heat up."""
    plate = Plate(facing="sideways", length_m=0.3, emissivity=0.9, resistance_m2_k_per_w=resistance)
    assert float(plate_loss_w_per_m2(5.0, still(25.0), plate)) < 0


@given(air_c, st.sampled_from(["sideways", "down"]), emissivities, st.sampled_from([0.0, 0.25]))
def test_hotter_loses_more(air: float, facing: str, emissivity: float, resistance: float) -> None:
    """Flux rises with the temperature of the contents."""
    plate = Plate(facing=facing, length_m=0.3, emissivity=emissivity, resistance_m2_k_per_w=resistance)
    assert (np.diff(plate_loss_w_per_m2(np.linspace(air, 105.0, 40), still(air), plate)) > 0).all()


def test_warm_walls_of_the_room_lower_the_loss() -> None:
    """Radiation counts the surroundings' own temperature, which may differ from the air's."""
    plate = Plate(facing="sideways", length_m=0.3, emissivity=0.9)
    cold = float(plate_loss_w_per_m2(66.0, still(20.0, radiant=5.0), plate))
    warm = float(plate_loss_w_per_m2(66.0, still(20.0, radiant=35.0), plate))
    gap = float(radiation_w_per_m2(35.0, 5.0, 0.9))
    assert cold - warm == pytest.approx(gap, rel=1e-9)


def test_draws_and_temperatures_broadcast() -> None:
    """A column of temperatures against a row of draws gives the table of single values, jacketed too."""
    air = np.array([5.0, 20.0, 35.0])
    around = Surroundings(air_c=air, radiant_c=air, humidity_frac=0.5, pressure_pa=101_325.0)
    plate = Plate(facing="sideways", length_m=0.4, emissivity=0.9, resistance_m2_k_per_w=0.25)
    column_c = np.array([[40.0], [66.0], [100.0]])
    table = plate_loss_w_per_m2(column_c, around, plate)
    assert table.shape == (3, 3)
    assert table[1, 2] == pytest.approx(float(plate_loss_w_per_m2(66.0, still(35.0), plate)), rel=1e-9)


# US DOE, steam tip sheet 19, open vessels, still dry air of 18.3 °C: evaporation, kg/m2h (as published, converted).
TIP_SHEET = [(43.3, 1.16, 0.25), (65.6, 4.31, 0.25), (87.8, 14.4, 0.5)]


@pytest.mark.parametrize(("water_c", "kg_per_m2_h", "tolerance"), TIP_SHEET)
def test_evaporation_follows_the_tip_sheet(water_c: float, kg_per_m2_h: float, tolerance: float) -> None:
    """25 % asked to 70 °C and a factor of 1.5 to 88 °C; seen with air of half humidity: -9, -3, -12 %."""
    ours = 3600 * float(evaporation_kg_per_m2_s(water_c, still(18.3), 0.3))
    assert ours == pytest.approx(kg_per_m2_h, rel=tolerance)


# Engineering reference site, "Heat Loss from Open Water Tanks", still air of 15.6 °C, W/m2 (as published, converted):
# water, heat by evaporation, heat of the whole surface.
TANK_TABLE = [
    (49, 1140, 1480), (60, 2080, 2590), (66, 2710, 3280), (77, 4350, 5100), (82, 5490, 6310), (93, 8450, 9460),
    (99, 10200, 11360),
]  # fmt: skip


@pytest.mark.parametrize(("water_c", "evaporation_w", "total_w"), TANK_TABLE)
def test_the_whole_table_of_open_tanks(water_c: float, evaporation_w: float, total_w: float) -> None:
    """Evaporation within 25 % to 70 °C and a factor of 1.5 above (seen -6 to +30 %); the whole surface likewise."""
    around = still(15.6)
    evaporated = float(evaporation_kg_per_m2_s(water_c, around, 0.3) * latent_heat_j_per_kg(water_c))
    tolerance = 0.25 if water_c <= 70 else 0.5
    assert evaporated == pytest.approx(evaporation_w, rel=tolerance)
    surface = Plate(facing="up", length_m=0.09, emissivity=0.96)
    assert evaporated + float(plate_loss_w_per_m2(water_c, around, surface)) == pytest.approx(total_w, rel=tolerance)


def shah_2002(water_c: float, air: float, humidity: float) -> float:
    """Shah's relation on humid air from CoolProp: 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r), kg/m2h."""
    from CoolProp.HumidAirProp import HAPropsSI

    def dry_air(temperature_c: float, relative: float) -> tuple[float, float]:
        state = ("T", temperature_c + KELVIN, "P", 101_325, "R", relative)
        return 1 / HAPropsSI("Vda", *state), HAPropsSI("W", *state)

    (rho_w, w_w), (rho_r, w_r) = dry_air(water_c, 1.0), dry_air(air, humidity)
    return 35 * rho_w * (rho_r - rho_w) ** (1 / 3) * (w_w - w_r)


@given(st.floats(40.0, 92.0), st.floats(5.0, 35.0), st.floats(0.0, 1.0))
def test_evaporation_is_shahs_relation(water_c: float, air: float, humidity: float) -> None:
    """On CoolProp's real humid air instead of our ideal gas: 1.5 % (the vapour is 1 % denser than an ideal gas)."""
    ours = 3600 * float(evaporation_kg_per_m2_s(water_c, still(air, humidity=humidity), 0.3))
    assert ours == pytest.approx(shah_2002(water_c, air, humidity), rel=0.015)


@given(st.floats(5.0, 35.0), st.floats(0.0, 1.0), st.sampled_from([0.0, 0.5, 2.0]))
@example(20.0, 0.5, 0.0)
def test_evaporation_rises_to_the_boil_and_stays_finite(air: float, humidity: float, draught: float) -> None:
    """Monotonic from 35 °C to the boiling point, never without bound: below 40 kg/m2h in still air at the boil."""
    water_c = np.append(np.linspace(35.0, 99.9, 80), 99.974)
    rates = 3600 * evaporation_kg_per_m2_s(water_c, still(air, humidity=humidity, draught=draught), 0.3)
    assert np.isfinite(rates).all()
    assert (np.diff(rates) >= 0).all()
    assert draught > 0 or rates[-1] < 40


def test_evaporation_about_doubles_in_fifteen_kelvin() -> None:
    """About twofold every 15 K at mash temperatures (common practice, no source): 1.7 to 2.4."""
    rates = evaporation_kg_per_m2_s(np.array([55.0, 70.0]), still(15.6), 0.3)
    assert 1.7 < float(rates[1] / rates[0]) < 2.4


def test_no_water_is_taken_up_from_the_air() -> None:
    """Water colder than the room's dew point would gain moisture; that is left at nought."""
    assert float(evaporation_kg_per_m2_s(5.0, still(30.0, humidity=0.9), 0.3)) == 0.0
    assert float(evaporation_kg_per_m2_s(5.0, still(30.0, humidity=0.9, draught=1.0), 0.3)) == 0.0


@given(st.floats(30.0, 99.0), st.floats(0.1, 5.0))
def test_a_draught_never_lowers_evaporation(water_c: float, draught: float) -> None:
    """Blown surfaces dry at least as fast as still ones."""
    calm = float(evaporation_kg_per_m2_s(water_c, still(15.0), 0.3))
    assert float(evaporation_kg_per_m2_s(water_c, still(15.0, draught=draught), 0.3)) >= calm


def test_drier_air_takes_more() -> None:
    """Evaporation falls with the humidity of the room."""
    rates = [float(evaporation_kg_per_m2_s(66.0, still(25.0, humidity=h), 0.3)) for h in (0.0, 0.3, 0.6, 1.0)]
    assert rates == sorted(rates, reverse=True)
    assert rates[0] > rates[-1]


def test_blown_evaporation_follows_the_analogy() -> None:
    """At low flux h / (rho c_p Le^(2/3)) times the vapour's difference (Incropera, eq. 6.60, from memory): 3 %."""
    water_c, air, draught = 30.0, 30.0, 2.0
    around = still(air, humidity=0.2, draught=draught)
    conductivity, prandtl, viscosity = air_film(water_c, air)
    forced = 0.664 * math.sqrt(draught * 0.3 / viscosity) * prandtl ** (1 / 3) * conductivity / 0.3
    density = PropsSI("D", "T", air + KELVIN, "P", 101_325, "Air")
    vapour = 0.8 * PropsSI("D", "T", air + KELVIN, "Q", 1, "Water")
    still_part = float(evaporation_kg_per_m2_s(water_c, still(air, humidity=0.2), 0.3))
    blown = forced / (density * 1006 * 0.86 ** (2 / 3)) * vapour
    ours = float(evaporation_kg_per_m2_s(water_c, around, 0.3))
    assert ours == pytest.approx((still_part**3 + blown**3) ** (1 / 3), rel=0.03)
