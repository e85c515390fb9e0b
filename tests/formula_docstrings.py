"""What every formula's docstring must say, for the tests of each package of formulas."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from typing import Any

from tests.published_checks import sources

PARAMETER = re.compile(r"^    (\w+): .*\[[^\[\]]+\]$")
SECTIONS = ("Shapes:", "Validity:", "Errors:", "Example:", "Source:")


def require_units(function: Callable[..., Any]) -> None:
    """Every parameter stands in the docstring, in order, and its line ends in a unit; so does the result."""
    lines = inspect.getsource(function).splitlines()
    listed = [match[1] for line in lines if (match := PARAMETER.match(line))]
    assert listed == [*inspect.signature(function).parameters, "returns"]


def require_sections(function: Callable[..., Any]) -> None:
    """Shapes, validity, errors, an example and a source that is in the bibliography, in that order."""
    text = inspect.getdoc(function) or ""
    places = [text.index(section) for section in SECTIONS]
    assert places == sorted(places)
    assert ">>>" in text[places[3] :]
    source = re.search(r"Source: (\w+), \S", text)
    assert source and source[1] in sources()
