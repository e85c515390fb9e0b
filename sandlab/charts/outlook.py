"""When a drifting property will reach a limit, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sandlab.charts.trend import Trend
from sandlab.errors import InputError, Problem

Course = Literal["coming", "unsure", "away", "beyond", "later"]
Side = Literal["upper", "lower"]
HORIZON = 168.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """The way to a limit: hours until it is reached with their interval, None where there is no such time.

    `course` is "coming"; "unsure" when it may never be reached; "away" when the drift leads from it; "beyond"
    when it has been passed; "later" when it lies past the horizon.
    """

    course: Course
    hours: float | None
    low: float | None
    high: float | None
    sentence: str


def time_to_limit(
    level: float,
    slope: float,
    limit: float,
    *,
    level_error: float,
    slope_error: float,
    correlation: float = 0.0,
    side: Side = "upper",
    confidence: float = 0.9,
    horizon: float = HORIZON,
    timed: bool = True,
) -> Outlook:
    """Hours until a drifting level reaches a limit, by Fieller's theorem.

    ``t = (limit - level)/slope; interval: all t >= 0 with``
    ``(level + slope t - limit)^2 <= z^2 (e_l^2 + 2 r e_l e_s t + e_s^2 t^2)``

    level: of the property now [unit of the property]
    slope: of the drift [unit of the property per h]
    limit: to be reached [unit of the property]
    level_error: e_l, standard error of the level, 0 or more [unit of the property]
    slope_error: e_s, standard error of the slope, 0 or more [unit of the property per h]
    correlation: r, of both errors, -1 to 1 [1]
    side: "upper" when values above the limit are bad, "lower" when values below it are [word]
    confidence: of the interval, above 0.5 and below 1 [1]
    horizon: beyond it nothing is foretold, above 0 [h]
    timed: False where tests without times count as hours, so that the sentence speaks of tests [yes or no]
    returns: course, hours with interval, and a sentence [h]

    Shapes: scalars.
    Validity: the drift goes on as it did; nothing is known of what will be done about it.
    Errors: InputError with every problem at once: values that are no numbers, settings out of range.
    Example:
    >>> found = time_to_limit(42.0, 0.3, 44.7, level_error=0.25, slope_error=0.08, correlation=0.8)
    >>> print(found.sentence)
    At this rate the limit is reached in about 9 h (5 to 18).

    Source: fieller1954, interval of a ratio.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ndtri

    given = {"level": level, "slope": slope, "limit": limit}
    _check(given, level_error, slope_error, correlation, side, confidence, horizon)
    sign = 1.0 if side == "upper" else -1.0
    gap, pace = sign * (limit - level), sign * slope
    z = float(ndtri(0.5 * (1.0 + confidence)))
    low, high = _fieller(gap, pace, z * level_error, z * slope_error, correlation)
    if gap <= 0.0:
        return Outlook("beyond", 0.0, 0.0, 0.0, "The level is beyond the limit already.")
    if low is None or (pace <= 0.0 and low > horizon):
        return Outlook("away", None, None, None, "The drift does not lead to the limit.")
    if low > horizon:
        said = f"At this rate the limit is not reached within {_spoken(horizon, horizon, timed)}."
        return Outlook("later", gap / pace, low, high, said)
    if pace <= 0.0 or high is None:
        if low == 0.0:
            return Outlook(
                "unsure", None, 0.0, None, "The level may be at the limit already, or never get there."
            )
        first = _spoken(low, max(low, 1.0), timed)
        said = f"The limit may be reached in {first} at the earliest, perhaps never."
        return Outlook("unsure", gap / pace if pace > 0.0 else None, low, None, said)
    hours = gap / pace
    about, *ends = (_spoken(one, hours, timed) for one in (hours, low, high))
    said = (
        f"At this rate the limit is reached in about {about} ({ends[0].split()[0]} to {ends[1].split()[0]})."
    )
    return Outlook("coming", hours, low, high, said)


def trend_outlook(
    trend: Trend, limit: float, *, side: Side = "upper", horizon: float = HORIZON, timed: bool = True
) -> Outlook:
    """The way to a limit of a fitted trend, with the confidence of its own limits; see `time_to_limit`."""
    return time_to_limit(
        trend.level,
        trend.slope,
        limit,
        level_error=trend.level_error,
        slope_error=trend.slope_error,
        correlation=trend.correlation,
        side=side,
        confidence=trend.confidence,
        horizon=horizon,
        timed=timed,
    )


def _fieller(
    gap: float, pace: float, level_reach: float, slope_reach: float, correlation: float
) -> tuple[float | None, float | None]:
    """First and last t >= 0 that the errors allow; no first when none is, no last when there is no end."""
    a = pace * pace - slope_reach * slope_reach
    b = -gap * pace - correlation * level_reach * slope_reach
    c = gap * gap - level_reach * level_reach
    root = b * b - a * c
    here = c <= 0.0
    if a > 0.0:
        # Allowed between two roots, which are real whenever there is any error or way to go.
        half = math.sqrt(max(0.0, root))
        first, last = (-b - half) / a, (-b + half) / a
        return (None, None) if last < 0.0 else (max(0.0, first), last)
    if here:
        return 0.0, None
    if a == 0.0:
        return (None, None) if b >= 0.0 else (-c / (2.0 * b), None)
    # Allowed outside two roots of unlike sign: only what follows the positive one lies ahead.
    return (-b - math.sqrt(root)) / a, None


def _spoken(hours: float, scale: float, timed: bool) -> str:
    """Hours as people say them: minutes below an hour and a half, days from three days on; or tests."""
    if not timed:
        return f"{_rounded(hours)} tests"
    if scale < 1.5:
        return f"{_rounded(hours * 60.0)} min"
    return f"{_rounded(hours)} h" if scale < 72.0 else f"{_rounded(hours / 24.0)} days"


def _rounded(number: float) -> str:
    if number < 3.0:
        return f"{number:.1f}".removesuffix(".0")
    return f"{number:.0f}" if number < 100.0 else f"{float(f'{number:.2g}'):.0f}"


def _check(
    given: dict[str, float],
    level_error: float,
    slope_error: float,
    correlation: float,
    side: str,
    confidence: float,
    horizon: float,
) -> None:
    problems = [
        Problem(name, f"{value}", "give a finite number")
        for name, value in given.items()
        if not math.isfinite(value)
    ]
    for name, error in (("level error", level_error), ("slope error", slope_error)):
        if not 0.0 <= error < math.inf:
            problems.append(Problem(name, f"{error}", "give 0 or more"))
    if not -1.0 <= correlation <= 1.0:
        problems.append(Problem("correlation", f"{correlation}", "give a value from -1 to 1"))
    if side not in ("upper", "lower"):
        problems.append(Problem("side", f"'{side}'", "give upper or lower"))
    if not 0.5 < confidence < 1.0:
        problems.append(Problem("confidence", f"{confidence}", "give a share above 0.5 and below 1"))
    if not 0.0 < horizon < math.inf:
        problems.append(Problem("horizon", f"{horizon} h", "give a number above 0"))
    if problems:
        raise InputError(problems)
