"""Control charts: arrays in, frozen results out. Nothing here knows the disk, the clock or the screen."""

from sandlab.charts.baseline import FLAG_WORDS, MINIMUM_BASELINE, Limits, freeze
from sandlab.charts.constants import c4, d2, d3, range_limit_factors, sigma_limit_factors
from sandlab.charts.estimates import (
    Estimates,
    estimate,
    is_coarse,
    lag1_autocorrelation,
    mean_and_sigma,
    moving_ranges,
    smallest_step,
)
from sandlab.charts.individuals import IndividualsChart, individuals, zones_of
from sandlab.charts.rules import NELSON, RULES, WESTERN_ELECTRIC, Completed, Rule, completions, rule_set
from sandlab.charts.run_length import AlarmRate, individuals_alarm_rate_ar1
from sandlab.charts.signals import Signal, signals

__all__ = [
    "FLAG_WORDS",
    "MINIMUM_BASELINE",
    "NELSON",
    "RULES",
    "WESTERN_ELECTRIC",
    "AlarmRate",
    "Completed",
    "Estimates",
    "IndividualsChart",
    "Limits",
    "Rule",
    "Signal",
    "c4",
    "completions",
    "d2",
    "d3",
    "estimate",
    "freeze",
    "individuals",
    "individuals_alarm_rate_ar1",
    "is_coarse",
    "lag1_autocorrelation",
    "mean_and_sigma",
    "moving_ranges",
    "range_limit_factors",
    "rule_set",
    "sigma_limit_factors",
    "signals",
    "smallest_step",
    "zones_of",
]
