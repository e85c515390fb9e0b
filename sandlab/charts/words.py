"""Numbers and times as people say them: two digits, and the unit that fits."""

from __future__ import annotations

import math

_MONTH, _YEAR = 30.44, 365.25
_UNITS = ((1 / 24, "hour", 2.0), (1.0, "day", 60.0), (_MONTH, "month", 2 * _YEAR), (_YEAR, "year", math.inf))


def about(number: float) -> str:
    """A number to two digits: 31, 370, 1.5."""
    if number >= 1e6:
        return "over a million"
    digits = 1 - math.floor(math.log10(max(number, 1e-9)))
    rounded = round(number, digits)
    return f"{rounded:.0f}" if rounded >= 10 or rounded == round(rounded) else f"{rounded:.{digits}f}"


def every(days: float) -> str:
    """A time between events: "31 hours", "9 days", "3 months", "2 years"."""
    text, unit = _counted(days)
    return f"{text} {unit}"


def from_to(low: float, high: float) -> str:
    """A range of times in days, the unit said once where both ends have it."""
    (first, first_unit), (last, last_unit) = _counted(low), _counted(high)
    return f"{first} to {last} {last_unit}" if first_unit == last_unit else f"{every(low)} to {every(high)}"


def _counted(days: float) -> tuple[str, str]:
    size, name = next((size, name) for size, name, until in _UNITS if days < until)
    text = about(days / size)
    return text, name if text == "1" else f"{name}s"
