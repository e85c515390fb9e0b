"""A chart picture as SVG text: no outside fonts or scripts, safe in black and white."""

from __future__ import annotations

from datetime import tzinfo

from sandlab.drawing.picture import ChartPicture


def chart_svg(picture: ChartPicture, *, zone: tzinfo, width: int = 720, height: int = 300) -> str:
    """The chart as one `<svg>` element, `width` x `height` pixels."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"></svg>'
