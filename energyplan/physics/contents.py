"""What is in the vessel: liquid, grain and steel, with tables of water for the inner loops."""

from copy import copy
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.water import (
    density_kg_per_m3,
    enthalpy_j_per_kg,
    latent_heat_j_per_kg,
    specific_heat_j_per_kg_k,
)
from energyplan.physics.wort import extract_lack_j_per_kg, extract_lack_j_per_kg_k, gravity_from_plato

__all__ = [
    "Contents",
    "Draws",
    "quick_enthalpy_j_per_kg",
    "quick_latent_heat_j_per_kg",
    "quick_specific_heat_j_per_kg_k",
    "quick_vapour_enthalpy_j_per_kg",
]

FloatArray = NDArray[np.float64]
Draws = NDArray[np.int64] | slice


LOW_C, HIGH_C = 0.0, 116.0
COLDEST_C, PER_K = -20.0, 32.0  # where the tables of water begin (they end at HIGH_C), and their points per kelvin
STRONGEST_PLATO, PER_PLATO = 100.0, 64.0  # the same of the gravity of a wort, from 0 °P on


def cell(place: FloatArray, last: float) -> NDArray[np.intp]:
    """Cells of a table, from 0 to the last, in which places lie that are counted in points.

    A bare number, as the steps of a single day take it, gives one: numpy takes ten times as long for an array of one.
    """
    if isinstance(place, float):
        return int(min(max(0.0, place), last))
    return np.minimum(np.maximum(place, 0.0), last).astype(np.intp)


class _Tabled:
    """A function on an even grid, a straight line between its points and beyond its ends."""

    def __init__(self, values: FloatArray) -> None:
        self.values, self.rises, self.last = values, np.diff(values), values.size - 2.0

    def at(self, place: FloatArray) -> FloatArray:
        """Values at places counted in points from the first."""
        index = cell(place, self.last)
        return self.rises[index] * (place - index) + self.values[index]


class _Integral:
    """The integral of a tabled function: a parabola between the points, whose slope the function is."""

    def __init__(self, slope: _Tabled) -> None:
        self.slopes, self.bends, self.last = slope.values, slope.rises / 2, slope.last
        self.values = np.append(0.0, np.cumsum(slope.values[:-1] + self.bends))

    def plus(self, other: _Tabled) -> "_Integral":
        """The sum with another function on the same grid."""
        both = copy(self)
        both.values, both.slopes = self.values + other.values, self.slopes[:-1] + other.rises
        return both

    def at(self, place: FloatArray) -> FloatArray:
        """Values at places counted in points from the first."""
        index = cell(place, self.last)
        beyond = place - index
        value: FloatArray = (self.bends[index] * beyond + self.slopes[index]) * beyond + self.values[index]
        return value


def _place(temperature_c: FloatArray | float) -> FloatArray:
    return (temperature_c - COLDEST_C) * PER_K  # type: ignore[return-value]


_POINTS_C = np.arange(COLDEST_C, HIGH_C + 1 / PER_K, 1 / PER_K)
_SPECIFIC_HEAT = _Tabled(specific_heat_j_per_kg_k(_POINTS_C))
_LATENT_HEAT = _Tabled(np.interp(_POINTS_C, _POINTS_C[::4], latent_heat_j_per_kg(_POINTS_C[::4])))
_DENSITY = _Tabled(density_kg_per_m3(_POINTS_C))
_GRAVITY = _Tabled(gravity_from_plato(np.arange(0.0, STRONGEST_PLATO, 1 / PER_PLATO)))
_STORED = _Integral(_Tabled(_SPECIFIC_HEAT.values / PER_K))
_STORED.values += enthalpy_j_per_kg(LOW_C) - _STORED.at(_place(LOW_C))
_IN_VAPOUR = _STORED.plus(_LATENT_HEAT)


def quick_specific_heat_j_per_kg_k(temperature_c: FloatArray) -> FloatArray:
    """Specific heat of liquid water [J/kgK], within 1e-8 of `specific_heat_j_per_kg_k` from 0 to 116 °C."""
    return _SPECIFIC_HEAT.at(_place(temperature_c))


def quick_latent_heat_j_per_kg(temperature_c: FloatArray) -> FloatArray:
    """Heat of evaporation [J/kg], within 2e-8 of `latent_heat_j_per_kg` from 0 to 116 °C."""
    return _LATENT_HEAT.at(_place(temperature_c))


def quick_vapour_enthalpy_j_per_kg(temperature_c: FloatArray) -> FloatArray:
    """Enthalpy of saturated vapour [J/kg]: the liquid's and the quick heat of evaporation; ledgers close."""
    return _IN_VAPOUR.at(_place(temperature_c))


