"""Sieve analysis on sets given as data."""

from __future__ import annotations

from typing import Any

import pytest

from sandlab.errors import InputError
from sandlab.methods import retained_percent
from sandlab.methods.sieve import fines, grain_fineness_number

SIEVES = {
    "coarse": {"opening_um": 300.0, "multiplier": 40.0},
    "fine": {"opening_um": 75.0, "multiplier": 140.0},
    "pan": {"opening_um": 0.0, "multiplier": 300.0},
}
RETAINED = {"coarse": 40.0, "fine": 8.0, "pan": 2.0}


@pytest.mark.parametrize("mesh", list(SIEVES))
def test_sand_on_one_sieve_has_the_number_of_that_sieve(mesh: str) -> None:
    """The number is a mean of the multipliers."""
    retained = dict.fromkeys(SIEVES, 0.0) | {mesh: 50.0}
    assert grain_fineness_number(50.0, SIEVES, 1.0, **retained).value == SIEVES[mesh]["multiplier"]


def test_number_does_not_depend_on_the_size_of_the_sample() -> None:
    """Twice the sand on every sieve is the same sand."""
    double = {name: 2.0 * mass for name, mass in RETAINED.items()}
    once, twice = (
        grain_fineness_number(sum(part.values()), SIEVES, 1.0, **part) for part in (RETAINED, double)
    )
    assert once == twice


def test_shares_add_up_to_a_hundred_and_give_the_fines() -> None:
    """The distribution and the fines are the same arithmetic."""
    shares = retained_percent(SIEVES, **RETAINED)
    assert list(shares) == list(SIEVES)
    assert sum(shares.values()) == pytest.approx(100.0)
    assert fines(50.0, SIEVES, 1.0, ["fine", "pan"], **RETAINED).value == pytest.approx(
        shares["fine"] + shares["pan"]
    )


@pytest.mark.parametrize(("sample_g", "flagged"), [(50.0, False), (50.5, False), (50.6, True), (49.4, True)])
def test_sum_that_misses_the_sample_is_flagged(sample_g: float, flagged: bool) -> None:
    """Sand lost in the sieves, or weighed twice, is said; 1 % is allowed here."""
    assert bool(grain_fineness_number(sample_g, SIEVES, 1.0, **RETAINED).flags) == flagged
    assert bool(fines(sample_g, SIEVES, 1.0, ["pan"], **RETAINED).flags) == flagged


@pytest.mark.parametrize(
    ("retained", "named"),
    [
        ({"coarse": 40.0, "fine": 8.0, "pann": 2.0}, {"pann", "pan"}),
        ({"coarse": -1.0, "fine": float("nan"), "pan": 2.0}, {"coarse", "fine"}),
        ({"coarse": 0.0, "fine": 0.0, "pan": 0.0}, {"sum of the sieves"}),
    ],
)
def test_impossible_sieves_are_all_named(retained: dict[str, float], named: set[str]) -> None:
    """Missing, unknown, negative and empty."""
    with pytest.raises(InputError) as caught:
        grain_fineness_number(50.0, SIEVES, 1.0, **retained)
    assert {problem.where for problem in caught.value.problems} == named


def test_set_without_a_multiplier_and_unknown_fines_are_refused() -> None:
    """The set is data, so it is checked as data."""
    broken: dict[str, Any] = SIEVES | {"fine": {"opening_um": 75.0}}
    with pytest.raises(InputError, match="multiplier"):
        grain_fineness_number(50.0, broken, 1.0, **RETAINED)
    with pytest.raises(InputError, match="'fine'"):
        fines(50.0, SIEVES, 1.0, ["fin"], **RETAINED)
