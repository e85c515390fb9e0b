"""The drawings of `sandlab.drawing` set on a PDF page: the same paths and words, as vectors."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

import pydyf

from sandlab.reporting.typeface import face

_NUMBER = re.compile(r"[MLHVhvlz]|-?\d+(?:\.\d+)?")
_CURVE = 0.5523
"""Control points this far out, in radii, make four curves a circle."""
REGULAR, BOLD = "R", "B"
"""Names of the two faces on a page."""


def size_of(svg: str) -> tuple[float, float]:
    """Width and height of a drawing in its own units."""
    root = ElementTree.fromstring(svg)
    _, _, width, height = map(float, (root.get("viewBox") or "0 0 1 1").split())
    return width, height


def draw_svg(page: pydyf.Stream, svg: str, x: float, y: float, width: float) -> set[tuple[bool, str]]:
    """Set a drawing with its upper left corner at (x, y); gives the letters used, by boldness.

    Knows what the drawings of this house are made of (svg, g, title, rect, path of straight lines, circle,
    text) and raises ValueError for anything else, so that nothing is lost unseen.
    """
    root = ElementTree.fromstring(svg)
    scale = width / size_of(svg)[0]
    page.push_state()
    # From here on lengths are those of the drawing, downwards as there.
    page.set_matrix(scale, 0, 0, -scale, x, y)
    letters: set[tuple[bool, str]] = set()
    for one in root:
        _draw(page, one, dict(root.attrib), letters)
    page.pop_state()
    return letters


def _draw(
    page: pydyf.Stream, one: ElementTree.Element, above: dict[str, str], letters: set[tuple[bool, str]]
) -> None:
    kind = one.tag.rpartition("}")[2]
    style = above | dict(one.attrib)
    if kind == "title":
        return
    if kind == "g":
        for below in one:
            _draw(page, below, style, letters)
    elif kind == "text":
        letters |= _text(page, one, style)
    elif kind == "rect":
        page.rectangle(*(float(style.get(name, 0)) for name in ("x", "y", "width", "height")))
        _paint(page, style)
    elif kind == "circle":
        _circle(page, *(float(style[name]) for name in ("cx", "cy", "r")))
        _paint(page, style)
    elif kind == "path":
        _path(page, style["d"])
        _paint(page, style)
    else:
        raise ValueError(f"a drawing holds <{kind}>, which is not printed yet")


def _paint(page: pydyf.Stream, style: dict[str, str]) -> None:
    """Fill, stroke, or both."""
    fill, stroke = style.get("fill", "#000000"), style.get("stroke", "none")
    page.set_line_width(float(style.get("stroke-width", 1)))
    dashes = style.get("stroke-dasharray", "none")
    page.set_dash([] if dashes == "none" else [float(one) for one in dashes.replace(",", " ").split()], 0)
    if fill != "none":
        page.set_color_rgb(*_colour(fill))
    if stroke != "none":
        page.set_color_rgb(*_colour(stroke), stroke=True)
    if fill != "none" and stroke != "none":
        page.fill_and_stroke()
    elif fill != "none":
        page.fill()
    elif stroke != "none":
        page.stroke()
    else:
        page.end()


def _colour(written: str) -> tuple[float, float, float]:
    digits = written.removeprefix("#")
    red, green, blue = (int(digits[start : start + 2], 16) / 255 for start in (0, 2, 4))
    return red, green, blue


def _circle(page: pydyf.Stream, x: float, y: float, radius: float) -> None:
    out = radius * _CURVE
    page.move_to(x + radius, y)
    page.curve_to(x + radius, y + out, x + out, y + radius, x, y + radius)
    page.curve_to(x - out, y + radius, x - radius, y + out, x - radius, y)
    page.curve_to(x - radius, y - out, x - out, y - radius, x, y - radius)
    page.curve_to(x + out, y - radius, x + radius, y - out, x + radius, y)
    page.close()


def _path(page: pydyf.Stream, written: str) -> None:
    """Straight lines: M L H V and their relative forms h v l, z."""
    parts = iter(_NUMBER.findall(written))
    x = y = 0.0
    command = "M"
    pending: str | None = next(parts, None)
    while pending is not None:
        if pending.isalpha():
            command, pending = pending, None
            if command == "z":
                page.close()
                pending = next(parts, None)
                continue
        x, y = _next_point(command, x, y, pending, parts)
        if command == "M":
            page.move_to(x, y)
            command = "L"
        else:
            page.line_to(x, y)
        pending = next(parts, None)


def _next_point(
    command: str, x: float, y: float, first: str | None, parts: Iterator[str]
) -> tuple[float, float]:
    one = float(first if first is not None else next(parts))
    if command in "Hh":
        return (one if command == "H" else x + one), y
    if command in "Vv":
        return x, (one if command == "V" else y + one)
    other = float(next(parts))
    return (x + one, y + other) if command == "l" else (one, other)


def _text(page: pydyf.Stream, one: ElementTree.Element, style: dict[str, str]) -> set[tuple[bool, str]]:
    text = "".join(one.itertext())
    bold, size = style.get("font-weight") == "bold", float(style.get("font-size", 12))
    x, y = float(one.get("x", 0)), float(one.get("y", 0))
    set_in = face(bold=bold)
    back = {"middle": 0.5, "end": 1.0}.get(style.get("text-anchor", "start"), 0.0)
    page.begin_text()
    page.set_color_rgb(*_colour(style.get("fill", "#000000")))
    page.set_font_size(BOLD if bold else REGULAR, size)
    page.set_text_matrix(1, 0, 0, -1, x - back * set_in.width(text, size), y)
    page.show_text(set_in.encoded(text))
    page.end_text()
    return {(bold, letter) for letter in text}
