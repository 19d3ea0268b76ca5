"""Vessel and place as the loss model sees them, and what a least boil seen says of the open surface."""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from energyplan.base.errors import BrewDayError
from energyplan.base.kinds import CELSIUS, KEY, WATTS
from energyplan.base.sentence import Sentence
from energyplan.day.supply import heating
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import Part, Shell, dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import boiling_point_c, density_kg_per_m3, latent_heat_j_per_kg, pressure_at_altitude_pa
from energyplan.physics.wort import boiling_point_rise_k, plato_from_gravity
from energyplan.plan.model import Plan

__all__ = ["heat_loss_w_per_k", "open_surface_factor", "shell_of", "surroundings_of"]

MASH_C = 66.0  # a usual mash temperature (common practice, no source), at which a loss is told


def shell_of(plan: Plan, loss_factor: ArrayLike = 1.0, open_surface_factor: ArrayLike = 1.0) -> Shell:
    """Describe the plan's vessel to the loss model; the factors scale its closed surfaces and its evaporation."""
    vessel = plan.vessel
    factor = np.asarray(loss_factor, dtype=float)
    measured, measured_at_l = vessel.heat_loss_w_per_k, vessel.measured_at_l
    covered: frozenset[Part] = frozenset(vessel.jacket_covers)
    shell = Shell(
        diameter_m=vessel.diameter_m,
        height_m=vessel.height_m,
        emissivity=vessel.bare_emissivity,
        jacket_emissivity=vessel.outer_emissivity,
        jacket_m=vessel.jacket_thickness_m or 0.0,
        jacket_w_per_m_k=vessel.jacket_conductivity_w_per_m_k,
        jacketed=covered,
        fittings=vessel.fittings * factor,
        heat_loss_w_per_k=None if measured is None else measured * factor,
        ajar_open_frac=vessel.lid_ajar_open,
        open_surface_factor=open_surface_factor,
    )
    if measured_at_l is None:
        return shell
    return replace(shell, measured_wet_frac=min(measured_at_l / shell.volume_l, 1.0))


def surroundings_of(plan: Plan, air_c: ArrayLike | None = None) -> Surroundings:
    """Describe the plan's place to the loss model, with another air temperature [°C] if given."""
    site = plan.site
    air = site.air_c if air_c is None else air_c
    return Surroundings(
        air_c=air,
        radiant_c=air if site.surroundings_c is None else site.surroundings_c,
        humidity_frac=site.humidity,
        pressure_pa=pressure_at_altitude_pa(site.altitude_m),
        draught_m_per_s=site.draught_m_per_s,
    )


def heat_loss_w_per_k(plan: Plan, at_c: float = MASH_C) -> float:
    """Heat loss of the plan's vessel with the lid on, per kelvin above the air: measured, or estimated when full [W/K].

    Raises
    ------
    BrewDayError
        If the temperature is not above the air's.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> 3.0 < heat_loss_w_per_k(read_plan("demo")) < 5.0
    True
    """
    warmer_k = at_c - plan.site.air_c
    if warmer_k <= 0:
        message = Sentence(
            "at {at} nothing is lost to air of {air}; name a higher one", at=CELSIUS(at_c), air=CELSIUS(plan.site.air_c)
        )
        raise BrewDayError(message)
    return float(dry_loss_w(at_c, surroundings_of(plan), shell_of(plan), "on", 1.0)) / warmer_k


EXTRACT_L_PER_KG = 0.62  # what dissolved sugar adds to the volume (from memory)


LEAST_FACTOR = 0.1  # of the modelled evaporation: less than that is no open surface


def open_surface_factor(plan: Plan) -> float:
    """Real over modelled evaporation at the boil, by the lowest power seen to keep it; 1 where none was seen.

    Raises
    ------
    BrewDayError
        If that power is hardly more than what the vessel loses without any vapour.

    Notes
    -----
    ``[vessel] least_boil`` was seen with the lid off, as brewed: the heat that it gives is the dry loss at the boiling
    point plus the latent heat of what the surface evaporates. The level is that of all water and sparge water less
    what the grain keeps, hot, with the extract of the planned gravity; two per cent of the vessel more or less change
    the power by half a per cent.
    """
    least_w = plan.vessel.least_boil_w
    if least_w is None:
        return 1.0
    shell, around = shell_of(plan), surroundings_of(plan)
    plato = float(plato_from_gravity(plan.batch.gravity or 1.0))
    boiling_c = float(boiling_point_c(around.pressure_pa)) + float(boiling_point_rise_k(plato))
    wetted = min(_before_the_boil_l(plan, boiling_c, plato) / shell.volume_l, 1.0)
    heat_w = float(heating(plan, least_w, voltage_v=plan.voltage_v, element_factor=1.0).most_w)
    dry_w = float(dry_loss_w(boiling_c, around, shell, "off", wetted))
    vapour_w = float(vapour_kg_per_s(boiling_c, around, shell, "off") * latent_heat_j_per_kg(boiling_c))
    factor = (heat_w - dry_w) / vapour_w
    if factor < LEAST_FACTOR:
        raise BrewDayError(
            Sentence(
                "{key}: {least} hardly covers the {dry} that the vessel loses at the boil without any vapour. It is "
                "the lowest power that kept an open boil rolling, lid off.",
                key=KEY("vessel.least_boil"),
                least=WATTS(least_w),
                dry=WATTS(dry_w),
            )
        )
    return factor


def _before_the_boil_l(plan: Plan, boiling_c: float, plato: float) -> float:
    """About what is in the vessel as it comes to the boil [L]."""
    batch = plan.batch
    done = {action.kind for step in plan.steps for action in step.before}
    cold_l = batch.water_l + (batch.sparge_water_l if "add sparge water" in done else 0.0)
    cold_l -= batch.absorption_l_per_kg * batch.grain_kg if "remove grain" in done else 0.0
    expanded = float(density_kg_per_m3(batch.water_temperature_c) / density_kg_per_m3(min(boiling_c, 100.0)))
    dissolved = 1 + EXTRACT_L_PER_KG * plato / (100 - plato)
    return max(cold_l, 0.0) * expanded * dissolved
