"""Charts above each other, and two properties against each other, as SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from xml.sax.saxutils import escape

import numpy as np

from sandlab.drawing.cells import aligned
from sandlab.drawing.picture import ChartPicture
from sandlab.drawing.scatter import ScatterPicture, Values
from sandlab.drawing.svg import chart_svg

_INK, _GREY, _ALARM = "#111111", "#666666", "#8b1a1a"
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 24, 32, 44


def stacked_svg(
    pictures: Sequence[ChartPicture], *, zone: tzinfo, width: int = 720, height: int = 300
) -> str:
    """Charts over one stretch of time, that of the first; each `height` pixels high."""
    whole = height * len(pictures)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {whole}" width="{width}" '
        f'height="{whole}" role="img">'
    ]
    for place, picture in enumerate(aligned(pictures)):
        own = chart_svg(picture, zone=zone, width=width, height=height)
        parts.append(own.replace("<svg ", f'<svg y="{place * height}" ', 1))
    return "\n".join([*parts, "</svg>"])


def scatter_svg(picture: ScatterPicture, *, width: int = 560, height: int = 420) -> str:
    """The scatter as one `<svg>` element: baseline as grey dots, later tests as rings, triangles outside."""
    left, right, low, high = picture.ranges()
    across, down = width - _LEFT - _RIGHT, height - _TOP - _BOTTOM

    def at(x: Values, y: Values) -> list[tuple[float, float]]:
        columns = _LEFT + (x - left) * (across / (right - left))
        rows = _TOP + (high - np.clip(y, low, high)) * (down / (high - low))
        return list(zip(columns.tolist(), rows.tolist(), strict=True))

    heading = f"{picture.up.heading()} against {picture.across.heading()}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" font-family="sans-serif" font-size="12" fill="{_INK}">',
        f"<title>{escape(heading)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        _text(_LEFT, 16, picture.up.heading(), "start", 'font-weight="bold"'),
        _text(_LEFT + across, height - 8, picture.across.heading(), "end", 'font-weight="bold"'),
        f'<path d="M{_LEFT} {_TOP}V{_TOP + down}H{_LEFT + across}" fill="none" stroke="{_GREY}"/>',
    ]
    for value, text in picture.ticks(low, high, max(2, down // 40), picture.up):
        y = at(np.array([left]), np.array([value]))[0][1]
        parts.append(_text(_LEFT - 8, y + 4, text, "end"))
    for value, text in picture.ticks(left, right, max(2, across // 70), picture.across):
        parts.append(_text(at(np.array([value]), np.array([low]))[0][0], _TOP + down + 18, text, "middle"))
    if picture.band is not None:
        for row, dash in (
            (picture.band.low, "4 4"),
            (picture.band.high, "4 4"),
            (picture.band.centre, "10 4"),
        ):
            line = "L".join(f"{x:.1f} {y:.1f}" for x, y in at(picture.band.x, row))
            parts.append(f'<path d="M{line}" fill="none" stroke="{_INK}" stroke-dasharray="{dash}"/>')
    for place, (x, y) in enumerate(at(picture.x, picture.y)):
        parts.append(_point(x, y, int(picture.outside[place]), later=place >= picture.later))
    return "\n".join([*parts, "</svg>"])


def _point(x: float, y: float, side: int, *, later: bool) -> str:
    if not later:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.5" fill="{_GREY}"/>'
    if side:
        return f'<path d="M{x - 5:.1f} {y + side * 4:.1f}h10l-5 {-side * 9:.1f}z" fill="{_ALARM}"/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="none" stroke="{_INK}" stroke-width="1.5"/>'


def _text(x: float, y: float, text: str, anchor: str, extra: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {extra}>{escape(text)}</text>'
