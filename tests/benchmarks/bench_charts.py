"""Charts against bare read passes over the same values, and run-length designs against one screen refresh."""

from __future__ import annotations

import argparse

import numpy as np

from sandlab.charts import (
    NELSON,
    WESTERN_ELECTRIC,
    change_point,
    completions,
    cusum,
    cusum_decision,
    ewma,
    ewma_width,
    fit_autoregression,
    freeze,
    individuals,
    individuals_alarm_rate_ar1,
    rule_set,
    rules_run_length,
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
        "autoregression": lambda: fit_autoregression(values),
    }
    if count <= 100_000:
        tasks["whole chart with reasons in words"] = lambda: individuals(values, None, limits, rules=rules)
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
    }
    for name, task in tasks.items():
        report(name, seconds(task), 1.0 / 15.0, REFRESH)
