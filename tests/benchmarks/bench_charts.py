"""Charts against bare read passes over the same values: limits and all Nelson rules."""

from __future__ import annotations

import argparse

import numpy as np

from sandlab.charts import NELSON, completions, freeze, individuals, rule_set
from tests.benchmarks.timing import report, seconds

BASELINE = "three read passes"


def main(argv: list[str]) -> None:
    """Print the cost of limits, rules and whole charts at several lengths."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks charts")
    parser.add_argument("--count", type=int, nargs="*", default=[500, 5_000, 90_000, 1_000_000])
    for count in parser.parse_args(argv).count:
        measure(count)


def measure(count: int) -> None:
    """Measure one length."""
    values = np.random.default_rng(31).normal(50.0, 2.0, count)
    rules = rule_set(NELSON)
    limits = freeze(values)
    baseline = seconds(lambda: [values.max() for _ in range(3)])
    print(f"{count} values")
    report(BASELINE, baseline, baseline, BASELINE)
    report("limits", seconds(lambda: freeze(values)), baseline, BASELINE)
    report("all Nelson rules", seconds(lambda: completions(values, limits, rules=rules)), baseline, BASELINE)

    def both() -> None:
        completions(values, freeze(values), rules=rules)

    report("limits and all Nelson rules", seconds(both), baseline, BASELINE)
    if count <= 100_000:
        chart = seconds(lambda: individuals(values, None, limits, rules=rules))
        report("whole chart with reasons in words", chart, baseline, BASELINE)
