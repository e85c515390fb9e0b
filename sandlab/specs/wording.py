"""What is wrong with a value of a spec file, and what to write instead, in the tool's own words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_KINDS = {
    "string": "a text in quotation marks",
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
    "tuple": "a list in square brackets",
    "list": "a list in square brackets",
    "dict": "a table",
    "model": "a table",
}
_LIMITS = {
    "greater_than": ("gt", "is not above", "write a number above"),
    "greater_than_equal": ("ge", "is below", "write at least"),
    "less_than": ("lt", "is not below", "write a number below"),
    "less_than_equal": ("le", "is above", "write at most"),
}


def in_words(kind: str, given: object, bounds: Mapping[str, Any], message: str) -> tuple[str, str]:
    """What is wrong and what to do, from the sort of mistake, the value as given, and its bounds."""
    shown = _shown(given)
    if kind in _LIMITS:
        key, what, do = _LIMITS[kind]
        return f"{shown} {what} {bounds[key]:g}", f"{do} {bounds[key]:g}"
    if kind == "literal_error":
        return f"{shown} is not one of the choices", f"write {bounds['expected']}"
    if kind == "too_short":
        return "the list is too short", f"it needs at least {bounds['min_length']}"
    if kind == "too_long":
        return "the list is too long", f"it takes at most {bounds['max_length']}"
    if kind == "int_from_float":
        return f"{shown} is not a whole number", "write it without decimals"
    if kind == "finite_number":
        return f"{shown} is not a finite number", "write a number"
    if kind in ("value_error", "assertion_error"):
        what, _, do = message.partition("; ")
        return what, do or "correct the value"
    wanted = _KINDS.get(kind.removesuffix("_type").removesuffix("_parsing"))
    if wanted:
        return f"{shown} is not {wanted}", f"write {wanted}"
    return f"{shown} does not fit here", "look at the shipped file for an example"


def _shown(given: object) -> str:
    """A value as it may stand in a TOML file, cut when it is long."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, str):
        return f"'{given[:40]}'"
    if isinstance(given, dict):
        return "a table"
    if isinstance(given, list | tuple):
        return "a list"
    return str(given)[:40]
