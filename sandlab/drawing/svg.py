"""A chart picture as SVG text: no outside fonts or scripts, safe in black and white."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import day_text, farthest_beyond, time_ticks, value_range, value_ticks
from sandlab.drawing.envelope import envelope, gaps
from sandlab.drawing.picture import ChartPicture, Flag, LineKind

_INK, _GREY, _BAND, _ALARM = "#111111", "#666666", "#b0b0b0", "#8b1a1a"
_STROKES: dict[LineKind, str] = {
    "zone": 'stroke-width="0.6" stroke-dasharray="1 5"',
    "centre": 'stroke-width="0.8" stroke-dasharray="10 4"',
    "tolerance": 'stroke-width="1" stroke-dasharray="4 4"',
    "limit": 'stroke-width="1"',
    "reaction": 'stroke-width="2.2"',
}
"""Lines are told apart by weight and dash: the more a line binds, the more solid it is."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 104, 40, 40
_ROWS, _LETTER, _FEWEST = (36.0, 26.0), 6.0, 6
"""Where words of events stand, the width kept for a letter, and the fewest letters worth a place."""


@dataclass(frozen=True, slots=True)
class _Plot:
    """The plot's place in pixels and what its edges stand for."""

    width: int
    height: int
    low: float
    high: float
    start: int
    end: int

    def x(self, times: NDArray[np.int64]) -> NDArray[np.float64]:
        return np.asarray(_LEFT + (times - self.start) * (self.width / (self.end - self.start)))

    def y(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        inside = np.clip(values, self.low, self.high)
        return _TOP + (self.high - inside) * (self.height / (self.high - self.low))

    def at(self, time: int, value: float) -> tuple[float, float]:
        return float(self.x(np.array([time]))[0]), float(self.y(np.array([value]))[0])


def chart_svg(picture: ChartPicture, *, zone: tzinfo, width: int = 720, height: int = 300) -> str:
    """The chart as one `<svg>` element, `width` x `height` pixels."""
    low, high = value_range(picture)
    start, end = picture.window()
    plot = _Plot(width - _LEFT - _RIGHT, height - _TOP - _BOTTOM, low, high, start, end)
    heading, days = picture.heading(), f"{day_text(start, zone)} to {day_text(end, zone)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" font-family="sans-serif" font-size="12" fill="{_INK}">',
        f"<title>{escape(heading)}, {days}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        _text(_LEFT, 16, heading, "start", 'font-weight="bold"'),
        _text(width - 8, 16, days, "end"),
        *_axes(picture, plot, zone),
        *_body(picture, plot),
        *_outlook(picture, plot),
        *_off_scale(picture, plot),
        *_flags(picture, plot),
        *_events(picture, plot),
        "</svg>",
    ]
    return "\n".join(parts)


