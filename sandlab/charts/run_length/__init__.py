"""How long charts run between alarms: numerical solutions of the run-length equations."""

from sandlab.charts.run_length.cusum import (
    crosier_run_length,
    cusum_decision,
    cusum_reference,
    cusum_run_length,
)
from sandlab.charts.run_length.ewma import ewma_run_length, ewma_width
from sandlab.charts.run_length.individuals import AlarmRate, individuals_alarm_rate_ar1
from sandlab.charts.run_length.rules import rules_run_length

__all__ = [
    "AlarmRate",
    "crosier_run_length",
    "cusum_decision",
    "cusum_reference",
    "cusum_run_length",
    "ewma_run_length",
    "ewma_width",
    "individuals_alarm_rate_ar1",
    "rules_run_length",
]
