"""Names and ages as a person reads them."""

from __future__ import annotations

HOUR = 60.0


def words(name: str) -> str:
    """A property key as a person reads it."""
    return name.replace("_", " ")


def age_words(age_min: float) -> str:
    """An age as a person says it: 45 min, 5 h, 3 days."""
    if age_min < 2 * HOUR:
        return f"{age_min:.0f} min"
    return f"{age_min / HOUR:.0f} h" if age_min < 48 * HOUR else f"{age_min / HOUR / 24:.0f} days"
