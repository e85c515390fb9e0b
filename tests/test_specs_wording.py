"""Mistakes of every sort in the spec files are told in the tool's own words, with what to write instead."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.errors import SpecsError
from sandlab.labels import inside
from sandlab.specs import load

FOREIGN = (
    "Input should",
    "valid ",
    "instance of",
    "unable to",
    "Tuple",
    "dictionary",
    "validation",
    "boolean",
)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("properties", "[moisture]\nlabel = 4", "4 is not a text in quotation marks; write a text in"),
        ("properties", "[moisture]\ndecimals = 9", "9 is above 6; write at most 6"),
        ("properties", "[moisture]\nimpossible = ['a', 3]", "'a' is not a number; write a number"),
        ("properties", "[moisture]\nchart = 'pie'", "'pie' is not one of the choices; write 'individuals'"),
        ("properties", "[moisture]\nrules = []", "the list is too short; it needs at least 1"),
        ("properties", "[moisture]\ndoubtful = [1.0]", "the pair lacks a number; write [low, high]"),
        ("properties", "[moisture]\ndoubtful = [1, 2, 3]", "the list is too long; it takes at most 2"),
        ("properties", "[moisture]\ndoubtful = [1.0, nan]", "low 1.0 is not below high nan"),
        ("properties", "[moisture]\nunit = 'ton'", "'ton' is not a known unit; valid: %, 1"),
        ("system", "[systems.main.stock]\nsand_t = 0", "0 is not above 0; write a number above 0"),
        ("system", "[systems.main.points]\nbelt = 3", "3 is not a table; write a table"),
        ("system", "[systems.main.schedule.hourly]\nevery_min = 2.5", "2.5 is not a whole number; write it"),
        ("system", "[systems.main.schedule.hourly]\nevery_min = 'x'", "'x' is not a whole number; write a"),
        (
            "system",
            "[systems.main.schedule.shift]\nat = ['25:00']",
            "'25:00' is not a time of day; write for",
        ),
        ("methods", "[moisture_oven.repeats]\nrelative = 'so'", "'so' is not true or false; write true or"),
        ("methods", "[moisture_oven.timed.drying]\nseconds = 0", "0 is below 1; write at least 1"),
        ("methods", "[moisture_oven.timed.drying]\nreading = 'dry_g'", "give either seconds to wait or the"),
        ("methods", "[permeability_timed.timed.air]\nreading = 'time'", "'time' is not one of its readings"),
        ("reactions", "[clay_low]\nsteps = 'call'", "'call' is not a list in square brackets; write a list"),
    ],
)
def test_a_mistake_in_words(tmp_path: Path, name: str, text: str, words: str) -> None:
    (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SpecsError) as refused:
        load(tmp_path)
    said = str(refused.value)
    assert words in said
    assert not [foreign for foreign in FOREIGN if foreign in said]


def test_an_abbreviation_keeps_its_capitals_inside_a_sentence() -> None:
    """Not afs clay, nor aFS clay."""
    labels = [one.label for one in load().properties.values()]
    assert "AFS clay" in labels
    assert inside("AFS clay") == "AFS clay" and inside("Return-sand moisture") == "return-sand moisture"
