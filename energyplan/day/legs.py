"""What a simulated day is made of: the conditions it ran under, its legs, what went in and out."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.physics.balance import Outcome
from energyplan.physics.contents import Contents
from energyplan.physics.losscurve import LossCurve
from energyplan.plan.model import Action, Addition, Step

__all__ = ["AS_PLANNED", "Arrival", "Brew", "Conditions", "Course", "Leg", "Mishap", "PhaseName", "brews_of"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
PhaseName = Literal["pause", "chill", "ramp", "hold", "boil"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conditions:
    """What may differ from the plan: each None means "as planned"; each may be an array over draws.

    ``open_surface_factor`` is real over modelled evaporation at the boil, see `energyplan.physics.losscurve`.
    """

    air_c: ArrayLike | None = None
    water_c: ArrayLike | None = None
    grain_c: ArrayLike | None = None
    voltage_v: ArrayLike | None = None
    element_factor: ArrayLike = 1.0
    loss_factor: ArrayLike = 1.0
    open_surface_factor: ArrayLike = 1.0

    @property
    def draws(self) -> int:
        """Number of draws."""
        given = (getattr(self, name) for name in self.__slots__)
        return max(np.size(value) for value in given if value is not None)


AS_PLANNED = Conditions()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """A span of constant power within a phase; arrays have the shape (draws,).

    ``element_w`` is the mean power of the elements, ``board_w`` what the meter sees of the vessel
    (elements, loss in the leads, pump, standby), ``heater_w_per_v2`` the conductance that is on at a time, by the place
    where it hangs in ``by_line``.
    """

    step: Step
    phase: PhaseName
    start_s: FloatArray
    from_c: FloatArray
    outcome: Outcome
    element_w: FloatArray
    board_w: FloatArray
    heater_w_per_v2: float
    by_line: tuple[tuple[str, float], ...]
    other_w: float
    losses: LossCurve
    before: Contents

    @property
    def end_s(self) -> FloatArray:
        """When it ends, from the start of the day [s]."""
        return np.asarray(self.start_s + self.outcome.duration_s)

    @property
    def needed_w(self) -> FloatArray:
        """Heat that keeps the temperature at the end of the leg [W]."""
        return self.losses.total_w(self.outcome.end_c)

    @property
    def lowest_c(self) -> FloatArray:
        """Lowest temperature on the way [°C]; within a leg the temperature only rises or only falls."""
        return np.minimum(self.from_c, self.outcome.end_c)

    def of(self, which: NDArray[np.intp]) -> "Leg":
        """The leg of some of the draws."""
        return replace(
            self,
            **{name: getattr(self, name)[which] for name in ("start_s", "from_c", "element_w", "board_w")},
            **{name: getattr(self, name).of(which) for name in ("outcome", "losses", "before")},
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrival:
    """Something that goes in or out, with the heat it carries in (out: negative) [J].

    An action at the start of a step, with the mass of the grain that it moves, or an addition with a mass to a boil.
    """

    step: Step
    action: Action | Addition
    time_s: FloatArray
    from_c: FloatArray
    to_c: FloatArray
    carried_j: FloatArray
    before: Contents
    after: Contents

    def of(self, which: NDArray[np.intp]) -> "Arrival":
        """The same for some of the draws."""
        return replace(
            self,
            **{name: getattr(self, name)[which] for name in ("time_s", "from_c", "to_c", "carried_j")},
            **{name: getattr(self, name).of(which) for name in ("before", "after")},
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mishap:
    """What kept some of many draws from being brewed: ``which`` of them (draws,), the step, the words of the error."""

    step: str
    which: BoolArray
    message: Sentence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """A whole day: its legs, what went in and out, the contents at either end, when each step begins.

    ``mishaps`` is empty but for a run that was told to go on with the other draws; what the legs say of a draw with
    a mishap is meaningless from there on.
    """

    legs: tuple[Leg, ...]
    arrivals: tuple[Arrival, ...]
    mishaps: tuple[Mishap, ...]
    start: Contents
    start_c: FloatArray
    end: Contents
    end_c: FloatArray
    fullest_frac: FloatArray
    step_starts_s: Mapping[str, FloatArray]

    def of(self, draw: int) -> "Course":
        """The course of one of the draws."""
        which = np.array([draw])
        return Course(
            legs=tuple(leg.of(which) for leg in self.legs),
            arrivals=tuple(arrival.of(which) for arrival in self.arrivals),
            mishaps=tuple(replace(one, which=one.which[which]) for one in self.mishaps if one.which[draw]),
            start=self.start.of(which),
            start_c=self.start_c[which],
            end=self.end.of(which),
            end_c=self.end_c[which],
            fullest_frac=self.fullest_frac[which],
            step_starts_s={step: starts_s[which] for step, starts_s in self.step_starts_s.items()},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Brew:
    """One wort of the day: from when to when it is in the vessel [s], and the grain that it was made of [kg]."""

    from_s: float
    until_s: float
    grain_kg: float

    def boils(self, course: Course) -> list[Leg]:
        """The boils of this wort: not of water before the grain is in."""
        return [leg for leg in course.legs if leg.phase == "boil" and self.from_s <= leg.start_s[0] < self.until_s]

    def end(self, course: Course) -> Contents:
        """Contents for which the gravity is meant: after the last boil, else before the vessel is emptied."""
        if boils := self.boils(course):
            return boils[-1].outcome.contents
        emptied = [a.before for a in course.arrivals if a.action.kind == "empty" and a.time_s[0] == self.until_s]
        return emptied[0] if emptied else course.end


def brews_of(course: Course) -> tuple[Brew, ...]:
    """The worts of the day, one after the other; between them the vessel is emptied. Without any, the whole day."""
    emptied_s = [float(a.time_s[0]) for a in course.arrivals if a.action.kind == "empty"]
    found = []
    for from_s, until_s in pairwise([0.0, *emptied_s, np.inf]):
        grain = [
            (float(a.time_s[0]), a.action.mass_kg or 0.0)
            for a in course.arrivals
            if a.action.kind == "add grain" and from_s <= a.time_s[0] < until_s
        ]
        if grain:
            found.append(Brew(from_s=grain[-1][0], until_s=until_s, grain_kg=sum(kg for _, kg in grain)))
    return tuple(found) or (Brew(from_s=0.0, until_s=min(emptied_s, default=np.inf), grain_kg=0.0),)
