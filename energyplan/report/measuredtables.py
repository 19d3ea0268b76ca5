"""What a log tells, as DataFrames: the values with their intervals, readings beside the fit."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from energyplan.base.units import Display
from energyplan.learning.result import Calibration, Measured
from energyplan.report.tableparts import frame_of, temperature_key

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["fit_table", "measured_table"]

MOST_FIT_POINTS = 250


def measured_table(found: Calibration, show: Display) -> "pd.DataFrame":
    """The vessel's own numbers with their 95 % intervals, as texts with units; or why the log can't tell one."""
    rows: list[tuple[str, Measured, Callable[[float], str]]] = [
        ("Heat loss, lid on", found.heat_loss_w_per_k, show.heat_loss),
        ("Stored heat of all", found.stored_heat_j_per_k, _kilojoules),
        ("Stored heat of the vessel", found.vessel_heat_j_per_k, _kilojoules),
        ("Element power", found.element_power_w, lambda watts: f"{watts:.0f} W"),
        ("Open surface, times the model", found.open_surface_factor, lambda factor: f"{factor:.2f}"),
    ]
    return frame_of(_row(name, value, write) for name, value, write in rows)


def _row(name: str, value: Measured, write: Callable[[float], str]) -> dict[str, Any]:
    if value.value is None or value.low is None or value.high is None:
        return {"number": name, "value": "", "likely_from": "", "likely_to": "", "why_not": value.why}
    return {
        "number": name,
        "value": write(value.value),
        "likely_from": write(value.low),
        "likely_to": write(value.high),
        "why_not": "",
    }


def _kilojoules(joules: float) -> str:
    return f"{joules / 1000:.1f} kJ/K"


def fit_table(found: Calibration, show: Display) -> "pd.DataFrame":
    """Measured and fitted temperature over the minutes of a log, at most 250 rows."""
    fit, key = found.residuals, temperature_key(show)
    count = fit.times_s.shape[0]
    chosen = np.unique(np.linspace(0, max(count - 1, 0), min(count, MOST_FIT_POINTS)).astype(int))
    return frame_of(
        (
            {
                "time_min": float(fit.times_s[index]) / 60,
                f"measured_{key}": float(show.temperature_number(float(fit.measured_c[index]))),
                f"fitted_{key}": float(show.temperature_number(float(fit.fitted_c[index]))),
                "stretch": int(fit.stretch[index]),
            }
            for index in chosen
        ),
        ("time_min", f"measured_{key}", f"fitted_{key}", "stretch"),
    )
