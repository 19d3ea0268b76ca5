"""Warm water kept from the chiller: the heat that the wort gives off, what a tank keeps of it, what it then saves."""

import math

import numpy as np

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError
from energyplan.base.kinds import CELSIUS, KWH, LITRES, MINUTES, WATTS_PER_KELVIN
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Conditions
from energyplan.day.legs import COLD_C
from energyplan.physics.contents import Contents
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.physics.wort import plato_from_gravity, wort_density_kg_per_m3
from energyplan.plan.model import Action, Plan

__all__ = ["KeptWater", "Reuse", "chilled_kwh", "reuse", "start_c_with", "too_much_heat", "with_warm_cleaning"]

TANK_W_PER_K = 3.0  # a covered tank of about 30 L, bare [our estimate from its size, no source]
PITCH_C = 20.0  # to which wort is chilled (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptWater:
    """Warm water from the chiller in a tank: volume [L], temperature when it is full, and how it cools.

    Parameters
    ----------
    volume_l, temperature_c : float
        What is collected, measured warm.
    wait_s : float
        Until it is used [s].
    tank_w_per_k : float
        Heat loss of the tank [W/K].

    Raises
    ------
    PlanError
        If a number makes no sense.
    """

    volume_l: float
    temperature_c: float
    wait_s: float = 0.0
    tank_w_per_k: float = TANK_W_PER_K

    def __post_init__(self) -> None:
        good = self.volume_l > 0 and 0 < self.temperature_c < 100 and self.wait_s >= 0 and self.tank_w_per_k >= 0
        if not (good and np.isfinite([self.volume_l, self.wait_s, self.tank_w_per_k]).all()):
            raise PlanError(
                Sentence(
                    "kept water: {volume} at {warm} for {wait}, losing {loss}: expected more than nothing between "
                    "{freezing} and {boiling}, and no negative number",
                    volume=LITRES(self.volume_l), warm=CELSIUS(self.temperature_c), wait=MINUTES(self.wait_s / 60),
                    loss=WATTS_PER_KELVIN(self.tank_w_per_k), freezing=CELSIUS(0.0), boiling=CELSIUS(100.0),
                )
            )  # fmt: skip

    @property
    def mass_kg(self) -> float:
        """Mass of the water [kg]."""
        return self.volume_l / 1000 * float(density_kg_per_m3(self.temperature_c))

    def heat_kwh(self, above_c: float) -> float:
        """Heat above a temperature when the tank is full [kWh]."""
        return self.mass_kg * float(enthalpy_j_per_kg(self.temperature_c) - enthalpy_j_per_kg(above_c)) / JOULES_PER_KWH

    def used_c(self, air_c: float) -> float:
        """Temperature when it is used, after cooling towards the air [°C].

        Examples
        --------
        >>> round(KeptWater(volume_l=30.0, temperature_c=55.0, wait_s=7200.0).used_c(15.0), 1)
        48.6
        """
        per_k_j = self.mass_kg * float(enthalpy_j_per_kg(self.temperature_c)) / self.temperature_c
        return air_c + (self.temperature_c - air_c) * math.exp(-self.tank_w_per_k * self.wait_s / per_k_j)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reuse:
    """What kept water is worth.

    ``chilled_kwh`` is the heat that the wort gives off, ``kept_kwh`` what the full tank holds of it above the tap's
    water, ``used_c`` its temperature when it is used. ``cleaning_saved_kwh`` is what the day saves at the meter when
    ``cleaning_l`` of it fill the cleaning (None: the plan cleans with no water of its own); ``strike_saved_kwh`` what
    the next day saves when ``strike_l`` of it are its first water.
    """

    kept: KeptWater
    chilled_kwh: float
    kept_kwh: float
    used_c: float
    cleaning_l: float
    cleaning_saved_kwh: float | None
    strike_l: float
    strike_saved_kwh: float


def chilled_kwh(day: BrewDay, *, to_c: float = PITCH_C) -> float:
    """Heat that the wort gives off between the end of its boil and pitching [kWh].

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> 2.2 < chilled_kwh(simulate(read_plan("demo"))) < 2.5
    True
    """
    boils = [phase for phase in day.phases if phase.phase == "boil"]
    if not boils:
        return 0.0
    plato = plato_from_gravity(day.wort.gravity_end) if day.wort.extract_kg else np.zeros(())
    liquid_kg = day.wort.end_l / 1000 * float(wort_density_kg_per_m3(COLD_C, plato))
    nothing, extract_kg = np.zeros(1), np.array([liquid_kg * float(plato) / 100])
    wort = Contents(
        water_kg=liquid_kg - extract_kg,
        extract_kg=extract_kg,
        grain_kg=nothing,
        grain_j_per_kg_k=nothing,
        vessel_j_per_k=nothing,
    )
    hot_c = np.array([_last_wort_boil_c(day)])
    return float((wort.enthalpy_j(hot_c) - wort.enthalpy_j(np.array([to_c])))[0]) / JOULES_PER_KWH


def _last_wort_boil_c(day: BrewDay) -> float:
    emptied_s = min((event.time_s for event in day.events if event.action == "empty"), default=math.inf)
    boils = [phase for phase in day.phases if phase.phase == "boil"]
    return next((phase.to_c for phase in reversed(boils) if phase.start_s < emptied_s), boils[-1].to_c)


