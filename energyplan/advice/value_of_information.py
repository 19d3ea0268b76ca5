"""What to measure next: how much a number of the day narrows once an uncertain input is known."""

from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.draws import QUANTILES, Uncertainty
from energyplan.advice.uncertainty import Spread
from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass

__all__ = ["MEASURED_FOR", "Narrowing", "WhatToMeasure", "narrowings", "what_to_measure"]

FloatArray = NDArray[np.float64]

MEASURED_FOR = ("energy_kwh", "cost", "hold_cap_w")
_PLACES = (-0.8, -0.4, 0.0, 0.4, 0.8)  # where in its range the measured value may turn out to lie
_DRAWS_PER_TERM = 3  # draws that a term of the fit wants at least
_SAME_FRAC = 1e-9
_WEAKEST = 0.005  # share of an interval below which nothing is gained


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowing:
    """What knowing one input does to one number of the day.

    ``width`` is the distance from the 10 % to the 90 % quantile now, ``known_width`` the same once the input is
    measured, both in the unit of the number; ``narrows_frac`` is the share of the width that goes.
    """

    input: str
    name: str
    width: float
    known_width: float

    @property
    def narrows_frac(self) -> float:
        """Share of the width that goes."""
        return 1 - self.known_width / self.width if self.width > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatToMeasure:
    """For each of energy, cost and hold cap the inputs by what knowing them narrows, and the best of all.

    ``outputs`` are by the key of the range; ``best`` is the input that narrows the numbers most on the mean of their
    shares, energy and cost counting as one, since they go together; ``helps`` is False when nothing narrows anything.
    """

    outputs: dict[str, tuple[Narrowing, ...]]
    best: Uncertainty
    helps: bool


def what_to_measure(found: Spread) -> WhatToMeasure:
    """Rank the uncertain inputs by what measuring them is worth.

    Parameters
    ----------
    found : Spread
        The day under uncertain inputs.
    """
    outputs = {key: narrowings(found, key) for key in MEASURED_FOR if key in found.outputs}
    counted = [key for key in outputs if key != "cost"]
    gained = {
        item.input: sum(row.narrows_frac for key in counted for row in outputs[key] if row.input == item.input)
        for item in found.uncertainties
    }
    best = max(found.uncertainties, key=lambda item: gained[item.input])
    return WhatToMeasure(outputs=outputs, best=best, helps=gained[best.input] > _WEAKEST * len(counted))


def narrowings(found: Spread, key: str) -> tuple[Narrowing, ...]:
    """How much a number narrows with each input known to the tolerance of its measurement, the most first.

    Parameters
    ----------
    found : Spread
        The day under uncertain inputs.
    key : str
        Key of the range, such as "energy_kwh", "cost", "hold_cap_w".

    Raises
    ------
    PlanError
        If the spread has no such number.

    Notes
    -----
    A polynomial of second order in the inputs is fitted to the draws (of first order when they are few). A draw with
    an input known is the draw itself, plus what the polynomial changes when that input is moved to a measured value
    and its tolerance; the remainder of the fit stays as it is. Where the measured value will turn out to lie nobody
    knows, so the width is the mean over five places of the range.
    """
    if key not in found.outputs:
        raise PlanError(f"no range {key!r}; there are {', '.join(found.outputs)}")
    values = found.outputs[key]
    places = np.stack([_place(found, item) for item in found.uncertainties], axis=1)
    fitted = _Polynomial(places, values)
    width = _width(values)
    rows = []
    for column, item in enumerate(found.uncertainties):
        left = _left(item)
        known = [_width(values + fitted.moved(places, column, centre, left)) for centre in _PLACES]
        known_width = min(float(np.mean(known)), width) if left < 1 - _SAME_FRAC else width
        rows.append(Narrowing(input=item.input, name=item.name, width=width, known_width=known_width))
    return tuple(sorted(rows, key=lambda row: row.known_width))


def _width(values: FloatArray) -> float:
    low, high = np.quantile(values, (QUANTILES[0], QUANTILES[-1]))
    return float(high - low)


def _half(item: Uncertainty) -> float:
    return (item.high - item.low) / 2


def _place(found: Spread, item: Uncertainty) -> FloatArray:
    """Where each draw lies in the range of an input, from -1 to 1."""
    half = _half(item)
    drawn = found.inputs[item.input]
    return (drawn - item.low) / half - 1 if half > 0 else np.zeros_like(drawn)


def _left(item: Uncertainty) -> float:
    """Share of a range that is left after the measurement; at least 1 where it narrows nothing."""
    half = _half(item)
    return item.known_to / half if half > 0 else 1.0


class _Polynomial:
    """A least-squares polynomial of the places of the inputs."""

    def __init__(self, places: FloatArray, values: FloatArray) -> None:
        inputs = places.shape[1]
        squares = list(combinations_with_replacement(range(inputs), 2))
        enough = values.size >= _DRAWS_PER_TERM * (1 + inputs + len(squares))
        self.products = squares if enough else []
        self.coefficients = np.linalg.lstsq(self._terms(places), values, rcond=None)[0]

    def _terms(self, places: FloatArray) -> FloatArray:
        products = [places[:, one] * places[:, other] for one, other in self.products]
        return np.column_stack([np.ones(places.shape[0]), places, *products])

    def moved(self, places: FloatArray, column: int, centre: float, left: float) -> FloatArray:
        """What changes in each draw when one input is known about a centre, to a share of its range."""
        known = places.copy()
        known[:, column] = np.clip(centre + left * places[:, column], -1.0, 1.0)
        return np.asarray((self._terms(known) - self._terms(places)) @ self.coefficients)
