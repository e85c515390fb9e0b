"""Charts as frozen shapes in data units, drawn as cells or SVG; states, block digits, entry scales."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sandlab.drawing.bands import BandPicture, band_cells
    from sandlab.drawing.cells import chart_cells, stacked_cells
    from sandlab.drawing.digits import block_height, block_number
    from sandlab.drawing.flow import Arm, FlowPicture, Station, flow_cells
    from sandlab.drawing.frame import Cell, Frame, Run
    from sandlab.drawing.glyphs import GLYPH_SETS, ROLES, GlyphSet
    from sandlab.drawing.picture import BaselineSpan, ChartPicture, EventMark, Flag, Outlook
    from sandlab.drawing.scale import entry_scale
    from sandlab.drawing.scatter import Axis, Band, ScatterPicture, scatter_cells
    from sandlab.drawing.spark import sparkline
    from sandlab.drawing.states import STATES, State, family, state
    from sandlab.drawing.svg import chart_svg
    from sandlab.drawing.svg_flow import flow_svg
    from sandlab.drawing.svg_stack import scatter_svg, stacked_svg
    from sandlab.drawing.tile import Tile, tile_cells
    from sandlab.drawing.view import View, newest

__all__ = [
    "GLYPH_SETS",
    "ROLES",
    "STATES",
    "Arm",
    "Axis",
    "Band",
    "BandPicture",
    "BaselineSpan",
    "Cell",
    "ChartPicture",
    "EventMark",
    "Flag",
    "FlowPicture",
    "Frame",
    "GlyphSet",
    "Outlook",
    "Run",
    "ScatterPicture",
    "State",
    "Station",
    "Tile",
    "View",
    "band_cells",
    "block_height",
    "block_number",
    "chart_cells",
    "chart_svg",
    "entry_scale",
    "family",
    "flow_cells",
    "flow_svg",
    "newest",
    "scatter_cells",
    "scatter_svg",
    "sparkline",
    "stacked_cells",
    "stacked_svg",
    "state",
    "tile_cells",
]

_PLACES = {
    "bands": "BandPicture band_cells",
    "cells": "chart_cells stacked_cells",
    "digits": "block_height block_number",
    "flow": "Arm FlowPicture Station flow_cells",
    "svg_flow": "flow_svg",
    "frame": "Cell Frame Run",
    "glyphs": "GLYPH_SETS ROLES GlyphSet",
    "picture": "BaselineSpan ChartPicture EventMark Flag Outlook",
    "scale": "entry_scale",
    "scatter": "Axis Band ScatterPicture scatter_cells",
    "spark": "sparkline",
    "states": "STATES State family state",
    "svg": "chart_svg",
    "svg_stack": "scatter_svg stacked_svg",
    "tile": "Tile tile_cells",
    "view": "View newest",
}


def __getattr__(name: str) -> object:
    """A name is loaded when it is first asked for: marks and states must not wait for the charts' numpy."""
    for module, names in _PLACES.items():
        if name in names.split():
            return getattr(import_module(f"sandlab.drawing.{module}"), name)
    raise AttributeError(name)
