"""The circuit check: a day's loads against every rating that was entered."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import field
from datetime import datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.kinds import AMPERES, SHARE, WORD
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.base.sentence import html_table
from energyplan.circuits import protection, supplyfindings, wirefindings
from energyplan.circuits.findings import Finding, Severity, worst_of
from energyplan.circuits.study import Rating, Study, study
from energyplan.circuits.wiring import ELEMENT_HIGH, ELEMENT_LOW
from energyplan.physics.network import NEUTRAL
from energyplan.plan.equipment import Circuit, OtherLoad

__all__ = ["ApplianceCurrent", "CircuitCheck", "LineLoad", "VoltageCase", "check", "judged"]

FloatArray = NDArray[np.float64]
_HOUR_S = 3600.0

_JUDGES: tuple[Callable[[Study], Iterator[Finding]], ...] = (
    protection.breaker,
    protection.breaker_start,
    protection.continuous,
    protection.one_appliance,
    protection.outlet,
    protection.outlet_hours,
    protection.outlet_protection,
    protection.plug_fuse_finding,
    wirefindings.cable,
    wirefindings.cable_protection,
    wirefindings.ring,
    wirefindings.extension,
    wirefindings.lead_protection,
    wirefindings.lead_length,
    wirefindings.voltage_drop,
    supplyfindings.disconnection,
    supplyfindings.residual_current,
    supplyfindings.leakage,
    supplyfindings.voltage,
    supplyfindings.supply_lines,
    supplyfindings.sharing,
    supplyfindings.main_fuse,
    supplyfindings.place,
    supplyfindings.isolation,
    supplyfindings.region,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLoad:
    """One conductor of the circuit: its largest current [A], and the share of the breaker's rating that is left.

    That of a neutral is the largest whichever of the loads rest.
    The neutral has no breaker; a margin is None where none was entered.
    """

    line: str
    peak_a: float
    breaker_margin_frac: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ApplianceCurrent:
    """One appliance's part of the fullest line's current over the shared edges [A] (n,): elements on, and as a mean.

    ``own_a`` is its largest current in its own fullest conductor [A], ``place_a`` that in each place where it hangs.
    ``use_min`` is how long it is in use, pulses and the rests of a thermostat counted in [min], ``place_min`` the same
    for its elements in each place.
    """

    name: str
    planned: bool
    on_a: FloatArray
    mean_a: FloatArray
    own_a: float
    place_a: Mapping[str, float]
    use_min: float
    place_min: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageCase:
    """Largest currents at one voltage of the supply."""

    name: str
    voltage_v: float
    element_factor: float
    peak_a: float
    vessel_a: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CircuitCheck:
    """What flows in a circuit over a brew day, and how that compares with its ratings.

    Attributes
    ----------
    start : datetime
        Instant of second 0.
    zone : tzinfo
        Zone of the local clock.
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s].
    appliances : tuple of ApplianceCurrent
        Each on the same edges, for a stacked chart.
    on_a, mean_a, rms_a : ndarray, shape (n,)
        The fullest line with all elements on, its mean, and its RMS with pulses together, at the voltage entered [A].
    lines : tuple of LineLoad
        Every conductor that carries something, the neutral last.
    line : str
        The fullest line.
    line_a : tuple of (str, ndarray)
        The current of each conductor over the steps [A].
    peak_a : float
        Largest current of the fullest line with all elements on [A].
    vessel_a : float
        Largest current of the vessel alone [A].
    limit_a, limit_name : float or None, str
        The rating that is used most [A]; None and "" when none was entered.
    continuous_a : float
        Largest current that lasts 3 h or more without a break, pulses counted as on [A]; 0 when none does.
    rms_60_min_a : float
        Largest RMS over any 60 min [A].
    longest_at_peak_min : float
        Longest stretch within 1 % of the peak [min]; it begins at `peak_at_s`. Pulses don't count, unless the peak is
        reached in pulses alone, ``pulses_at_peak``.
    vessel_at_peak_min, vessel_pulses_min : float
        Longest stretches of the vessel at its own peak, without a break and in pulses [min].
    voltage_drop_v, voltage_drop_frac : float
        Largest drop between the board and an appliance of the day.
    ratings : tuple of Rating
        Every rating that was entered.
    voltages : tuple of VoltageCase
        As entered, nominal, high, low.
    findings : tuple of Finding
        All judgements.
    """

    start: datetime
    zone: tzinfo
    edges_s: FloatArray
    appliances: tuple[ApplianceCurrent, ...]
    on_a: FloatArray
    mean_a: FloatArray
    rms_a: FloatArray
    lines: tuple[LineLoad, ...]
    line: str
    line_a: tuple[tuple[str, FloatArray], ...]
    peak_a: float
    vessel_a: float
    peak_at_s: float
    limit_a: float | None
    limit_name: str
    continuous_a: float
    rms_60_min_a: float
    longest_at_peak_min: float
    pulses_at_peak: bool
    vessel_at_peak_min: float = field(repr=False)
    vessel_pulses_min: float = field(repr=False)
    voltage_drop_v: float
    voltage_drop_frac: float
    ratings: tuple[Rating, ...]
    voltages: tuple[VoltageCase, ...]
    findings: tuple[Finding, ...]

    def _repr_html_(self) -> str:
        rows = [
            (
                WORD(one.line),
                AMPERES(one.peak_a),
                None if one.breaker_margin_frac is None else SHARE(one.breaker_margin_frac),
            )
            for one in self.lines
        ]
        return html_table(WORD("The circuit"), ("Line", "Most", "Left of the breaker"), rows)

    @property
    def severity(self) -> Severity:
        """Gravest of all findings."""
        return worst_of(*(finding.severity for finding in self.findings))


def check(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> CircuitCheck:
    """Compare a day's loads with the ratings of the circuit.

    Parameters
    ----------
    profiles : sequence of LoadProfile
        The appliances of the brew day, the vessel first; outlet, plug and lead are the vessel's.
    circuit : Circuit
        What is known of the circuit; what was left out is not judged and named as such.
    other_loads : sequence of OtherLoad
        Whatever else hangs on it, in windows of the local clock; taken as on while the window is open.
    start : datetime
        Aware instant of second 0, best in UTC.
    zone : tzinfo
        Zone of the local clock.

    Returns
    -------
    CircuitCheck
        Currents, ratings and findings.

    Raises
    ------
    PlanError
        If there is no profile, the start is naive, a line does not exist, or a window has no length.

    Notes
    -----
    Elements are conductances in the network of `energyplan.physics.network.solve`; pulsing elements draw their full
    current whatever their mean. What depends on something that was not entered is "unknown", never "ok". A rating is
    "over" when the current at the nominal voltage passes it by more than 2 %, the slack of a nameplate; a current that
    passes it only at a high voltage is a note.

    Examples
    --------
    >>> from datetime import UTC
    >>> steady = LoadProfile(name="Vessel", edges_s=np.array([0.0, 3600.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.array([2000 / 230**2]), other_w=np.zeros(1))
    >>> circuit = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B")
    >>> result = check([steady], circuit, (), datetime(2026, 5, 1, 8, tzinfo=UTC), UTC)
    >>> round(result.peak_a, 2), result.limit_a, result.findings[0].severity
    (8.7, 16.0, 'ok')
    """
    return judged(study(profiles, circuit, other_loads, start, zone))


def judged(studied: Study) -> CircuitCheck:
    """Judge a day that is solved on its circuit."""
    at_peak_s, length_s = studied.at_peak_s
    vessel_s, pulses_s = studied.vessel_at_peak_s
    tightest = studied.tightest
    entered = studied.entered
    drop_v, drop_frac = _drop(studied)
    return CircuitCheck(
        start=studied.start,
        zone=studied.zone,
        edges_s=studied.loads.edges_s,
        appliances=_appliances(studied),
        on_a=entered.total_a,
        mean_a=np.asarray(entered.mean_a.sum(axis=0)),
        rms_a=np.sqrt(entered.mean_square_a2),
        lines=tuple(_lines(studied)),
        line=entered.line,
        line_a=tuple(entered.line_a.items()),
        peak_a=studied.peak_a(entered),
        vessel_a=studied.vessel_peak_a(entered),
        peak_at_s=at_peak_s,
        limit_a=tightest.limit_a if tightest else None,
        limit_name=tightest.name if tightest else "",
        continuous_a=studied.lasting_a(pulses_count_as_on=True),
        rms_60_min_a=studied.rms_a(_HOUR_S),
        longest_at_peak_min=length_s / 60,
        pulses_at_peak=studied.pulses_at_peak,
        vessel_at_peak_min=vessel_s / 60,
        vessel_pulses_min=pulses_s / 60,
        voltage_drop_v=drop_v,
        voltage_drop_frac=drop_frac,
        ratings=studied.ratings,
        voltages=_voltages(studied),
        findings=tuple(finding for judge in _JUDGES for finding in judge(studied)),
    )


def _drop(studied: Study) -> tuple[float, float]:
    """Largest drop to an appliance of the day, or in the cable that it shares: volts and share."""
    entered = studied.entered
    worst = int(np.argmax(entered.drop_frac))
    drop_v, drop_frac = float(entered.drop_v[worst]), float(entered.drop_frac[worst])
    shared_frac = float(entered.cable_drop_frac.max())
    if shared_frac > drop_frac:
        return shared_frac * studied.circuit.voltage_v * studied.across_frac, shared_frac
    return drop_v, drop_frac


def _lines(studied: Study) -> Iterator[LineLoad]:
    breaker_a = studied.circuit.breaker_a
    for name, peak_a in studied.conductor_peaks_a.items():
        left = None if breaker_a is None or name == NEUTRAL else 1 - peak_a / breaker_a
        yield LineLoad(line=name, peak_a=peak_a, breaker_margin_frac=left)


def _appliances(studied: Study) -> tuple[ApplianceCurrent, ...]:
    entered, minutes = studied.entered, np.diff(studied.loads.edges_s) / 60
    return tuple(
        ApplianceCurrent(
            name=appliance.name,
            planned=appliance.planned,
            on_a=entered.on_a[number],
            mean_a=entered.mean_a[number],
            own_a=float(entered.own_peak_a[number]),
            place_a=entered.place_a[number],
            use_min=float(minutes @ (appliance.other_w > 0)),
            place_min={place: float(minutes @ (siemens > 0)) for place, siemens in appliance.heaters},
        )
        for number, appliance in enumerate(studied.loads.appliances)
    )


def _voltages(studied: Study) -> tuple[VoltageCase, ...]:
    cases = (
        ("as entered", studied.entered, 1.0),
        ("nominal", studied.nominal, 1.0),
        ("high", studied.high, ELEMENT_HIGH),
        ("low", studied.low, ELEMENT_LOW),
    )
    return tuple(
        VoltageCase(
            name=name,
            voltage_v=at.voltage_v,
            element_factor=factor,
            peak_a=studied.peak_a(at),
            vessel_a=studied.vessel_peak_a(at),
        )
        for name, at, factor in cases
    )
