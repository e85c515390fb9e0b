"""The tower of the sand's way as SVG text: no outside fonts or scripts, safe in black and white."""

from __future__ import annotations

from xml.sax.saxutils import escape

from sandlab.drawing.flow import Arm, FlowPicture, Station

_INK, _GREY, _FLOW = "#111111", "#666666", "#4a6a7a"
_WIDTH, _LEFT, _RIGHT, _ROW, _TOP = 720, 250, 470, 22, 36
_REACH = 70
_WIDEST = 14.0
"""Pixels of the largest arm; the others are as wide as their share of it."""


def flow_svg(picture: FlowPicture, *, title: str = "") -> str:
    """The drawing as one `<svg>` element, as high as its stations need."""
    parts: list[str] = []
    y, first = _TOP, _TOP + picture.stations[0].rows * _ROW
    for number, station in enumerate(picture.stations):
        rows = station.rows + (number == 0)
        parts += _station(station, y, rows, picture.greatest())
        y += rows * _ROW
        if number < len(picture.stations) - 1:
            parts.append(f'<path d="M{(_LEFT + _RIGHT) / 2 - 5} {y - 4}h10l-5 8z" fill="{_INK}"/>')
    name, text = picture.returned
    parts += [
        _text(_LEFT + 8, first + 15, name, "start"),
        _text(_RIGHT - 8, first + 15, text, "end"),
        *_riser(first + _ROW // 2, y - _ROW // 2),
    ]
    for arm, x, side in ((picture.came, _LEFT - _REACH - 8, "end"), (picture.left, _RIGHT + _REACH + 8, "")):
        words = f"{arm.name} {arm.text}" if side else f"{arm.text} {arm.name}"
        parts.append(_text(x, y + 18, words, side or "start", 'font-weight="bold"'))
    parts.append(_text((_LEFT + _RIGHT) / 2, y + 18, picture.around, "middle", f'fill="{_GREY}"'))
    places = ((_LEFT - _REACH - 8, "end"), ((_LEFT + _RIGHT) / 2, "middle"), (_RIGHT + _REACH + 8, "start"))
    heads = [
        _text(x, 22, head, anchor, f'fill="{_GREY}"')
        for (x, anchor), head in zip(places, picture.heads, strict=True)
    ]
    height = y + 30
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" width="{_WIDTH}" '
            f'height="{height}" role="img" font-family="sans-serif" font-size="12" fill="{_INK}">',
            f"<title>{escape(title or picture.heads[1])}</title>",
            f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
            *heads,
            *parts,
            "</svg>",
        ]
    )


def _text(x: float, y: float, text: str, anchor: str, extra: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {extra}>{escape(text)}</text>'


def _station(station: Station, y: int, rows: int, greatest: float) -> list[str]:
    parts = [
        f'<rect x="{_LEFT}" y="{y}" width="{_RIGHT - _LEFT}" height="{rows * _ROW}" fill="none" '
        f'stroke="{_INK}"/>',
        _text(_LEFT + 8, y + 15, station.name, "start", 'font-weight="bold"'),
        _text(_RIGHT - 8, y + 15, station.text, "end"),
    ]
    for line, arm in enumerate(station.comes):
        parts += _arm(arm, y + line * _ROW, greatest, comes=True)
    for line, arm in enumerate(station.leaves):
        parts += _arm(arm, y + line * _ROW, greatest, comes=False)
    return parts


def _arm(arm: Arm, y: float, greatest: float, *, comes: bool) -> list[str]:
    """A stroke as wide as the flow is large, with its head, number and name."""
    middle, wide = y + _ROW / 2, max(1.0, _WIDEST * max(arm.size, 0.0) / greatest)
    start = _LEFT - _REACH if comes else _RIGHT
    words = f"{arm.name}  {arm.text}" if comes else f"{arm.text}  {arm.name}"
    place, anchor = (start - 8, "end") if comes else (start + _REACH + 8, "start")
    return [
        f'<path d="M{start} {middle}h{_REACH - 8}" stroke="{_FLOW}" stroke-width="{wide:.1f}"/>',
        f'<path d="M{start + _REACH - 8} {middle - 6}l8 6l-8 6z" fill="{_INK}"/>',
        _text(place, y + 15, words, anchor),
    ]


def _riser(top: float, bottom: float) -> list[str]:
    """The return sand's way up."""
    x = _LEFT - 24
    return [
        f'<path d="M{_LEFT} {bottom}H{x}V{top}H{_LEFT - 8}" fill="none" stroke="{_INK}" stroke-width="1.5"/>',
        f'<path d="M{_LEFT - 8} {top - 5}l8 5l-8 5z" fill="{_INK}"/>',
    ]
