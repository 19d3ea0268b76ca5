"""What a fit takes as known: the plan's vessel, place and filling, and the quality of the readings."""

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.body import shell_of, surroundings_of
from energyplan.day.brewday import extract_kg
from energyplan.day.changes import Mashing, changed
from energyplan.day.supply import heating
from energyplan.learning.model import VesselTables, tables
from energyplan.physics.contents import Contents, solve_temperature_c
from energyplan.physics.vesselloss import LidState
from energyplan.physics.water import density_kg_per_m3
from energyplan.physics.wort import malt_specific_heat_j_per_kg_k
from energyplan.plan.model import Action, Plan

__all__ = ["Setting", "Stage", "with_filling"]

FloatArray = NDArray[np.float64]
Stage = Literal["water", "mash"]

REFERENCE_C = 66.0
TABLE_TOP_C = 101.0

# Standard deviations, as shares, of what pins the scale of a fit [assumptions]: a measuring jug (3 % at 95 %), the
# vessel's own stored heat from its mass, malt, and a meter of class 1 (IEC 62053-21, from memory).
WATER_SD_FRAC, VESSEL_SD_FRAC, GRAIN_SD_FRAC, METER_SD_FRAC = 0.015, 0.10, 0.05, 0.005
# The same for the air beside the vessel and for the offset of a kitchen thermometer [K, assumptions].
AIR_SD_K, THERMOMETER_SD_K = 1.0, 0.5


def with_filling(plan: Plan, water_l: float | None, air_c: float | None) -> Plan:
    """The plan with the water and the air of the test, where they differ from those of the brew day."""
    batch = plan.batch if water_l is None else plan.batch.model_copy(update={"water_l": water_l, "grain_kg": 0.0})
    site = plan.site if air_c is None else plan.site.model_copy(update={"air_c": air_c})
    return plan.model_copy(update={"batch": batch, "site": site})


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Plan, scatter of one bin [K], resolution of the thermometer [K], standard deviation of the air entered [K]."""

    plan: Plan
    scatter_k: float
    resolution_k: float
    air_sd_k: float = AIR_SD_K

    @property
    def apart_sd_k(self) -> float:
        """Standard deviation of how much warmer than the air the contents are [K]."""
        return float(np.hypot(self.air_sd_k, THERMOMETER_SD_K))

    @property
    def air_c(self) -> float:
        """Temperature of the air [°C]."""
        return self.plan.site.air_c

    @property
    def has_grain(self) -> bool:
        """Whether grain goes in after the start."""
        mashes = any(action.kind == "add grain" for step in self.plan.steps for action in step.before)
        return mashes and self.plan.batch.grain_kg > 0

    @property
    def mash_in(self) -> tuple[float, float] | None:
        """Temperature at which the grain goes in [°C] and by how much it should fall [K]; None without grain."""
        strike_c: float | None = None
        for step in self.plan.steps:
            if self.has_grain and any(action.kind == "add grain" for action in step.before):
                return None if strike_c is None else (strike_c, strike_c - _mashed_c(self.plan, strike_c))
            strike_c = step.target_c if step.target_c is not None else strike_c
        return None

    @property
    def lauter_c(self) -> float | None:
        """Highest target before the grain leaves [°C]; None if it stays."""
        targets: list[float] = []
        for step in self.plan.steps:
            if any(action.kind in ("remove grain", "empty") for action in step.before):
                return max(targets, default=None)
            if step.target_c is not None:
                targets = [] if any(action.kind == "add grain" for action in step.before) else targets
                targets.append(step.target_c)
        return None

    def vessel(self, lid: LidState, stage: Stage) -> VesselTables:
        """Loss and heat capacity in a state."""
        return _tables(self.plan, lid, stage)

    @property
    def capacity_j_per_k(self) -> float:
        """Heat capacity at the start, at mash temperature [J/K]."""
        return float(self.vessel("on", "water").capacity_j_per_k(np.array([REFERENCE_C]))[0])

    @property
    def full_w(self) -> float:
        """What all elements should give at the plan's voltage [W]."""
        volts, ones = np.array([self.plan.voltage_v]), np.ones(1)
        return float(heating(self.plan, None, voltage_v=volts, element_factor=ones).most_w[0])

    @property
    def pump_heat_w(self) -> float:
        """Share of the pump's power that reaches the contents while it runs [W]."""
        return self.plan.vessel.pump_w * self.plan.vessel.pump_heat

    @property
    def beside_w(self) -> float:
        """Power at the plug beside the elements while the pump runs [W]."""
        return self.plan.vessel.pump_w + self.plan.vessel.standby_w

    @property
    def off_w(self) -> float:
        """Power at the plug below which the elements count as off [W]."""
        return self.beside_w + 0.03 * self.full_w

    @property
    def heating_k_per_s(self) -> float:
        """Slope of a heat-up at full power without losses [K/s]."""
        return self.full_w / self.capacity_j_per_k

    @property
    def still_k_per_s(self) -> float:
        """Slope of a cool-down from mash temperature with the lid on [K/s]."""
        loss_w = self.vessel("on", "water").loss_w(np.array([REFERENCE_C]))[0] - self.pump_heat_w
        return float(max(loss_w, 1.0)) / self.capacity_j_per_k

    @property
    def loss_exponent(self) -> float:
        """Power of the temperature difference with which the modelled loss grows near mash temperature."""
        apart_k = np.array([0.7, 1.1]) * (REFERENCE_C - self.air_c)
        loss_w = self.vessel("on", "water").closed_loss_w(self.air_c + apart_k)
        return float(np.diff(np.log(loss_w))[0] / np.diff(np.log(apart_k))[0])

    def cooling_k_per_s(self, temperature_c: FloatArray) -> FloatArray:
        """Steepest plausible cooling: the lid off [K/s]."""
        return np.asarray(self.vessel("off", "water").loss_w(temperature_c) / self.capacity_j_per_k)

    def pin_sd_frac(self, stage: Stage) -> float:
        """Standard deviation of the stored heat that follows from water, grain and vessel as entered, as a share."""
        contents, at_c = _contents(self.plan, stage), np.array([REFERENCE_C])
        vessel_j = self.plan.vessel.own_heat_j_per_k
        grain_j = float((contents.grain_kg * contents.grain_j_per_kg_k)[0])
        whole_j = float(contents.capacity_j_per_k(at_c)[0])
        parts = (
            WATER_SD_FRAC * (whole_j - vessel_j - grain_j), VESSEL_SD_FRAC * vessel_j, GRAIN_SD_FRAC * grain_j,
        )  # fmt: skip
        return float(np.hypot.reduce(parts)) / whole_j