def reuse(day: BrewDay, kept: KeptWater) -> Reuse:
    """Work out what warm water from the chiller saves, for the cleaning and for the next strike.

    Parameters
    ----------
    day : BrewDay
        The day whose wort is chilled.
    kept : KeptWater
        What is collected.

    Raises
    ------
    PlanError
        If the tank holds more heat than the wort gives off, or the water is warmer than the wort.

    Notes
    -----
    Only what displaces heating counts: the cleaning and the next day's ramp are simulated with the water that the tank
    still has, mixed with cold water where it is not enough, and compared with the day as planned. Both saved at once
    would want the water twice: what the cleaning takes is no longer there for the strike.
    """
    plan = day.plan
    tap_c, gives_kwh = plan.batch.water_temperature_c, chilled_kwh(day)
    kept_kwh = kept.heat_kwh(tap_c)
    if kept_kwh > gives_kwh * (1 + 1e-9):
        raise PlanError(too_much_heat(kept, kept_kwh, gives_kwh, tap_c))
    used_c = kept.used_c(plan.site.air_c)
    cleaner, cleaning_l = with_warm_cleaning(plan, kept.volume_l, used_c)
    cleaned = None if cleaner is None else day.energy_kwh - simulate(cleaner, extract=day.wort.extract_kg).energy_kwh
    strike_l = min(kept.volume_l, plan.batch.water_l)
    warm = simulate(plan, Conditions(water_c=start_c_with(plan, strike_l, used_c)), extract=day.wort.extract_kg)
    vessel_kwh = [next(p.energy_kwh for p in one.profiles if p.name == day.profiles[0].name) for one in (day, warm)]
    return Reuse(
        kept=kept,
        chilled_kwh=gives_kwh,
        kept_kwh=kept_kwh,
        used_c=used_c,
        cleaning_l=cleaning_l,
        cleaning_saved_kwh=cleaned,
        strike_l=strike_l,
        strike_saved_kwh=vessel_kwh[0] - vessel_kwh[1],
    )


def too_much_heat(kept: KeptWater, kept_kwh: float, gives_kwh: float, tap_c: float) -> Sentence:
    """That a tank can't hold so much heat of the wort."""
    return Sentence(
        "kept water: {volume} at {warm} hold {kept} above the tap's {tap}, more heat than the wort's {gives}; keep "
        "less, or cooler",
        volume=LITRES(kept.volume_l), warm=CELSIUS(kept.temperature_c), kept=KWH(kept_kwh), tap=CELSIUS(tap_c),
        gives=KWH(gives_kwh),
    )  # fmt: skip


def start_c_with(plan: Plan, warm_l: float, warm_c: float, *, vessel_c: float | None = None) -> float:
    """Temperature of a plan's first water when some of it comes warm, and into a vessel that may be warm too [°C].

    Parameters
    ----------
    plan : Plan
        Its ``[batch] water`` and its temperature are the rest.
    warm_l, warm_c : float
        Warm water, measured warm, at most all of it.
    vessel_c : float, optional
        Temperature of the empty vessel; by default that of the plan's water, so that its steel saves nothing.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> round(start_c_with(read_plan("demo"), 13.6, 52.0), 1)
    31.0
    """
    batch = plan.batch
    whole_kg = batch.water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
    warm_kg = min(warm_l / 1000 * float(density_kg_per_m3(warm_c)), whole_kg)
    heat_j = warm_kg * enthalpy_j_per_kg(warm_c) + (whole_kg - warm_kg) * enthalpy_j_per_kg(batch.water_temperature_c)
    steel_j_per_k = plan.vessel.own_heat_j_per_k
    heat_j = heat_j + steel_j_per_k * (batch.water_temperature_c if vessel_c is None else vessel_c)
    none = np.zeros(1)
    filled = Contents(
        water_kg=none + whole_kg,
        extract_kg=none,
        grain_kg=none,
        grain_j_per_kg_k=none,
        vessel_j_per_k=none + steel_j_per_k,
    )
    return float(filled.temperature_c(none + heat_j, none + batch.water_temperature_c)[0])


def with_warm_cleaning(plan: Plan, warm_l: float, warm_c: float) -> tuple[Plan | None, float]:
    """The plan with its first cleaning filled from a tank, and the litres it takes (None and 0: nothing to fill).

    The rest of the cleaning's water stays as entered; water that is warmer as entered stays too.
    """
    emptied = False
    for place, step in enumerate(plan.steps):
        for number, action in enumerate(step.before):
            emptied = emptied or action.kind == "empty"
            if not (emptied and action.kind == "add water") or action.temperature_c >= warm_c:
                continue
            taken_l = min(warm_l, action.volume_l)
            warm = Action(kind="add water", volume_l=taken_l, temperature_c=warm_c)
            rest = action.model_copy(update={"volume_l": action.volume_l - taken_l})
            filled = (warm, rest) if rest.volume_l > 0 else (warm,)
            before = (*step.before[:number], *filled, *step.before[number + 1 :])
            steps = (*plan.steps[:place], step.model_copy(update={"before": before}), *plan.steps[place + 1 :])
            return plan.model_copy(update={"steps": steps}), taken_l
    return None, 0.0