def quick_enthalpy_j_per_kg(temperature_c: FloatArray) -> FloatArray:
    """Specific enthalpy of liquid water [J/kg], within 1e-3 J/kg of `enthalpy_j_per_kg` from 0 to 116 °C."""
    return _STORED.at(_place(temperature_c))


def _quick_wort_density_kg_per_m3(temperature_c: FloatArray | float, plato: FloatArray) -> FloatArray:
    """Density of wort [kg/m3], within 1e-8 of `wort_density_kg_per_m3` up to 100 °P."""
    return _GRAVITY.at(plato * PER_PLATO) * _DENSITY.at(_place(temperature_c))


GRAIN_DISPLACES_L_PER_KG = 0.67  # common practice, no source: wet grain takes two thirds of a litre per kg


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contents:
    """Masses in the vessel: water, dissolved extract, grain; and the vessel's own stored heat.

    All are arrays of shape (draws,), in kg, J/kgK and J/K.
    """

    water_kg: FloatArray
    extract_kg: FloatArray
    grain_kg: FloatArray
    grain_j_per_kg_k: FloatArray
    vessel_j_per_k: FloatArray

    def enthalpy_j(self, temperature_c: FloatArray) -> FloatArray:
        """Heat stored at a temperature, counted from 0 °C [J]."""
        liquid_j = self.liquid_kg * quick_enthalpy_j_per_kg(temperature_c)
        less_j = self.extract_kg * extract_lack_j_per_kg(temperature_c)
        return liquid_j - less_j + self.dry_capacity_j_per_k * temperature_c

    def capacity_j_per_k(self, temperature_c: FloatArray) -> FloatArray:
        """Heat capacity at a temperature [J/K]: the slope of `enthalpy_j`."""
        water_j, beside_j = self.specific_heats_j_per_k(temperature_c)
        return self.water_kg * water_j + beside_j

    def specific_heats_j_per_k(self, temperature_c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Specific heat of the water [J/kgK], and heat capacity of all else [J/K], at temperatures (..., draws)."""
        water_j = quick_specific_heat_j_per_kg_k(temperature_c)
        extract_j = water_j - extract_lack_j_per_kg_k(temperature_c)
        return water_j, self.extract_kg * extract_j + self.dry_capacity_j_per_k

    @property
    def dry_capacity_j_per_k(self) -> FloatArray:
        """Heat capacity of grain and vessel [J/K]."""
        return self.grain_kg * self.grain_j_per_kg_k + self.vessel_j_per_k

    @property
    def liquid_kg(self) -> FloatArray:
        """Mass of water and extract [kg]."""
        return self.water_kg + self.extract_kg

    @property
    def plato(self) -> FloatArray:
        """Extract of the liquid [°P]; zero for an empty vessel."""
        return 100.0 * self.extract_kg / np.maximum(self.liquid_kg, 1e-12)

    def liquid_l(self, temperature_c: FloatArray | float) -> FloatArray:
        """Volume of the liquid at a temperature [L]."""
        return 1000.0 * self.liquid_kg / _quick_wort_density_kg_per_m3(temperature_c, self.plato)

    def filled_l(self, temperature_c: FloatArray) -> FloatArray:
        """Volume taken in the vessel at a temperature: liquid and the grain in it [L]."""
        return self.liquid_l(temperature_c) + GRAIN_DISPLACES_L_PER_KG * self.grain_kg

    def of(self, which: Draws | int) -> "Contents":
        """The contents of some of the draws."""
        return Contents(**{name: getattr(self, name)[which] for name in self.__slots__})

    def temperature_c(self, stored_j: FloatArray, guess_c: FloatArray) -> FloatArray:
        """Temperature at which they store some heat [J], sought from a guess [°C] (Newton's way, to 1e-10 K)."""
        alone = guess_c.size == 1
        inside, wanted_j, here_c = (self.of(0), stored_j[0], guess_c[0]) if alone else (self, stored_j, guess_c)
        for _ in range(12):
            step_k = (wanted_j - inside.enthalpy_j(here_c)) / inside.capacity_j_per_k(here_c)
            here_c = here_c + step_k
            if (np.abs(step_k) < 1e-4).all():  # what is left goes with the square of the step
                break
        return np.array([here_c]) if alone else here_c

    def less_water(self, vapour_kg: FloatArray) -> "Contents":
        """The contents after some water has left as vapour."""
        return replace(self, water_kg=self.water_kg - vapour_kg)
