"""Science of the programme's figures: shares and calibration; arrays in, results out."""

from sidelong.outcomes.calibration import (
    BrierParts,
    CalibrationTable,
    CalibrationTest,
    Recalibration,
    check_calibration,
    group_chances,
    recalibrate,
    split_brier,
    tabulate_calibration,
)
from sidelong.outcomes.proportions import total_interval, wilson_interval

__all__ = [
    "BrierParts",
    "CalibrationTable",
    "CalibrationTest",
    "Recalibration",
    "check_calibration",
    "group_chances",
    "recalibrate",
    "split_brier",
    "tabulate_calibration",
    "total_interval",
    "wilson_interval",
]
