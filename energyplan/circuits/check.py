"""The circuit check: a day's loads against every rating that was entered."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.circuits import protection, supplyfindings, wirefindings
from energyplan.circuits.findings import Finding, Severity, worst_of
from energyplan.circuits.ratings import CAUTION
from energyplan.circuits.study import Rating, Study, study
from energyplan.circuits.voltages import ELEMENT_HIGH, ELEMENT_LOW
from energyplan.plan.model import Circuit, Line, OtherLoad

__all__ = ["ApplianceCurrent", "CircuitCheck", "VoltageCase", "check"]

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
    wirefindings.extension,
    wirefindings.lead_length,
    wirefindings.voltage_drop,
    supplyfindings.voltage,
    supplyfindings.supply_lines,
    supplyfindings.residual_current,
    supplyfindings.not_checked,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ApplianceCurrent:
    """One appliance's current over the shared edges [A] (n,): with its elements on, and as a mean."""

    name: str
    planned: bool
    on_a: FloatArray
    mean_a: FloatArray


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
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s].
    appliances : tuple of ApplianceCurrent
        Each on the same edges, for a stacked chart.
    on_a, mean_a, rms_a : ndarray, shape (n,)
        Sum with all elements on, mean, and RMS with pulses together, at the voltage entered [A].
    peak_a : float
        Largest sum with all elements on [A].
    limit_a, limit_name : float or None, str
        The rating that is used most [A]; None and "" when none was entered.
    continuous_a : float
        Largest current that lasts 3 h or more without a break, pulses counted as on [A]; 0 when none does.
    rms_60_min_a : float
        Largest RMS over any 60 min [A].
    longest_at_peak_min : float
        Longest stretch within 1 % of the peak [min]; it begins at `peak_at_s`.
    voltage_drop_v, voltage_drop_frac : float
        Largest drop between the board and an appliance of the day.
    ratings : tuple of Rating
        Every rating that was entered.
    voltages : tuple of VoltageCase
        As entered, nominal, high, low.
    findings : tuple of Finding
        All judgements.
    caution : str
        What the reader must know.
    """

    start: datetime
    edges_s: FloatArray
    appliances: tuple[ApplianceCurrent, ...]
    on_a: FloatArray
    mean_a: FloatArray
    rms_a: FloatArray
    peak_a: float
    peak_at_s: float
    limit_a: float | None
    limit_name: str
    continuous_a: float
    rms_60_min_a: float
    longest_at_peak_min: float
    voltage_drop_v: float
    voltage_drop_frac: float
    ratings: tuple[Rating, ...]
    voltages: tuple[VoltageCase, ...]
    findings: tuple[Finding, ...]
    caution: str = CAUTION

    @property
    def severity(self) -> Severity:
        """Gravest of all findings."""
        return worst_of(*(finding.severity for finding in self.findings))


def check(
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
    lines: Mapping[str, Line] | None = None,
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
    lines : mapping, optional
        Line of each profile by name, on a supply with several; left out: the vessel's.

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
    Elements are conductances behind the resistance of their wires; pulsing elements draw their full current
    whatever their mean. A rating is "over" when the current at the nominal voltage passes it by more than 2 %,
    the slack of a nameplate; a current that passes it only at a high voltage is a note.

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
    studied = study(profiles, circuit, other_loads, start, zone, lines)
    at_peak_s, length_s = studied.at_peak_s
    tightest = studied.tightest
    drop_v = float(max(studied.entered.drop_v.max(), studied.entered.cable_drop_v.max()))
    return CircuitCheck(
        start=start,
        edges_s=studied.loads.edges_s,
        appliances=_appliances(studied),
        on_a=studied.entered.total_a,
        mean_a=np.asarray(studied.entered.mean_a.sum(axis=0)),
        rms_a=np.sqrt(studied.entered.mean_square_a2),
        peak_a=studied.peak_a(studied.entered),
        peak_at_s=at_peak_s,
        limit_a=tightest.limit_a if tightest else None,
        limit_name=tightest.name if tightest else "",
        continuous_a=studied.lasting_a(pulses_count_as_on=True),
        rms_60_min_a=studied.rms_a(_HOUR_S),
        longest_at_peak_min=length_s / 60,
        voltage_drop_v=drop_v,
        voltage_drop_frac=drop_v / circuit.voltage_v,
        ratings=studied.ratings,
        voltages=_voltages(studied),
        findings=tuple(finding for judge in _JUDGES for finding in judge(studied)),
    )


def _appliances(studied: Study) -> tuple[ApplianceCurrent, ...]:
    return tuple(
        ApplianceCurrent(name=appliance.name, planned=appliance.planned, on_a=on_a, mean_a=mean_a)
        for appliance, on_a, mean_a in zip(
            studied.loads.appliances, studied.entered.on_a, studied.entered.mean_a, strict=True
        )
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
            vessel_a=studied.vessel_a(at),
        )
        for name, at, factor in cases
    )
