"""Every command tells its help, whatever signs its words hold."""

import argparse
from collections.abc import Iterator

import pytest

from sandlab.cli.parser import build
from sandlab.cli.words import SCHEMAS


def _parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                yield from _parsers(inner)


@pytest.mark.parametrize("parser", list(_parsers(build())), ids=lambda parser: parser.prog)
def test_help_is_written(parser: argparse.ArgumentParser) -> None:
    told = parser.format_help()
    assert told.startswith(f"usage: {parser.prog}")
    assert "%%" not in told


def test_every_command_that_answers_does_so_as_json() -> None:
    """All but those that open the tool; schema prints nothing but JSON anyway."""
    parsers = {one.prog.removeprefix("sandlab "): one for one in _parsers(build())}
    del parsers["sandlab"]
    silent = {name for name, one in parsers.items() if "--json" not in one._option_string_actions}
    assert silent == set(parsers) - set(SCHEMAS) == {"schema", "demo", "serve"}
