"""Everything that hangs on the circuit, on one common grid of time.

The profiles of a brew day count in seconds from the start; the other loads have windows of the local clock.
Here the windows become instants, and all loads get the same edges.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile, distinct
from energyplan.plan.model import Circuit, Line, OtherLoad
from energyplan.plan.values import MINUTES_PER_DAY

__all__ = ["Appliance", "Loads", "compose", "layout_of", "lines_of", "split_legs", "window_s"]

FloatArray = NDArray[np.float64]

_SPLIT_PHASE_ABOVE_V = 180.0
_MOTOR_WORDS = re.compile(r"fridge|refrigerat|freezer|compressor|chiller|pump|humidifier|dryer|washing", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Appliance:
    """One load on the common grid.

    ``heater_w_per_v2``, ``other_w`` and ``mean_w`` are step functions as in `LoadProfile`; ``lines`` the lines it
    hangs on, ``share`` the part of it on each, ``voltage_frac`` its voltage over that of the circuit;
    ``planned`` tells a profile of the brew day from another load, ``behind_lead`` that it is on the extension.
    """

    name: str
    heater_w_per_v2: FloatArray
    other_w: FloatArray
    mean_w: FloatArray
    lines: tuple[str, ...]
    share: float
    voltage_frac: float
    planned: bool
    behind_lead: bool
    motor: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """All appliances between the first and the last edge of the brew day."""

    edges_s: FloatArray
    appliances: tuple[Appliance, ...]


def layout_of(circuit: Circuit) -> str:
    """Kind of supply: as entered, else split phase for a North American voltage above 180 V, else one phase.

    Examples
    --------
    >>> layout_of(Circuit(voltage_v=240.0, rules="nec")), layout_of(Circuit(voltage_v=230.0))
    ('split phase', 'one phase')
    """
    if circuit.layout is not None:
        return circuit.layout
    return "split phase" if circuit.rules == "nec" and circuit.voltage_v > _SPLIT_PHASE_ABOVE_V else "one phase"


def split_legs(layout: str) -> tuple[str, ...]:
    """Lines that a layout has.

    Examples
    --------
    >>> split_legs("split phase")
    ('L1', 'L2')
    """
    return {"one phase": ("L1",), "split phase": ("L1", "L2"), "three phase": ("L1", "L2", "L3")}[layout]


def lines_of(circuit: Circuit, line: Line | None) -> tuple[str, ...]:
    """Lines that a load hangs on.

    Parameters
    ----------
    circuit : Circuit
        Layout, and the vessel's own line.
    line : str or None
        As entered for the load; None: as the vessel.

    Raises
    ------
    PlanError
        If the layout has no such line.

    Examples
    --------
    >>> lines_of(Circuit(voltage_v=240.0, rules="nec"), "L1"), lines_of(Circuit(voltage_v=240.0, rules="nec"), None)
    (('L1',), ('L1', 'L2'))
    """
    layout = layout_of(circuit)
    there = split_legs(layout)
    wanted = line or circuit.line or ("all" if layout == "split phase" else "L1")
    if wanted == "all":
        return there
    if wanted not in there:
        raise PlanError(f'line = "{wanted}": a circuit with layout "{layout}" has {", ".join(there)}; enter one')
    return (wanted,)


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
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
    lines: Mapping[str, Line] | None = None,
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
    lines : mapping, optional
        Line of each profile by its name; left out: as the vessel.

    Raises
    ------
    PlanError
        If there is no profile, the start is naive, or a line or window makes no sense.
    """
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
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    planned = [
        _planned(profile, circuit, (lines or {}).get(profile.name), middles_s, first=index == 0)
        for index, profile in enumerate(profiles)
    ]
    others = [_other(load, circuit, window, middles_s) for load, window in zip(other_loads, windows, strict=True)]
    return Loads(edges_s=edges_s, appliances=(*planned, *others))


def _planned(
    profile: LoadProfile, circuit: Circuit, line: Line | None, middles_s: FloatArray, *, first: bool
) -> Appliance:
    lines, share, voltage_frac = _placed(circuit, line)
    return Appliance(
        name=profile.name,
        heater_w_per_v2=profile.at(profile.heater_w_per_v2, middles_s),
        other_w=profile.at(profile.other_w, middles_s),
        mean_w=profile.at(profile.mean_w, middles_s),
        lines=lines,
        share=share,
        voltage_frac=voltage_frac,
        planned=True,
        behind_lead=first and circuit.extension is not None,
        motor=False,
    )


def _other(load: OtherLoad, circuit: Circuit, window: list[tuple[float, float]], middles_s: FloatArray) -> Appliance:
    on = np.zeros(middles_s.shape)
    for left_s, right_s in window:
        on[(middles_s > left_s) & (middles_s < right_s)] = 1.0
    lines, share, voltage_frac = _placed(circuit, load.line)
    return Appliance(
        name=load.name,
        heater_w_per_v2=np.zeros(middles_s.shape),
        other_w=load.power_w * on,
        mean_w=load.power_w * load.duty * on,
        lines=lines,
        share=share,
        voltage_frac=voltage_frac,
        planned=False,
        behind_lead=False,
        motor=load.motor if load.motor is not None else _MOTOR_WORDS.search(load.name) is not None,
    )


def _placed(circuit: Circuit, line: Line | None) -> tuple[tuple[str, ...], float, float]:
    """Lines of a load, its share on each, and its voltage over that of the circuit."""
    there, layout = lines_of(circuit, line), layout_of(circuit)
    share = 1 / 3 if layout == "three phase" and len(there) == 3 else 1.0
    return there, share, 0.5 if layout == "split phase" and len(there) == 1 else 1.0
