"""Prints what the bench found."""

from __future__ import annotations

import numpy as np

from sandlab.plant.closed import SCENARIOS
from sandlab.plant.closed.ranges import table
from sandlab.plant.closed.rounds import DELAY_MIN
from tests.benchmarks.closed_loop.courses import BANDED
from tests.benchmarks.closed_loop.field import CANDIDATE
from tests.benchmarks.closed_loop.marker import SHARP_WEIGHT, WEIGHT
from tests.benchmarks.closed_loop.scores import STEERED, Score, gap_closed, interval

UNIT = {"active_clay": "%", "volatiles": "%", "compactability": "points"}
LEAST_GAP, MOST_COMPACTABILITY, MOST_ADDITIVE = 0.60, 0.85, 1.02
INSIDE = (0.85, 0.95)


def print_ranges(tuning: tuple[int, ...], reported: tuple[int, ...], bands: tuple[int, ...]) -> None:
    """The plants' ranges, the laboratory's delays, the disturbances and the seeds."""
    print("Every figure of a plant is drawn per seed, uniform over its range:")
    for name, low, high, unit, basis in table():
        print(f"  {name:24} {low:9.4g} to {high:<9.4g} {unit} ({basis})")
    print("Minutes until a result is known, times 0.8 to 1.5, a share of them hours later:")
    print("  " + ", ".join(f"{name} {minutes:g}" for name, minutes in DELAY_MIN.items()))
    print("Disturbances: working day of the start (up to 2 later), length, size between:")
    for scenario, upsets in SCENARIOS.items():
        for upset in upsets if scenario != "all" else ():
            print(
                f"  {scenario:16} {upset.what:10} from {upset.start:g} for {upset.length:g} days, "
                f"{upset.low:g} to {upset.high:g} {upset.unit}"
            )
    print(f"Seeds: tuning {_span(tuning)}, reported {_span(reported)}, bands {_span(bands)}.")
    print(
        "Controllers: fixed recipe; recipe plus the full, and half, of what a batch lacks by the last test;"
    )
    print(
        f"marker (weight {WEIGHT:g}); sharp, the same with the weight that suits it best ({SHARP_WEIGHT:g});"
    )
    print("soft bound (knows the mean return sand of four hours); oracle (knows every batch). The soft bound")
    print("sees no test, so its compactability bounds nobody who does. s: processor time of the controller.")
    print("Score: root mean square of the true sand from target by batch, on the laboratory's own scale.")


def _span(seeds: tuple[int, ...]) -> str:
    """Whole runs of numbers: 1 to 3, 7 to 9."""
    firsts = [one for one in seeds if one - 1 not in seeds]
    lasts = [one for one in seeds if one + 1 not in seeds]
    return ", ".join(f"{first} to {last}" for first, last in zip(firsts, lasts, strict=True))


def print_table(title: str, scores: dict[str, list[Score]]) -> None:
    """One line for each controller: mean over seeds and its 90 % interval."""
    count = len(next(iter(scores.values())))
    print(f"\n{title}, {count} seeds: mean (90 % interval over seeds)")
    print(
        f"  {'controller':12} {'clay, %':>24} {'volatiles, %':>26} {'compactability':>23}"
        f" {'additive, kg/t':>18} {'s':>6}"
    )
    for name, ones in scores.items():
        cells = [
            _cell(np.array([one.rms[key] for one in ones]), 4 if key == "volatiles" else 3) for key in STEERED
        ]
        kg = _cell(np.array([one.kg_per_t for one in ones]), 1)
        seconds = np.mean([one.seconds for one in ones])
        print(f"  {name:12} {cells[0]:>24} {cells[1]:>26} {cells[2]:>23} {kg:>18} {seconds:6.1f}")


def _cell(values: np.ndarray, decimals: int) -> str:
    low, high = interval(values)
    return f"{values.mean():.{decimals}f} ({low:.{decimals}f}-{high:.{decimals}f})"


