"""Every command tells its help, whatever signs its words hold."""

import argparse
from collections.abc import Iterator

import pytest

from sandlab.cli.parser import build


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