def _text(x: float, y: float, text: str, anchor: str, extra: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {extra}>{escape(text)}</text>'


def _path(points: str, stroke: str, extra: str) -> str:
    return f'<path d="{points}" fill="none" stroke="{stroke}" {extra}/>'


def _axes(picture: ChartPicture, plot: _Plot, zone: tzinfo) -> list[str]:
    bottom, right = _TOP + plot.height, _LEFT + plot.width
    parts = [_path(f"M{_LEFT} {_TOP}V{bottom}H{right}", _GREY, "")]
    for tick in value_ticks(plot.low, plot.high, max(2, plot.height // 40), picture):
        y = plot.at(plot.start, tick.at)[1]
        parts += [_path(f"M{_LEFT - 5} {y:.1f}h5", _GREY, ""), _text(_LEFT - 8, y + 4, tick.label, "end")]
    for tick in time_ticks(plot.start, plot.end, max(1, plot.width // 70), zone):
        x = plot.at(int(tick.at), plot.low)[0]
        parts += [_path(f"M{x:.1f} {bottom}v5", _GREY, ""), _text(x, bottom + 18, tick.label, "middle")]
    for span in picture.baselines:
        if span.start <= plot.end and span.end >= plot.start:
            first, last = plot.x(np.clip(np.array([span.start, span.end]), plot.start, plot.end)).tolist()
            parts.append(_path(f"M{first:.1f} {bottom}H{last:.1f}", _INK, 'stroke-width="4"'))
            label = span.label if last - first >= 6 * len(span.label) else span.label.partition(" ")[0]
            parts.append(_text((first + last) / 2, bottom + 32, label, "middle", 'font-size="10"'))
    return parts


def _levels(picture: ChartPicture, plot: _Plot, stroke: str) -> list[str]:
    """The lines, and their words pushed apart from the top down where they would overlap."""
    parts, right, free_from = [], _LEFT + plot.width, 0.0
    for line in sorted(picture.levels(), key=lambda line: -line.value):
        y = plot.at(plot.start, line.value)[1]
        if plot.low <= line.value <= plot.high:
            parts.append(_path(f"M{_LEFT} {y:.1f}H{right}", stroke, _STROKES[line.kind]))
        if line.word:
            place = max(y + 4, free_from)
            lead = 0
            if not plot.low <= line.value <= plot.high:
                # The arrow says that the line is not where its word stands.
                tip, lead = (-4 if line.value > plot.high else 4), 10
                x, mid = right + 9, place - 4
                shape = f"M{x} {mid - tip:.1f}V{mid + tip:.1f}M{x - 3} {mid:.1f}l3 {tip}l3 {-tip}"
                parts.append(_path(shape, _INK, ""))
            parts.append(_text(right + 6 + lead, place, f"{line.word} {picture.text(line.value)}", "start"))
            free_from = place + 13
    return parts


def _tests(picture: ChartPicture, plot: _Plot) -> list[str]:
    shown = picture.shown()
    times, values = picture.times[shown], picture.values[shown]
    xs, ys = plot.x(times), plot.y(values)
    known = np.isfinite(values)
    joined = np.concatenate([[False], known[1:] & known[:-1] & ~gaps(times)])
    steps = zip(xs[known].tolist(), ys[known].tolist(), joined[known].tolist(), strict=True)
    parts = [_path("".join(f"{'L' if j else 'M'}{x:.1f} {y:.1f}" for x, y, j in steps), _INK, "")]
    if known.sum() * 6 <= plot.width:
        points = zip(xs[known].tolist(), ys[known].tolist(), strict=True)
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2"/>' for x, y in points]
    return parts


def _body(picture: ChartPicture, plot: _Plot) -> list[str]:
    """Tests over the lines; when they fill the plot, a grey band with the lines over it."""
    shown = picture.shown()
    if shown.stop - shown.start <= plot.width:
        return _levels(picture, plot, _GREY) + _tests(picture, plot)
    return [_path(_columns(picture, plot), _BAND, 'stroke-width="1.2"'), *_levels(picture, plot, _INK)]


def _columns(picture: ChartPicture, plot: _Plot) -> str:
    """More tests than pixels: a stroke per pixel from the lowest to the highest."""
    data = envelope(picture, plot.width)
    held = np.flatnonzero(np.isfinite(data.line_low))
    tops, ends = plot.y(data.line_high[held]), plot.y(data.line_low[held])
    strokes = zip(held.tolist(), tops.tolist(), ends.tolist(), strict=True)
    return "".join(f"M{_LEFT + x} {top:.1f}V{end + 0.5:.1f}" for x, top, end in strokes)


def _outlook(picture: ChartPicture, plot: _Plot) -> list[str]:
    """What is expected after the last test: its level and the edges of its band, up to the window's end."""
    ahead = picture.outlook
    if ahead is None or ahead.times[0] >= plot.end:
        return []
    times = np.append(ahead.times[ahead.times < plot.end], min(plot.end, int(ahead.times[-1])))
    parts = []
    for row, dash in ((ahead.low, "2 3"), (ahead.high, "2 3"), (ahead.level, "6 3")):
        ys = plot.y(np.interp(times, ahead.times, row))
        line = "L".join(f"{x:.1f} {y:.1f}" for x, y in zip(plot.x(times).tolist(), ys.tolist(), strict=True))
        parts.append(_path(f"M{line}", _INK, f'stroke-dasharray="{dash}"'))
    return parts


def _off_scale(picture: ChartPicture, plot: _Plot) -> list[str]:
    """The numbers of the farthest values drawn at the edge."""
    parts = []
    for index in farthest_beyond(picture, plot.low, plot.high):
        value = float(picture.values[index])
        x, y = plot.at(int(picture.times[index]), value)
        parts.append(_text(x + 7, y + 4, picture.text(value), "start"))
    return parts


def _flags(picture: ChartPicture, plot: _Plot) -> list[str]:
    shown = picture.shown()

    def places(indexes: list[int]) -> list[tuple[float, float]]:
        held = [i for i in indexes if shown.start <= i < shown.stop and np.isfinite(picture.values[i])]
        return [plot.at(int(picture.times[i]), float(picture.values[i])) for i in held]

    members = sorted({index for flag in picture.flags for index in flag.members})
    parts = [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="none" stroke="{_INK}"/>' for x, y in places(members)
    ]
    for flag in sorted(picture.flags, key=lambda flag: flag.alarm):
        parts += [_flag(flag, x, y) for x, y in places([flag.index])]
    for x, y in places(list(picture.excluded)):
        parts.append(
            _path(
                f"M{x - 5:.1f} {y - 5:.1f}l10 10M{x + 5:.1f} {y - 5:.1f}l-10 10", _INK, 'stroke-width="1.6"'
            )
        )
    return parts


def _flag(flag: Flag, x: float, y: float) -> str:
    """A triangle to the flag's side, a lozenge when it has none; filled when it alarms."""
    up = -6 if flag.side >= 0 else 6
    shape = f"M{x - 6:.1f} {y - up * 0.7:.1f}h12l-6 {up * 1.9:.1f}z"
    if flag.side == 0 and not flag.alarm:
        shape = f"M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z"
    fill = f'fill="{_ALARM}"' if flag.alarm else f'fill="#ffffff" stroke="{_INK}"'
    return f'<path d="{shape}" {fill}/>'


def _events(picture: ChartPicture, plot: _Plot) -> list[str]:
    """A dashed line and a lozenge for each event, its words above as far as there is room."""
    bottom, parts = _TOP + plot.height, []
    shown = [event for event in picture.events if plot.start <= event.time <= plot.end]
    xs = [plot.at(event.time, plot.low)[0] for event in shown]
    for x, event in zip(xs, shown, strict=True):
        parts.append(_path(f"M{x:.1f} {_TOP}V{bottom}", _GREY, 'stroke-width="0.6" stroke-dasharray="2 3"'))
        name = f"<title>{escape(event.label)}</title>" if event.label else ""
        parts.append(f'<path d="M{x:.1f} {bottom - 5}l5 5l-5 5l-5 -5z" fill="{_INK}">{name}</path>')
    # The lower row stands beside the words of the highest level.
    edges = dict(zip(_ROWS, (_LEFT + plot.width, _LEFT + plot.width + _RIGHT - 8), strict=True))
    labels = _apart(xs, [event.label for event in shown], edges)
    return parts + [_text(x, y, words, "start", 'font-size="10"') for x, y, words in labels]


def _apart(xs: list[float], labels: list[str], edges: dict[float, int]) -> list[tuple[float, float, str]]:
    """Words that do not touch: from the last on, each in the row with room, cut where there is little."""
    free: dict[float, float] = {**edges}
    placed = []
    for x, label in sorted(zip(xs, labels, strict=True), reverse=True):
        wide = _LETTER * len(label)
        begins = {row: _moved(x, wide, edges[row], xs) if free[row] == edges[row] else x for row in _ROWS}
        fits = (row for row in _ROWS if begins[row] + wide <= free[row])
        row = next(fits, max(_ROWS, key=lambda one: free[one]))
        x = begins[row]
        room = int((free[row] - x) // _LETTER)
        words = label if len(label) <= room else f"{label[: room - 1].rstrip()}~"
        if label and room >= _FEWEST:
            placed.append((x, row, words))
            free[row] = x - _LETTER
    return placed


def _moved(x: float, wide: float, edge: float, others: list[float]) -> float:
    """Where words begin that would reach beyond the edge: further left, where no other event stands."""
    return x if any(edge - wide <= other < x for other in others) else max(8.0, min(x, edge - wide))
