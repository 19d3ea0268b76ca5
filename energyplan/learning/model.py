"""The vessel as a log sees it: its parts in a setting, and the model that replays a log."""

from dataclasses import replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.course import extract_kg
from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.day.legs import Mashing, changed
from energyplan.day.supply import heating
from energyplan.physics.contents import Contents
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import LidState, Shell, dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import density_kg_per_m3, latent_heat_j_per_kg, specific_heat_j_per_kg_k
from energyplan.physics.wort import malt_specific_heat_j_per_kg_k
from energyplan.plan.model import Action, Plan

__all__ = [
    "FactorName",
    "Factors",
    "Setting",
    "Stage",
    "Supply",
    "VesselTables",
    "path_c",
    "tables",
    "with_filling",
]

FloatArray = NDArray[np.float64]
FactorName = Literal["loss", "bend", "apart", "stored_heat", "power", "open_surface"]
GRID_K = 0.5
LONGEST_STEP_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VesselTables:
    """Loss and heat capacity of a vessel over temperature, for one state of the lid and one filling.

    ``closed_w`` is the loss of walls, base and lid [W], ``bent_w`` what it gains per unit of bend (see `bent_at`);
    ``open_w`` that of the open surface with its latent heat [W],
    ``vapour_kg_per_s`` the water that leaves by it; ``beside_j_per_k`` the heat capacity of all but water [J/K],
    ``water_j_per_kg_k`` that of water; ``water_kg`` the water at the start.
    """

    grid_c: FloatArray
    closed_w: FloatArray
    bent_w: FloatArray
    open_w: FloatArray
    vapour_kg_per_s: FloatArray
    beside_j_per_k: FloatArray
    water_j_per_kg_k: FloatArray
    water_kg: float

    def bent_at(self, reference_c: float, air_c: float) -> "VesselTables":
        """The same vessel, whose loss keeps its value at a reference temperature when it is bent.

        Notes
        -----
        With a bend b the closed loss goes as its model times ((T - air) / (reference - air))^b, to first order in b:
        -0.25 makes the loss of a bare vessel, which goes as the 1.25th power, linear.
        """
        warmer = np.maximum(np.abs(self.grid_c - air_c), 0.5) / max(reference_c - air_c, 1.0)
        return replace(self, bent_w=np.asarray(self.closed_w * np.log(warmer)))

    def loss_w(self, temperature_c: FloatArray) -> FloatArray:
        """Whole loss with all factors 1 [W]."""
        return np.interp(temperature_c, self.grid_c, self.closed_w + self.open_w)

    def closed_loss_w(self, temperature_c: FloatArray) -> FloatArray:
        """Loss of walls, base and lid with factor 1 [W]."""
        return np.interp(temperature_c, self.grid_c, self.closed_w)

    def capacity_j_per_k(self, temperature_c: FloatArray) -> FloatArray:
        """Heat capacity of the contents and the vessel with factor 1 [J/K]."""
        water = np.interp(temperature_c, self.grid_c, self.water_j_per_kg_k)
        return np.asarray(self.water_kg * water + np.interp(temperature_c, self.grid_c, self.beside_j_per_k))


