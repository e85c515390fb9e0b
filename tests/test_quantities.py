"""Units against their definitions, typed numbers, rounding."""

from __future__ import annotations

import pytest

from sandlab.errors import InputError
from sandlab.quantities import convert, format_number, parse_number, shown_in

# The pound-force, the inch and standard gravity are exact by definition: NIST Special Publication 811,
# appendix B.8, prints 6.894 757 E+00 kPa per psi and 9.806 65 E+01 Pa per gf/cm2.
PRINTED = [
    (1.0, "psi", "kPa", 6.894757, 5e-7),
    (1.0, "psi", "N/cm2", 0.6894757, 5e-8),
    (1.0, "gf/cm2", "kPa", 0.0980665, 5e-8),
    (1.0, "N/cm2", "kPa", 10.0, 1e-12),
    (14.45, "psi", "kPa", 99.63, 5e-3),
    (212.0, "F", "C", 100.0, 1e-12),
    (-40.0, "C", "F", -40.0, 1e-12),
    (36.6, "C", "F", 97.88, 1e-9),
]


@pytest.mark.parametrize(("value", "source", "target", "printed", "tolerance"), PRINTED)
def test_conversion_has_the_printed_digits(
    value: float, source: str, target: str, printed: float, tolerance: float
) -> None:
    """Factors agree with NIST SP 811 and convert back to where they came from."""
    there = convert(value, source, target)
    assert there == pytest.approx(printed, abs=tolerance)
    assert convert(there, target, source) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(("source", "target"), [("kPa", "C"), ("%", "kPa"), ("kPa", "bar")])
def test_units_that_do_not_measure_the_same_are_refused(source: str, target: str) -> None:
    """The message names the unit that does not fit."""
    with pytest.raises(InputError, match=target):
        convert(1.0, source, target)


def test_only_the_first_unit_of_a_dimension_follows_the_plant() -> None:
    """Green strength turns to psi, wet tensile strength stays in N/cm2, percentages stay percentages."""
    chosen = {"pressure": "psi"}
    assert shown_in("kPa", chosen) == "psi"
    assert shown_in("N/cm2", chosen) == "N/cm2"
    assert shown_in("%", chosen) == "%"


@pytest.mark.parametrize(
    ("text", "value", "censored"),
    [
        ("3.2", 3.2, ""),
        ("3,2", 3.2, ""),
        (" 42 ", 42.0, ""),
        ("-0.4", -0.4, ""),
        ("\u22120.4", -0.4, ""),
        ("< 2", 2.0, "<"),
        (">99,5", 99.5, ">"),
        (".5", 0.5, ""),
        ("7.", 7.0, ""),
    ],
)
def test_typed_numbers(text: str, value: float, censored: str) -> None:
    """Point or comma, blanks around, and a bound are understood."""
    typed = parse_number(text)
    assert (typed.value, typed.censored) == (value, censored)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("abc", "not a number"),
        ("1e9", "not a number"),
        ("3,2,1", "two decimal marks"),
        ("1.234,5", "two decimal marks"),
        ("", "empty"),
        ("<", "empty"),
        ("12345678", "too large"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("--3", "not a number"),
    ],
)
def test_what_is_no_number_is_refused(text: str, says: str) -> None:
    """The message names the place, the text and what to do."""
    with pytest.raises(InputError) as caught:
        parse_number(text, where="Moisture")
    (problem,) = caught.value.problems
    assert problem.where == "Moisture"
    assert says in problem.what
    assert problem.do


@pytest.mark.parametrize(
    ("value", "decimals", "mark", "text"),
    [
        (3.25, 1, ".", "3.2"),
        (3.35, 1, ".", "3.4"),
        (-0.001, 1, ".", "0.0"),
        (1234.5, 1, ",", "1234,5"),
        (None, 2, ".", "-"),
        (float("nan"), 2, ".", "-"),
        (float("inf"), 2, ".", "-"),
    ],
)
def test_numbers_as_printed(value: float | None, decimals: int, mark: str, text: str) -> None:
    """Rounded, with the plant's mark; nothing that is not a number reaches a person."""
    assert format_number(value, decimals, mark=mark) == text
