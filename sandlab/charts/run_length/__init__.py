"""How long charts run between alarms: run-length equations solved, or simulated where there is none."""

from sandlab.charts.run_length.cusum import (
    crosier_run_length,
    cusum_decision,
    cusum_reference,
    cusum_run_length,
)
from sandlab.charts.run_length.distributions import (
    cusum_run_length_distribution,
    ewma_run_length_distribution,
    individuals_run_length_distribution,
    moving_range_run_length_distribution,
    rules_run_length_distribution,
)
from sandlab.charts.run_length.drift_design import (
    CusumDesign,
    EwmaDesign,
    Reached,
    design_cusum,
    design_ewma,
)
from sandlab.charts.run_length.ewma import ewma_run_length, ewma_width
from sandlab.charts.run_length.individuals import AlarmRate, individuals_alarm_rate_ar1
from sandlab.charts.run_length.moving_range import moving_range_run_length
from sandlab.charts.run_length.rules import rules_run_length
from sandlab.charts.run_length.simulation import Random, simulated_ewma_run_length, simulated_run_length
from sandlab.charts.run_length.survival import RunLengthDistribution

__all__ = [
    "AlarmRate",
    "CusumDesign",
    "EwmaDesign",
    "Random",
    "Reached",
    "RunLengthDistribution",
    "crosier_run_length",
    "cusum_decision",
    "cusum_reference",
    "cusum_run_length",
    "cusum_run_length_distribution",
    "design_cusum",
    "design_ewma",
    "ewma_run_length",
    "ewma_run_length_distribution",
    "ewma_width",
    "individuals_alarm_rate_ar1",
    "individuals_run_length_distribution",
    "moving_range_run_length",
    "moving_range_run_length_distribution",
    "rules_run_length",
    "rules_run_length_distribution",
    "simulated_ewma_run_length",
    "simulated_run_length",
]
