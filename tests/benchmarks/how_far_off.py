"""How far off the model is: each outside data set beside it, as a table for the help page on accuracy.

``python -m tests.benchmarks.how_far_off`` rewrites the table between its markers in energyplan/docs/accuracy.md;
with ``--check`` it only says whether the table there is today's. Nothing is typed: each deviation is computed here.
"""

import csv
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from energyplan.day.brewday import simulate
from energyplan.learning.model import Factors, Supply, VesselTables, path_c, tables
from energyplan.physics.conductors import resistance_ohm_per_m
from energyplan.physics.contents import Contents
from energyplan.physics.losses import (
    WATER_EMISSIVITY,
    Plate,
    Surroundings,
    evaporation_kg_per_m2_s,
    natural_convection_w_per_m2_k,
    plate_loss_w_per_m2,
)
from energyplan.physics.vesselloss import Shell, dry_loss_w, whole_part_w
from energyplan.physics.water import (
    boiling_point_c,
    density_kg_per_m3,
    enthalpy_j_per_kg,
    latent_heat_j_per_kg,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
    specific_heat_j_per_kg_k,
)
from energyplan.physics.wort import (
    malt_specific_heat_j_per_kg_k,
    plato_from_gravity,
    slaking_heat_j_per_kg,
    wort_density_kg_per_m3,
)
from energyplan.plan.file import read_plan

FloatArray = NDArray[np.float64]
ROOT = Path(__file__).parent.parent.parent
DATA = ROOT / "tests" / "learning" / "data"
MARKERS = ("<!-- how-far-off:begin -->", "<!-- how-far-off:end -->")

# Heat loss from open water tanks, air 15.6 degC, still: Engineering ToolBox, "Heat Loss from Open Water Tanks",
# converted from Btu/ft2h to W/m2 (read in a published page; its own note calls it rough).
# Water [degC], evaporation, radiation, whole surface, bare painted wall [W/m2].
TANK = np.array([
    [49.0, 1140.0, 350.0, 1480.0, 350.0],
    [60.0, 2080.0, 505.0, 2590.0, 505.0],
    [66.0, 2710.0, 570.0, 3280.0, 570.0],
    [77.0, 4350.0, 740.0, 5100.0, 740.0],
    [82.0, 5490.0, 820.0, 6310.0, 820.0],
    [93.0, 8450.0, 1010.0, 9460.0, 1010.0],
    [99.0, 10200.0, 1140.0, 11360.0, 1140.0],
])  # fmt: skip
TANK_AIR_C = 15.6
# Evaporation from open vessels in dry still air of 18.3 degC: US DOE, steam tip sheet 19 (read in a published page).
OPEN_VESSEL = np.array([[43.3, 1.16], [65.6, 4.31], [87.8, 14.4]])  # degC, kg/m2h
# Two more, read in published pages: a consultant's formula for still finishing tanks, exp(0.03236 T - 7.2) US gallons
# per square foot and hour with T in degF (finishing.com, thread 149/24; air not told, taken as 20 degC, half humid);
# unaerated plating baths, air of 75 degF and 75 % (EPA 625/8-82-008, figure 5, quoted by Products Finishing in 2008).
FINISHING_C = np.array([[60.0, 66.0, 71.0], [77.0, 82.0, 88.0]])
BATHS = np.array([[26.7, 0.017], [82.2, 0.3]])  # degC, gal/ft2h
KG_PER_M2_OF_GAL_PER_FT2 = 3.785412 * 0.998 / 0.09290304
# Thirteen hot-water cylinders, standing loss measured (check tests 2020/21, New Zealand, as tabulated in
# jim-lutz/model_review, Table7, commit 721ed48). Outer diameter and height [m], jacket on side and ends [mm], water
# above air [K], kWh in 24 h. Thicknesses were inferred there from size and volume; 0.025 W/mK. The first two carry
# eight and a half pipe fittings each.
CYLINDERS = np.array([
    [0.615, 1.78, 65, 76, 55.6, 3.00], [0.615, 1.78, 65, 76, 55.0, 3.13], [0.475, 1.72, 48, 56, 55.0, 2.02],
    [0.488, 1.77, 56, 68, 55.0, 1.97], [0.56, 0.955, 53, 58, 55.6, 1.56], [0.56, 0.955, 53, 58, 55.0, 1.53],
    [0.58, 1.82, 53, 59, 55.0, 2.69], [0.55, 1.015, 55, 61, 55.6, 1.34], [0.55, 1.295, 53, 60, 55.0, 1.93],
    [0.55, 1.295, 53, 60, 55.6, 1.97], [0.58, 1.935, 59, 69, 55.0, 2.30], [0.61, 1.68, 56, 64, 55.0, 2.42],
    [0.492, 1.697, 54, 65, 55.0, 1.85],
])  # fmt: skip
CYLINDER_FITTINGS = 1.4
# A bare pot with its lid on at 221.6 W (EngOtiato/temperature-control, commit 25f0353; power and 1.27 kJ/K of the pot
# follow from its five volumes): litres, minutes from 30 to 85 degC of three runs each; and 2 L every five minutes.
POT_MIN = {1.0: (35.2, 33.9, 33.0), 2.0: (58.1, 58.5, 58.2), 3.0: (81.4, 80.8, 82.3)}
POT_C = np.array([
    23.4, 26.5, 32.6, 39.3, 45.1, 50.5, 55.6, 60.4, 65.0, 69.3, 73.2, 77.3, 80.9, 84.3, 87.5, 90.6, 93.8, 96.6
])  # fmt: skip
POT_W, POT_J_PER_K, POT_AIR_C = 221.6, 1270.0, 23.5


