"""The forms of dates and times in a column; what can be read in two ways is a question, never a guess."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import pairwise

from sandlab.errors import InputError
from sandlab.exchange.moments import read_date, read_time

_PARTS = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{2,4})(?:[ T]+(\d{1,2}:\d{2})(:\d{2})?)?")
_NAMED = re.compile(r"(\d{1,2})([ .-]+)([A-Za-z]{3,9})([ .-]+)(\d{2}|\d{4})")
_MIDNIGHT = datetime.min.time()
_DAY_ZERO = ("1899-12-30 ", "1899-12-31 ")
"""How a workbook's cells with a time of day alone arrive."""
_TIMES = ("hour:minute", "hour.minute", "hour:minute:second", "hour-minute", "hourminute")


@dataclass(frozen=True, slots=True)
class DateForms:
    """Patterns for dates written as text; `questions` are what a person has to settle."""

    patterns: tuple[str, ...] = ()
    questions: tuple[tuple[str, str], ...] = ()
    with_time: bool = False


@dataclass(slots=True)
class _Seen:
    """The dates written with one separator: evidence for day first and for month first."""

    texts: list[str] = field(default_factory=list)
    day_first: bool = False
    month_first: bool = False


def is_date(text: str) -> bool:
    """Whether a text is a date in any form known here, read either way."""
    if text.startswith(_DAY_ZERO):
        return False
    if _PARTS.fullmatch(text) or _NAMED.fullmatch(text):
        return True
    try:
        return read_date(text, ()).day is not None
    except InputError:
        return False


def is_time(text: str) -> bool:
    """Whether a text is a time of day in any form known here."""
    try:
        return read_time(text, _TIMES).clock is not None
    except InputError:
        return False


def has_time(text: str) -> bool:
    """Whether a date carries its time of day; midnight is how bare dates of workbooks arrive."""
    parts = _PARTS.fullmatch(text)
    if parts:
        return parts[5] not in (None, "00:00")
    try:
        return read_date(text, ()).clock not in (None, _MIDNIGHT)
    except InputError:
        return False


def date_forms(cells: Iterable[str]) -> DateForms:
    """The forms of the dates that are written as text; real dates and ISO ones need none."""
    seen: dict[tuple[str, str], _Seen] = {}
    patterns: dict[str, None] = {}
    for text in cells:
        if named := _NAMED.fullmatch(text):
            patterns[f"day{named[2]}month{named[4]}year"] = None
        elif (parts := _PARTS.fullmatch(text)) and not re.match(r"\d{4}-\d\d-\d\d", text):
            time = " hour:minute:second" if parts[6] else " hour:minute" if parts[5] else ""
            mark = parts[2]
            if len(parts[1]) > 2:
                patterns[f"year{mark}month{mark}day{time}"] = None
                continue
            group = seen.setdefault((mark, time), _Seen())
            group.texts.append(text)
            group.day_first |= int(parts[1]) > 12
            group.month_first |= int(parts[3]) > 12
    questions = []
    for (mark, time), group in seen.items():
        found, question = _order(mark, group)
        patterns |= dict.fromkeys(f"{pattern}{time}" for pattern in found)
        questions += [question] if question else []
    with_time = any("hour" in pattern for pattern in patterns)
    return DateForms(tuple(patterns), tuple(questions), with_time)


def _order(mark: str, group: _Seen) -> tuple[list[str], tuple[str, str] | None]:
    """The pattern or patterns of dates with one mark, and what has to be asked about them."""
    day_first, month_first = f"day{mark}month{mark}year", f"month{mark}day{mark}year"
    example = next((text for text in group.texts if _two_ways(text)), group.texts[0])
    if group.day_first and group.month_first:
        what = f"dates with '{mark}' stand in both orders; those like '{example}' cannot be told apart"
        return [day_first, month_first], (what, "they are refused: write them as year-month-day")
    # Dates with points are written day first wherever they are in use (common practice).
    if group.day_first or (mark == "." and not group.month_first):
        return [day_first], None
    if group.month_first:
        return [month_first], None
    hint = _hint(group.texts, mark)
    what = f"dates like '{example}' can be read day first or month first{hint}"
    return [], (what, f'add "{day_first}" or "{month_first}" to dates')


def _two_ways(text: str) -> bool:
    parts = _PARTS.fullmatch(text)
    return parts is not None and int(parts[1]) <= 12 and int(parts[3]) <= 12 and parts[1] != parts[3]


def _hint(texts: Sequence[str], mark: str) -> str:
    """Which reading puts the rows in the order of time, when only one does."""
    running = {}
    for first, pattern in (("day", f"%d{mark}%m{mark}%Y"), ("month", f"%m{mark}%d{mark}%Y")):
        days = [_day(text, pattern) for text in texts]
        running[first] = None not in days and all(
            one <= other for one, other in pairwise(days) if one and other
        )
    if running["day"] == running["month"]:
        return ""
    first = "day" if running["day"] else "month"
    return f" (only read {first} first do the rows run on in time)"


def _day(text: str, pattern: str) -> date | None:
    try:
        return datetime.strptime(text.split(" ")[0], pattern).date()  # noqa: DTZ007 - a day has no zone
    except ValueError:
        return None


def time_forms(cells: Iterable[str]) -> tuple[str, ...]:
    """The patterns that read the times written as text; "hour:minute" when there are none."""
    found = {
        pattern
        for text in cells
        for pattern in _TIMES
        if re.fullmatch(r"\d{1,2}[:.\-]?\d{2}(:\d{2})?", text) and _reads(text, pattern)
    }
    return tuple(pattern for pattern in _TIMES if pattern in found) or ("hour:minute",)


def _reads(text: str, pattern: str) -> bool:
    try:
        return read_time(text, (pattern,)).clock is not None and pattern.count(":") == text.count(":")
    except InputError:
        return False
