"""How sure the inputs of a plan are, and draws from within that."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.worst import (
    COLDER_K,
    ESTIMATE_HIGH_FRAC,
    LOW_MAINS_FRAC,
    MEASURED_HIGH_FRAC,
    MEASURED_OPEN_FRAC,
    WEAK_ELEMENT_FRAC,
    open_surface_within,
)
from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass
from energyplan.day.course import Conditions
from energyplan.plan.model import Plan

__all__ = ["Input", "Uncertainty", "conditions_of", "latin_hypercube", "uncertainties_of"]

FloatArray = NDArray[np.float64]
Input = Literal["air_c", "water_c", "grain_c", "voltage_v", "element_factor", "loss_factor", "open_surface_factor"]

WATER_K = 3.0  # how far tap water is from what was entered [assumption]
GRAIN_K = 3.0  # how far grain from a cupboard is [assumption]
# How close a measurement comes [assumptions; plug-in meters: nine cheap ones read heavy heaters to 1.5 to 5 % in a
# university's report of 2009; mains also change from day to day].
THERMOMETER_K = 0.5
GRAIN_THERMOMETER_K = 1.0
METER_FRAC = 0.03
MAINS_FRAC = 0.02
STRONG_ELEMENT_FRAC = 1.05  # IEC 60335-1, clause 10.1, upper limit (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """One uncertain input: every value between its two ends is taken as equally likely.

    Parameters
    ----------
    input : str
        The field of `Conditions` that it sets: ``air_c``, ``water_c``, ``grain_c`` [°C], ``voltage_v`` [V], or the
        factors ``element_factor``, ``loss_factor`` and ``open_surface_factor`` on the planned value.
    name : str
        What people call it.
    low, high : float
        Its ends, in the unit of the field.
    known_to : float
        What is left to either side once it is measured, in the unit of the field.

    Raises
    ------
    PlanError
        If the low end lies above the high one, or an end is no possible value.
    """

    input: Input
    name: str
    low: float
    high: float
    known_to: float = 0.0

    def __post_init__(self) -> None:
        positive = self.input in ("voltage_v", "element_factor", "loss_factor", "open_surface_factor")
        if not (
            np.isfinite([self.low, self.high]).all() and self.low <= self.high and not (positive and self.low <= 0)
        ):
            raise PlanError(
                f"{self.name}: from {self.low:g} to {self.high:g}: expected a low end, then a high one"
                + (", both above 0" if positive else "")
            )
        if not (np.isfinite(self.known_to) and self.known_to >= 0):
            raise PlanError(f"{self.name}: known_to = {self.known_to:g}: expected 0 or more")


def uncertainties_of(plan: Plan) -> tuple[Uncertainty, ...]:
    """What is uncertain in a plan, with ranges that are stated and can be replaced."""
    batch, site = plan.batch, plan.site
    grain_c = site.air_c if batch.grain_temperature_c is None else batch.grain_temperature_c
    measured = plan.vessel.heat_loss_w_per_k is not None
    loss = MEASURED_HIGH_FRAC if measured else ESTIMATE_HIGH_FRAC
    rules = plan.circuit.rules if plan.circuit else "iec"
    mains = 1 - LOW_MAINS_FRAC[rules]
    ranges = [
        _about("air_c", "air", site.air_c, COLDER_K, known_to=THERMOMETER_K),
        replace(
            _about("water_c", "water", batch.water_temperature_c, WATER_K, known_to=THERMOMETER_K),
            low=max(batch.water_temperature_c - WATER_K, 0.0),
        ),
        _about("loss_factor", "heat loss", 1.0, loss, known_to=MEASURED_HIGH_FRAC),
        Uncertainty(
            input="element_factor",
            name="elements",
            low=WEAK_ELEMENT_FRAC,
            high=STRONG_ELEMENT_FRAC,
            known_to=METER_FRAC,
        ),
        _about("voltage_v", "mains", plan.voltage_v, mains * plan.voltage_v, known_to=MAINS_FRAC * plan.voltage_v),
    ]
    if any(step.lid_state != "on" for step in plan.steps):
        within = open_surface_within(plan)
        ranges.append(_about("open_surface_factor", "open surface", 1.0, within, known_to=MEASURED_OPEN_FRAC))
    if batch.grain_kg > 0:
        ranges.append(_about("grain_c", "grain", grain_c, GRAIN_K, known_to=GRAIN_THERMOMETER_K))
    return tuple(ranges)


def _about(name: Input, noun: str, middle: float, half: float, *, known_to: float) -> Uncertainty:
    return Uncertainty(input=name, name=noun, low=middle - half, high=middle + half, known_to=known_to)


def latin_hypercube(uncertainties: Sequence[Uncertainty], *, draws: int, seed: int) -> dict[str, FloatArray]:
    """Draw every input at once, each spread evenly over its range.

    Returns
    -------
    dict
        By the field of `Conditions`, arrays of shape (draws,).

    Raises
    ------
    PlanError
        If an input comes twice, or there are fewer than 10 or more than 200 000 draws.

    Notes
    -----
    Each range is cut into as many equal cells as there are draws; every cell is met once, in a shuffled order, at a
    random place in it. Written out because a report needs it at once and scipy's takes longer to import than to run.

    References
    ----------
    McKay, Beckman, Conover, Technometrics 21 (1979).
    """
    if not 10 <= draws <= 200_000:
        raise PlanError(f"draws = {draws}: expected 10 to 200 000, such as 1000")
    names = [uncertainty.input for uncertainty in uncertainties]
    if len(set(names)) < len(names) or not names:
        raise PlanError(f"uncertain inputs {', '.join(names) or 'none'}: expected each one once, and at least one")
    generator = np.random.default_rng(seed)
    cells = generator.permuted(np.tile(np.arange(draws), (len(names), 1)), axis=1)
    places = (cells + generator.random(cells.shape)) / draws
    return {
        uncertainty.input: uncertainty.low + row * (uncertainty.high - uncertainty.low)
        for uncertainty, row in zip(uncertainties, places, strict=True)
    }


def conditions_of(inputs: Mapping[str, FloatArray], which: slice | int = slice(None)) -> Conditions:
    """Conditions of some of the draws."""
    return Conditions(**{name: values[which] for name, values in inputs.items()})
