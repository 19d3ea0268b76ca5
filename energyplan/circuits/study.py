"""One circuit and one day, solved at every voltage that matters: what all judgements look at."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.circuits.breakers import NEC_CONTINUOUS_S
from energyplan.circuits.currents import (
    CircuitCurrents,
    Supply,
    currents,
    lasting_level_a,
    longest_run_s,
    neutral_peak_a,
    rms_over_window_a,
)
from energyplan.circuits.findings import Severity, severity_of
from energyplan.circuits.loads import Appliance, Loads, compose, loaded_conductors
from energyplan.circuits.wiring import (
    ELEMENT_HIGH,
    ELEMENT_LOW,
    VoltageBand,
    cable_carries_a,
    extension_carries_a,
    voltage_band,
)
from energyplan.day.supply import wires_of
from energyplan.physics.network import NEUTRAL, PHASORS, Wires, board_frac, lines_in
from energyplan.plan.equipment import Circuit, OtherLoad

__all__ = ["LoadCase", "Rating", "Study", "study"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_CASES = ("entered", "nominal", "high")
AT_PEAK_FRAC = 0.99  # steps within 1 % of the peak count as at the peak


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """A rating that was entered: its limit, and whether the whole circuit or the vessel alone goes through it."""

    code: str
    name: str
    limit_a: float
    whole_circuit: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCase:
    """One load [A]: at the voltage entered, at the nominal one, and at the upper end with elements 5 % up."""

    entered_a: float
    nominal_a: float
    high_a: float

    def severity(self, limit_a: float, *, high_counts: bool = True) -> Severity:
        """Judge it against a plain rating, as `severity_of`; a protected rating need not mind the upper end."""
        high_a = self.high_a if high_counts else 0.0
        return severity_of(limit_a, nominal_a=self.nominal_a, entered_a=self.entered_a, high_a=high_a)


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """The loads of a day on their circuit, at four voltages.

    ``entered`` is the voltage of the plan; ``nominal`` that to which plates and ratings refer; ``high`` and ``low``
    the ends of the supply's band with elements at the ends of theirs; ``plate`` the nominal voltage without the drop
    of the wires, which American rules compare. ``unplaced`` names the loads of which nobody said where they hang;
    they are taken where they make most. ``loaded`` counts the loaded conductors.
    """

    circuit: Circuit
    profiles: tuple[LoadProfile, ...]
    other_loads: tuple[OtherLoad, ...]
    loads: Loads
    start: datetime
    zone: tzinfo
    band: VoltageBand
    unplaced: tuple[str, ...]
    loaded: int
    entered: CircuitCurrents
    nominal: CircuitCurrents
    high: CircuitCurrents
    low: CircuitCurrents
    plate: CircuitCurrents

    def again(
        self,
        profiles: Sequence[LoadProfile] | None = None,
        circuit: Circuit | None = None,
        other_loads: Sequence[OtherLoad] | None = None,
    ) -> "Study":
        """The day solved with something else in place of what it has."""
        others = self.other_loads if other_loads is None else other_loads
        return study(profiles or self.profiles, circuit or self.circuit, others, self.start, self.zone)

    @property
    def is_nec(self) -> bool:
        """Whether American rules apply."""
        return self.circuit.rules == "nec"

    @property
    def vessel(self) -> Appliance:
        """The first appliance: the one on the outlet, the plug and the lead that were entered."""
        return self.loads.appliances[0]

    @property
    def planned_others(self) -> tuple[Appliance, ...]:
        """Further appliances of the brew day, such as the heater of the sparge water."""
        return tuple(appliance for appliance in self.loads.appliances[1:] if appliance.planned)

    @property
    def lines(self) -> tuple[str, ...]:
        """Lines that carry something, the neutral last."""
        return tuple(self.entered.line_a)

    @cached_property
    def watts_per_a(self) -> float:
        """Power of the vessel's elements for each ampere that they draw at the nominal voltage without drop [W/A]."""
        alone = replace(self.vessel, other_w=np.zeros_like(self.vessel.other_w))
        nominal = Supply(voltage_v=self.band.nominal_v, nominal_v=self.band.nominal_v)
        found = currents(replace(self.loads, appliances=(alone,)), Wires(), (nominal,))[0]
        own_a = float(found.vessel_a.max())
        return self.element_w / own_a if own_a > 0 else self.band.nominal_v

    @cached_property
    def element_w(self) -> float:
        """Most power of the vessel's elements that are on together, at the nominal voltage without drop [W]."""
        steps = self.loads.edges_s.size - 1
        watts = np.zeros(steps)
        for place, siemens in self.vessel.heaters:
            watts = watts + siemens * (board_frac(self.loads.layout, place) * self.band.nominal_v) ** 2
        return float(watts.max())

    @property
    def vessel_lines(self) -> int:
        """Lines that the vessel draws from."""
        return len({line for place in self._vessel_places for line in lines_in(place)})

    @property
    def across_frac(self) -> float:
        """Largest voltage between the conductors of the vessel, over the circuit's own."""
        return max(board_frac(self.loads.layout, place) for place in self._vessel_places)

    @property
    def _vessel_places(self) -> tuple[str, ...]:
        return (self.vessel.other_line, *(place for place, _ in self.vessel.heaters))

    @cached_property
    def conductor_peaks_a(self) -> dict[str, float]:
        """Largest current of each conductor at the voltage entered [A]; of a neutral, whichever of the loads rest."""
        peaks_a = {name: float(amps.max()) for name, amps in self.entered.line_a.items()}
        if NEUTRAL in peaks_a and self.loads.layout != "one phase":
            volts = Supply(voltage_v=self.circuit.voltage_v, nominal_v=self.band.nominal_v)
            peaks_a[NEUTRAL] = neutral_peak_a(self.loads, wires_of(self.circuit), volts)
        return peaks_a

    def peak_a(self, at: CircuitCurrents) -> float:
        """Largest current of the fullest line [A]."""
        return float(at.total_a.max())

    def vessel_peak_a(self, at: CircuitCurrents) -> float:
        """Largest current of the vessel alone [A]."""
        return float(at.vessel_a.max())

    def load_a(self, rating: Rating, at: CircuitCurrents) -> float:
        """Largest current through a rating [A]."""
        return self.peak_a(at) if rating.whole_circuit else self.vessel_peak_a(at)

    @property
    def peak_step(self) -> int:
        """First step of the longest stretch at the peak."""
        return int(np.searchsorted(self.loads.edges_s, self.at_peak_s[0], side="right") - 1)

    @cached_property
    def at_peak_s(self) -> tuple[float, float]:
        """Start and length of the longest stretch at the peak [s], pulses only where nothing else reaches it."""
        return self._at_peak_s(self.entered.total_a, self.entered.mean_square_a2)

    @property
    def vessel_on_s(self) -> tuple[float, float]:
        """The same of the vessel at its own peak [s], whatever is on beside it."""
        return self._at_peak_s(self.entered.vessel_a, self.entered.vessel_square_a2)

    def _at_peak_s(self, on_a: FloatArray, mean_square_a2: FloatArray) -> tuple[float, float]:
        peaks, steady = _at_peak(on_a, mean_square_a2)
        return longest_run_s(self.loads.edges_s, steady if steady.any() else peaks)

    @property
    def pulses_at_peak(self) -> bool:
        """Whether the peak is reached in pulses alone."""
        return not _at_peak(self.entered.total_a, self.entered.mean_square_a2)[1].any()

    @property
    def vessel_at_peak_s(self) -> tuple[float, float]:
        """Longest stretches of the vessel at its own peak: without a break, and in pulses [s]."""
        peaks, steady = _at_peak(self.entered.vessel_a, self.entered.vessel_square_a2)
        edges_s = self.loads.edges_s
        return longest_run_s(edges_s, steady)[1], longest_run_s(edges_s, peaks & ~steady)[1]

    def above_s(self, least_a: float) -> tuple[float, float]:
        """Start and length of the longest stretch with a current or more, as entered or nominal [s]."""
        most_a = np.maximum(self.entered.total_a, self.nominal.total_a)
        return longest_run_s(self.loads.edges_s, most_a >= least_a)

    @cached_property
    def circuit_load(self) -> LoadCase:
        """Largest current of the fullest line in each case."""
        return LoadCase(**{f"{name}_a": self.peak_a(getattr(self, name)) for name in _CASES})

    @cached_property
    def vessel_load(self) -> LoadCase:
        """Largest current of the vessel alone in each case."""
        return LoadCase(**{f"{name}_a": self.vessel_peak_a(getattr(self, name)) for name in _CASES})

    def rms_a(self, window_s: float) -> float:
        """Largest RMS current over a window, pulsing elements together [A]."""
        return rms_over_window_a(self.loads.edges_s, self.entered.mean_square_a2, window_s)

    def vessel_rms_a(self, window_s: float) -> float:
        """Largest RMS current of the vessel alone over a window [A]."""
        return rms_over_window_a(self.loads.edges_s, self.entered.vessel_square_a2, window_s)

    def lasting_a(self, *, pulses_count_as_on: bool, bridge_s: float = 0.0) -> float:
        """Largest current that lasts three hours at the nominal voltage, by the plates under American rules [A]."""
        at = self.plate if self.is_nec else self.nominal
        current_a = at.total_a if pulses_count_as_on else np.sqrt(at.mean_square_a2)
        return lasting_level_a(self.loads.edges_s, current_a, NEC_CONTINUOUS_S, bridge_s)

    @property
    def beside_a(self) -> float:
        """Most that everything else draws while the vessel is on, in the fullest line [A]."""
        on_a = self.plate.on_a
        return float(np.where(on_a[0] > 0, on_a[1:].sum(axis=0), 0.0).max(initial=0.0))

    @cached_property
    def ratings(self) -> tuple[Rating, ...]:
        """Every rating that was entered and has a limit in amperes."""
        circuit = self.circuit
        cable_a = cable_carries_a(circuit, circuit.cable_mm2, self.loaded) if circuit.cable_mm2 else None
        lead_a = extension_carries_a(circuit, circuit.extension, self.loaded) if circuit.extension else None
        entered = (
            ("breaker", "fuse" if circuit.breaker_curve in ("gG", "BS 3036") else "breaker", circuit.breaker_a, True),
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
        return max(self.ratings, key=self.use_frac, default=None)

    def use_frac(self, rating: Rating) -> float:
        """How much of a rating its own current uses."""
        load_a = self.load_a(rating, self.entered)
        return load_a / rating.limit_a if rating.limit_a > 0 else np.inf * load_a if load_a > 0 else 0.0


def _at_peak(on_a: FloatArray, mean_square_a2: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Steps at the peak of a current, and those of them in which nothing pulses (n,)."""
    least_a = AT_PEAK_FRAC * float(on_a.max())
    peaks = on_a >= least_a
    return peaks, peaks & (np.sqrt(mean_square_a2) >= AT_PEAK_FRAC * on_a)


def study(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> Study:
    """Solve a day on its circuit; parameters as `energyplan.circuits.loads.compose`."""
    composed = compose(profiles, circuit, other_loads, start, zone)
    band = voltage_band(circuit.rules, circuit.voltage_v)
    supplies = (
        Supply(voltage_v=circuit.voltage_v, nominal_v=band.nominal_v),
        Supply(voltage_v=band.nominal_v, nominal_v=band.nominal_v),
        Supply(voltage_v=band.high_v, nominal_v=band.nominal_v, element_factor=ELEMENT_HIGH),
        Supply(voltage_v=band.low_v, nominal_v=band.nominal_v, element_factor=ELEMENT_LOW),
        Supply(voltage_v=band.nominal_v, nominal_v=band.nominal_v, wired=False),
    )
    loads, (entered, nominal, high, low, plate) = _worst(composed, wires_of(circuit), supplies)
    return Study(
        circuit=circuit,
        profiles=tuple(profiles),
        other_loads=tuple(other_loads),
        loads=loads,
        start=start,
        zone=zone,
        band=band,
        unplaced=composed.unplaced,
        loaded=loaded_conductors(loads),
        entered=entered,
        nominal=nominal,
        high=high,
        low=low,
        plate=plate,
    )


def _worst(loads: Loads, wires: Wires, supplies: Sequence[Supply]) -> tuple[Loads, tuple[CircuitCurrents, ...]]:
    """What nobody placed hangs from the line to neutral where it makes the fullest line fullest."""
    lines = tuple(PHASORS[loads.layout]) if loads.unplaced else ("L1",)
    tried = [(loads.on(line), currents(loads.on(line), wires, supplies)) for line in lines]
    return max(tried, key=lambda one: float(one[1][1].total_a.max()))
