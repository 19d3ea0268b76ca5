"""The list of loads that an electrician asks for: watts, volts, amperes, minutes."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck
from energyplan.plan.model import OtherLoad, Vessel
from energyplan.plan.values import MINUTES_PER_DAY

__all__ = ["load_list", "longest_run_min"]

Document = dict[str, Any]
FloatArray = NDArray[np.float64]


def load_list(answer: Answer, checked: CircuitCheck) -> list[Document]:
    """List the day's appliances, then the other loads on the circuit.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    checked : CircuitCheck
        Currents of the appliances, the day's own first, in the order of the plan.
    """
    plan, (vessel, *heaters) = answer.day.plan, answer.day.profiles
    planned = {appliance.name: float(appliance.on_a.max()) for appliance in checked.appliances if appliance.planned}
    others = [appliance for appliance in checked.appliances if not appliance.planned]
    rows = [_vessel_row(plan.vessel, vessel, planned[vessel.name])]
    rows += [_heater_row(heater, plan.voltage_v, planned.get(heater.name)) for heater in heaters]
    for load, appliance in zip(plan.other_loads, others, strict=True):
        on_min = float(np.diff(checked.edges_s)[appliance.on_a > 0].sum()) / 60
        rows.append(_other_row(load, float(appliance.on_a.max()), on_min))
    return rows


def longest_run_min(profile: LoadProfile) -> float:
    """Longest stretch in which an appliance's elements are on, pulses counted as on [min].

    Examples
    --------
    >>> kettle = LoadProfile(name="Kettle", edges_s=np.array([0.0, 60.0, 180.0, 240.0]), mean_w=np.zeros(3),
    ...                      heater_w_per_v2=np.array([0.04, 0.0, 0.04]), other_w=np.zeros(3))
    >>> longest_run_min(kettle)
    1.0
    """
    longest_s = run_s = 0.0
    for length_s, on in zip(np.diff(profile.edges_s), profile.heater_w_per_v2 > 0, strict=True):
        run_s = run_s + float(length_s) if on else 0.0
        longest_s = max(longest_s, run_s)
    return longest_s / 60


def _vessel_row(vessel: Vessel, profile: LoadProfile, drawn_a: float) -> Document:
    volts = {element.voltage_v for element in vessel.elements}
    plates = [f"{element.power_w:.0f} W at {element.voltage_v:.0f} V" for element in vessel.elements]
    words = [f"elements {', '.join(plates)}"] if len(plates) > 1 else ["one element"]
    pulsed = "pulsed to lower powers, so its full current flows"
    words.append("switched on and off" if vessel.control == "switched" else pulsed)
    if vessel.pump_w:
        words.append(f"pump {vessel.pump_w:.0f} W")
    return {
        "name": profile.name,
        "watts": f"{sum(element.power_w for element in vessel.elements):.0f}",
        "volts": "/".join(f"{volt:.0f}" for volt in sorted(volts)),
        "rated": f"{sum(element.power_w / element.voltage_v for element in vessel.elements):.1f}",
        "drawn": f"{drawn_a:.1f}",
        "minutes": _on_min(profile),
        "words": "; ".join(words),
    }


def _heater_row(profile: LoadProfile, volts_v: float, drawn_a: float | None) -> Document:
    """The heater of the sparge water; without a current when it hangs on another circuit."""
    watts_w = float(profile.mean_w.max())
    return {
        "name": profile.name,
        "watts": f"{watts_w:.0f}",
        "volts": f"{volts_v:.0f}",
        "rated": f"{watts_w / volts_v:.1f}",
        "drawn": "–" if drawn_a is None else f"{drawn_a:.1f}",
        "minutes": _on_min(profile),
        "words": f"heats the sparge water{'; on a circuit of its own, not counted here' if drawn_a is None else ''}",
    }


def _on_min(profile: LoadProfile) -> str:
    return f"{float(np.diff(profile.edges_s)[profile.heater_w_per_v2 > 0].sum()) / 60:.0f}"


def _other_row(load: OtherLoad, drawn_a: float, on_min: float) -> Document:
    all_day = (load.from_min, load.to_min) == (0, MINUTES_PER_DAY)
    words = ["on all day" if all_day else f"{_clock(load.from_min)} to {_clock(load.to_min)}"]
    words.append("counted as on" if load.duty == 1 else f"runs {100 * load.duty:.0f} % of the time, counted as on")
    if load.motor:
        words.append("a motor starts in it")
    return {
        "name": load.name,
        "watts": f"{load.power_w:.0f}",
        "volts": "",
        "rated": "",
        "drawn": f"{drawn_a:.1f}",
        "minutes": f"{on_min:.0f}",
        "words": "; ".join(words),
    }


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
