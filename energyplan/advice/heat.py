"""What becomes of a day's heat: the room, hour by hour; the chiller's warm water, kept in a tank and used again."""

import math
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError
from energyplan.base.kinds import CELSIUS, KWH, LITRES, MINUTES, WATTS_PER_KELVIN
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, Phase, simulate
from energyplan.day.course import Conditions
from energyplan.day.legs import COLD_C
from energyplan.day.supply import VESSEL
from energyplan.physics.contents import Contents
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg, saturation_pressure_pa
from energyplan.physics.wort import plato_from_gravity, wort_density_kg_per_m3
from energyplan.plan.model import Action, Plan
from energyplan.tariffs.clock import to_local

__all__ = [
    "KeptWater",
    "Reuse",
    "Room",
    "RoomHour",
    "chilled_kwh",
    "reuse",
    "room",
    "start_c_with",
    "too_much_heat",
    "with_warm_cleaning",
]

FloatArray = NDArray[np.float64]
EVEN_FRAC = 0.1  # weights that cancel to less than this share of themselves say nothing: the phase is spread evenly
MOST_HOURS, EVERY_H = 24, (1, 2, 3, 6, 12, 24)  # a day of more hours is told by every second, third … hour
POINTS = 32  # of a phase, where its temperature changes


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomHour:
    """What goes into the room in one hour of the clock, or the part of it that the day takes.

    ``heat_kwh`` leaves the vessel's surface; ``appliances_kwh`` is the heat of pump, leads, electronics and the second
    heater itself; ``vapour_kwh`` goes with ``steam_kg``, counted from liquid water at 0 °C, and warms the room only
    where the steam condenses.
    """

    begins: datetime
    ends: datetime
    heat_kwh: float
    appliances_kwh: float
    vapour_kwh: float
    steam_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """All of it by the hour, its sums, and the energy that goes elsewhere.

    ``stands`` says that a pause before the vessel is emptied counts as standing wort, though it may be chilled.
    ``elsewhere_kwh`` is what of the day's electricity leaves with wort, grain and water or is still in the vessel at
    the end, net of the heat that water and grain bring in.
    """

    hours: tuple[RoomHour, ...]
    heat_kwh: float
    appliances_kwh: float
    vapour_kwh: float
    steam_kg: float
    elsewhere_kwh: float
    stands: bool

    @property
    def steamiest(self) -> RoomHour:
        """The hour with the most steam."""
        return max(self.hours, key=lambda hour: hour.steam_kg)


def room(day: BrewDay, start: datetime, zone: str) -> Room:
    """Work out what a day puts into the room, by the hours of the local clock.

    Parameters
    ----------
    day : BrewDay
        The day.
    start : datetime
        Start of the day, with its offset from UTC.
    zone : str
        IANA name of the clock whose hours are counted.

    Notes
    -----
    Every kWh put in ends in the room, but for what leaves with wort, grain and drained water. The sums of heat and
    vapour are those of the day's ledger. Within a ramp or a pause the dry loss is spread over time in proportion to
    the temperature above the air, and the vapour to the saturation pressure; holds and boils are even. A chiller is not
    in the model: wort that is chilled gives the room less than the model's pause, in which it stands and cools.
    """
    first_s = min(0.0, *(float(profile.edges_s[0]) for profile in day.profiles))
    edges_s = _hour_edges_s(start, zone, first_s, day.duration_s)
    heat_j, vapour_j, steam_kg = np.zeros((3, edges_s.size - 1))
    for phase in day.phases:
        heat_j += phase.heat_lost_j * _shares(day, phase, edges_s, of_vapour=False)
        of_vapour = _shares(day, phase, edges_s, of_vapour=True)
        vapour_j += phase.vapour_j * of_vapour
        steam_kg += phase.evaporated_kg * of_vapour
    appliances_j = _appliances_j(day, edges_s)
    into_j = float(heat_j.sum() + vapour_j.sum() + appliances_j.sum())
    moments = [(start + timedelta(seconds=float(edge_s))) for edge_s in edges_s]
    return Room(
        hours=tuple(
            RoomHour(
                begins=begins,
                ends=ends,
                heat_kwh=float(heat_j[place]) / JOULES_PER_KWH,
                appliances_kwh=float(appliances_j[place]) / JOULES_PER_KWH,
                vapour_kwh=float(vapour_j[place]) / JOULES_PER_KWH,
                steam_kg=float(steam_kg[place]),
            )
            for place, (begins, ends) in enumerate(pairwise(moments))
        ),
        heat_kwh=float(heat_j.sum()) / JOULES_PER_KWH,
        appliances_kwh=float(appliances_j.sum()) / JOULES_PER_KWH,
        vapour_kwh=float(vapour_j.sum()) / JOULES_PER_KWH,
        steam_kg=float(steam_kg.sum()),
        elsewhere_kwh=day.energy_kwh - into_j / JOULES_PER_KWH,
        stands=_stands(day),
    )


