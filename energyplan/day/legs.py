"""What a simulated day is made of: conditions, legs, what goes into the vessel and out of it, what went wrong."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.physics.balance import Outcome
from energyplan.physics.contents import Contents
from energyplan.physics.losscurve import LossCurve
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.physics.wort import extract_enthalpy_j_per_kg, slaking_heat_j_per_kg, wort_density_kg_per_m3
from energyplan.plan.model import Action, Addition, Batch, Step

__all__ = [
    "AS_PLANNED",
    "COLD_C",
    "Arrival",
    "Brew",
    "Conditions",
    "Course",
    "Leg",
    "Mashing",
    "Mishap",
    "PhaseName",
    "brews_of",
    "changed",
    "dosed",
    "strike_temperature_c",
]

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


class Change(NamedTuple):
    """What comes of an action: contents, how warm they are [°C], the heat that it carried in (out: negative) [J]."""

    after: Contents
    to_c: FloatArray
    carried_j: FloatArray


COLD_C = 20.0  # at which volumes are quoted cold


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mashing:
    """What the grain brings: its temperature [°C], shape (draws,), and the extract that dissolves [kg], one or each."""

    grain_c: FloatArray
    extract_kg: float | FloatArray


def changed(contents: Contents, temperature_c: FloatArray, action: Action, batch: Batch, mashing: Mashing) -> Change:
    """What comes of an action.

    Parameters
    ----------
    contents : Contents
        What is in the vessel, at ``temperature_c`` [°C], shape (draws,).
    action : Action
        What is done; grain without a mass is all of the batch's.
    batch : Batch
        Amounts and temperatures. Water is measured at its own temperature, the sparge water cold, before it is
        heated; the wort held by the grain is measured at 20 °C.
    mashing : Mashing
        What the grain brings.
    """
    match action.kind:
        case "add grain":
            return _with_grain(contents, temperature_c, *_portion(batch, mashing, action.mass_kg))
        case "remove grain":
            return _without_grain(contents, temperature_c, batch, action.mass_kg or batch.grain_kg)
        case "empty":
            nothing = np.zeros_like(temperature_c)
            empty = replace(contents, water_kg=nothing, extract_kg=nothing, grain_kg=nothing)
            return _as_warm(contents, temperature_c, empty)
        case "add sparge water":
            mass_kg = batch.sparge_water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
            return _with_water(contents, temperature_c, mass_kg, batch.sparge_temperature_c)
        case "add water":
            mass_kg = action.volume_l / 1000 * float(density_kg_per_m3(action.temperature_c))
            return _with_water(contents, temperature_c, mass_kg, action.temperature_c)


def _portion(batch: Batch, mashing: Mashing, mass_kg: float) -> tuple[Batch, Mashing]:
    """The batch and what it brings, as far as only some of its grain is meant; 0 means all."""
    if not mass_kg or mass_kg == batch.grain_kg:
        return batch, mashing
    share = mass_kg / batch.grain_kg
    return batch.model_copy(update={"grain_kg": mass_kg}), replace(mashing, extract_kg=mashing.extract_kg * share)


def dosed(contents: Contents, temperature_c: FloatArray, addition: Addition, air_c: FloatArray) -> Change:
    """What comes of an addition with a mass.

    Extract and sugar dissolve; the heat of their dissolving is left out (for sucrose it takes 16 kJ/kg, from memory:
    2 % of what heating it to the boil takes).
    """
    warm_c = np.broadcast_to(air_c if addition.temperature_c is None else addition.temperature_c, air_c.shape)
    mass_kg = addition.mass_kg or 0.0
    if addition.kind == "water":
        more, per_kg_j = replace(contents, water_kg=contents.water_kg + mass_kg), enthalpy_j_per_kg(warm_c)
    else:
        more, per_kg_j = replace(contents, extract_kg=contents.extract_kg + mass_kg), extract_enthalpy_j_per_kg(warm_c)
    return _mixed(contents, temperature_c, more, mass_kg * per_kg_j)


def _mixed(contents: Contents, temperature_c: FloatArray, after: Contents, carried_j: FloatArray) -> Change:
    """As warm as the heat that is there and the heat that comes in make it."""
    wanted_j = contents.enthalpy_j(temperature_c) + carried_j
    return Change(after, after.temperature_c(wanted_j, temperature_c), carried_j)


def _as_warm(contents: Contents, temperature_c: FloatArray, left: Contents) -> Change:
    """What leaves takes its heat with it, so that what stays is as warm as before."""
    return Change(left, temperature_c, left.enthalpy_j(temperature_c) - contents.enthalpy_j(temperature_c))


def _with_water(contents: Contents, temperature_c: FloatArray, mass_kg: float, water_c: float) -> Change:
    carried_j = np.full_like(contents.water_kg, mass_kg * float(enthalpy_j_per_kg(water_c)))
    return _mixed(contents, temperature_c, replace(contents, water_kg=contents.water_kg + mass_kg), carried_j)


def _with_grain(contents: Contents, temperature_c: FloatArray, batch: Batch, mashing: Mashing) -> Change:
    """Grain brings its heat and the heat of wetting; its extract dissolves at once, at the mash's temperature.

    The published heat of wetting was read on mashes whose extract dissolves, so dissolving changes no temperature here.
    """
    undissolved = _undissolved(contents, batch)
    stored_j = contents.enthalpy_j(temperature_c)
    mash_c = undissolved.temperature_c(stored_j + _grain_heat_j(contents, batch, mashing), temperature_c)
    mash = replace(
        undissolved,
        extract_kg=contents.extract_kg + mashing.extract_kg,
        grain_kg=undissolved.grain_kg - mashing.extract_kg,
    )
    return Change(mash, mash_c, mash.enthalpy_j(mash_c) - stored_j)


def strike_temperature_c(
    contents: Contents, rest_c: FloatArray, batch: Batch, mashing: Mashing, *, mass_kg: float = 0.0
) -> FloatArray:
    """Temperature of the contents [°C] into which the grain must go for the mash to land on a rest [°C].

    ``mass_kg`` is what goes in of the batch's grain [kg]; 0 means all.
    """
    batch, mashing = _portion(batch, mashing, mass_kg)
    wanted_j = _undissolved(contents, batch).enthalpy_j(rest_c) - _grain_heat_j(contents, batch, mashing)
    return contents.temperature_c(wanted_j, rest_c)


def _undissolved(contents: Contents, batch: Batch) -> Contents:
    return replace(contents, grain_kg=contents.grain_kg + batch.grain_kg)


def _grain_heat_j(contents: Contents, batch: Batch, mashing: Mashing) -> FloatArray:
    """Heat that the grain brings: its own and that of its wetting [J]."""
    per_kg_j = contents.grain_j_per_kg_k * mashing.grain_c + float(slaking_heat_j_per_kg(batch.grain_moisture))
    return np.asarray(batch.grain_kg * per_kg_j)


def _without_grain(contents: Contents, temperature_c: FloatArray, batch: Batch, grain_kg: float) -> Change:
    """Grain leaves with the wort that it holds."""
    held_kg = batch.absorption_l_per_kg * grain_kg / 1000 * wort_density_kg_per_m3(COLD_C, contents.plato)
    stays = 1 - np.minimum(held_kg / np.maximum(contents.liquid_kg, 1e-9), 1.0)
    left = replace(
        contents,
        water_kg=np.asarray(contents.water_kg * stays),
        extract_kg=np.asarray(contents.extract_kg * stays),
        grain_kg=np.zeros_like(temperature_c),
    )
    return _as_warm(contents, temperature_c, left)
