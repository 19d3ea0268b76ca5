"""What can be chosen, as DataFrames: powers, caps and their sag, starts."""

from typing import TYPE_CHECKING

from energyplan.advice.holds import SagCurve
from energyplan.advice.power import PowerAdvice
from energyplan.advice.ramps import RampAdvice
from energyplan.advice.uncertainty import Spread
from energyplan.base.units import Display
from energyplan.report.tableparts import frame_of, temperature_key

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "driver_table",
    "power_table",
    "ramp_table",
    "range_table",
    "sag_table",
]

WEAKEST = 0.05  # correlations below it are as good as none


def power_table(advice: PowerAdvice, show: Display) -> "pd.DataFrame":
    """Set, needed and advised power of every hold and boil, with the lowest temperature in the worst case."""
    key = temperature_key(show)
    return frame_of(
        {
            "step": row.step,
            "phase": row.phase,
            f"target_{key}": show.temperature_number(row.target_c),
            "set_w": row.set_w,
            "needed_w": row.needed_w,
            "advised_w": row.advised_w,
            f"lowest_as_set_{key}": show.temperature_number(row.set_lowest_c),
            f"lowest_as_advised_{key}": show.temperature_number(row.lowest_c),
            "change_kwh": row.energy_change_kwh,
            "current_freed_a": row.current_freed_a,
        }
        for row in advice.rows
    )


def sag_table(curve: SagCurve, show: Display) -> "pd.DataFrame":
    """Lowest temperature of a hold against its cap."""
    return frame_of(
        {
            "cap_w": float(cap_w),
            f"lowest_{temperature_key(show)}": float(show.temperature_number(float(lowest_c))),
            "outside_band_min": float(outside_min),
        }
        for cap_w, lowest_c, outside_min in zip(curve.caps_w, curve.lowest_c, curve.outside_band_min, strict=True)
    )


def ramp_table(advice: RampAdvice) -> "pd.DataFrame":
    """Set power of each ramp, the fastest that keeps the ratings, and the minutes of both."""
    return frame_of(
        {
            "step": row.step,
            "set_w": row.set_w,
            "fastest_w": row.fastest_w,
            "taken_w": row.taken_w,
            "as_set_min": row.set_min,
            "as_taken_min": row.taken_min,
            "limited_by": row.limited_by,
        }
        for row in advice.rows
    )


def range_table(found: Spread, show: Display) -> "pd.DataFrame":
    """Where each number of the day lies, as text with its unit: one day in ten is below, one in ten above."""
    return frame_of(
        {
            "number": row.name,
            "as_planned": _told(row.key, row.unit, row.planned, show),
            "one_in_ten_below": _told(row.key, row.unit, row.p10, show),
            "half_below": _told(row.key, row.unit, row.p50, show),
            "one_in_ten_above": _told(row.key, row.unit, row.p90, show),
        }
        for row in found.ranges
    )


def _told(key: str, unit: str, value: float, show: Display) -> str:
    if key == "lowest_mash_c":
        return show.temperature(value)
    if key == "end_volume_l":
        return show.volume(value)
    digits = {"energy_kwh": 2, "cost": 2, "minutes": 0}.get(key, 1)
    return f"{value:.{digits}f} {unit}"


def driver_table(found: Spread, key: str = "energy_kwh") -> "pd.DataFrame":
    """What drives a number of the day, the strongest first, by the size of its rank correlation."""
    return frame_of(
        (
            {"input": driver.name, "strength": abs(driver.correlation), "text": f"{driver.correlation:+.2f}"}
            for driver in found.range_of(key).drivers
            if abs(driver.correlation) >= WEAKEST
        ),
        ("input", "strength", "text"),
    )
