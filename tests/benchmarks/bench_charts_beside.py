"""Limits with all eight Nelson rules, and limits for a run length, beside other work of the same run.

The other library is the PyPI package shewhart, the fastest found that does all eight rules by definition; the
`oracles` extra brings it. What is measured is processor time: everything here runs on one core, and a busy
machine would otherwise decide. Limits solved for a run length are set beside R's package spc where Rscript
and that package are installed (Debian: r-cran-spc).
"""

from __future__ import annotations

import argparse
import importlib.util
import shutil
import subprocess
import time
from collections.abc import Callable
from statistics import median

import numpy as np

from sandlab.charts import NELSON, completions, cusum_decision, ewma_width, freeze, mewma_limit, rule_set
from tests.benchmarks.timing import report

R_CODE = """
suppressMessages(library(spc))
solve <- function(f) { t <- system.time(for (i in 1:20) v <- f())["user.self"]; cat(v, t / 20, "\\n") }
solve(function() xewma.crit(0.2, 370, sided = "two"))
solve(function() xcusum.crit(0.5, 370, sided = "two"))
solve(function() mewma.crit(0.1, 370, 4))
"""
PASSES = "three read passes"
OTHER = "shewhart"


def main(argv: list[str]) -> None:
    """Print the cost at each length as ratios to read passes and to the other library."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks charts_beside")
    parser.add_argument("--count", type=int, nargs="*", default=[500, 5_000, 100_000, 1_000_000])
    for count in parser.parse_args(argv).count:
        measure(count)
    measure_solvers()


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


def measure_solvers() -> None:
    """Limits for a run length between false alarms: ours and R's, how long and how alike."""
    print("\nlimits for one false alarm in 370 tests")
    ours = (
        ("EWMA width, weight 0.2", lambda: ewma_width(0.2, 370.0, steady_limits=True)),
        ("CUSUM decision, reference 0.5", lambda: cusum_decision(0.5, 370.0)),
        ("MEWMA limit, 4 properties, weight 0.1", lambda: mewma_limit(4, 0.1, 370.0)),
    )
    found = _in_r()
    for (name, task), (value, taken) in zip(ours, found or [(0.0, 0.0)] * len(ours), strict=True):
        own = seconds(task, 21)
        if found is None:
            print(f"{name:<46} {own * 1e3:10.3f} ms; R's spc is not installed: apt-get install r-cran-spc")
        else:
            report(name, own, taken, "R's spc")
            print(f"  ours {task():.6f}, R's spc {value:.6f}")


def _in_r() -> list[tuple[float, float]] | None:
    """Value and processor seconds of each limit by R's spc; None where it is not installed."""
    if shutil.which("Rscript") is None:
        return None
    ran = subprocess.run(["Rscript", "-e", R_CODE], capture_output=True, text=True, check=False)
    if ran.returncode:
        return None
    return [
        (float(value), float(taken)) for value, taken in (line.split() for line in ran.stdout.splitlines())
    ]


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
