"""The power that the supply contract lets pass, against everything that the house draws during a brew day."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.circuits.currents import longest_run_s
from energyplan.circuits.findings import Finding, Remedy, Severity, finding
from energyplan.circuits.house import LONGEST_SHIFT_S, House, HouseTotals
from energyplan.plan.model import HouseSupply

__all__ = ["ContractCheck", "StepSpan", "contract_check", "contract_severity"]

_SHIFT_STEP_S = 300.0  # a day is moved in steps of five minutes [our choice]
_ROUND_W = 50.0
_LEAST_USEFUL_W = 200.0
_SLACK = 1 + 1e-9  # of rounding: a meter knows no slack of nameplates


class StepSpan(NamedTuple):
    """From when to when a step of the day lasts [s]."""

    name: str
    begin_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContractCheck:
    """The drawn power against the contract.

    Attributes
    ----------
    contracted_w, limit_w : float
        Contracted power, and with the excess that may pass [W].
    allows_for_s : float or None
        How long the excess may last [s]; None: as long as it likes.
    peak_w, high_w : float
        Largest sum with all elements on, as entered and at the upper end of the supply [W].
    peak_at_s : float
        Second at which it begins.
    steps : tuple of str
        Steps of the day during which the contract is broken.
    above_s, above_mean_s : float
        Longest stretch above the contracted power [s]: pulses counted as on, and by the mean.
    later_s, earlier_s : float or None
        Least shift of the whole day that keeps the contract, in steps of five minutes [s]; None where none within
        twelve hours does, or none is needed.
    elements_w : float or None
        Elements that may be on at a time for the contract to hold [W]; None when hardly any may, or none is needed.
    finding : Finding
        The judgement.
    """

    contracted_w: float
    limit_w: float
    allows_for_s: float | None
    peak_w: float
    high_w: float
    peak_at_s: float
    steps: tuple[str, ...]
    above_s: float
    above_mean_s: float
    later_s: float | None
    earlier_s: float | None
    elements_w: float | None
    finding: Finding


def contract_check(house: House, supply: HouseSupply, steps: Sequence[StepSpan]) -> ContractCheck | None:
    """Compare what the house draws during a brew day with the contracted power.

    Parameters
    ----------
    house : House
        All loads at the meter.
    supply : HouseSupply
        The contract; without a contracted power the answer is None.
    steps : sequence of StepSpan
        The day's steps, to name them.

    Notes
    -----
    Pulsing elements draw their full power while they are on, so they count with it: a limiter that cuts off at once
    sees the pulse. An excess that may last some time is "over" when it lasts longer by the mean, and a note when it
    only does with pulses counted as on, since limiters differ in what they average. Of three lines the sum is
    compared; that one of them takes more than a third is a note, since some meters count each by itself.

    References
    ----------
    Pages of a network operator and of a supplier on meters with a limiter (Italy): a tenth above the contracted power
    passes for as long as wanted, more for minutes to hours, the less the more it is; a mean over two minutes or
    longer is compared. Such a contract is entered with what may pass for hours.
    """
    if supply.contracted_w is None:
        return None
    return _Contract(house, supply).check(steps)


def contract_severity(house: House, supply: HouseSupply) -> Severity | None:
    """The severity that `contract_check` finds, without a look for ways out; None where no power is contracted."""
    return None if supply.contracted_w is None else _Contract(house, supply).severity


class _Contract:
    """One contract and one house while they are compared."""

    def __init__(self, house: House, supply: HouseSupply) -> None:
        self.house = house
        self.contracted_w = supply.contracted_w or 0.0
        self.allows_frac, self.allows_for_s = supply.contract_allows_frac, supply.contract_allows_for_s
        self.limit_w = self.contracted_w * (1 + self.allows_frac)
        self.totals = house.totals()

    def check(self, steps: Sequence[StepSpan]) -> ContractCheck:
        totals, at = self.totals, int(np.argmax(self.totals.on_w))
        above_s, above_mean_s = self._above_s(totals, pulses=True), self._above_s(totals, pulses=False)
        keeps = self._keeps(totals)
        later_s, earlier_s = (None, None) if keeps else (self._shift_s(1), self._shift_s(-1))
        elements_w = None if keeps else self._elements_w()
        broken = tuple(self._broken_steps(steps))
        ways = [] if keeps else list(self._ways(later_s, earlier_s, elements_w))
        found = finding(
            "contract",
            self.severity,
            "contract",
            case=self._case(at, above_s),
            margin_frac=1 - float(totals.on_w[at]) / self.limit_w,
            remedies=tuple(ways),
            **self._facts(at, above_s, self._steps_at(steps, at), broken),
        )
        return ContractCheck(
            contracted_w=self.contracted_w,
            limit_w=self.limit_w,
            allows_for_s=self.allows_for_s,
            peak_w=float(totals.on_w[at]),
            high_w=float(totals.high_w.max()),
            peak_at_s=float(totals.edges_s[at]),
            steps=broken,
            above_s=above_s[1],
            above_mean_s=above_mean_s[1],
            later_s=later_s,
            earlier_s=earlier_s,
            elements_w=elements_w,
            finding=found,
        )

    def _above_s(self, totals: HouseTotals, *, pulses: bool) -> tuple[float, float]:
        """Begin and length of the longest stretch above the contracted power [s]."""
        drawn_w = totals.on_w if pulses else totals.mean_w
        return longest_run_s(totals.edges_s, drawn_w > self.contracted_w * _SLACK)

    def _outlasts(self, length_s: float) -> bool:
        return self.allows_for_s is not None and length_s > self.allows_for_s * _SLACK

    @property
    def severity(self) -> Severity:
        above_s, above_mean_s = (self._above_s(self.totals, pulses=pulses)[1] for pulses in (True, False))
        if self.totals.on_w.max() > self.limit_w * _SLACK or self._outlasts(above_mean_s):
            return "over"
        near = self._outlasts(above_s) or self.totals.high_w.max() > self.limit_w * _SLACK or self._fullest_line()
        return "note" if near else "ok"

    def _fullest_line(self) -> dict[str, Any]:
        """The line that passes its part of the limit by most, where there are three; nothing where none does."""
        peaks_w = {line: float(watts.max()) for line, watts in self.totals.line_w.items()}
        line = max(peaks_w, key=lambda name: peaks_w[name], default="")
        part_w = self.limit_w / max(len(peaks_w), 1)
        passed = bool(line) and peaks_w[line] > part_w * _SLACK
        return {"line": line, "line_w": peaks_w[line], "part_w": part_w} if passed else {}

    def _keeps(self, totals: HouseTotals) -> bool:
        """Whether the contract holds at the voltage entered, pulses counted as on."""
        within = bool(totals.on_w.max() <= self.limit_w * _SLACK)
        return within and not self._outlasts(self._above_s(totals, pulses=True)[1])

    def _shift_s(self, sign: int) -> float | None:
        count = int(LONGEST_SHIFT_S / _SHIFT_STEP_S)
        shifts_s = (_SHIFT_STEP_S * step for step in range(1, count + 1))
        return next((shift_s for shift_s in shifts_s if self._keeps(self.house.totals(sign * shift_s))), None)

    def _elements_w(self) -> float | None:
        """Power of the vessel's elements that is left beside everything else that is on with them [W]."""
        vessel, totals = self.house.loads[0], self.totals
        middles_s = (totals.edges_s[1:] + totals.edges_s[:-1]) / 2
        heater_w = vessel.heater_w[np.clip(np.searchsorted(vessel.edges_s, middles_s) - 1, 0, vessel.on_w.size - 1)]
        heats = (heater_w > 0) & (totals.load_on_w[0] > 0)
        most_w = self.limit_w if self.allows_for_s is None else self.contracted_w
        beside_w = float(np.where(heats, totals.on_w - heater_w, 0.0).max())
        left_w = math.floor((most_w - beside_w) / _ROUND_W + 1e-9) * _ROUND_W
        return left_w if left_w >= _LEAST_USEFUL_W else None

    def _broken(self) -> NDArray[np.bool_]:
        """Steps of the grid in which the contract is broken."""
        totals = self.totals
        broken = totals.on_w > self.limit_w * _SLACK
        begin_s, length_s = self._above_s(totals, pulses=True)
        if self._outlasts(length_s):
            broken = broken | ((totals.edges_s[:-1] >= begin_s) & (totals.edges_s[1:] <= begin_s + length_s))
        return np.asarray(broken)

    def _broken_steps(self, steps: Sequence[StepSpan]) -> Iterator[str]:
        broken, edges_s = self._broken(), self.totals.edges_s
        begins_s, ends_s = edges_s[:-1][broken], edges_s[1:][broken]
        named = (step.name for step in steps if ((begins_s < step.end_s) & (ends_s > step.begin_s)).any())
        return iter(dict.fromkeys(named))

    def _steps_at(self, steps: Sequence[StepSpan], at: int) -> tuple[str, ...]:
        middle_s = float(self.totals.edges_s[at : at + 2].mean())
        return tuple(step.name for step in steps if step.begin_s <= middle_s < step.end_s)

    def _case(self, at: int, above_s: tuple[float, float]) -> str:
        if float(self.totals.on_w[at]) > self.limit_w * _SLACK:
            return "drops out"
        return "too long" if self._outlasts(above_s[1]) else "within"

    def _facts(
        self, at: int, above_s: tuple[float, float], now: tuple[str, ...], broken: tuple[str, ...]
    ) -> dict[str, Any]:
        drawn_w = zip(self.house.loads, self.totals.load_on_w[:, at], strict=True)
        return {
            "peak_w": float(self.totals.on_w[at]),
            "at_s": float(self.totals.edges_s[at]),
            "step": now[0] if now else "",
            "steps": broken,
            "shares_w": tuple((load.name, float(w)) for load, w in drawn_w if w > 0),
            "base_w": self.house.base_w,
            "contracted_w": self.contracted_w,
            "limit_w": self.limit_w,
            "allows_frac": self.allows_frac,
            "above_s": above_s[0],
            "above_min": above_s[1] / 60,
            "allows_min": (self.allows_for_s or 0.0) / 60,
            "high_w": float(self.totals.high_w.max()),
            "by_line": self._fullest_line(),
        }

    def _ways(self, later_s: float | None, earlier_s: float | None, elements_w: float | None) -> Iterator[Remedy]:
        if later_s is not None or earlier_s is not None:
            minutes = {
                f"{how}_min": None if s is None else s / 60 for how, s in (("later", later_s), ("earlier", earlier_s))
            }
            yield Remedy(code="start", facts=minutes)
        yield from self._off()
        if elements_w is not None:
            yield Remedy(code="switched elements", facts={"elements_w": elements_w})
        needed_w = float(self.totals.on_w.max()) / (1 + self.allows_frac if self.allows_for_s is None else 1)
        yield Remedy(code="contract more", facts={"needed_w": math.ceil(needed_w / 100 - 1e-9) * 100.0})

    def _off(self) -> Iterator[Remedy]:
        """What has to be off while the contract is broken: loads of the house first, then a further heater too."""
        broken = self._broken()
        on = [place for place, drawn_w in enumerate(self.totals.load_on_w) if place and drawn_w[broken].any()]
        house = [place for place in on if not self.house.loads[place].planned]
        for among, hour in ((house, "off"), (on, "other hours")):
            if among and self._keeps_without(among):
                names = tuple(self.house.loads[place].name for place in self._fewest(among))
                yield Remedy(code="keep off", facts={"names": names, "hour": hour})
                return

    def _fewest(self, places: list[int]) -> list[int]:
        """Leave out what may stay on, the smallest loads first."""
        for place in sorted(places, key=lambda place: float(self.house.loads[place].on_w.max())):
            fewer = [other for other in places if other != place]
            if self._keeps_without(fewer):
                places = fewer
        return places

    def _keeps_without(self, places: list[int]) -> bool:
        left = tuple(load for place, load in enumerate(self.house.loads) if place not in places)
        return self._keeps(replace(self.house, loads=left).totals())
