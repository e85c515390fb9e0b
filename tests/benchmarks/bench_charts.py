"""Charts against bare read passes over the same values, and run-length designs against one screen refresh."""

from __future__ import annotations

import argparse

import numpy as np

from sandlab.charts import (
    NELSON,
    WESTERN_ELECTRIC,
    ChartInUse,
    KnownResemblance,
    autocorrelated_ewma,
    change_point,
    completions,
    cusum,
    cusum_decision,
    cusum_run_length_distribution,
    describe,
    design_cusum,
    design_ewma,
    ewma,
    ewma_width,
    false_alarms,
    fit_autoregression,
    fit_noisy_autoregression,
    freeze,
    individuals,
    individuals_alarm_rate_ar1,
    moving_range_run_length,
    over_correction,
    residual_chart,
    rule_costs,
    rule_set,
    rules_run_length,
    rules_run_length_distribution,
    simulated_run_length,
)
from tests.benchmarks.timing import report, seconds

PASSES = "three read passes"
REFRESH = "refreshes of 1/15 s"


def main(argv: list[str]) -> None:
    """Print the cost of charts at several lengths, then that of run lengths."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks charts")
    parser.add_argument("--count", type=int, nargs="*", default=[500, 5_000, 90_000, 1_000_000])
    for count in parser.parse_args(argv).count:
        measure(count)
    measure_designs()
    measure_false_alarms()


def measure(count: int) -> None:
    """Measure charts of one length; reasons in words are left out at a million, where nobody reads them."""
    values = np.random.default_rng(31).normal(50.0, 2.0, count)
    rules = rule_set(NELSON)
    limits = freeze(values)
    baseline = seconds(lambda: [values.max() for _ in range(3)])
    tasks = {
        PASSES: lambda: [values.max() for _ in range(3)],
        "limits": lambda: freeze(values),
        "all eight Nelson rules": lambda: completions(values, limits, rules=rules),
        "limits and all eight Nelson rules": lambda: completions(values, freeze(values), rules=rules),
        "EWMA": lambda: ewma(values, limits),
        "CUSUM": lambda: cusum(values, limits),
        "start of a change": lambda: change_point(values, limits),
        "start of a change, tests that resemble": lambda: change_point(values, limits, phi=0.6),
        "autoregression": lambda: fit_autoregression(values),
        "search for over-correction, 3 tests a cycle": lambda: over_correction(values, per_cycle=3),
    }
    if count <= 100_000:
        model = KnownResemblance(0.8, 50.0, 2.0, 100, signal_share=0.6)
        tasks |= {
            "EWMA of tests that resemble": lambda: autocorrelated_ewma(values, model),
            "residual chart with its EWMA": lambda: residual_chart(values, model),
            "whole chart with reasons in words": lambda: individuals(values, None, limits, rules=rules),
            "whole chart described in words": lambda: describe(values, None, limits, rules=rules),
        }
    if count <= 10_000:
        tasks["autoregression with noise of testing"] = lambda: fit_noisy_autoregression(values)
    print(f"\n{count} values")
    for name, task in tasks.items():
        report(name, seconds(task), baseline, PASSES)


def measure_designs() -> None:
    """Measure run lengths and limits designed from them."""
    print("\nrun lengths")
    tasks = {
        "EWMA width, weight 0.2, run length 370": lambda: ewma_width(0.2, 370.0),
        "EWMA width, weight 0.05, run length 1000": lambda: ewma_width(0.05, 1000.0),
        "CUSUM decision, k 0.5, run length 370": lambda: cusum_decision(0.5, 370.0),
        "Western Electric rules": lambda: rules_run_length(rule_set(WESTERN_ELECTRIC)),
        "autoregressive individuals, phi 0.8": lambda: individuals_alarm_rate_ar1(0.8),
        "the same with noise of testing": lambda: individuals_alarm_rate_ar1(0.8, signal_share=0.6),
        "individuals with moving range": moving_range_run_length,
        "CUSUM run-length distribution": lambda: cusum_run_length_distribution(0.5, 4.77),
        "Western Electric run-length distribution": lambda: rules_run_length_distribution(
            rule_set(WESTERN_ELECTRIC)
        ),
        "EWMA for 370 and a shift of 1": lambda: design_ewma(370.0, 1.0, 12.0),
        "CUSUM for 370 and a shift of 1": lambda: design_cusum(370.0, 1.0, 12.0),
        "EWMA for an impossible wish": lambda: design_ewma(370.0, 1.0, 5.0),
        "EWMA for limits from 50 tests": lambda: design_ewma(370.0, 1.0, 20.0, baseline_count=50),
        "CUSUM for limits from 50 tests": lambda: design_cusum(370.0, 1.0, 20.0, baseline_count=50),
    }
    for name, task in tasks.items():
        report(name, seconds(task), 1.0 / 15.0, REFRESH)


def measure_false_alarms() -> None:
    """Measure false alarms over a dozen charts, and simulated run lengths; each call has new baselines."""
    print("\nfalse alarms")
    random = np.random.default_rng(31)
    counts = iter(range(30, 1_000_000))

    def dozen(phi: float) -> list[ChartInUse]:
        return [ChartInUse(str(i), 24.0, phi=phi, baseline_count=next(counts)) for i in range(12)]

    tasks = {
        "twelve charts": lambda: false_alarms(dozen(0.0)),
        "twelve charts of tests that resemble": lambda: false_alarms(dozen(0.6)),
        "cost of each rule": lambda: rule_costs(ChartInUse("one", 24.0), random=random),
        "cost of each rule, tests that resemble": lambda: rule_costs(
            ChartInUse("one", 24.0, phi=0.6), random=random
        ),
        "4000 runs of all Nelson rules": lambda: simulated_run_length(rule_set(NELSON), random),
    }
    for name, task in tasks.items():
        report(name, seconds(task), 1.0 / 15.0, REFRESH)
