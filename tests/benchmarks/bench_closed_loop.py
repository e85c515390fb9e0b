"""The sand in closed loop: controllers against simulated plants of the published ranges.

`python -m tests.benchmarks closed_loop` runs 90 days for every scenario; `--quick` two seeds over 14 days,
and fails where the recommender is no nearer to target than the marker; `--tune` tries the
marker's gains on the tuning seeds; `--seeds` and `--scenario` look at one thing closely.
"""

from __future__ import annotations

import argparse
from time import perf_counter

from sandlab.plant.closed import SCENARIOS, draw_case
from tests.benchmarks.closed_loop.field import BLIND, CANDIDATE, Task, controllers, recommender, work_all
from tests.benchmarks.closed_loop.listening import compactability_bound
from tests.benchmarks.closed_loop.report import (
    behind,
    print_bands,
    print_breakdown,
    print_goals,
    print_listening,
    print_ranges,
    print_table,
)
from tests.benchmarks.closed_loop.scores import Score
from tests.benchmarks.closed_loop.tuning import tune

TUNING = (*range(101, 111), *range(9001, 9023))
REPORTED = tuple(range(1, 11))
BANDS = tuple(range(201, 231))
BREAKDOWN = ("", "exact laboratory", "no delay", "exact feeders", "true model")


def main(argv: list[str]) -> None:
    """Run the bench and print its tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks closed_loop")
    parser.add_argument("--quick", action="store_true", help="2 seeds, 14 days, scored after 5 working days")
    parser.add_argument("--tune", action="store_true", help="try the marker's gains on the tuning seeds")
    parser.add_argument("--seeds", type=int, nargs="*", help="other seeds, for work on a controller")
    parser.add_argument("--scenario", choices=tuple(SCENARIOS), help="this scenario only, no bands")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args(argv)
    began = perf_counter()
    if options.tune:
        tune(TUNING[:10], options.processes)
    else:
        print_ranges(TUNING, REPORTED, BANDS)
        if recommender() is None:
            print("\nrecommender: not there yet")
        bench(options)
    print(f"\n{perf_counter() - began:.0f} s")


def bench(options: argparse.Namespace) -> None:
    """Scenario all with its goals first, then the others."""
    days, first = (14, 5.0) if options.quick else (90, 20.0)
    many = tuple(options.seeds or (REPORTED[:2] if options.quick else REPORTED))
    few = many if options.seeds else many[:3]
    only = options.scenario or ("all" if options.quick else None)
    print(f"\n{days} days, scored after {first:.0f} working days")
    if only in (None, "all"):
        together(options, many, days, first)
    for name in SCENARIOS:
        if name != "all" and only in (None, name):
            found = scores(name, few, days, first, blind={}, probes=True, processes=options.processes)
            print_table(f"{name}, with probes", found)


def together(options: argparse.Namespace, many: tuple[int, ...], days: int, first: float) -> None:
    """Scenario all with and without probes, the goals, the bands and the breakdown of the error."""
    seen = scores("all", many, days, first, blind={}, probes=True, processes=options.processes)
    print_table("all, with probes", seen)
    unseen = scores("all", many, days, first, blind=seen, probes=False, processes=options.processes)
    print_table("all, without probes", unseen)
    if CANDIDATE not in seen:
        return
    print_goals(seen, unseen)
    print_listening([compactability_bound(draw_case(seed, "all", days)) for seed in many], unseen)
    if options.quick and (worse := behind(seen) + behind(unseen)):
        raise SystemExit(f"the recommender is no nearer to target than the marker: {', '.join(worse)}")
    if not options.quick and not options.scenario and not options.seeds:
        spare(options.processes)


def scores(
    scenario: str,
    seeds: tuple[int, ...],
    days: int,
    first: float,
    *,
    blind: dict[str, list[Score]],
    probes: bool,
    processes: int,
) -> dict[str, list[Score]]:
    """Controller -> its scores on every seed; those in `blind` that look at no probe are not run again."""
    kept = {name: blind[name] for name in BLIND if name in blind}
    names = tuple(name for name in controllers() if name not in kept)
    tasks = [Task(seed, scenario, days, first, probes, names) for seed in seeds]
    done = work_all(tasks, processes)
    fresh = {name: [row[place] for row in done] for place, name in enumerate(names)}
    return {name: (kept | fresh)[name] for name in controllers()}


def spare(processes: int) -> None:
    """Bands on thirty other seeds of 42 days, and what taking away one source of error gives."""
    names = (CANDIDATE,)
    tasks = [Task(seed, "all", 42, 20.0, seed % 2 == 0, names) for seed in BANDS]
    print_bands([one for (one,) in work_all(tasks, processes)])
    for title, probes in (("with probes", True), ("without probes", False)):
        without = {}
        for variant in BREAKDOWN:
            tasks = [Task(seed, "all", 42, 10.0, probes, names, variant=variant) for seed in REPORTED[:2]]
            without[variant] = [one for (one,) in work_all(tasks, processes)]
        print_breakdown(title, without)