@dataclass(frozen=True, slots=True, kw_only=True)
class MugFit:
    """Factors on walls and open surface, air [°C], and what is left: root mean square and largest [K]."""

    walls: float
    open_surface: float
    air_c: float
    rmse_k: float
    largest_k: float


def _mug_tables(air_c: float) -> VesselTables:
    """A cylinder of 8 cm by 9 cm with 4 mm of stoneware (1.5 W/mK) and 0.3 L of water: assumed, not described."""
    none = np.zeros(1)
    shell = Shell(
        diameter_m=0.08,
        height_m=0.09,
        emissivity=0.9,
        jacket_m=0.004,
        jacket_w_per_m_k=1.5,
        jacketed=frozenset({"side"}),
    )
    water = Contents(
        water_kg=none + 0.3, extract_kg=none, grain_kg=none, grain_j_per_kg_k=none, vessel_j_per_k=none + 0.0
    )
    around = Surroundings(air_c=air_c, radiant_c=air_c, humidity_frac=0.5, pressure_pa=101_325.0)
    return tables(around, shell, "off", water, low_c=10.0, high_c=100.0)


def mug(data: Mapping[str, FloatArray]) -> MugFit:
    """Fit the mug with three factors: walls, open surface, air. It starts from its first reading."""
    from scipy.optimize import least_squares

    times_s, measured_c = 60 * data["time"], data["temperature_c"]
    still = Supply(element_w=np.zeros(times_s.size - 1), pump_w=np.zeros(times_s.size - 1))
    one = np.ones(1)

    def left(x: FloatArray) -> FloatArray:
        factors = Factors(
            loss=np.array([x[0]]),
            bend=0 * one,
            apart_k=0 * one,
            stored_heat=one,
            power=one,
            open_surface=np.array([x[1]]),
        )
        path = path_c(measured_c[:1], times_s, still, _mug_tables(float(x[2])), factors)
        return np.asarray(path[:, 0] - measured_c)

    solved = least_squares(left, np.array([0.5, 1.0, 22.0]), x_scale=(0.2, 0.2, 1.0), diff_step=1e-4)
    return MugFit(
        walls=float(solved.x[0]),
        open_surface=float(solved.x[1]),
        air_c=float(solved.x[2]),
        rmse_k=float(np.sqrt(np.mean(solved.fun**2))),
        largest_k=float(np.abs(solved.fun).max()),
    )


