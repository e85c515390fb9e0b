"""Run lengths against the printed tables, a second method, and the limits designed from them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import (
    crosier_run_length,
    cusum_decision,
    cusum_run_length,
    ewma_run_length,
    ewma_width,
    moving_range_run_length,
    rules_run_length,
)
from sandlab.charts.normal import below
from sandlab.errors import InputError
from tests.charts.published_data import rows

# Crowder 1987; Lucas & Saccucci 1990; Crowder 1989; Lucas & Crosier 1982; Vance 1986 and Goel & Wu 1971;
# Waldmann 1986; SAS/QC 1999; Crosier 1986; Champ & Woodall 1987; Crowder 1987b: the row names its own.
CHARTS = ("ewma", "ewma_crit", "cusum", "cusum_crosier", "shewhart_runs_rules", "imr")
CHAMP_WOODALL = {
    "1": "beyond_limit",
    "2": "two_of_three_outer",
    "3": "four_of_five_middle",
    "4": "eight_one_side",
}
# Printed values that are not exact: (parameters, shift) -> the exact value, and what is wrong with the print.
MISPRINTS = {
    ("lambda=0.5;L=2", "2"): ("1.9452", "the last digit is one too low"),
    ("k=0;h=10", "-0.25"): ("2071.572", "the last two digits are off"),
    ("k=0.5;h=3", "0"): ("117.596", "off in the first decimal; Brook & Evans print 117.59"),
    ("k=0.25;h=8;hs=0.1", "2.5"): ("4.106158835", "the last four digits are off"),
} | {
    ("M=2;Ru=3", shift): (exact, "a coarse quadrature: off in the second to the fourth decimal")
    for shift, exact in {
        "0": "18.2309", "0.25": "16.3662", "0.5": "12.4358", "0.75": "8.7599", "1": "6.1091",
        "1.25": "4.3591", "1.75": "2.4879",
    }.items()
}  # fmt: skip


def computed(row: dict[str, str]) -> float:
    """The engine's value for one printed row."""
    settings = dict(part.split("=") for part in row["parameters"].split(";"))
    shift = float(row["shift"])
    match row["chart"]:
        case "ewma":
            weight, width = float(settings["lambda"]), float(settings["L"])
            return ewma_run_length(weight, width, shift=shift, steady_limits=True)
        case "ewma_crit":
            return ewma_width(float(settings["lambda"]), float(settings["ARL0"]), steady_limits=True)
        case "cusum":
            return cusum_run_length(
                float(settings["k"]),
                float(settings["h"]),
                shift=shift,
                head_start=float(settings.get("hs", "0")),
                sides=2 if row["sided"] == "two" else 1,
            )
        case "cusum_crosier":
            return crosier_run_length(float(settings["k"]), float(settings["h"]), shift=shift)
        case "imr":
            width, range_width = float(settings["M"]), float(settings["Ru"])
            return moving_range_run_length(width, range_width=range_width, shift=shift)
    return rules_run_length([CHAMP_WOODALL[digit] for digit in settings["rules"]], shift=shift)


