"""The lowest power that was seen to keep a boil, as what it says of the open surface."""

from energyplan.base.errors import BrewDayError
from energyplan.base.kinds import KEY, WATTS
from energyplan.base.sentence import Sentence
from energyplan.day.body import shell_of, surroundings_of
from energyplan.day.supply import heating
from energyplan.physics.vesselloss import dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import boiling_point_c, density_kg_per_m3, latent_heat_j_per_kg
from energyplan.physics.wort import boiling_point_rise_k, plato_from_gravity
from energyplan.plan.model import Plan

__all__ = ["open_surface_factor"]

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
