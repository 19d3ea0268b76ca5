"""What goes into the vessel and out of it: grain, water, wort, each with the heat that it carries."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Contents, solve_temperature_c
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.physics.wort import extract_enthalpy_j_per_kg, slaking_heat_j_per_kg, wort_density_kg_per_m3
from energyplan.plan.model import Action, Addition, Batch

__all__ = ["COLD_C", "Mashing", "changed", "dosed", "strike_temperature_c"]

FloatArray = NDArray[np.float64]
Change = tuple[Contents, FloatArray]

COLD_C = 20.0  # at which volumes are quoted cold


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mashing:
    """What the grain brings: its temperature [°C], shape (draws,), and the extract that dissolves [kg], one or each."""

    grain_c: FloatArray
    extract_kg: float | FloatArray


def changed(contents: Contents, temperature_c: FloatArray, action: Action, batch: Batch, mashing: Mashing) -> Change:
    """Contents after an action, and the heat that it carried in (out: negative) [J].

    Parameters
    ----------
    contents : Contents
        What is in the vessel, at ``temperature_c`` [°C], shape (draws,).
    action : Action
        What is done; grain without a mass is all of the batch's.
    batch : Batch
        Amounts and temperatures. Water is measured at its own temperature, the sparge water cold, before it is
        heated; the wort held by the grain is measured at 20 °C.
    mashing : Mashing
        What the grain brings.
    """
    match action.kind:
        case "add grain":
            return _with_grain(contents, temperature_c, *_portion(batch, mashing, action.mass_kg))
        case "remove grain":
            return _without_grain(contents, temperature_c, batch, action.mass_kg or batch.grain_kg)
        case "empty":
            nothing = np.zeros_like(temperature_c)
            empty = replace(contents, water_kg=nothing, extract_kg=nothing, grain_kg=nothing)
            return empty, empty.enthalpy_j(temperature_c) - contents.enthalpy_j(temperature_c)
        case "add sparge water":
            density = float(density_kg_per_m3(batch.water_temperature_c))
            return _with_water(contents, batch.sparge_water_l / 1000 * density, batch.sparge_temperature_c)
        case "add water":
            density = float(density_kg_per_m3(action.temperature_c))
            return _with_water(contents, action.volume_l / 1000 * density, action.temperature_c)


def _portion(batch: Batch, mashing: Mashing, mass_kg: float) -> tuple[Batch, Mashing]:
    """The batch and what it brings, as far as only some of its grain is meant; 0 means all."""
    if not mass_kg or mass_kg == batch.grain_kg:
        return batch, mashing
    share = mass_kg / batch.grain_kg
    return batch.model_copy(update={"grain_kg": mass_kg}), replace(mashing, extract_kg=mashing.extract_kg * share)


def dosed(contents: Contents, addition: Addition, air_c: FloatArray) -> Change:
    """Contents after an addition with a mass, and the heat that it carried in [J].

    Extract and sugar dissolve; the heat of their dissolving is left out (for sucrose it takes 16 kJ/kg, from memory:
    2 % of what heating it to the boil takes).
    """
    warm_c = np.broadcast_to(air_c if addition.temperature_c is None else addition.temperature_c, air_c.shape)
    mass_kg = addition.mass_kg or 0.0
    if addition.kind == "water":
        return replace(contents, water_kg=contents.water_kg + mass_kg), mass_kg * enthalpy_j_per_kg(warm_c)
    return replace(contents, extract_kg=contents.extract_kg + mass_kg), mass_kg * extract_enthalpy_j_per_kg(warm_c)


def _with_water(contents: Contents, mass_kg: float, water_c: float) -> Change:
    carried_j = np.full_like(contents.water_kg, mass_kg * float(enthalpy_j_per_kg(water_c)))
    return replace(contents, water_kg=contents.water_kg + mass_kg), carried_j


def _with_grain(contents: Contents, temperature_c: FloatArray, batch: Batch, mashing: Mashing) -> Change:
    """Grain brings its heat and the heat of wetting; its extract dissolves at once, at the mash's temperature.

    The published heat of wetting was read on mashes whose extract dissolves, so dissolving changes no temperature here.
    """
    undissolved = _undissolved(contents, batch)
    stored_j = contents.enthalpy_j(temperature_c)
    mash_c = solve_temperature_c(
        undissolved.enthalpy_j, stored_j + _grain_heat_j(contents, batch, mashing), temperature_c
    )
    mash = replace(
        undissolved,
        extract_kg=contents.extract_kg + mashing.extract_kg,
        grain_kg=undissolved.grain_kg - mashing.extract_kg,
    )
    return mash, mash.enthalpy_j(mash_c) - stored_j


def strike_temperature_c(
    contents: Contents, rest_c: FloatArray, batch: Batch, mashing: Mashing, *, mass_kg: float = 0.0
) -> FloatArray:
    """Temperature of the contents [°C] into which the grain must go for the mash to land on a rest [°C].

    ``mass_kg`` is what goes in of the batch's grain [kg]; 0 means all.
    """
    batch, mashing = _portion(batch, mashing, mass_kg)
    wanted_j = _undissolved(contents, batch).enthalpy_j(rest_c) - _grain_heat_j(contents, batch, mashing)
    return solve_temperature_c(contents.enthalpy_j, wanted_j, rest_c)


def _undissolved(contents: Contents, batch: Batch) -> Contents:
    return replace(contents, grain_kg=contents.grain_kg + batch.grain_kg)


def _grain_heat_j(contents: Contents, batch: Batch, mashing: Mashing) -> FloatArray:
    """Heat that the grain brings: its own and that of its wetting [J]."""
    per_kg_j = contents.grain_j_per_kg_k * mashing.grain_c + float(slaking_heat_j_per_kg(batch.grain_moisture))
    return np.asarray(batch.grain_kg * per_kg_j)


def _without_grain(contents: Contents, temperature_c: FloatArray, batch: Batch, grain_kg: float) -> Change:
    """Grain leaves with the wort that it holds; the heat goes with both."""
    held_kg = batch.absorption_l_per_kg * grain_kg / 1000 * wort_density_kg_per_m3(COLD_C, contents.plato)
    stays = 1 - np.minimum(held_kg / np.maximum(contents.liquid_kg, 1e-9), 1.0)
    left = replace(
        contents,
        water_kg=np.asarray(contents.water_kg * stays),
        extract_kg=np.asarray(contents.extract_kg * stays),
        grain_kg=np.zeros_like(temperature_c),
    )
    return left, left.enthalpy_j(temperature_c) - contents.enthalpy_j(temperature_c)