def print_goals(seen: dict[str, list[Score]], unseen: dict[str, list[Score]]) -> None:
    """The goals in scenario all, with and without probes."""
    print("\nGoals in scenario all")
    for title, scores in (("with probes", seen), ("without probes", unseen)):
        rms = {
            name: {key: [one.rms[key] for one in ones] for key in STEERED} for name, ones in scores.items()
        }
        for key in BANDED:
            closed, low, high = gap_closed(rms["marker"][key], rms[CANDIDATE][key], rms["bound"][key])
            _goal(
                f"{title}: {key}, gap closed {closed:.0%} ({low:.0%} to {high:.0%}), "
                f"goal at least {LEAST_GAP:.0%}",
                closed >= LEAST_GAP,
            )
            sharp, low, high = gap_closed(rms["sharp"][key], rms[CANDIDATE][key], rms["bound"][key])
            print(f"           against the sharp marker: gap closed {sharp:.0%} ({low:.0%} to {high:.0%})")
        ratio = np.mean(rms[CANDIDATE]["compactability"]) / np.mean(rms["marker"]["compactability"])
        _goal(
            f"{title}: compactability {ratio:.2f} of the marker, goal at most {MOST_COMPACTABILITY:.2f}",
            bool(ratio <= MOST_COMPACTABILITY),
        )
        additive = np.mean([one.kg_per_t for one in scores[CANDIDATE]]) / np.mean(
            [one.kg_per_t for one in scores["oracle"]]
        )
        _goal(
            f"{title}: additive {additive:.3f} of the oracle, goal at most {MOST_ADDITIVE:.2f}",
            bool(additive <= MOST_ADDITIVE),
        )
        _where_the_error_is(scores[CANDIDATE])


def behind(scores: dict[str, list[Score]]) -> list[str]:
    """What the recommender holds no nearer to target than the marker, on the mean over seeds."""
    rms = {
        name: {key: np.mean([one.rms[key] for one in scores[name]]) for key in STEERED}
        for name in ("marker", CANDIDATE)
    }
    return [key for key in STEERED if not rms[CANDIDATE][key] < rms["marker"][key]]


def print_listening(bounds: list[float], unseen: dict[str, list[Score]]) -> None:
    """Without probes: how near the best filter of the same tests could hold compactability, all known."""
    marker, candidate = (
        np.array([one.rms["compactability"] for one in unseen[name]]) for name in ("marker", CANDIDATE)
    )
    least = np.array(bounds)
    print("\nCompactability without probes: rms of the best linear filter of the same tests, every figure of")
    print("the plant known, no stops, no disturbance, nothing to learn: nobody can be nearer on average")
    for name, values in (("best filter", least), ("marker", marker), (CANDIDATE, candidate)):
        print(f"  {name:12} {_cell(values, 3):>22}   {values.mean() / marker.mean():.2f} of the marker")


def _goal(words: str, reached: bool) -> None:
    print(f"  {'reached' if reached else 'MISSED '}  {words}")


def _where_the_error_is(scores: list[Score]) -> None:
    """Error of the estimate against that of the sand: the rest is dosing, feeders, and the batch itself."""
    for name in BANDED:
        bands = [one.bands["returned", name] for one in scores if ("returned", name) in one.bands]
        if bands:
            rms = np.sqrt(np.mean([one.rms[name] ** 2 for one in scores]))
            error = np.sqrt(np.mean([band.error**2 for band in bands]))
            offset = np.sqrt(np.mean([one.mean[name] ** 2 for one in scores]))
            print(
                f"           {name}: rms {rms:.4f}, of it lasting offset {offset:.4f}; "
                f"estimate of return sand off by {error:.4f} {UNIT[name]}"
            )


def print_bands(scores: list[Score]) -> None:
    """How often the truth lay in the 90 % band."""
    print(
        f"\n90 % bands, {len(scores)} seeds of 42 days, scenario all, probes in every second, from day 20 of"
    )
    print("30 working days; the disturbances come closer to each other, as the run is shorter")
    for key in sorted({key for one in scores for key in one.bands}):
        bands = [one.bands[key] for one in scores if key in one.bands]
        inside = np.array([band.inside for band in bands])
        low, high = interval(inside)
        width, error = np.mean([band.width for band in bands]), np.mean([band.error for band in bands])
        words = f"{' '.join(key)}: inside {inside.mean():.1%} ({low:.1%} to {high:.1%})"
        words = f"{words}, mean width {width:.3f} %, rms error {error:.3f} %"
        _goal(words, bool(INSIDE[0] <= inside.mean() <= INSIDE[1]))


def print_breakdown(title: str, without: dict[str, list[Score]]) -> None:
    """What the recommender reaches when one source of error is taken away."""
    count = len(next(iter(without.values())))
    print(f"\nWhat limits the recommender: rms in scenario all {title}, {count} seeds of 42 days, with")
    for variant, scores in without.items():
        cells = "  ".join(f"{key} {np.mean([one.rms[key] for one in scores]):.4f}" for key in STEERED)
        print(f"  {variant or 'everything as it is':22} {cells}")