def _hour_edges_s(start: datetime, zone: str, first_s: float, last_s: float) -> FloatArray:
    """Full hours of the local clock within the day, with its ends [s from the start]; on long days fewer of them.

    From quarter to quarter of an hour, so that zones off by 30 or 45 minutes and clock changes are met; an hour that
    the clock shows twice is two.
    """
    every_h = next((hours for hours in EVERY_H if last_s - first_s <= MOST_HOURS * hours * 3600), EVERY_H[-1])
    begin = start.timestamp()
    quarters = range(-int(-(begin + first_s) // 900) * 900, int((begin + last_s) // 900) * 900 + 1, 900)
    local = ((second - begin, to_local(second, zone)) for second in quarters)
    full = [edge_s for edge_s, at in local if at.minute == 0 and at.hour % every_h == 0]
    return np.array([first_s, *(edge_s for edge_s in full if first_s < edge_s < last_s), last_s])


def _shares(day: BrewDay, phase: Phase, edges_s: FloatArray, *, of_vapour: bool) -> FloatArray:
    """Shares of a phase's loss in each hour; they add up to 1."""
    times_s = np.linspace(phase.start_s, phase.end_s, POINTS + 1)
    middles_s = (times_s[1:] + times_s[:-1]) / 2
    weights = np.ones(POINTS)
    if phase.phase in ("ramp", "pause", "chill"):
        at_c = np.interp(middles_s, day.trajectory.times_s, day.trajectory.temperatures_c)
        leaving = saturation_pressure_pa(at_c) if of_vapour else at_c - day.plan.site.air_c
        if abs(leaving.sum()) > EVEN_FRAC * np.abs(leaving).sum():
            weights = leaving
    passed = np.concatenate([[0.0], np.cumsum(weights)]) / weights.sum()
    return np.asarray(np.diff(np.interp(edges_s, times_s, passed)))


def _appliances_j(day: BrewDay, edges_s: FloatArray) -> FloatArray:
    """Heat that never was in the vessel: of pump, leads, electronics, and of the second heater."""
    found = np.zeros(edges_s.size - 1)
    for phase in day.phases:
        lasted_s = np.diff(np.clip(edges_s, phase.start_s, phase.end_s))
        found += (phase.energy_j - max(phase.heat_j, 0.0)) * lasted_s / phase.duration_s
    heater = day.plan.second_heater
    for profile in day.profiles:
        if heater is None or profile.name == VESSEL:
            continue
        begins_s, ends_s = float(profile.edges_s[0]), float(profile.edges_s[-1])
        lasted_s = np.diff(np.clip(edges_s, begins_s, ends_s))
        lost_j = profile.energy_kwh * JOULES_PER_KWH * (1 - heater.share_into_water)
        found += lost_j * lasted_s / (ends_s - begins_s)
    return found


def _stands(day: BrewDay) -> bool:
    emptied_s = [event.time_s for event in day.events if event.action == "empty"]
    pauses_s = [phase.end_s for phase in day.phases if phase.phase == "pause"]
    return any(abs(end_s - at_s) < 1 for end_s in pauses_s for at_s in emptied_s)


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
        water_kg=liquid_kg - extract_kg, extract_kg=extract_kg,
        grain_kg=nothing, grain_j_per_kg_k=nothing, vessel_j_per_k=nothing,
    )  # fmt: skip
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
        water_kg=none + whole_kg, vessel_j_per_k=none + steel_j_per_k,
        extract_kg=none, grain_kg=none, grain_j_per_kg_k=none,
    )  # fmt: skip
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
