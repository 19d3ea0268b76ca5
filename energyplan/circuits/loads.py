"""Everything that hangs on the circuit, on one common grid of time.

The profiles of a brew day count in seconds from the start; the other loads have windows of the local clock.
Here the windows become instants, and all loads get the same edges.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile, distinct, need_loads
from energyplan.base.records import dataclass
from energyplan.physics.network import board_frac, connections, lines_in
from energyplan.plan.equipment import Circuit, OtherLoad
from energyplan.plan.lines import connection_of, home_of, layout_of
from energyplan.plan.values import MINUTES_PER_DAY

__all__ = ["Appliance", "Loads", "compose", "loaded_conductors", "rehung", "window_s"]

FloatArray = NDArray[np.float64]

_MOTOR_WORDS = re.compile(
    r"\b(?:fridges?|refrigerat(?:or|ion)s?|freezers?|compressors?|chillers?|pumps?|dehumidifiers?)\b", re.IGNORECASE
)
# Appliances that heat, with a motor for the drum or the pump of about 300 W (common practice, no source).
_SMALL_MOTOR_WORDS = re.compile(r"\b(?:dryers?|washers?|washing|dishwashers?)\b", re.IGNORECASE)
_DRUM_MOTOR_W = 300.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Appliance:
    """One load on the common grid.

    ``heaters`` are the conductances of its elements by the place where they hang, ``other_w`` and ``mean_w`` step
    functions as in `LoadProfile`, the former in the place ``other_line``; a place is "" where nobody said it.
    ``planned`` tells a profile of the brew day from another load, ``behind_lead`` that it is on the extension;
    ``motor_w`` is the power of what starts as a motor in it.
    """

    name: str
    heaters: tuple[tuple[str, FloatArray], ...]
    other_w: FloatArray
    other_line: str
    mean_w: FloatArray
    planned: bool
    behind_lead: bool
    motor_w: float

    @property
    def hangs_somewhere(self) -> bool:
        """Whether its place is known."""
        return bool(self.other_line) and all(place for place, _ in self.heaters)

    def on(self, line: str) -> "Appliance":
        """The same with what nobody placed hung from a line to neutral."""
        if self.hangs_somewhere:
            return self
        heaters = tuple((place or line, siemens) for place, siemens in self.heaters)
        return replace(self, heaters=heaters, other_line=self.other_line or line)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """All appliances between the first and the last edge of the brew day, on a supply of some layout."""

    layout: str
    edges_s: FloatArray
    appliances: tuple[Appliance, ...]

    @property
    def unplaced(self) -> tuple[str, ...]:
        """Names of the appliances of which nobody said where they hang."""
        return tuple(appliance.name for appliance in self.appliances if not appliance.hangs_somewhere)

    @property
    def places(self) -> set[str]:
        """Where something hangs that draws; "" where nobody said it."""
        heaters = {place for appliance in self.appliances for place, _ in appliance.heaters}
        return heaters | {appliance.other_line for appliance in self.appliances if appliance.other_w.any()}

    def on(self, line: str) -> "Loads":
        """The same with what nobody placed hung from a line to neutral."""
        return replace(self, appliances=tuple(appliance.on(line) for appliance in self.appliances))


def loaded_conductors(loads: Loads) -> int:
    """Loaded conductors of the cable, 2 or 3: on three phases two lines with a neutral are three.

    Notes
    -----
    The neutral of a split phase carries the difference of its legs and does not count (NFPA 70, 310.15(E)(1); from
    memory).
    """
    lines = {line for place in loads.places for line in lines_in(place)}
    neutral = any(len(lines_in(place)) == 1 for place in loads.places)
    apart = loads.layout in ("three phase", "two of three phases")
    return 3 if len(lines) > 2 or (apart and len(lines) + neutral > 2) else 2


def rehung(profiles: Sequence[LoadProfile], circuit: Circuit) -> tuple[LoadProfile, ...]:
    """Loads of a plan that knows no lines, or others, hung where the circuit's outlet has the circuit's own voltage.

    Examples
    --------
    >>> kettle = LoadProfile(name="Vessel", edges_s=np.arange(2.0), mean_w=np.ones(1), heater_w_per_v2=np.ones(1),
    ...                      other_w=np.zeros(1), line="L1")
    >>> rehung([kettle], Circuit(rules="nec", voltage_v=240.0))[0].line
    'L1-L2'
    """
    layout, home = layout_of(circuit), home_of(circuit)
    places = (place for place in (home, *lines_in(home), "L1-L2") if abs(board_frac(layout, place) - 1) < 1e-9)
    place = next(places)
    return tuple(replace(profile, line=place, by_line=()) for profile in profiles)


def window_s(load: OtherLoad, begin: datetime, end: datetime, zone: tzinfo) -> list[tuple[float, float]]:
    """Instants at which a load's window of the local clock is open.

    Parameters
    ----------
    load : OtherLoad
        Its window is half-open and may wrap midnight.
    begin, end : datetime
        Aware ends of the span to look at.
    zone : tzinfo
        Zone of the local clock.

    Returns
    -------
    list of (float, float)
        Intervals in seconds after `begin`, in order.

    Raises
    ------
    PlanError
        If the window opens and closes at the same minute.

    Notes
    -----
    The load is on whenever the clock on the wall shows a time inside the window: an hour that a clock change
    skips is skipped, one that it repeats counts twice.

    Examples
    --------
    >>> noon = datetime(2026, 5, 1, 12, tzinfo=UTC)
    >>> kettle = OtherLoad(name="Kettle", power_w=2000.0, from_min=750, to_min=755)
    >>> window_s(kettle, noon, noon + timedelta(hours=2), UTC)
    [(1800.0, 2100.0)]
    """
    if load.from_min == load.to_min:
        raise PlanError(f"other_load {load.name!r}: from and to are the same time; leave both out for all day")
    first, span_s = begin.astimezone(UTC), (end - begin).total_seconds()
    cuts = {0.0, span_s}
    for instant in (*_boundaries(load, first, span_s, zone), *_clock_changes(first, span_s, zone)):
        offset_s = (instant - first).total_seconds()
        if 0 < offset_s < span_s:
            cuts.add(offset_s)
    ordered = sorted(cuts)
    opened: list[tuple[float, float]] = []
    for left_s, right_s in pairwise(ordered):
        if not _is_open(load, (first + timedelta(seconds=(left_s + right_s) / 2)).astimezone(zone)):
            continue
        if opened and opened[-1][1] == left_s:
            opened[-1] = (opened[-1][0], right_s)
        else:
            opened.append((left_s, right_s))
    return opened


def _is_open(load: OtherLoad, local: datetime) -> bool:
    minute = local.hour * 60 + local.minute + local.second / 60 + local.microsecond / 6e7
    if load.from_min < load.to_min:
        return load.from_min <= minute < load.to_min
    return minute >= load.from_min or minute < load.to_min


def _boundaries(load: OtherLoad, first: datetime, span_s: float, zone: tzinfo) -> list[datetime]:
    """Instants when the wall clock may show the ends of the window, both readings of a repeated hour."""
    day = (first - timedelta(days=2)).astimezone(zone).date()
    instants = []
    for number in range(int(span_s // 86400) + 5):
        midnight = datetime.combine(day + timedelta(days=number), datetime.min.time())
        for minute in {load.from_min % MINUTES_PER_DAY, load.to_min % MINUTES_PER_DAY}:
            local = midnight + timedelta(minutes=minute)
            instants += [local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    return instants


def _clock_changes(first: datetime, span_s: float, zone: tzinfo) -> list[datetime]:
    """Instants at which the zone's offset changes, to the second."""

    def offset(after_s: float) -> timedelta | None:
        return (first + timedelta(seconds=after_s)).astimezone(zone).utcoffset()

    changes = []
    hours = np.append(np.arange(0.0, span_s, 3600.0), span_s)
    for left, right in pairwise(hours):
        if offset(left) == offset(right):
            continue
        low_s, high_s = int(left), int(np.ceil(right))
        while high_s - low_s > 1:
            middle_s = (low_s + high_s) // 2
            low_s, high_s = (middle_s, high_s) if offset(middle_s) == offset(left) else (low_s, middle_s)
        changes.append(first + timedelta(seconds=high_s))
    return changes


