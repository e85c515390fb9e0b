"""Runs every published check, and checks that the runner itself can say no."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.published_checks import Check, faults, load, parse, sources

CHECKS = load()


def example(**changes: Any) -> Check:
    """A check of the square root of two, changed as told; None takes a key away."""
    table: dict[str, Any] = {
        "function": "tests.test_published.root",
        "inputs": {"x": 2.0},
        "expected": "1.41",
        "source": "derived",
        "place": "square root of two",
    }
    table |= changes
    return parse("example", {key: value for key, value in table.items() if value is not None})


def root(x: float) -> float:
    """A function to try the runner on."""
    return math.sqrt(x)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_published(check: Check) -> None:
    """A printed value comes out of the function, a recorded misprint does not."""
    assert check.source in sources(), f"{check.source} is not in sources.toml"
    assert check.place
    assert not faults(check), "\n".join(faults(check))


def test_names_are_unique() -> None:
    """Each check has its own name."""
    assert len({check.name for check in CHECKS}) == len(CHECKS)


@pytest.mark.parametrize(
    ("printed", "holds"),
    [("1.41", True), ("1.414", True), ("1.42", False), ("1.4143", False), ("1", True), ("2", False)],
)
def test_tolerance_is_half_the_last_digit(printed: str, holds: bool) -> None:
    """More printed digits ask for more agreement."""
    assert (not faults(example(expected=printed))) == holds


def test_edge_of_the_tolerance_counts() -> None:
    """19.035 printed as 19.04 agrees although binary rounding pushes it over the edge."""
    assert not faults(example(inputs={"x": 19.035**2}, expected="19.04"))


def test_slack_widens() -> None:
    """A slack with its reason is added to the tolerance."""
    assert not faults(example(expected="1.42", slack=0.01, because="a blunt ruler"))
    assert not faults(example(expected="1.42", slack_relative=0.01, because="a blunt ruler"))


def test_trap_asks_for_the_exact_value_and_not_the_print() -> None:
    """A misprint that comes out is a fault, and so is anything but the exact value."""
    assert not faults(example(expected="1.5", trap=True, exact="1.414", because="misprint"))
    assert faults(example(expected="1.41", trap=True, exact="1.414", because="misprint"))
    assert faults(example(expected="1.5", trap=True, exact="1.6", because="misprint"))


def test_not_a_number_never_agrees() -> None:
    """A NaN is a fault whatever is printed."""
    assert faults(example(function="tests.test_published.nothing", inputs={}))


def nothing() -> float:
    """The answer no published check may accept."""
    return math.nan


@pytest.mark.parametrize(
    "changes",
    [
        {"slack": 0.1},
        {"because": "for nothing"},
        {"trap": True, "because": "misprint"},
        {"exact": "1.4"},
        {"status": "sure"},
        {"tolerance": 0.1},
        {"source": None},
    ],
)
def test_weak_checks_are_refused(changes: dict[str, Any]) -> None:
    """A check that could quietly pass is not read."""
    with pytest.raises(ValueError, match="example"):
        example(**changes)
