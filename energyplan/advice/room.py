"""The room: how much heat and steam a day puts into it, and at which hours."""

from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay, Phase
from energyplan.day.supply import VESSEL
from energyplan.physics.water import saturation_pressure_pa
from energyplan.tariffs.clock import to_local

__all__ = ["Room", "RoomHour", "room"]

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