def compose(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> Loads:
    """Put all loads of a day on one grid.

    Parameters
    ----------
    profiles : sequence of LoadProfile
        The appliances of the brew day, the vessel first; only the first is behind the extension lead.
    circuit : Circuit
        Layout of the supply.
    other_loads : sequence of OtherLoad
        Whatever else hangs on it; taken as on while its window is open, whatever its duty.
    start : datetime
        Aware instant of second 0.
    zone : tzinfo
        Zone of the other loads' clock.

    Raises
    ------
    PlanError
        If there is no profile, the start is naive, or a line or window makes no sense.
    """
    need_loads(profiles)
    if not profiles:
        raise PlanError("no loads to check; give the profile of at least one appliance")
    if start.tzinfo is None or start.utcoffset() is None:
        raise PlanError(f"start = {start.isoformat()} has no time zone; give an aware datetime, best in UTC")
    begin_s = min(float(profile.edges_s[0]) for profile in profiles)
    end_s = max(float(profile.edges_s[-1]) for profile in profiles)
    first = start.astimezone(UTC) + timedelta(seconds=begin_s)
    last = start.astimezone(UTC) + timedelta(seconds=end_s)
    windows = [
        [(begin_s + left_s, begin_s + right_s) for left_s, right_s in window_s(load, first, last, zone)]
        for load in other_loads
    ]
    borders = [edge_s for window in windows for pair in window for edge_s in pair]
    edges_s = distinct(np.concatenate([*(profile.edges_s for profile in profiles), np.array(borders)]))
    edges_s = edges_s[np.append(True, np.diff(edges_s) > 1e-6)]
    planned = [_planned(profile, circuit, edges_s, first=place == 0) for place, profile in enumerate(profiles)]
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    others = [_other(load, circuit, window, middles_s) for load, window in zip(other_loads, windows, strict=True)]
    return Loads(layout=layout_of(circuit), edges_s=edges_s, appliances=(*planned, *others))


def _place(circuit: Circuit, line: str) -> str:
    """A place that the supply has."""
    there = connections(layout_of(circuit))
    if line and line not in there:
        raise PlanError(f'line = "{line}": a {layout_of(circuit)} circuit has {", ".join(there)}; enter one')
    return line


def _planned(profile: LoadProfile, circuit: Circuit, edges_s: FloatArray, *, first: bool) -> Appliance:
    load = profile.on_edges(edges_s)
    place = _place(circuit, load.line or (home_of(circuit) if first else connection_of(circuit, None) or ""))
    parts = load.by_line or ((place, load.heater_w_per_v2),)
    return Appliance(
        name=load.name,
        heaters=tuple((_place(circuit, at), siemens) for at, siemens in parts if siemens.any()),
        other_w=load.other_w,
        other_line=place,
        mean_w=load.mean_w,
        planned=True,
        behind_lead=first and circuit.extension is not None,
        motor_w=0.0,
    )


def _other(load: OtherLoad, circuit: Circuit, window: list[tuple[float, float]], middles_s: FloatArray) -> Appliance:
    on = np.zeros(middles_s.shape)
    for left_s, right_s in window:
        on[(middles_s > left_s) & (middles_s < right_s)] = 1.0
    return Appliance(
        name=load.name,
        heaters=(),
        other_w=load.power_w * on,
        other_line=_place(circuit, connection_of(circuit, load.line) or ""),
        mean_w=load.power_w * load.duty * on,
        planned=False,
        behind_lead=False,
        motor_w=_motor_w(load) if on.any() else 0.0,
    )


def _motor_w(load: OtherLoad) -> float:
    """Power of what starts as a motor [W]: all of it, the drum's of what mostly heats, or none."""
    if load.motor is False:
        return 0.0
    if _SMALL_MOTOR_WORDS.search(load.name):
        return min(load.power_w, _DRUM_MOTOR_W)
    return load.power_w if load.motor or _MOTOR_WORDS.search(load.name) else 0.0
