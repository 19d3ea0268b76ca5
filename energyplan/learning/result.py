"""What was measured, by a log or by the litres that a boil took: numbers with intervals, and the plan they make."""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import LogError
from energyplan.base.records import dataclass
from energyplan.day.brewday import simulate
from energyplan.day.kettle import MASH_C, shell_of, surroundings_of
from energyplan.day.legs import COLD_C, Leg
from energyplan.day.supply import heating
from energyplan.learning.bins import binned
from energyplan.learning.logfile import Log
from energyplan.learning.model import Stage
from energyplan.learning.readings import Remark
from energyplan.learning.spans import SpanKind
from energyplan.physics.vesselloss import LidState, dry_loss_w, surface_loss_w
from energyplan.physics.water import density_kg_per_m3, latent_heat_j_per_kg
from energyplan.plan.model import Plan

__all__ = [
    "ODD",
    "BoilOff",
    "Calibration",
    "DryLoss",
    "Measured",
    "Residuals",
    "Stretch",
    "Test",
    "dry_loss",
    "measured_plan",
]

FloatArray = NDArray[np.float64]


Test = Literal["cool-down", "heat-up", "plain heat-up"]
ODD = (0.5, 2.0)  # times the estimate: beyond, something else than the vessel was measured [assumption]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value with its 95 % interval, in the unit of the field that holds it; or None and the reason.

    >>> Measured(value=4.8, low=4.5, high=5.1).known, Measured(why=Remark("elements off")).known
    (True, False)
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    why: Remark | None = None

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return self.value is not None

    @property
    def half_width_frac(self) -> float:
        """Half of the interval as a share of the value; infinite where there is none."""
        if self.value is None or self.low is None or self.high is None:
            return float("inf")
        return (self.high - self.low) / 2 / self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of the log that was fitted: what happened in it, when [s from the start], temperatures [°C]."""

    kind: SpanKind
    start_s: float
    end_s: float
    from_c: float
    to_c: float
    lid: LidState
    stage: Stage


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residuals:
    """Measured beside fitted temperature [°C] at times [s]; ``stretch`` is the place in `Calibration.stretches`."""

    times_s: FloatArray
    measured_c: FloatArray
    fitted_c: FloatArray
    stretch: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """A vessel's own numbers, as far as a log tells them.

    Parameters
    ----------
    heat_loss_w_per_k : Measured
        Loss with the lid on, per kelvin above the air [W/K], meant at ``reference_c``.
    stored_heat_j_per_k : Measured
        Stored heat of vessel and contents together [J/K], at ``reference_c``.
    vessel_heat_j_per_k : Measured
        The vessel's share of it [J/K]: what the water as entered leaves.
    element_power_w : Measured
        Heat of all elements at full power [W].
    open_surface_factor : Measured
        Loss of the open surface over that of the model.
    element_frac : float or None
        ``element_power_w`` over what the plan's elements should give.
    reference_c : float or None
        Mean temperature of the fitted stretches, weighted by the loss [°C].
    rmse_k : float or None
        Root mean square of reading less fit [K], over all single readings of the stretches.
    scale : {"volume", "meter", "none"}
        What pins the scale: the water as entered, or the meter.
    interval_min : float
        Usual time between readings [min].
    filled_l : float or None
        What was in the vessel, hot [L]: the filling to which the heat loss belongs.
    """

    heat_loss_w_per_k: Measured
    stored_heat_j_per_k: Measured
    vessel_heat_j_per_k: Measured
    element_power_w: Measured
    open_surface_factor: Measured
    element_frac: float | None
    reference_c: float | None
    rmse_k: float | None
    scale: Literal["volume", "meter", "none"]
    stretches: tuple[Stretch, ...]
    residuals: Residuals
    notes: tuple[Remark, ...]
    interval_min: float
    next_tests: tuple[Test, ...]
    filled_l: float | None = None


def measured_plan(plan: Plan, found: "Calibration | DryLoss") -> Plan:
    """Give a copy of the plan with the measured heat loss, how far off it may be, its filling, stored heat and power.

    Parameters
    ----------
    plan : Plan
        The plan that was calibrated.
    found : Calibration or DryLoss
        What was measured. What was not stays as it is.

    Notes
    -----
    The loss is noted twice, so that one changed later is not taken for what was measured. The nameplates are scaled by
    one factor and keep their voltage, so that the power still goes with its square.

    Raises
    ------
    LogError
        If the log told nothing that goes into a plan.
    """
    vessel = plan.vessel
    changes: dict[str, object] = {}
    if found.heat_loss_w_per_k.value is not None:
        changes["heat_loss_w_per_k"] = round(found.heat_loss_w_per_k.value, 3)
        changes["heat_loss_within_w_per_k"] = _within_w_per_k(found.heat_loss_w_per_k)
        changes["heat_loss_measured_w_per_k"] = changes["heat_loss_w_per_k"]
        changes["measured_at_l"] = None if found.filled_l is None else round(found.filled_l, 1)
    if isinstance(found, Calibration) and found.vessel_heat_j_per_k.value is not None:
        changes["stored_heat_j_per_k"] = round(found.vessel_heat_j_per_k.value, 0)
    if isinstance(found, Calibration) and found.element_frac is not None:
        changes["elements"] = tuple(
            element.model_copy(update={"power_w": round(element.power_w * found.element_frac, 1)})
            for element in vessel.elements
        )
    if not changes:
        raise LogError("this tells nothing that goes into a plan; see why beside each value")
    return plan.model_copy(update={"vessel": vessel.model_copy(update=changes)})


# Beside the loss, never less of it: on another day its filling, a draught or a damp jacket do as much [assumption].
LEAST_WITHIN_FRAC = 0.05


def _within_w_per_k(loss: Measured) -> float | None:
    """Half of the interval of a loss for the plan, rounded upwards; None where it has none."""
    if loss.value is None or not loss.half_width_frac < np.inf:
        return None
    return math.ceil(1000 * loss.value * max(loss.half_width_frac, LEAST_WITHIN_FRAC) - 1e-6) / 1000


# A boil-off by volume ----------------------------------------------------------------------------------------

# What is left open, at 95 % [assumptions]: two readings of a jug or a marked stick, the minutes at the boil, a meter of
# class 1, and a plate (IEC 60335-1, clause 10.1: -10 to +5 %, from memory).
JUG_L, CLOCK_S, METER_FRAC, PLATE_FRAC = 0.15, 60.0, 0.01, 0.10
TELLS_FRAC = 0.30  # half width of a heat loss that says more than an estimate does
AT_BOIL_K, NEAR_BOIL_K = 1.0, 4.0  # so close to its hottest, and that so close to the plan's boil, a log boils
SHORTEST_BOIL_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilOff:
    """Litres that a boil took, measured cold, in how long [s], at which mean power at the plug [W].

    Without a power the plan's own boil power counts, by the plates of its elements.
    """

    boiled_off_l: float
    lasted_s: float
    power_w: float | None = None

    @classmethod
    def of_log(cls, boiled_off_l: float, log: Log, plan: Plan) -> "BoilOff":
        """The same with time and power from a log.

        Raises
        ------
        LogError
            If the log does not boil for ten minutes.
        """
        boiling_c, hottest_c = float(_boil_leg(plan).from_c[0]), float(log.temperature_c.max())
        hot = np.flatnonzero(log.temperature_c >= hottest_c - AT_BOIL_K)
        boils = slice(hot[0], hot[-1] + 1)
        times_s, left = log.times_s[boils], log.temperature_c[boils] < hottest_c - NEAR_BOIL_K
        counts = ~(left[1:] | left[:-1])  # a break in the boil does not count
        lasted_s = float(np.diff(times_s)[counts].sum())
        if hottest_c < boiling_c - NEAR_BOIL_K or lasted_s < SHORTEST_BOIL_S:
            raise LogError("this log does not boil for ten minutes; say how long it boiled and at which power")
        bins = binned(log)
        if bins.used_j is None:
            return cls(boiled_off_l=boiled_off_l, lasted_s=lasted_s)
        used_j = np.diff(np.interp(times_s, bins.times_s, bins.used_j))[counts]
        return cls(boiled_off_l=boiled_off_l, lasted_s=lasted_s, power_w=float(used_j.sum()) / lasted_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class DryLoss:
    """What leaves at the boil without vapour, by a boil-off.

    ``dry_loss_w`` [W], beside ``planned_w`` of the plan; ``heat_w`` into the vessel and ``steam_w`` of it in steam;
    ``heat_loss_w_per_k`` the loss with the lid on that goes with it, at mash temperature and a filling of ``filled_l``.
    ``notes`` say what to mind.
    """

    dry_loss_w: Measured
    planned_w: float
    heat_w: float
    steam_w: float
    metered: bool
    heat_loss_w_per_k: Measured
    filled_l: float
    notes: tuple[Remark, ...] = ()


def dry_loss(plan: Plan, seen: BoilOff) -> DryLoss:
    """Dry loss at the boil from the litres that left it.

    Parameters
    ----------
    plan : Plan
        The vessel, as brewed: its last boil gives lid, level and boiling point.
    seen : BoilOff
        What was measured.

    Notes
    -----
    L_dry = P - m h_fg / t. What the open surface loses by warmth and radiation is taken off as modelled; what is left
    belongs to walls and base, and scales the plan's loss with the lid on. Beyond half to twice the plan's with all of
    its interval it is odd, and nothing is taken from it; with its value alone, that is noted.

    Raises
    ------
    LogError
        If the plan has no boil, or nothing was boiled off in no time.
    """
    if seen.boiled_off_l <= 0 or seen.lasted_s <= 0:
        raise LogError("a boil-off takes litres and minutes, both above 0")
    leg = _boil_leg(plan)
    boiling_c, middle = float(leg.from_c[0]), leg.before.less_water(leg.outcome.vapour_kg / 2)
    steam_w = seen.boiled_off_l / 1000 * float(density_kg_per_m3(COLD_C)) * float(latent_heat_j_per_kg(boiling_c))
    steam_w /= seen.lasted_s
    heat_w, power_frac = _heat_in(plan, leg, seen.power_w)
    off = (heat_w * power_frac, steam_w * JUG_L / seen.boiled_off_l, steam_w * CLOCK_S / seen.lasted_s)
    dry_w, half_w = heat_w - steam_w, float(np.hypot.reduce(off))
    planned_w = float((leg.outcome.dry_loss_j / leg.outcome.duration_s)[0])
    open_w = _open_w(plan, leg)
    walls, half = (dry_w - open_w) / (planned_w - open_w), half_w / (planned_w - open_w)  # times the plan's
    found, closed = Measured(value=dry_w, low=dry_w - half_w, high=dry_w + half_w), Measured()
    filled_l = float(middle.filled_l(leg.from_c)[0])
    notes: tuple[Remark, ...] = ()
    if walls - half > ODD[1] or walls + half < ODD[0]:
        code = "boil-off odd, high" if walls > 1 else "boil-off odd, low"
        found = closed = Measured(why=Remark(code, steam_w=steam_w, heat_w=heat_w, dry_w=dry_w, planned_w=planned_w))
    elif dry_w <= half_w:
        found = closed = Measured(why=Remark("boil-off unclear", steam_w=steam_w, heat_w=heat_w, half_w=half_w))
    elif half > TELLS_FRAC * walls:
        closed = Measured(why=Remark("boil-off rough", half_w=half_w, walls_w=planned_w - open_w))
    else:
        unit = _closed_w_per_k(plan, filled_l)
        closed = Measured(value=walls * unit, low=(walls - half) * unit, high=(walls + half) * unit)
        if not ODD[0] <= walls <= ODD[1]:
            notes = (Remark("boil-off near odd", factor=walls),)
    return DryLoss(
        dry_loss_w=found,
        planned_w=planned_w,
        heat_w=heat_w,
        steam_w=steam_w,
        metered=seen.power_w is not None,
        heat_loss_w_per_k=closed,
        filled_l=filled_l,
        notes=notes,
    )


def _boil_leg(plan: Plan) -> Leg:
    """The plan's last boil."""
    legs = [leg for leg in simulate(plan).course.legs if leg.phase == "boil"]
    if not legs:
        raise LogError("the plan has no boil; add a step that boils")
    return legs[-1]