def half_digit(printed: str) -> float:
    """Half of the last printed digit, its end included."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2]) * (1 + 1e-9)


@pytest.mark.parametrize(
    "row",
    [row for row in rows("run_lengths.csv") if row["chart"] in CHARTS],
    ids=lambda row: f"{row['chart']} {row['parameters']} {row['shift']}",
)
def test_printed_run_lengths(row: dict[str, str]) -> None:
    """Every printed row comes out to its last digit, or is a misprint whose exact value comes out instead."""
    found, printed = computed(row), row["value"]
    misprint = MISPRINTS.get((row["parameters"], row["shift"]))
    if misprint is None:
        assert abs(found - float(printed)) <= half_digit(printed)
    else:
        assert abs(found - float(printed)) > half_digit(printed)
        assert abs(found - float(misprint[0])) <= half_digit(misprint[0])


def test_the_table_is_complete() -> None:
    """Of 156 rows 123 run here, 18 in test_alarm_rate (autoregressive), 15 are of several properties."""
    charts = [row["chart"] for row in rows("run_lengths.csv")]
    assert len(charts) == 156
    assert sum(chart in CHARTS for chart in charts) == 123
    assert charts.count("shewhart_ar1_modified") == 18
    assert charts.count("mewma") + charts.count("mewma_crit") == 15


def brook_evans(reference: float, decision: float, states: int) -> float:
    """One-sided CUSUM by a chain of discrete states (Brook & Evans 1972), an independent method."""
    step = 2.0 * decision / (2 * states - 1)
    places = np.arange(states) * step
    edges = np.concatenate(([-np.inf], (places + step / 2)))
    chances = np.diff(below(edges[None, :] - places[:, None] + reference), axis=1)
    return float(np.linalg.solve(np.eye(states) - chances, np.ones(states))[0])


def test_waldmann_misprint_by_a_second_method() -> None:
    """Brook & Evans print 117.59 for k 0.5, h 3; their chain, extrapolated, meets the integral equation."""
    coarse, fine = brook_evans(0.5, 3.0, 100), brook_evans(0.5, 3.0, 200)
    extrapolated = fine + (fine - coarse) / 3.0
    assert cusum_run_length(0.5, 3.0, sides=1) == pytest.approx(extrapolated, abs=2e-3)


def test_head_start_by_simulation() -> None:
    """Two-sided CUSUM with fast initial response, 20 000 simulated runs, within 4 standard errors."""
    random = np.random.default_rng(8)
    lengths = []
    high, low = np.full(20_000, 2.0), np.full(20_000, 2.0)
    alive = np.ones(20_000, dtype=bool)
    taken = 0
    while alive.any():
        taken += 1
        x = random.normal(1.0, 1.0, alive.size)
        high, low = np.maximum(0.0, high + x - 0.5), np.maximum(0.0, low - x - 0.5)
        out = alive & ((high > 4.0) | (low > 4.0))
        lengths += [taken] * int(out.sum())
        alive &= ~out
    error = np.std(lengths) / math.sqrt(len(lengths))
    expected = cusum_run_length(0.5, 4.0, shift=1.0, head_start=2.0)
    assert np.mean(lengths) == pytest.approx(expected, abs=4 * error)


def test_exact_ewma_limits_by_simulation() -> None:
    """EWMA 0.1 / 2.814 with limits that widen at first, 20 000 simulated runs at a shift of 1."""
    random = np.random.default_rng(6)
    average, alive, lengths, taken = np.zeros(20_000), np.ones(20_000, dtype=bool), [], 0
    while alive.any():
        taken += 1
        average = 0.9 * average + 0.1 * random.normal(1.0, 1.0, average.size)
        reach = 2.814 * math.sqrt(0.1 / 1.9 * (1 - 0.9 ** (2 * taken)))
        out = alive & (np.abs(average) > reach)
        lengths += [taken] * int(out.sum())
        alive &= ~out
    error = np.std(lengths) / math.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(ewma_run_length(0.1, 2.814, shift=1.0), abs=4 * error)


def test_an_ewma_of_weight_one_is_an_individuals_chart() -> None:
    """Weight 1 and width 3: 370.4, whatever the kind of limits."""
    for steady in (True, False):
        assert ewma_run_length(1.0, 3.0, steady_limits=steady) == pytest.approx(370.3983, abs=1e-3)


@pytest.mark.parametrize("weight", [0.03, 0.1, 0.4, 1.0])
@pytest.mark.parametrize("wanted", [50.0, 500.0, 20_000.0])
def test_designed_ewma_has_the_wanted_run_length(weight: float, wanted: float) -> None:
    """The width found gives the run length asked for."""
    assert ewma_run_length(weight, ewma_width(weight, wanted)) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize("share", [0.0, 0.5])
@pytest.mark.parametrize("wanted", [50.0, 500.0, 20_000.0])
def test_designed_cusum_has_the_wanted_run_length(share: float, wanted: float) -> None:
    """The decision interval found gives the run length asked for, with and without a head start."""
    decision = cusum_decision(0.4, wanted, head_start_share=share)
    assert cusum_run_length(0.4, decision, head_start=share * decision) == pytest.approx(wanted, rel=1e-6)


def test_impossible_settings_are_refused() -> None:
    """Settings out of range, run lengths nobody can reach, rules that zones cannot count."""
    with pytest.raises(InputError) as caught:
        ewma_run_length(0.0, 20.0)
    assert [problem.where for problem in caught.value.problems] == ["weight", "width"]
    for wrong in ({"reference": -1.0}, {"decision": 0.0}, {"head_start": 5.0}, {"sides": 3}):
        with pytest.raises(InputError):
            cusum_run_length(**{"reference": 0.5, "decision": 5.0, **wrong})  # type: ignore[arg-type]
    for length in (1.0, 1e9, math.nan):
        with pytest.raises(InputError, match="run length"):
            ewma_width(0.2, length)
    with pytest.raises(InputError, match="fewer than any limit gives"):
        cusum_decision(10.0, 370.0)
    with pytest.raises(InputError, match="six_trend cannot"):
        rules_run_length(["beyond_limit", "six_trend"])
    with pytest.raises(InputError, match="none chosen"):
        rules_run_length([])
