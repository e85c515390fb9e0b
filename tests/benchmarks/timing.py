"""How benchmarks measure: medians of repeats, printed as ratios to a named baseline of the same run."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median


def seconds(task: Callable[[], object], *, repeats: int = 7) -> float:
    """Median seconds of `repeats` calls, after one that is not counted."""
    task()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        taken.append(time.perf_counter() - start)
    return median(taken)


def report(name: str, taken: float, baseline: float, baseline_name: str) -> None:
    """Print one line: milliseconds, and the ratio to the baseline."""
    print(f"{name:<46} {taken * 1e3:10.3f} ms {taken / baseline:9.2f} x {baseline_name}")
