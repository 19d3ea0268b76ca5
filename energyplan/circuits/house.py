"""The whole house at its meter: the brew day, what else hangs on its circuit, and the rest, as steps of power."""

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile, distinct
from energyplan.base.records import dataclass
from energyplan.circuits.loads import window_s
from energyplan.circuits.wiring import ELEMENT_HIGH, VoltageBand, voltage_band
from energyplan.day.supply import wires_of
from energyplan.physics.network import PHASORS, Branch, Network, Wires, lines_in, solve
from energyplan.plan.equipment import Circuit, OtherLoad
from energyplan.plan.lines import connection_of, home_of, layout_of
from energyplan.plan.model import Plan

__all__ = ["LONGEST_SHIFT_S", "House", "HouseLoad", "HouseTotals", "house_of"]

FloatArray = NDArray[np.float64]

LONGEST_SHIFT_S = 12 * 3600.0  # how far a day may be moved for its surroundings to be known [our choice]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HouseLoad:
    """One load at the meter as a step function of the seconds since the start of the brew day.

    ``on_w`` with its elements on, ``high_w`` the same at the upper end of the supply with elements 5 % above their
    plates, ``heater_w`` the part of ``on_w`` that the elements draw, ``mean_w`` as the meter counts it; ``planned``
    tells the brew day's own loads from the house's. ``line_w`` is ``on_w`` by line, where the supply has three; what
    nobody placed counts on each of them.
    """

    name: str
    planned: bool
    edges_s: FloatArray
    on_w: FloatArray
    high_w: FloatArray
    heater_w: FloatArray
    mean_w: FloatArray
    line_w: Mapping[str, FloatArray] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HouseTotals:
    """Everything at the meter during a brew day: borders [s], power of each load (k, n), of all, by line [W] (n,)."""

    edges_s: FloatArray
    load_on_w: FloatArray
    on_w: FloatArray
    high_w: FloatArray
    mean_w: FloatArray
    line_w: Mapping[str, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class House:
    """All loads at the meter around a brew day, which begins at `begin_s` and ends at `end_s`."""

    loads: tuple[HouseLoad, ...]
    base_w: float
    begin_s: float
    end_s: float

    def totals(self, shift_s: float = 0.0) -> HouseTotals:
        """Sum everything up while the brew day lasts, as if it began some seconds later (earlier: negative).

        The seconds still count from the start of the brew day: what moves is the house around it.
        """
        moved = [(load, load.edges_s - (0.0 if load.planned else shift_s)) for load in self.loads]
        inner = np.concatenate([edges_s for _, edges_s in moved])
        inner = inner[(inner > self.begin_s) & (inner < self.end_s)]
        edges_s = distinct(np.concatenate([[self.begin_s], inner, [self.end_s]]))
        middles_s = (edges_s[1:] + edges_s[:-1]) / 2
        on, high, mean = (
            np.stack([_at(edges, getattr(load, column), middles_s) for load, edges in moved])
            for column in ("on_w", "high_w", "mean_w")
        )
        lines = dict.fromkeys(line for load, _ in moved for line in load.line_w)
        line_w = {
            line: np.sum([_at(edges, load.line_w[line], middles_s) for load, edges in moved], axis=0)
            + self.base_w / len(lines)
            for line in lines
        }
        return HouseTotals(
            edges_s=edges_s,
            load_on_w=on,
            on_w=on.sum(axis=0) + self.base_w,
            high_w=high.sum(axis=0) + self.base_w,
            mean_w=mean.sum(axis=0) + self.base_w,
            line_w=line_w,
        )

    def beside(self, shift_s: float = 0.0) -> tuple[LoadProfile, ...]:
        """What the house draws beside the brew day, on the mean; without the base load."""
        return tuple(
            LoadProfile(
                name=load.name,
                edges_s=load.edges_s - shift_s,
                mean_w=load.mean_w,
                heater_w_per_v2=np.zeros_like(load.mean_w),
                other_w=load.on_w,
            )
            for load in self.loads
            if not load.planned
        )


def _at(edges_s: FloatArray, values: FloatArray, times_s: FloatArray) -> FloatArray:
    index = np.searchsorted(edges_s, times_s, side="right") - 1
    inside = (index >= 0) & (index < values.size)
    return np.where(inside, values[np.clip(index, 0, values.size - 1)], 0.0)


def house_of(plan: Plan, profiles: Sequence[LoadProfile], start: datetime, zone: tzinfo) -> House:
    """Put everything that the house's meter sees around a brew day together.

    Parameters
    ----------
    plan : Plan
        Voltage and wires of the circuit, its other loads, the house's loads and its base load.
    profiles : sequence of LoadProfile
        All appliances of the brew day, the vessel first; also those on a circuit of their own.
    start : datetime
        Aware instant of second 0.
    zone : tzinfo
        Zone of the other loads' clock.

    Notes
    -----
    Elements draw what the network of the circuit gives each appliance alone on its wires; the other loads count as on
    while their window is open, whatever their duty, and above the nominal voltage they draw more, as a kettle does.
    On three lines each line's power is there beside the sum, the base load spread evenly over them.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> from energyplan.day.brewday import simulate
    >>> day = simulate(read_plan("demo"))
    >>> house = house_of(day.plan, day.profiles, datetime(2026, 12, 5, 8, tzinfo=UTC), UTC)
    >>> [load.name for load in house.loads]
    ['Vessel', 'Second heater', 'Fermentation fridge']
    """
    if start.tzinfo is None:
        raise PlanError(f"start = {start.isoformat()} has no time zone; give an aware datetime, best in UTC")
    begin_s = min(float(profile.edges_s[0]) for profile in profiles)
    end_s = max(float(profile.edges_s[-1]) for profile in profiles)
    rules = plan.circuit.rules if plan.circuit else "iec"
    band = voltage_band(rules, plan.voltage_v)
    planned = [_planned(profile, plan, band, is_first=place == 0) for place, profile in enumerate(profiles)]
    first = start.astimezone(UTC) + timedelta(seconds=begin_s - LONGEST_SHIFT_S)
    last = start.astimezone(UTC) + timedelta(seconds=end_s + LONGEST_SHIFT_S)
    others = [
        _other(load, window_s(load, first, last, zone), begin_s - LONGEST_SHIFT_S, (band.high_v / band.nominal_v) ** 2)
        for load in (*plan.other_loads, *plan.house_loads)
    ]
    if plan.circuit is not None and layout_of(plan.circuit) == "three phase":
        places = [*(connection_of(plan.circuit, load.line) for load in plan.other_loads)]
        places += [load.line for load in plan.house_loads]
        others = [load and _on_lines(load, place) for load, place in zip(others, places, strict=True)]
    return House(
        loads=(*planned, *(load for load in others if load is not None)),
        base_w=plan.supply.base_load_w if plan.supply else 0.0,
        begin_s=begin_s,
        end_s=end_s,
    )


def _planned(profile: LoadProfile, plan: Plan, band: VoltageBand, *, is_first: bool) -> HouseLoad:
    entered, high = (
        _heaters(profile, plan.circuit, (voltage_v, factor), is_first=is_first)
        for voltage_v, factor in ((plan.voltage_v, 1.0), (band.high_v, ELEMENT_HIGH))
    )

    def other_w(voltage_v: float) -> FloatArray:
        return profile.other_w * max((voltage_v / band.nominal_v) ** 2, 1.0)

    load = HouseLoad(
        name=profile.name,
        planned=True,
        edges_s=profile.edges_s,
        on_w=entered.board_w + other_w(plan.voltage_v),
        high_w=high.board_w + other_w(band.high_v),
        heater_w=entered.board_w,
        mean_w=profile.mean_w,
    )
    if plan.circuit is None or layout_of(plan.circuit) != "three phase":
        return load
    if not (is_first or profile.line or profile.by_line):
        return _on_lines(load, None)
    by_line = dict(zip(entered.conductors, (entered.board_v * entered.total_a.conj()).real, strict=True))
    beside = _on_lines(replace(load, on_w=other_w(plan.voltage_v)), profile.line or home_of(plan.circuit)).line_w
    return replace(load, line_w={line: watts + by_line.get(line, 0.0) for line, watts in beside.items()})


def _on_lines(load: HouseLoad, place: str | None) -> HouseLoad:
    """A load in a place of three lines: evenly on those that it draws from, on every line where nobody said it."""
    three = PHASORS["three phase"]
    its = lines_in(place) if place else ()
    share = {line: 1 / len(its) if line in its else 0.0 if its else 1.0 for line in three}
    return replace(load, line_w={line: share[line] * load.on_w for line in three})


def _heaters(profile: LoadProfile, circuit: Circuit | None, supply: tuple[float, float], *, is_first: bool) -> Network:
    """What an appliance's elements draw while they are on, at a voltage and a factor on their plates."""
    voltage_v, element_factor = supply
    nothing = np.zeros_like(profile.heater_w_per_v2)
    line = profile.line or (home_of(circuit) if circuit and is_first else "L1")
    parts = profile.by_line or ((line, profile.heater_w_per_v2),)
    branches = [
        Branch(connection=place, siemens=part * element_factor, steady_a=nothing, behind_lead=is_first)
        for place, part in parts
    ]
    wires = wires_of(circuit) if is_first else Wires()
    return solve(layout_of(circuit) if circuit else "one phase", branches, wires, voltage_v)


def _other(load: OtherLoad, windows_s: list[tuple[float, float]], from_s: float, high: float) -> HouseLoad | None:
    """A load of the house, zero between its windows; None when it is never on around the day."""
    if not windows_s:
        return None
    edges_s = from_s + np.array([edge_s for window in windows_s for edge_s in window])
    on = np.append(np.tile([1.0, 0.0], len(windows_s) - 1), 1.0) * load.power_w
    return HouseLoad(
        name=load.name,
        planned=False,
        edges_s=edges_s,
        on_w=on,
        high_w=high * on,
        heater_w=np.zeros_like(on),
        mean_w=load.duty * on,
    )