def tables(
    around: Surroundings, shell: Shell, lid: LidState, contents: Contents, *, low_c: float, high_c: float
) -> VesselTables:
    """Tabulate a vessel between two temperatures.

    Parameters
    ----------
    around, shell, lid
        Place, vessel and state of the lid.
    contents : Contents
        What is in it; arrays of shape (1,).
    low_c, high_c : float
        Temperatures to cover [°C].

    Notes
    -----
    With `Shell.fittings` 0 and no measured loss, `energyplan.physics.vesselloss.dry_loss_w` is the open surface
    alone: that tells the two parts of the loss apart, so that each can have its own factor.
    """
    points = int(np.ceil((high_c - low_c) / GRID_K)) + 1
    grid_c = np.asarray(low_c + GRID_K * np.arange(points), dtype=np.float64)
    wetted = np.minimum(contents.filled_l(np.asarray([60.0])) / shell.volume_l, 1.0)
    whole_w = np.broadcast_to(dry_loss_w(grid_c, around, shell, lid, wetted), grid_c.shape)
    bare = Shell(
        diameter_m=shell.diameter_m,
        height_m=shell.height_m,
        emissivity=shell.emissivity,
        fittings=0.0,
        ajar_open_frac=shell.ajar_open_frac,
    )
    surface_w = np.broadcast_to(dry_loss_w(grid_c, around, bare, lid, wetted), grid_c.shape)
    vapour = np.broadcast_to(vapour_kg_per_s(grid_c, around, shell, lid), grid_c.shape)
    return VesselTables(
        grid_c=grid_c,
        closed_w=np.asarray(whole_w - surface_w),
        bent_w=np.zeros_like(grid_c),
        open_w=np.asarray(surface_w + vapour * latent_heat_j_per_kg(grid_c)),
        vapour_kg_per_s=np.asarray(vapour),
        beside_j_per_k=np.asarray(contents.specific_heats_j_per_k(grid_c)[1]),
        water_j_per_kg_k=specific_heat_j_per_kg_k(grid_c),
        water_kg=float(contents.water_kg[0]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supply:
    """Heat into the contents between readings: from the elements and beside them [W], both (readings - 1,)."""

    element_w: FloatArray
    pump_w: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factors:
    """Factors on the model, each of shape (draws,).

    ``bend`` is that of the closed loss (0: as modelled), ``apart_k`` by how much less than entered the contents are
    warmer than the air [K]: air or thermometer read wrongly.
    """

    loss: FloatArray
    bend: FloatArray
    apart_k: FloatArray
    stored_heat: FloatArray
    power: FloatArray
    open_surface: FloatArray


def path_c(
    start_c: FloatArray, times_s: FloatArray, supply: Supply, vessel: VesselTables, factors: Factors
) -> FloatArray:
    """Temperature at the times of readings.

    Parameters
    ----------
    start_c : ndarray, shape (draws,)
        Temperature at the first time [°C].
    times_s : ndarray, shape (readings,)
        Times [s], increasing.
    supply : Supply
        Heat in between them.
    vessel : VesselTables
        Loss and heat capacity.
    factors : Factors
        Factors on loss, stored heat, power and open surface.

    Returns
    -------
    ndarray, shape (readings, draws)
        Temperatures [°C].

    Notes
    -----
    C dT/dt = P - L(T), by the midpoint rule in steps of a minute or less, a fraction of a thousandth of the vessel's
    time constant; the mass of water is brought down after each step. The same balance as
    `energyplan.physics.balance.drift`, for power that changes all the time.
    """
    temperature_c = np.asarray(start_c, dtype=float)
    water_kg = np.full_like(temperature_c, vessel.water_kg)
    path, stacks = [temperature_c], _Stacks(vessel)
    for k, span_s in enumerate(np.diff(times_s)):
        heat_w = supply.element_w[k] * factors.power + supply.pump_w[k]
        steps = max(1, int(np.ceil(span_s / LONGEST_STEP_S)))
        step_s = span_s / steps
        for _ in range(steps):
            water_j, beside_j = stacks.heats(temperature_c)
            per_j = 1 / (factors.stored_heat * (water_kg * water_j + beside_j))
            half_c = temperature_c + step_s / 2 * per_j * (heat_w - stacks.loss_w(temperature_c, factors))
            temperature_c = temperature_c + step_s * per_j * (heat_w - stacks.loss_w(half_c, factors))
            if stacks.dries:
                water_kg = np.maximum(water_kg - factors.open_surface * stacks.vapour(half_c) * step_s, 1e-3)
        path.append(temperature_c)
    return np.asarray(path)


class _Stacks:
    """A vessel's tables on top of one another, to be read at once at temperatures of shape (draws,)."""

    def __init__(self, vessel: VesselTables) -> None:
        self.low_c, self.last = float(vessel.grid_c[0]), vessel.grid_c.size - 2
        self.closed = np.stack([vessel.closed_w, vessel.bent_w])
        self.stored = np.stack([vessel.water_j_per_kg_k, vessel.beside_j_per_k])
        self.open = np.stack([vessel.open_w, vessel.vapour_kg_per_s])
        self.dries, self.opens = bool(vessel.vapour_kg_per_s.any()), bool(vessel.open_w.any())

    def _between(self, stack: FloatArray, at_c: FloatArray) -> FloatArray:
        place = np.minimum(np.maximum((at_c - self.low_c) / GRID_K, 0.0), self.last + 1.0)
        index = np.minimum(place.astype(np.int64), self.last)
        left = stack[:, index]
        return np.asarray(left + (place - index) * (stack[:, index + 1] - left))

    def heats(self, at_c: FloatArray) -> FloatArray:
        """Specific heat of the water, heat capacity of all else."""
        return self._between(self.stored, at_c)

    def vapour(self, at_c: FloatArray) -> FloatArray:
        """Water that leaves by the open surface [kg/s]."""
        return np.asarray(self._between(self.open, at_c)[1])

    def loss_w(self, at_c: FloatArray, factors: Factors) -> FloatArray:
        """Whole loss [W]; the closed one goes by the difference to the air: another air is the same curve, moved."""
        closed, bent = self._between(self.closed, at_c - factors.apart_k)
        closed_w = factors.loss * (closed + factors.bend * bent)
        return np.asarray(
            closed_w + factors.open_surface * self._between(self.open, at_c)[0] if self.opens else closed_w
        )


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

    def filled_l(self, at_c: float) -> float:
        """What is in the vessel before any grain, at a temperature [L]."""
        return float(_contents(self.plan, "water").filled_l(np.array([at_c]))[0])

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
    return changed(water, none + REFERENCE_C, Action(kind="add grain"), batch, _mashing(plan)).after


def _mashing(plan: Plan) -> Mashing:
    planned_c = plan.batch.grain_temperature_c
    grain_c = plan.site.air_c if planned_c is None else planned_c
    return Mashing(grain_c=np.array([grain_c]), extract_kg=extract_kg(plan))


@lru_cache(maxsize=64)
def _mashed_c(plan: Plan, strike_c: float) -> float:
    """Temperature of the mash when the grain goes in at a temperature of the water [°C]."""
    water, at_c = _contents(plan, "water"), np.array([strike_c])
    return float(changed(water, at_c, Action(kind="add grain"), plan.batch, _mashing(plan)).to_c[0])