@lru_cache(maxsize=64)
def _tables(plan: Plan, lid: LidState, stage: Stage) -> VesselTables:
    around = surroundings_of(plan)
    low_c = min(0.0, plan.site.air_c) - 1.0
    return tables(around, shell_of(plan), lid, _contents(plan, stage), low_c=low_c, high_c=TABLE_TOP_C)


@lru_cache(maxsize=64)
def _contents(plan: Plan, stage: Stage) -> Contents:
    batch, none = plan.batch, np.zeros(1)
    mass_kg = batch.water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
    water = Contents(
        water_kg=none + mass_kg,
        extract_kg=none,
        grain_kg=none,
        grain_j_per_kg_k=none + malt_specific_heat_j_per_kg_k(batch.grain_moisture),
        vessel_j_per_k=none + plan.vessel.own_heat_j_per_k,
    )
    if stage == "water":
        return water
    return changed(water, none + REFERENCE_C, Action(kind="add grain"), batch, _mashing(plan))[0]


def _mashing(plan: Plan) -> Mashing:
    planned_c = plan.batch.grain_temperature_c
    grain_c = plan.site.air_c if planned_c is None else planned_c
    return Mashing(grain_c=np.array([grain_c]), extract_kg=extract_kg(plan))


@lru_cache(maxsize=64)
def _mashed_c(plan: Plan, strike_c: float) -> float:
    """Temperature of the mash when the grain goes in at a temperature of the water [°C]."""
    water, at_c = _contents(plan, "water"), np.array([strike_c])
    mash, carried_j = changed(water, at_c, Action(kind="add grain"), plan.batch, _mashing(plan))
    return float(solve_temperature_c(mash.enthalpy_j, water.enthalpy_j(at_c) + carried_j, at_c)[0])
