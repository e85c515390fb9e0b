"""Where values and times lie on a chart: ranges, round ticks, numbers and dates as text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from math import ceil, floor, log10

import numpy as np

from sandlab.drawing.picture import ChartPicture, Values

US = 1_000_000
MINUTE = 60 * US
HOUR = 60 * MINUTE
DAY = 24 * HOUR

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_CLOCK_STEPS = tuple(minutes * MINUTE for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720))
_DAY_STEPS = (1, 2, 7, 14)
_MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60)


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis with its label."""

    at: float
    label: str


def value_range(picture: ChartPicture) -> tuple[float, float]:
    """The values at the bottom and the top of the chart.

    The control limits and 90 % of the shown values are always inside. Beyond this core the axis reaches out
    for the remaining values, tolerance and reaction limits up to one core's height on each side. What lies
    further is drawn at the edge with its number, so one wild value cannot flatten all others; with `show_all`
    it is taken in.
    """
    values = picture.values[picture.shown()]
    finite = values[np.isfinite(values)]
    lines = [line.value for line in picture.levels()] + _expected(picture)
    core = [value for value in (picture.lower, picture.centre, picture.upper) if value is not None]
    if finite.size:
        core += [float(value) for value in _middle(finite)]
    core = core or lines or [0.0]
    low, high = min(core), max(core)
    reach = high - low if high > low else _smallest_span(low, picture.decimals)
    low, high = _reach_out(low, high, finite, lines, np.inf if picture.show_all else reach)
    short = _smallest_span(low, picture.decimals) - (high - low)
    pad = short / 2 if short > 0 else (high - low) * 0.05
    return low - pad, high + pad


def _expected(picture: ChartPicture) -> list[float]:
    """The ends of the outlook's band, where it is in view."""
    ahead = picture.outlook
    if ahead is None or picture.window()[1] < ahead.times[0]:
        return []
    return [float(ahead.low.min()), float(ahead.high.max())]


def farthest_beyond(picture: ChartPicture, low: float, high: float) -> tuple[int, ...]:
    """Positions of the farthest shown value above `high` and below `low`, where there are such."""
    shown = picture.shown()
    values = picture.values[shown]
    if not np.isfinite(values).any():
        return ()
    ends = (int(np.nanargmax(values)), int(np.nanargmin(values)))
    return tuple(shown.start + i for i in ends if not low <= float(values[i]) <= high)


def _middle(finite: Values) -> tuple[float, float]:
    """The inner nine tenths, by rank."""
    low, high = int(0.05 * finite.size), int(np.ceil(0.95 * finite.size)) - 1
    ranked = np.partition(finite, (low, high))
    return float(ranked[low]), float(ranked[high])


def _reach_out(
    low: float, high: float, finite: Values, lines: list[float], reach: float
) -> tuple[float, float]:
    near = [value for value in lines if low - reach <= value <= high + reach]
    if finite.size:
        least, most = float(finite.min()), float(finite.max())
        if least < low - reach or most > high + reach:
            inside = finite[(finite >= low - reach) & (finite <= high + reach)]
            least, most = float(inside.min(initial=low)), float(inside.max(initial=high))
        near += [least, most]
    return min([low, *near]), max([high, *near])


def _smallest_span(value: float, decimals: int) -> float:
    """The span below which a chart would only magnify the last digit."""
    return max(4.0 * 10.0**-decimals, abs(value) * 1e-6)


def nice_step(span: float, most: int, decimals: int) -> float:
    """The smallest 1, 2 or 5 times a power of ten with at most so many steps, never under the last digit."""
    rough = span / max(1, most)
    power = 10.0 ** floor(log10(rough)) if rough > 0 else 1.0
    step = next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough * (1 - 1e-9))
    return max(step, 10.0**-decimals)


def value_ticks(low: float, high: float, most: int, picture: ChartPicture) -> tuple[Tick, ...]:
    """Round values between low and high, at most about that many."""
    step = nice_step(high - low, most, picture.decimals)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return tuple(Tick(count * step, picture.text(count * step)) for count in range(first, last + 1))


def local(time: int, zone: tzinfo) -> datetime:
    """A time [us since 1970, UTC] on the plant's clock."""
    return datetime.fromtimestamp(time // US, zone) + timedelta(microseconds=time % US)


def clock_text(time: int, zone: tzinfo) -> str:
    """Day and clock time, as in `4 Mar 2026 13:05`."""
    return f"{day_text(time, zone)} {local(time, zone):%H:%M}"


def day_text(time: int, zone: tzinfo) -> str:
    """Day with its year, as in `4 Mar 2026`."""
    moment = local(time, zone)
    return f"{moment.day} {MONTHS[moment.month - 1]} {moment.year}"


def time_ticks(start: int, end: int, most: int, zone: tzinfo) -> tuple[Tick, ...]:
    """Round times on the plant's clock between start and end; midnights and days carry the date."""
    span = max(end - start, 1)
    for step in _CLOCK_STEPS:
        if span / step <= most:
            return _clock_ticks(start, end, step, zone)
    for days in _DAY_STEPS:
        if span / (days * DAY) <= most:
            return _day_ticks(start, end, days, zone)
    months = next((m for m in _MONTH_STEPS if span / (m * 30.4 * DAY) <= most), _MONTH_STEPS[-1])
    return _month_ticks(start, end, months, zone)


def _clock_ticks(start: int, end: int, step: int, zone: tzinfo) -> tuple[Tick, ...]:
    first = local(start, zone).replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    ticks: dict[int, str] = {}
    for count in range((end - start + 2 * DAY) // step + 1):
        wall = first + timedelta(microseconds=count * step)
        at = _instant(wall, zone)
        if start <= at <= end and local(at, zone).replace(tzinfo=None) == wall:
            ticks.setdefault(at, _date(wall) if (wall.hour, wall.minute) == (0, 0) else f"{wall:%H:%M}")
    return tuple(Tick(at, label) for at, label in ticks.items())


def _day_ticks(start: int, end: int, days: int, zone: tzinfo) -> tuple[Tick, ...]:
    """Midnights; steps of days are counted from a Monday, so that they stay put while the window moves."""
    ordinal = local(start, zone).toordinal()
    ordinal -= (ordinal - 1) % days
    ticks: list[Tick] = []
    while True:
        wall = datetime.fromordinal(ordinal)
        at = _instant(wall, zone)
        if at > end:
            return tuple(ticks)
        if at >= start:
            ticks.append(Tick(at, _date(wall)))
        ordinal += days


def _month_ticks(start: int, end: int, months: int, zone: tzinfo) -> tuple[Tick, ...]:
    moment = local(start, zone)
    month = (moment.year * 12 + moment.month - 1) // months * months
    ticks: list[Tick] = []
    while True:
        wall = datetime(month // 12, month % 12 + 1, 1)  # noqa: DTZ001 - put into the plant's zone below
        at = _instant(wall, zone)
        if at > end:
            return tuple(ticks)
        if at >= start:
            ticks.append(Tick(at, str(wall.year) if month % 12 == 0 else MONTHS[month % 12]))
        month += months


def _date(wall: datetime) -> str:
    return f"{wall.day} {MONTHS[wall.month - 1]}"


def _instant(wall: datetime, zone: tzinfo) -> int:
    return round(wall.replace(tzinfo=zone).timestamp()) * US
