"""One circuit and one day, solved at every voltage that matters: what all judgements look at."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.circuits.breakers import NEC_CONTINUOUS_S
from energyplan.circuits.currents import LineCurrents, Supply, lasting_level_a, longest_run_s, rms_over_window_a, solve
from energyplan.circuits.findings import LoadCase
from energyplan.circuits.loads import Appliance, Loads, compose
from energyplan.circuits.voltages import ELEMENT_HIGH, ELEMENT_LOW, VoltageBand, voltage_band
from energyplan.circuits.wiring import Wiring, cable_carries_a, extension_carries_a, wiring_of
from energyplan.plan.model import Circuit, Line, OtherLoad

__all__ = ["Rating", "Study", "study"]

FloatArray = NDArray[np.float64]
_CASES = ("entered", "nominal", "high")
AT_PEAK_FRAC = 0.99  # steps within 1 % of the peak count as at the peak


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """A rating that was entered: its limit, and whether the whole circuit or the vessel alone goes through it."""

    code: str
    name: str
    limit_a: float
    whole_circuit: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Study:
    """The loads of a day on the line that the vessel loads most, at four voltages.

    ``entered`` is the voltage of the plan; ``nominal`` that to which plates and ratings refer; ``high`` and ``low``
    the ends of the supply's band with elements at the ends of theirs.
    """

    circuit: Circuit
    loads: Loads
    start: datetime
    zone: tzinfo
    wiring: Wiring
    band: VoltageBand
    line: str
    entered: LineCurrents
    nominal: LineCurrents
    high: LineCurrents
    low: LineCurrents

    @property
    def vessel(self) -> Appliance:
        """The first appliance: the one on the outlet, the plug and the lead that were entered."""
        return self.loads.appliances[0]

    @property
    def planned_others(self) -> tuple[Appliance, ...]:
        """Further appliances of the brew day, such as the heater of the sparge water."""
        return tuple(appliance for appliance in self.loads.appliances[1:] if appliance.planned)

    @property
    def shared(self) -> bool:
        """Whether more than the vessel is known to hang on the circuit."""
        return len(self.loads.appliances) > 1 or self.circuit.dedicated is False

    def peak_a(self, currents: LineCurrents) -> float:
        """Largest current of the whole line [A]."""
        return float(currents.total_a.max())

    def vessel_a(self, currents: LineCurrents) -> float:
        """Largest current of the vessel alone [A]."""
        return float(currents.on_a[0].max())

    def load_a(self, rating: Rating, currents: LineCurrents) -> float:
        """Largest current through a rating [A]."""
        return self.peak_a(currents) if rating.whole_circuit else self.vessel_a(currents)

    @property
    def peak_step(self) -> int:
        """First step of the longest stretch at the peak."""
        return int(np.searchsorted(self.loads.edges_s, self.at_peak_s[0], side="right") - 1)

    @property
    def at_peak_s(self) -> tuple[float, float]:
        """Start and length of the longest stretch at the peak [s]."""
        total_a = self.entered.total_a
        return longest_run_s(self.loads.edges_s, total_a >= AT_PEAK_FRAC * total_a.max())

    @property
    def circuit_load(self) -> LoadCase:
        """Largest current of the whole line in each case."""
        return LoadCase(**{f"{name}_a": self.peak_a(getattr(self, name)) for name in _CASES})

    @property
    def vessel_load(self) -> LoadCase:
        """Largest current of the vessel alone in each case."""
        return LoadCase(**{f"{name}_a": self.vessel_a(getattr(self, name)) for name in _CASES})

    def rms_a(self, window_s: float) -> float:
        """Largest RMS current over a window, pulsing elements together [A]."""
        return rms_over_window_a(self.loads.edges_s, self.entered.mean_square_a2, window_s)

    def vessel_rms_a(self, window_s: float) -> float:
        """Largest RMS current of the vessel alone over a window [A]."""
        return rms_over_window_a(self.loads.edges_s, self.entered.own_square_a2[0], window_s)

    def lasting_a(self, *, pulses_count_as_on: bool, bridge_s: float = 0.0) -> float:
        """Largest current that lasts three hours at the nominal voltage [A]."""
        current_a = self.nominal.total_a if pulses_count_as_on else np.sqrt(self.nominal.mean_square_a2)
        return lasting_level_a(self.loads.edges_s, current_a, NEC_CONTINUOUS_S, bridge_s)

    def clock(self, time_s: float) -> str:
        """Local clock at a time of the day, with the weekday when it is not the first day."""
        local = (self.start + timedelta(seconds=time_s)).astimezone(self.zone)
        same_day = local.date() == self.start.astimezone(self.zone).date()
        return f"{local:%H:%M}" if same_day else f"{local:%a %H:%M}"

    def at_high(self, high_a: float) -> str:
        """Say what a current becomes at the upper end of the supply."""
        return f"at {self.band.high_v:.0f} V with elements 5 % above their plates it is {high_a:.1f} A"

    @property
    def ratings(self) -> tuple[Rating, ...]:
        """Every rating that was entered and has a limit in amperes."""
        circuit = self.circuit
        cable_a = cable_carries_a(circuit, circuit.cable_mm2) if circuit.cable_mm2 else None
        lead_a = extension_carries_a(circuit, circuit.extension) if circuit.extension else None
        entered = (
            ("breaker", "breaker", circuit.breaker_a, True),
            ("cable", "cable", cable_a, True),
            ("outlet", "outlet and plug", circuit.outlet_a, False),
            ("plug_fuse", "fuse in the plug", circuit.plug_fuse_a, False),
            ("extension", "extension lead", lead_a, False),
        )
        return tuple(
            Rating(code=code, name=name, limit_a=limit_a, whole_circuit=whole)
            for code, name, limit_a, whole in entered
            if limit_a is not None
        )

    @property
    def tightest(self) -> Rating | None:
        """The rating that is used most; None when none was entered."""
        return max(self.ratings, key=self._use_frac, default=None)

    def _use_frac(self, rating: Rating) -> float:
        load_a = self.load_a(rating, self.entered)
        return load_a / rating.limit_a if rating.limit_a > 0 else np.inf * load_a if load_a > 0 else 0.0


def study(
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
    lines: Mapping[str, Line] | None = None,
) -> Study:
    """Solve a day on its circuit; parameters as `energyplan.circuits.loads.compose`."""
    loads = compose(profiles, circuit, other_loads, start, zone, lines)
    wiring, band = wiring_of(circuit), voltage_band(circuit.rules, circuit.voltage_v)
    at = Supply(voltage_v=circuit.voltage_v, nominal_v=band.nominal_v)
    by_line = {line: solve(loads, line, wiring, at) for line in loads.appliances[0].lines}
    line = max(by_line, key=lambda name: float(by_line[name].total_a.max()))

    def other(voltage_v: float, element_factor: float = 1.0) -> LineCurrents:
        supply = Supply(voltage_v=voltage_v, nominal_v=band.nominal_v, element_factor=element_factor)
        return solve(loads, line, wiring, supply)

    return Study(
        circuit=circuit,
        loads=loads,
        start=start,
        zone=zone,
        wiring=wiring,
        band=band,
        line=line,
        entered=by_line[line],
        nominal=other(band.nominal_v),
        high=other(band.high_v, ELEMENT_HIGH),
        low=other(band.low_v, ELEMENT_LOW),
    )
