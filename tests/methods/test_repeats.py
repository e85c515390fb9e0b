"""Repeats of one test become one result, and say so when they disagree."""

from __future__ import annotations

from typing import Any

import pytest

from sandlab.errors import InputError
from sandlab.methods import combine


def moisture_rule(values: list[float]) -> Any:
    """Two or more within 5 % of each other, averaged (tjfs, test 201)."""
    return combine(values, rule="mean", agree_within=5.0, relative=True, count=2)


@pytest.mark.parametrize(
    ("values", "agree"),
    [
        ([3.0, 3.0], True),
        ([3.0, 3.1], True),
        ([3.0, 3.2], False),
        ([3.9, 4.1], True),  # 0.2 is exactly 5 % of 4.0
        ([3.9, 4.11], False),
        ([3.0, 3.1, 3.05], True),
        ([3.0, 3.1, 3.3], False),
        ([0.0, 0.0], True),
    ],
)
def test_moisture_repeats_agree_within_five_percent(values: list[float], agree: bool) -> None:
    """The edge counts as agreeing."""
    outcome = moisture_rule(values)
    assert outcome.value == pytest.approx(sum(values) / len(values))
    assert (not outcome.flags) == agree


def test_absolute_agreement() -> None:
    """The spread is compared in the unit of the property."""
    assert not combine([88.0, 98.0], rule="mean", agree_within=10.0, relative=False).flags
    assert combine([88.0, 98.5], rule="mean", agree_within=10.0, relative=False).flags


def test_median_leaves_the_outlier_out() -> None:
    """One wild reading does not move the median, but it is flagged."""
    outcome = combine([50.0, 51.0, 90.0], rule="median", agree_within=10.0, relative=False)
    assert outcome.value == 51.0
    assert "differ by 40" in outcome.flags[0]


def test_fewer_repeats_than_asked_are_flagged() -> None:
    """One of two is a result, with a sentence."""
    assert moisture_rule([3.1]).flags == ("1 of 2 repeats",)


def test_negative_values_are_compared_by_size() -> None:
    """A share of a negative mean is not a negative allowance."""
    assert not combine([-0.50, -0.51], rule="mean", agree_within=5.0, relative=True).flags


@pytest.mark.parametrize(
    ("values", "rule", "agree_within", "where"),
    [
        ([], "mean", 5.0, "values"),
        ([1.0], "average", 5.0, "rule"),
        ([1.0, float("nan")], "mean", 5.0, "values"),
        ([1.0], "mean", -1.0, "agree_within"),
    ],
)
def test_impossible_repeats_are_refused(
    values: list[float], rule: str, agree_within: float, where: str
) -> None:
    """No result is made from nothing."""
    with pytest.raises(InputError) as caught:
        combine(values, rule=rule, agree_within=agree_within, relative=True)
    assert [problem.where for problem in caught.value.problems] == [where]
