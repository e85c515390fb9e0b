"""A mapping with mistakes is answered with all of them at once, each with the nearest valid name."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.errors import ImportRefused, Problem
from sandlab.exchange import load_mapping
from sandlab.specs import Specs
from tests.exchange.messy import MAPPING


def problems(folder: Path, text: str, specs: Specs) -> dict[str, Problem]:
    """The problems of a mapping text by the place they name."""
    path = folder / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ImportRefused) as caught:
        load_mapping(path, specs)
    return {problem.where: problem for problem in caught.value.problems}


def test_wrong_shapes_are_all_reported(tmp_path: Path, specs: Specs) -> None:
    """A missing key, three unknown ones, letters that are none and a bad time, in one answer."""
    text = MAPPING.replace('point = "muller_discharge"\n', "").replace("head_rows", "header_rows")
    text = text.replace('at = "M"', 'at = "M1"').replace("zero_means_not_tested", "zero_is_not_tested")
    text = text.replace("[sheets.lab.blocks.late]", '[sheets.lab.blocks.late]\nfixed_time = "7h"')
    found = problems(tmp_path, text, specs)
    late, early = "sheets.lab.blocks.late", "sheets.lab.blocks.early"
    assert {
        where: problem.do for where, problem in found.items()
    } == {
        "wrong.toml [point]": "add it",
        "wrong.toml [sheets.lab.header_rows]": "did you mean 'head_rows'?",
        f"wrong.toml [{early}.columns.moisture.zero_is_not_tested]": "did you mean 'zero_means_not_tested'?",
        f"wrong.toml [{late}.fixed_time]": 'write a time such as "07:00"',
        f"wrong.toml [{late}.columns.moisture.at]": 'write column letters such as "F"',
        f"wrong.toml [{late}.columns.moisture.zero_is_not_tested]": "did you mean 'zero_means_not_tested'?",
    }  # fmt: skip


def test_wrong_names_are_all_reported(tmp_path: Path, specs: Specs) -> None:
    """Point, zone, pattern, unit and property that do not exist."""
    text = MAPPING.replace('"muller_discharge"', '"muller_dischage"').replace(
        "Europe/Berlin", "Europe/Belrin"
    )
    text = text.replace("day/month/year", "dy/month/year").replace('"N/cm2"', '"psia"')
    text = text.replace("sand_temperature =", "sand_temprature =").replace("hour.minute", "minute")
    found = problems(tmp_path, text, specs)
    columns = "sheets.lab.blocks.early.columns"
    assert {where: problem.do for where, problem in found.items()} == {
        "wrong.toml [point]": "did you mean 'muller_discharge'?",
        "wrong.toml [time_zone]": "write one such as Europe/Madrid",
        "wrong.toml [dates]": 'write for example "day.month.year" or "hour:minute"',
        "wrong.toml [times]": "add it to the pattern",
        f"wrong.toml [{columns}.green_compression_strength.unit]": "did you mean 'psi'?",
        f"wrong.toml [{columns}]": "did you mean 'sand_temperature'?",
    }


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (('system = "main"', 'system = "mian"'), "'mian' is not known; did you mean 'main'"),
        (('date = { at = "B", head = "Date" }', ""), "neither the sheet nor the block has a date column"),
        (('date = { at = "B", head = "Date" }', "date = {}"), "does not say where the column is"),
        (("head_rows = [4, 5]", ""), "names a head, but the sheet has no head_rows"),
        (("first_row = 6", "first_row = 5"), "a head row is not above first_row"),
        (("first_row = 6", "first_row = 6\nlast_row = 2"), "last_row 2 is above first_row 6"),
        (('note = { at = "I" }', 'fixed_time = "07:00"'), "has both time and fixed_time"),
        (('note = { at = "I" }', 'property = { at = "I" }'), "needs both property and value"),
        (('note = { at = "I" }', 'unit = { at = "I" }'), "a unit column belongs to a long table"),
        (('{ at = "H", unit = "C" }', '{ at = "H", text = "T" }'), "text belongs to a long table"),
        (('"day.month.year", ', '"day.day.year", '), "names a word twice"),
    ],
)
def test_what_cannot_be_followed_is_said(
    tmp_path: Path, specs: Specs, change: tuple[str, str], what: str
) -> None:
    """Contradictions of a mapping with itself."""
    assert change[0] in MAPPING
    found = problems(tmp_path, MAPPING.replace(*change), specs)
    assert any(what in str(problem) for problem in found.values()), found


def test_a_mapping_that_is_no_toml_or_not_there(tmp_path: Path, specs: Specs) -> None:
    """The message names the file and the line."""
    assert "line 2" in str(problems(tmp_path, 'system = "main"\npoint =\n', specs))
    with pytest.raises(ImportRefused, match=r"none\.toml: there is no such mapping file"):
        load_mapping(tmp_path / "none.toml", specs)