def _heat_in(plan: Plan, leg: Leg, power_w: float | None) -> tuple[float, float]:
    """Heat into the contents [W], and how far off it may be as a share."""
    vessel, pump_w = plan.vessel, plan.vessel.pump_w if leg.step.pump_runs else 0.0
    given = heating(
        plan, leg.step.hold_power_w, voltage_v=np.array([plan.voltage_v]), element_factor=np.ones(1)
    )  # the plan's own, with its mains
    if power_w is None:
        return float(given.most_w[0]) + vessel.pump_heat * pump_w, PLATE_FRAC
    element_w = (power_w - vessel.standby_w - pump_w) / float(np.asarray(given.board_factor).reshape(-1)[0])
    return element_w + vessel.pump_heat * pump_w, METER_FRAC


def _open_w(plan: Plan, leg: Leg) -> float:
    """What the open surface loses in the boil by warmth and radiation, as modelled [W]."""
    shell = shell_of(plan)
    open_w = surface_loss_w(float(leg.from_c[0]), surroundings_of(plan), shell)
    return shell.open_frac(leg.step.lid_state) * float(open_w)


def _closed_w_per_k(plan: Plan, filled_l: float) -> float:
    """The plan's loss with the lid on, at mash temperature and a filling [W/K]."""
    shell = shell_of(plan)
    closed_w = dry_loss_w(MASH_C, surroundings_of(plan), shell, "on", min(filled_l / shell.volume_l, 1.0))
    return float(closed_w) / (MASH_C - plan.site.air_c)
