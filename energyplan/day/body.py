"""The plan's vessel and place as the loss model sees them."""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from energyplan.base.errors import BrewDayError
from energyplan.base.kinds import CELSIUS
from energyplan.base.sentence import Sentence
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import Part, Shell, dry_loss_w
from energyplan.physics.water import pressure_at_altitude_pa
from energyplan.plan.model import Plan

__all__ = ["heat_loss_w_per_k", "shell_of", "surroundings_of"]

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
