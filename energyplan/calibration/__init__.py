"""Learning a vessel's own numbers from logs of a thermometer and a meter."""

from energyplan.calibration.calibrate import calibrate
from energyplan.calibration.guide import measure_guide
from energyplan.calibration.result import Calibration, Measured, Residuals, Stretch, calibration_document
from energyplan.calibration.writeback import measured_plan, measured_toml

__all__ = [
    "Calibration",
    "Measured",
    "Residuals",
    "Stretch",
    "calibrate",
    "calibration_document",
    "measure_guide",
    "measured_plan",
    "measured_toml",
]
