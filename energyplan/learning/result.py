"""What a calibration found: numbers with intervals, and the plan that they make."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import LogError
from energyplan.base.records import dataclass
from energyplan.learning.model import Stage
from energyplan.learning.readings import Remark
from energyplan.learning.spans import SpanKind
from energyplan.physics.vesselloss import LidState
from energyplan.plan.model import Plan

__all__ = ["Calibration", "Measured", "Residuals", "Stretch", "Test", "measured_plan"]

FloatArray = NDArray[np.float64]


Test = Literal["cool-down", "heat-up", "plain heat-up"]


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


def measured_plan(plan: Plan, found: Calibration) -> Plan:
    """Give a copy of the plan with the measured heat loss, stored heat and element power.

    Parameters
    ----------
    plan : Plan
        The plan that was calibrated.
    found : Calibration
        What the log told. What it didn't tell stays as it is.

    Notes
    -----
    The nameplates are scaled by one factor and keep their voltage, so that the power still goes with its square.

    Raises
    ------
    LogError
        If the log told nothing that goes into a plan.
    """
    vessel = plan.vessel
    changes: dict[str, object] = {}
    if found.heat_loss_w_per_k.value is not None:
        changes["heat_loss_w_per_k"] = round(found.heat_loss_w_per_k.value, 3)
    if found.vessel_heat_j_per_k.value is not None:
        changes["stored_heat_j_per_k"] = round(found.vessel_heat_j_per_k.value, 0)
    if found.element_frac is not None:
        changes["elements"] = tuple(
            element.model_copy(update={"power_w": round(element.power_w * found.element_frac, 1)})
            for element in vessel.elements
        )
    if not changes:
        raise LogError("the log tells nothing that goes into a plan; see why beside each value")
    return plan.model_copy(update={"vessel": vessel.model_copy(update=changes)})
