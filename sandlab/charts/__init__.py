"""Control charts: arrays in, frozen results out. Nothing here knows the disk, the clock or the screen."""

from sandlab.charts.autocorrelation import Autoregression, fit_autoregression
from sandlab.charts.baseline import FLAG_WORDS, MINIMUM_BASELINE, Limits, freeze
from sandlab.charts.changepoint import Change, ChangePoint, change_point, split_point
from sandlab.charts.constants import c4, d2, d3, range_limit_factors, sigma_limit_factors
from sandlab.charts.cusum import CusumChart, cusum
from sandlab.charts.estimates import (
    Estimates,
    estimate,
    is_coarse,
    lag1_autocorrelation,
    mean_and_sigma,
    moving_ranges,
    smallest_step,
)
from sandlab.charts.ewma import EwmaChart, ewma
from sandlab.charts.individuals import IndividualsChart, individuals, zones_of
from sandlab.charts.rules import NELSON, RULES, WESTERN_ELECTRIC, Completed, Rule, completions, rule_set
from sandlab.charts.run_length import (
    AlarmRate,
    crosier_run_length,
    cusum_decision,
    cusum_reference,
    cusum_run_length,
    ewma_run_length,
    ewma_width,
    individuals_alarm_rate_ar1,
    rules_run_length,
)
from sandlab.charts.signals import Signal, signals

__all__ = [
    "FLAG_WORDS",
    "MINIMUM_BASELINE",
    "NELSON",
    "RULES",
    "WESTERN_ELECTRIC",
    "AlarmRate",
    "Autoregression",
    "Change",
    "ChangePoint",
    "Completed",
    "CusumChart",
    "Estimates",
    "EwmaChart",
    "IndividualsChart",
    "Limits",
    "Rule",
    "Signal",
    "c4",
    "change_point",
    "completions",
    "crosier_run_length",
    "cusum",
    "cusum_decision",
    "cusum_reference",
    "cusum_run_length",
    "d2",
    "d3",
    "estimate",
    "ewma",
    "ewma_run_length",
    "ewma_width",
    "fit_autoregression",
    "freeze",
    "individuals",
    "individuals_alarm_rate_ar1",
    "is_coarse",
    "lag1_autocorrelation",
    "mean_and_sigma",
    "moving_ranges",
    "range_limit_factors",
    "rule_set",
    "rules_run_length",
    "sigma_limit_factors",
    "signals",
    "smallest_step",
    "split_point",
    "zones_of",
]
