"""The headspace under a lid: against a balance of vapour, condensate and walls; limits; a measured loss by level."""

import math
import os
from itertools import product

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from energyplan.physics.losses import Surroundings, plate_loss_w_per_m2
from energyplan.physics.vesselloss import (
    LidState,
    Shell,
    dry_loss_w,
    hand_up_w_per_k,
    stirred_w_per_m2_k,
    vapour_kg_per_s,
)
from energyplan.physics.water import latent_heat_j_per_kg

PRESSURE_PA = 101_325.0
GRAVITY = 9.80665
STEFAN_BOLTZMANN = 5.670374e-8
STATES = int(os.environ.get("HEADSPACE_STATES", "150"))


def room(air_c: float = 20.0, humidity: float = 0.5, draught: float = 0.0) -> Surroundings:
    """Air at sea level, its walls as warm as it."""
    return Surroundings(
        air_c=air_c, radiant_c=air_c, humidity_frac=humidity, pressure_pa=PRESSURE_PA, draught_m_per_s=draught
    )


def vessel(**other: object) -> Shell:
    """A bare vessel of 43 litres."""
    return Shell(**{"diameter_m": 0.35, "height_m": 0.45, "emissivity": 0.25, **other})


def total_w(temperature_c: float, shell: Shell, lid: LidState, wetted: float, around: Surroundings) -> float:
    """Dry loss and the latent heat of the vapour."""
    vapour = float(vapour_kg_per_s(temperature_c, around, shell, lid))
    dry_w = float(dry_loss_w(temperature_c, around, shell, lid, wetted))
    return dry_w + vapour * float(latent_heat_j_per_kg(temperature_c))


# An independent balance: the surface gives vapour, warmth and radiation to the gas of the headspace, which gives it to
# lid and dry wall, which lose it to the room. Both films are turbulent free convection, 0.15 Ra^(1/3) (Incropera et
# al., eq. 9.31, from memory), mass by analogy, with blowing ln(1 + B); the water's own skin is cooled from above, by
# the same relation. Diffusivity of water vapour in air 2.42e-5 m2/s at 20 degC, to the power 1.81 (from memory).
# Properties from CoolProp, tabulated once.
_GRID_C = np.linspace(-5.0, 99.5, 210)
_PRESSURE_PA = np.array([PropsSI("P", "T", max(t, 0.02) + 273.15, "Q", 0, "Water") for t in _GRID_C])
_SKIN = np.array([
    0.15 * (GRAVITY * PropsSI("ISOBARIC_EXPANSION_COEFFICIENT", *s) * PropsSI("D", *s) ** 2
            * PropsSI("C", *s) * PropsSI("L", *s) ** 2 / PropsSI("V", *s)) ** (1 / 3)
    for s in [("T", max(t, 5.0) + 273.15, "P", 1.2e5, "Water") for t in _GRID_C]
])  # fmt: skip  # W/m2K^(4/3)


def _gas(temperature_c: float) -> tuple[float, float]:
    """Density of saturated air and the vapour's share of its mass."""
    vapour_pa, kelvin = float(np.interp(temperature_c, _GRID_C, _PRESSURE_PA)), temperature_c + 273.15
    vapour, air = vapour_pa * 0.018015 / 8.314462 / kelvin, (PRESSURE_PA - vapour_pa) * 0.028966 / 8.314462 / kelvin
    return vapour + air, vapour / (vapour + air)


def _film_w_per_m2(hot_c: float, cold_c: float) -> float:
    """Heat of vapour and warmth between two saturated faces, the hot one below."""
    if hot_c <= cold_c:
        return 0.0
    (light, vapour_hot), (heavy, vapour_cold) = _gas(hot_c), _gas(cold_c)
    kelvin, density = (hot_c + cold_c) / 2 + 273.15, (light + heavy) / 2
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    diffusivity, conductivity = 2.42e-5 * (kelvin / 293.15) ** 1.81, 0.0263 * (kelvin / 300) ** 0.85
    lift = GRAVITY * max(heavy - light, 0.0) / density * (density / viscosity) ** 2
    transfer = 0.15 * (lift * viscosity / density / diffusivity) ** (1 / 3) * density * diffusivity
    vapour = transfer * math.log1p((vapour_hot - vapour_cold) / (1 - vapour_hot))
    warmth = 0.15 * (lift * 0.7) ** (1 / 3) * conductivity * (hot_c - cold_c)
    return vapour * (2.5009e6 - 2370 * (kelvin - 273.15)) + warmth