def data(name: str) -> dict[str, FloatArray]:
    """Columns of a file of outside measurements."""
    with (DATA / f"{name}.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


def tank_ratios(humidity_frac: float = 0.5) -> dict[str, FloatArray]:
    """Model over published table for each temperature of the open tanks: evaporation, other, whole surface, wall.

    The table's column "radiation" is larger than a black body gives: it is taken as all that isn't evaporation.
    """
    around = Surroundings(air_c=TANK_AIR_C, radiant_c=TANK_AIR_C, humidity_frac=humidity_frac, pressure_pa=101_325.0)
    water_c = TANK[:, 0]
    evaporation = evaporation_kg_per_m2_s(water_c, around, 1.0) * latent_heat_j_per_kg(water_c)
    other = plate_loss_w_per_m2(water_c, around, Plate(facing="up", length_m=0.25, emissivity=WATER_EMISSIVITY))
    wall = plate_loss_w_per_m2(water_c, around, Plate(facing="sideways", length_m=1.0, emissivity=0.9))
    return {
        "evaporation": evaporation / TANK[:, 1],
        "other": other / TANK[:, 2],
        "surface": (evaporation + other) / TANK[:, 3],
        "wall": wall / TANK[:, 4],
    }


def open_vessel_ratios() -> FloatArray:
    """Model over published evaporation from open vessels in dry still air."""
    around = Surroundings(air_c=18.3, radiant_c=18.3, humidity_frac=0.0, pressure_pa=101_325.0)
    return np.asarray(3600 * evaporation_kg_per_m2_s(OPEN_VESSEL[:, 0], around, 1.0) / OPEN_VESSEL[:, 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table: what, against which source, over which range, mean and largest deviation as text."""

    what: str
    source: str
    over: str
    mean: str
    largest: str

    def __str__(self) -> str:
        return f"| {self.what} | {self.source} | {self.over} | {self.mean} | {self.largest} |"


def shares(what: str, source: str, over: str, ratios: FloatArray) -> Row:
    """Deviations as a share: mean with its sign, largest without."""
    off = np.asarray(ratios) - 1
    return Row(what=what, source=source, over=over, mean=_percent(off.mean()), largest=_percent(np.abs(off).max(), ""))


def kelvins(what: str, source: str, over: str, off_k: FloatArray) -> Row:
    """Deviations in kelvin: mean with its sign, largest without."""
    off = np.asarray(off_k)
    return Row(
        what=what,
        source=source,
        over=over,
        mean=f"{round(float(off.mean()), 2) + 0.0:+.2f} K",
        largest=f"{np.abs(off).max():.2f} K",
    )


def _percent(share: float, sign: str = "+") -> str:
    digits = 3 if abs(share) < 1e-4 else 2 if abs(share) < 1e-2 else 1 if abs(share) < 0.1 else 0
    return f"{round(100 * share, digits) + 0.0:{sign}.{digits}f} %"


def water_rows() -> Iterator[Row]:
    """Properties of water against IAPWS-95 as computed by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    source, liquid_c, range_c = "IAPWS-95 (library CoolProp)", np.linspace(1.0, 99.0, 50), "1-99 °C"
    boiling_c = np.linspace(5.0, 105.0, 51)
    kelvin = boiling_c + 273.15
    pressure = saturation_pressure_pa(boiling_c) / PropsSI("P", "T", kelvin, "Q", 0, "Water")
    yield shares("Saturation pressure of water", source, "5-105 °C", pressure)
    density = density_kg_per_m3(liquid_c) / PropsSI("D", "T", liquid_c + 273.15, "P", 101_325, "Water")
    yield shares("Density of water", source, range_c, density)
    heat = specific_heat_j_per_kg_k(liquid_c) / PropsSI("C", "T", liquid_c + 273.15, "P", 101_325, "Water")
    yield shares("Specific heat of water", source, range_c, heat)
    latent = PropsSI("H", "T", kelvin, "Q", 1, "Water") - PropsSI("H", "T", kelvin, "Q", 0, "Water")
    yield shares("Heat of evaporation", source, "5-105 °C", latent_heat_j_per_kg(boiling_c) / latent)
    heights_m = np.linspace(0.0, 3000.0, 13)
    reference_c = PropsSI("T", "P", pressure_at_altitude_pa(heights_m), "Q", 0, "Water") - 273.15
    ours_c = boiling_point_c(pressure_at_altitude_pa(heights_m))
    yield kelvins("Boiling point by altitude", f"{source} at the standard atmosphere", "0-3000 m", ours_c - reference_c)


def forbes_row() -> Row:
    """Boiling points measured in the Alps and in Scotland."""
    forbes = data("forbes")
    off_k = boiling_point_c(forbes["pressure_inhg"] * 3386.389) - (forbes["boiling_point_f"] - 32) / 1.8
    ordered = np.sort(np.abs(off_k))
    return Row(
        what="Boiling point by pressure",
        source="Forbes 1857, 17 measurements (data set `forbes` of the package MASS)",
        over="90.2-100.1 °C",
        mean=f"{off_k.mean():+.2f} K",
        largest=f"{ordered[-1]:.2f} K in one reading, {ordered[-2]:.2f} K in the others",
    )


def convection_rows() -> Iterator[Row]:
    """Natural convection and radiation of wall, lid and base against the library ht on CoolProp's air."""
    names = {"sideways": "Bare wall", "up": "Lid", "down": "Base"}
    for facing, name in names.items():
        states = product((30.0, 50.0, 66.0, 78.0, 105.0), (0.0, 15.0, 28.0, 40.0), (0.2, 0.4, 0.6))
        ratios = [_against_ht(facing, *state) for state in states if state[0] - state[1] > 1]
        yield shares(f"{name}, convection", "library ht", "30-105 °C, air 0-40 °C, 0.2-0.6 m", np.array(ratios))


def _against_ht(facing: str, surface_c: float, air_c: float, size_m: float) -> float:
    from CoolProp.CoolProp import PropsSI
    from fluids.core import Grashof
    from ht.conv_free_immersed import Nu_horizontal_plate_McAdams, Nu_vertical_plate_Churchill

    film_k = (surface_c + air_c) / 2 + 273.15
    state = ("T", film_k, "P", 101_325, "Air")
    length_m = size_m if facing == "sideways" else size_m / 4
    viscosity, prandtl = PropsSI("V", *state) / PropsSI("D", *state), PropsSI("PRANDTL", *state)
    grashof = Grashof(L=length_m, beta=1 / film_k, T1=surface_c, T2=air_c, nu=viscosity, g=9.80665)
    if facing == "sideways":
        nusselt = Nu_vertical_plate_Churchill(prandtl, grashof)
    else:
        nusselt = Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=facing == "up")
    around = Surroundings(air_c=air_c, radiant_c=air_c, humidity_frac=0.5, pressure_pa=101_325.0)
    plate = Plate(facing=facing, length_m=length_m, emissivity=0.25)  # type: ignore[arg-type]
    reference = nusselt * PropsSI("L", *state) / length_m
    return float(natural_convection_w_per_m2_k(surface_c, around, plate)) / reference


def tank_rows() -> Iterator[Row]:
    """The published table of hot open tanks, in two ranges, and the tip sheet on open vessels."""
    source, ratios = "Engineering ToolBox, heat loss from open water tanks", tank_ratios()
    below = TANK[:, 0] < 70
    for name, key in (("Evaporation from an open tank", "evaporation"), ("Whole open surface", "surface")):
        yield shares(name, source, "49-66 °C", ratios[key][below])
        yield shares(name, source, "77-99 °C", ratios[key][~below])
    yield shares("Painted tank wall", source, "49-99 °C", ratios["wall"])
    sheet, ratios = "US DOE, steam tip sheet 19", open_vessel_ratios()
    yield shares("Evaporation from an open vessel", sheet, "43-66 °C", ratios[:2])
    yield shares("Evaporation from an open vessel", sheet, "88 °C", ratios[2:])
    for here_c, ratios in zip(FINISHING_C, still_tank_ratios(), strict=True):
        over = f"{here_c[0]:.0f}-{here_c[-1]:.0f} °C"
        yield shares("Evaporation from a still tank", "a formula of the finishing trade (finishing.com)", over, ratios)
    bath = "EPA 625/8-82-008, figure 5 (second-hand)"
    yield shares("Evaporation from a plating bath", bath, "82 °C", bath_ratios()[1:])


def still_tank_ratios() -> FloatArray:
    """Model over the formula for still tanks, below and above 77 °C."""
    around = Surroundings(air_c=20.0, radiant_c=20.0, humidity_frac=0.5, pressure_pa=101_325.0)
    published = KG_PER_M2_OF_GAL_PER_FT2 * np.exp(0.03236 * (1.8 * FINISHING_C + 32) - 7.2)
    return 3600 * evaporation_kg_per_m2_s(FINISHING_C, around, 1.0) / published


def bath_ratios() -> FloatArray:
    """Model over the published evaporation of plating baths."""
    around = Surroundings(air_c=23.9, radiant_c=23.9, humidity_frac=0.75, pressure_pa=101_325.0)
    return 3600 * evaporation_kg_per_m2_s(BATHS[:, 0], around, 1.0) / (KG_PER_M2_OF_GAL_PER_FT2 * BATHS[:, 1])


def cylinder_ratios() -> FloatArray:
    """Model over measured standing loss of each cylinder."""
    ratios = []
    for wide_m, high_m, side_mm, ends_mm, lift_k, kwh in CYLINDERS:
        around = Surroundings(air_c=20.0, radiant_c=20.0, humidity_frac=0.5, pressure_pa=101_325.0)
        bodies = {
            part: Shell(
                diameter_m=wide_m - side_mm / 500,
                height_m=high_m - ends_mm / 500,
                emissivity=0.9,
                jacket_m=thick_mm / 1000,
                jacket_w_per_m_k=0.025,
                jacketed=frozenset({"side", "base", "lid"}),
            )
            for part, thick_mm in (("side", side_mm), ("base", ends_mm), ("lid", ends_mm))
        }
        loss_w = sum(
            float(whole_part_w(part, np.asarray(20.0 + lift_k), around, body))  # type: ignore[arg-type]
            for part, body in bodies.items()
        )
        ratios.append(CYLINDER_FITTINGS * loss_w * 24 / 1000 / kwh)
    return np.array(ratios)


POT_GRID_C = np.arange(20.0, 97.01, 0.5)


def pot_min(litres: float, factor: float, power_w: float, pot_j_per_k: float, *, as_hot: bool = False) -> FloatArray:
    """Minutes at which the pot passes the temperatures of the grid, with a factor on its loss.

    The pot is taken as 20 cm wide and 18 cm high, which nobody tells. ``as_hot`` takes its whole wall to be as hot as
    the water, whatever the level.
    """
    pot = Shell(diameter_m=0.20, height_m=0.18, emissivity=0.25, fittings=factor)
    around = Surroundings(air_c=POT_AIR_C, radiant_c=POT_AIR_C, humidity_frac=0.5, pressure_pa=101_325.0)
    loss_w = dry_loss_w(POT_GRID_C, around, pot, "on", 1.0 if as_hot else litres / pot.volume_l)
    capacity = litres * 0.998 * specific_heat_j_per_kg_k(POT_GRID_C) + pot_j_per_k
    per_k_min = capacity / (power_w - loss_w) / 60
    return np.concatenate([[0.0], np.cumsum((per_k_min[1:] + per_k_min[:-1]) / 2 * np.diff(POT_GRID_C))])


def pot_ratios(factor: float, power_w: float, pot_j_per_k: float, *, as_hot: bool = False) -> FloatArray:
    """Modelled over measured minutes from 30 to 85 °C, nine runs."""
    ratios = []
    for litres, minutes in POT_MIN.items():
        passed_min = pot_min(litres, factor, power_w, pot_j_per_k, as_hot=as_hot)
        begin_min, end_min = np.interp([30.0, 85.0], POT_GRID_C, passed_min)
        ratios += [(end_min - begin_min) / measured for measured in minutes]
    return np.array(ratios)


def pot_fitted(*, all_three: bool, as_hot: bool = False) -> FloatArray:
    """Factor on the loss, power [W] and heat of the pot [J/K] that fit best.

    The factor alone by the run of 2 L, with power and heat as they were inferred; or all three by all runs.
    """
    from scipy.optimize import least_squares

    def scaled(x: FloatArray) -> FloatArray:
        more = x[1:] if all_three else np.ones(2)
        return np.array([x[0], POT_W * more[0], POT_J_PER_K * more[1]])

    def misses(x: FloatArray) -> FloatArray:
        given = tuple(scaled(x))
        passed_min = np.interp(POT_C, POT_GRID_C, pot_min(2.0, *given, as_hot=as_hot))
        run = (passed_min - passed_min[0] - 5.0 * np.arange(POT_C.size)) / 60
        return np.concatenate([run, pot_ratios(*given, as_hot=as_hot) - 1]) if all_three else run

    return scaled(least_squares(misses, np.ones(3 if all_three else 1)).x)


def vessel_rows() -> Iterator[Row]:
    """Measured vessels: jacketed cylinders and a bare pot."""
    source = "check tests 2020/21, New Zealand (model_review, Table7)"
    ratios = cylinder_ratios()
    yield shares(f"Jacketed cylinders, `fittings` {CYLINDER_FITTINGS}", source, "13 vessels, 135-300 L, 75 °C", ratios)
    yield shares("The same without the two with 8.5 pipe fittings", source, "11 vessels", ratios[2:])
    pot = "EngOtiato/temperature-control (loss fitted to one run of 2 L)"
    what = "A bare pot with its lid on, time from 30 to 85 °C"
    yield shares(what, pot, "9 runs, 1-3 L", pot_ratios(*pot_fitted(all_three=False)))
    pot = "the same, its power and own heat fitted too: neither was metered"
    yield shares(what, pot, "9 runs, 1-3 L", pot_ratios(*pot_fitted(all_three=True)))


def mug_row() -> Row:
    """The mug, fitted with three factors."""
    fit = mug(data("mug"))
    return Row(
        what="A mug of water cooling, three factors fitted (walls, open surface, air)",
        source="data set `CoolingWater` (S. Wagon; package mosaicData), 222 readings",
        over="98-26 °C",
        mean=f"{fit.rmse_k:.2f} K (root mean square)",
        largest=f"{fit.largest_k:.2f} K",
    )


def _wort_j_per_k(temperature_c: FloatArray) -> FloatArray:
    """Heat capacity of a kilogram of wort of 12 °P, as the contents of a vessel have it [J/K]."""
    none, share = np.zeros(1), np.array([0.12])
    wort = Contents(water_kg=1 - share, extract_kg=share, grain_kg=none, grain_j_per_kg_k=none, vessel_j_per_k=none)
    return wort.capacity_j_per_k(temperature_c)


def wort_rows() -> Iterator[Row]:
    """Published values of wort and malt."""
    cubic = np.array([[1.040, 9.994], [1.050, 12.388], [1.060, 14.741], [1.080, 19.331]])
    extract = plato_from_gravity(cubic[:, 0]) / cubic[:, 1]
    yield shares("Extract by gravity", "ASBC cubic", "1.040-1.080", extract)
    sugar = np.array([[20.0, 1046.44], [66.0, 1026.71], [80.0, 1018.29]])
    density = wort_density_kg_per_m3(sugar[:, 0], 12.0) / sugar[:, 1]
    yield shares("Density of wort, 12 °P", "ICUMSA SPS-4", "20-80 °C", density)
    heat = np.array([[20.0, 3904.0], [60.0, 3940.0], [80.0, 3958.0]])
    specific = _wort_j_per_k(heat[:, 0]) / heat[:, 1]
    yield shares(
        "Specific heat of wort, 12 °P", "Bubnik, Sugar Technologists Manual (from memory)", "20-80 °C", specific
    )
    # The handbook's example, of malt at 27 °C with 2 % moisture and 2.68 L/kg of liquor at 69 °C, by our own heats.
    malt_j, liquor_j = float(malt_specific_heat_j_per_kg_k(0.02)), 2.68 * 4187.0
    mash_c = (malt_j * 27.0 + liquor_j * 69.0 + float(slaking_heat_j_per_kg(0.02))) / (malt_j + liquor_j)
    source = "Pauls & Whites Brewing Room Book 1984/85 (whose slaking heats the model uses)"
    yield kelvins("Mash temperature from malt and liquor", source, "one example", np.array([mash_c - 65.96]))


def energy_rows() -> Iterator[Row]:
    """Published energies."""
    wort_kg = 100 / 1000 * float(wort_density_kg_per_m3(20.0, 12.0))
    wort_j = wort_kg * float(_wort_j_per_k(np.array([86.0]))[0]) * 28 + 8 * float(latent_heat_j_per_kg(100.0))
    source = "Brauwelt 2001: 29.7 MJ/hl"
    yield shares("Boiling 1 hl of wort from 72 °C with 8 kg of steam", source, "one value", np.array([wort_j / 29.7e6]))
    water_j = 25 * float(enthalpy_j_per_kg(66.0) - enthalpy_j_per_kg(10.0))
    yield shares(
        "25 kg of water from 10 to 66 °C", "CoolProp: 1.6267 kWh", "one value", np.array([water_j / 5.85612e6])
    )
    day = simulate(read_plan("demo"))
    emptied = next(step.name for step in day.plan.steps if any(action.kind == "empty" for action in step.before))
    brewing_kwh = sum(phase.energy_j for phase in day.phases if phase.step != emptied) / 3.6e6
    source = "common practice, no source: 4-7 kWh for 20-25 L"
    yield Row(
        what="A whole day before cleaning", source=source, over="demo plan", mean=f"{brewing_kwh:.1f} kWh", largest=""
    )


def cable_row() -> Row:
    """Voltage drop of two-core cable, warm."""
    table = np.array([[1.5, 29.0], [2.5, 18.0], [4.0, 11.0], [6.0, 7.3], [10.0, 4.4]])
    ours = np.array([2000 * resistance_ohm_per_m(size, 70.0) for size in table[:, 0]])
    return shares("Voltage drop of cable, 70 °C", "BS 7671, mV/A/m, two-core", "1.5-10 mm²", ours / table[:, 1])


def how_far_off() -> str:
    """The whole table as markdown."""
    rows = [
        *water_rows(), forbes_row(), *wort_rows(), *convection_rows(), *tank_rows(), *vessel_rows(), mug_row(),
        *energy_rows(), cable_row(),
    ]  # fmt: skip
    head = "| What | Against | Over | Mean deviation | Largest |\n| --- | --- | --- | --- | --- |"
    return "\n".join([head, *map(str, rows)])


def rewritten(page: str) -> str:
    """The page with the table between its markers made anew.

    Raises
    ------
    ValueError
        If the page has no such markers.
    """
    begin, end = map(re.escape, MARKERS)
    if not re.search(f"{begin}.*?{end}", page, re.DOTALL):
        raise ValueError(
            f"accuracy.md has no part between {MARKERS[0]} and {MARKERS[1]}; put the two lines where it goes"
        )
    table = f"{MARKERS[0]}\n{how_far_off()}\n{MARKERS[1]}"
    return re.sub(f"{begin}.*?{end}", lambda _: table, page, flags=re.DOTALL)


def main(arguments: list[str]) -> int:
    """Rewrite the page, or with ``--check`` say whether it is today's."""
    file = ROOT / "energyplan" / "docs" / "accuracy.md"
    page = file.read_text(encoding="utf-8")
    new = rewritten(page)
    if "--check" in arguments:
        sys.stdout.write("the table is today's\n" if new == page else "the table has changed: run without --check\n")
        return int(new != page)
    file.write_text(new, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
