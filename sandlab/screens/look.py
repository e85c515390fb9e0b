"""How it looks: two themes of high contrast, colours by role, and the choice of glyphs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from textual.theme import Theme

GlyphSet = Literal["full", "console", "ascii"]

NIGHT = {
    "ground": "#0b0f12",
    "ink": "#f1efe9",
    "field": "#24303a",
    "bar": "#e8d3a2",
    "good": "#7fe0c8",
    "watch": "#ffd166",
    "alarm": "#ff8c78",
    "muted": "#b9c2ca",
    "title": "#ffffff",
    "axis": "#b3bcc4",
    "label": "#c9d0d6",
    "zone": "#7a8790",
    "centre": "#c9d0d6",
    "limit": "#ffffff",
    "tolerance": "#9cc4ff",
    "reaction": "#ff8c78",
    "baseline": "#c9b6ff",
    "data": "#8fe3ff",
    "event": "#ffb3e6",
    "outlook": "#d9c08a",
    "cursor": "#ffffff",
}
"""For the night shift: light on near black."""

BRIGHT = {
    "ground": "#fdfcf8",
    "ink": "#111417",
    "field": "#e3ded0",
    "bar": "#2b2417",
    "good": "#00513f",
    "watch": "#613c00",
    "alarm": "#8a1200",
    "muted": "#3b4248",
    "title": "#000000",
    "axis": "#4a5259",
    "label": "#343b41",
    "zone": "#7d868d",
    "centre": "#343b41",
    "limit": "#000000",
    "tolerance": "#0b3d91",
    "reaction": "#8a1200",
    "baseline": "#4b2a9b",
    "data": "#00456b",
    "event": "#7a0f5c",
    "outlook": "#5c4300",
    "cursor": "#000000",
}
"""For a bright shop: dark on near white."""

PALETTES = {"night": NIGHT, "bright": BRIGHT}
LINES_ONLY = frozenset({"zone"})
"""Roles that never carry words, so that they may stand back."""

WORD_STYLES = {
    "good": "$good",
    "watch": "bold $watch",
    "alarm": "$ground on $alarm",
    "muted": "$muted",
}
"""How a state's word is written; an alarm is also reversed, so that it stands out in any palette.

Reversed words are never bold: terminals of sixteen colours write bold black as grey.
"""


def theme(name: str) -> Theme:
    """The theme of one palette."""
    colours = PALETTES[name]
    return Theme(
        name=name,
        primary=colours["bar"],
        secondary=colours["tolerance"],
        warning=colours["watch"],
        error=colours["alarm"],
        success=colours["good"],
        accent=colours["bar"],
        foreground=colours["ink"],
        background=colours["ground"],
        surface=colours["ground"],
        panel=colours["field"],
        dark=name == "night",
        variables=dict(colours),
    )


def word_style(role: str) -> str:
    """How a word of that role is written."""
    return WORD_STYLES.get(role, f"${role}")


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two `#rrggbb` colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    channels = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def glyph_choice(environment: Mapping[str, str]) -> GlyphSet:
    """The glyphs the terminal can draw: as asked by SANDLAB_GLYPHS, else by its name and character set."""
    asked = environment.get("SANDLAB_GLYPHS", "").lower()
    if asked in ("full", "console", "ascii"):
        return asked  # type: ignore[return-value]
    if environment.get("TERM", "") == "linux":
        return "console"
    places = (environment.get(name) for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    charset = next((place for place in places if place), "utf-8").lower()
    return "full" if "utf" in charset else "ascii"


def theme_choice(environment: Mapping[str, str]) -> str:
    """The theme to start with: SANDLAB_THEME=bright or night."""
    asked = environment.get("SANDLAB_THEME", "").lower()
    return asked if asked in PALETTES else "night"


def role_style(role: str) -> str:
    """How a drawn cell of that role is written."""
    return "" if role == "blank" else f"${role}"