def balanced_head_w(temperature_c: float, shell: Shell, wetted: float, around: Surroundings) -> float:
    """Loss of lid and dry wall at which supply and loss agree."""
    surface_m2, dry_m2 = shell.lid_m2, (1 - wetted) * shell.side_m2
    head_m2, air_c = surface_m2 + dry_m2, float(np.asarray(around.air_c))

    def outward_w(wall_c: float) -> float:
        lid = float(plate_loss_w_per_m2(wall_c, around, shell.plate("lid")))
        side = float(plate_loss_w_per_m2(wall_c, around, shell.plate("side")))
        return float(np.asarray(shell.fittings)) * (surface_m2 * lid + dry_m2 * side)

    def surplus_w(wall_c: float) -> float:
        asked_w = outward_w(wall_c)
        skin = float(np.interp(temperature_c, _GRID_C, _SKIN))
        top_c = temperature_c - (asked_w / surface_m2 / skin) ** 0.75
        if top_c <= wall_c:
            return -asked_w
        exchange = 1 / 0.96 + surface_m2 / head_m2 * (1 / 0.6 - 1)
        radiated = surface_m2 * STEFAN_BOLTZMANN * ((top_c + 273.15) ** 4 - (wall_c + 273.15) ** 4) / exchange
        passing = brentq(
            lambda gas_c: surface_m2 * _film_w_per_m2(top_c, gas_c) - head_m2 * _film_w_per_m2(gas_c, wall_c),
            wall_c, top_c, xtol=1e-4,
        )  # fmt: skip
        return surface_m2 * _film_w_per_m2(top_c, passing) + radiated - asked_w

    return outward_w(brentq(surplus_w, air_c + 0.01, temperature_c - 1e-4, xtol=1e-4))


@pytest.mark.parametrize("jacket_m", [0.0, 0.02])
def test_it_follows_a_balance_of_the_headspace(jacket_m: float) -> None:
    """160 cases, 0.2 to 0.6 m, 10 to 85 % full: 15 % of lid and dry wall asked, -8.4 to +11.9 % seen."""
    for diameter_m, wetted, here_c in product((0.2, 0.3, 0.4, 0.5, 0.6), (0.1, 0.35, 0.6, 0.85), (40, 55, 75, 95)):
        shell = Shell(
            diameter_m=diameter_m, height_m=1.33 * diameter_m, emissivity=0.25, fittings=1.4, jacket_m=jacket_m,
            jacket_emissivity=0.9,
        )  # fmt: skip
        bare_surface = Shell(diameter_m=diameter_m, height_m=1.0, emissivity=0.25, fittings=0.0)
        wetted_w = float(dry_loss_w(here_c, room(), shell, "off", wetted))
        wetted_w -= float(dry_loss_w(here_c, room(), bare_surface, "off", wetted))
        head_w = float(dry_loss_w(here_c, room(), shell, "on", wetted)) - wetted_w
        assert head_w == pytest.approx(balanced_head_w(here_c, shell, wetted, room()), rel=0.15)


@st.composite
def shells(draw: st.DrawFn) -> Shell:
    """Vessels far beyond the range of the fit."""
    diameter_m = draw(st.floats(0.15, 0.8))
    return Shell(
        diameter_m=diameter_m,
        height_m=draw(st.floats(0.5, 2.5)) * diameter_m,
        emissivity=0.25,
        fittings=draw(st.floats(1.0, 5.0)),
        jacket_m=draw(st.sampled_from([0.0, 0.01, 0.05])),
        jacket_emissivity=0.9,
    )


airs = st.builds(room, st.floats(-15.0, 40.0), st.floats(0.0, 1.0), st.sampled_from([0.0, 2.0]))


@settings(max_examples=STATES)
@given(shells(), airs, st.floats(0.02, 1.0), st.floats(5.0, 104.0))
def test_a_lid_never_costs_heat(shell: Shell, around: Surroundings, wetted: float, here_c: float) -> None:
    """On below ajar below off for contents warmer than the room, in any state, and never above walls as hot as they."""
    air_c, fittings = float(np.asarray(around.air_c)), float(np.asarray(shell.fittings))
    if here_c <= air_c + 0.1:
        return
    on_w, ajar_w, off_w = (total_w(here_c, shell, lid, wetted, around) for lid in ("on", "ajar", "off"))
    assert on_w <= ajar_w * (1 + 1e-12)
    assert ajar_w <= off_w * (1 + 1e-12)
    as_hot_w = sum(
        shell.area_m2(part) * float(plate_loss_w_per_m2(here_c, around, shell.plate(part)))
        for part in ("side", "base", "lid")
    )
    assert on_w <= fittings * as_hot_w * (1 + 1e-12)


