"""Limits with all eight Nelson rules beside other work of the same run: bare read passes, another library.

The other library is the PyPI package shewhart, the fastest found that does all eight rules by definition; the
`oracles` extra brings it. What is measured is processor time: everything here runs on one core, and a busy
machine would otherwise decide.
"""

from __future__ import annotations

import argparse
import importlib.util
import time
from collections.abc import Callable
from statistics import median

import numpy as np

from sandlab.charts import NELSON, completions, freeze, rule_set
from tests.benchmarks.timing import report

PASSES = "three read passes"
OTHER = "shewhart"


def main(argv: list[str]) -> None:
    """Print the cost at each length as ratios to read passes and to the other library."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks charts_beside")
    parser.add_argument("--count", type=int, nargs="*", default=[500, 5_000, 100_000, 1_000_000])
    for count in parser.parse_args(argv).count:
        measure(count)


def measure(count: int) -> None:
    """One length; the other library's repeats are few where one of them takes seconds."""
    values = np.random.default_rng(31).normal(50.0, 2.0, count)
    rules = rule_set(NELSON)
    print(f"\n{count} values")
    bare = seconds(lambda: [values.max() for _ in range(3)], 51)
    own = seconds(lambda: completions(values, freeze(values), rules=rules), 51)
    report(PASSES, bare, bare, PASSES)
    report("limits and all eight Nelson rules", own, bare, PASSES)
    other = _other(values)
    if other is None:
        print(f"{OTHER} is not installed: pip install sandlab[oracles]")
        return
    taken = seconds(other, 11 if count < 50_000 else 1)
    report(f"the same by {OTHER}", taken, own, "ours")
    print(f"ours is {taken / own:.0f} times as fast, {own / taken:.4f} of its time")


def _other(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Callable[[], object] | None:
    """Limits and all eight rules by the other library."""
    if importlib.util.find_spec(OTHER) is None:
        return None
    module = importlib.import_module(OTHER)
    return lambda: module.imr(values, rules="nelson")


def seconds(task: Callable[[], object], repeats: int) -> float:
    """Median processor seconds of so many calls; the first of several is not counted."""
    taken = []
    for _ in range(repeats + (repeats > 1)):
        start = time.process_time()
        task()
        taken.append(time.process_time() - start)
    return median(taken[1:] or taken)


if __name__ == "__main__":
    import sys

    main(sys.argv[1:])