# 5 L at 55 degC in 36 x 48 cm, air of 11 degC: the whole wall as hot as the contents lost 311 W with the lid on, and
# 274 W without it.
def test_a_lid_on_a_little_water_saves_heat() -> None:
    """A nearly empty vessel's upper wall is not as hot as the contents."""
    shell, around = vessel(diameter_m=0.36, height_m=0.48, fittings=1.4), room(11.0)
    wetted = 5.0 / (1000 * shell.lid_m2 * shell.height_m)
    assert total_w(55.0, shell, "on", wetted, around) < 0.6 * total_w(55.0, shell, "off", wetted, around)


@given(st.floats(25.0, 100.0), st.floats(0.2, 0.6), st.sampled_from([0.0, 0.01]))
def test_a_full_vessel_loses_as_if_all_of_it_were_hot(here_c: float, diameter_m: float, jacket_m: float) -> None:
    """The liquid touches the lid, which is as hot as it, in any warmth: within a thousandth."""
    shell = vessel(diameter_m=diameter_m, height_m=1.28 * diameter_m, jacket_m=jacket_m)
    as_hot_w = sum(
        shell.area_m2(part) * float(plate_loss_w_per_m2(here_c, room(), shell.plate(part)))
        for part in ("side", "base", "lid")
    )
    assert total_w(here_c, shell, "on", 1.0, room()) == pytest.approx(as_hot_w, rel=1e-3)


@given(st.floats(40.0, 99.0), st.floats(0.05, 0.95))
def test_a_measured_loss_belongs_to_its_filling(here_c: float, wetted: float) -> None:
    """At the level of the measurement it is taken at its word; at another it changes as the estimate does."""
    shell = vessel(heat_loss_w_per_k=5.0, measured_wet_frac=0.6, fittings=1.4)
    plain = vessel(fittings=1.4)
    at_word_w = total_w(here_c, shell, "on", 0.6, room())
    assert at_word_w == pytest.approx(5.0 * (here_c - 20.0), rel=1e-12)
    ratio = total_w(here_c, plain, "on", wetted, room()) / total_w(here_c, plain, "on", 0.6, room())
    assert total_w(here_c, shell, "on", wetted, room()) == pytest.approx(ratio * at_word_w, rel=1e-12)


def test_what_the_surface_hands_up_grows_with_heat_and_with_cold_wall_above() -> None:
    """A tenth of a square metre at 66 °C by hand: 1.94 exp(3.1482) 5^0.186 / 10 W/K below 36 cm of air."""
    by_hand = 0.194 * math.exp(0.0477 * 66) * 5**0.186
    assert float(hand_up_w_per_k(stirred_w_per_m2_k(66.0), 0.1, 0.4)) == pytest.approx(by_hand, rel=1e-4)
    assert (np.diff(hand_up_w_per_k(stirred_w_per_m2_k(66.0), 0.1, np.array([0.1, 0.2, 0.3]))) > 0).all()


@pytest.mark.parametrize("here_c", [40.0, 66.0])
def test_through_a_thin_gap_the_vapour_diffuses(here_c: float) -> None:
    """2 mm of still saturated air between 1 K: Stefan's flux and conduction by hand, 10 %."""
    (_, hot), (_, cold) = _gas(here_c + 0.5), _gas(here_c - 0.5)
    kelvin = here_c + 273.15
    diffusing = _gas(here_c)[0] * 2.42e-5 * (kelvin / 293.15) ** 1.81 / 2e-3 * math.log((1 - cold) / (1 - hot))
    flux_w_per_m2 = diffusing * (2.5009e6 - 2370 * here_c) + 0.0263 * (kelvin / 300) ** 0.85 / 2e-3
    dry_m2 = 2e-3 * 2 * math.sqrt(math.pi * 0.1)
    assert float(hand_up_w_per_k(stirred_w_per_m2_k(here_c), 0.1, dry_m2)) / 0.1 == pytest.approx(
        flux_w_per_m2, rel=0.1
    )
