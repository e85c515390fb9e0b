"""Files taken in: dry first, whole or not at all, never twice, never over a record; faults in words."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pytest

from sandlab.errors import ImportRefused, SandlabError
from sandlab.lab import importing
from sandlab.lab.correcting import correct
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab
from sandlab.labels import data_folder
from sandlab.records import Batch, Sample
from tests.exchange.open_document import package, table

HEAD = "Date,Time,CB [%],Moisture [%]\n"
ROWS = "2026-03-02,06:00,42,3.2\n2026-03-02,07:00,41,3.3\n"


def write(folder: Path, text: str, name: str = "march.csv") -> Path:
    """A file beside the plant."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def known(lab: Lab, path: Path) -> None:
    """A proposal is made and kept, as by a person's first look."""
    assert importing.import_file(lab, path, by="KD", commit=False).proposed


def test_a_proposal_alone_never_saves(lab: Lab, tmp_path: Path) -> None:
    """Even when asked to: nobody has seen the mapping yet. The second time it is the kept one."""
    path = write(tmp_path, HEAD + ROWS)
    first = importing.import_file(lab, path, by="KD", commit=True)
    assert (first.proposed, first.committed, first.added) == (True, False, 2)
    assert Path(first.mapping) == lab.folder / "mappings" / "march.toml"
    assert "look at the mapping" in first.words
    assert lab.store.samples(lab.system) == ()
    second = importing.import_file(lab, path, by="KD", commit=True)
    assert (second.proposed, second.committed, second.added) == (False, True, 2)
    assert len(lab.store.samples(lab.system)) == 2


def test_a_corrected_mapping_is_used_and_never_written_over(lab: Lab, tmp_path: Path) -> None:
    """What a person changed stays; a file with other heads gets a mapping of its own."""
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    kept = lab.folder / "mappings" / "march.toml"
    kept.write_text(
        kept.read_text(encoding="utf-8").replace('point = "muller_discharge"', 'point = "return_belt"')
    )
    importing.import_file(lab, path, by="KD", commit=True)
    assert {one.point for one in lab.store.samples(lab.system)} == {"return_belt"}
    other = write(tmp_path, "Date,Time,GFN,LOI\n2026-03-02,06:00,58,3.9\n")
    assert importing.import_file(lab, other, by="KD", commit=False).mapping.endswith("march_2.toml")
    assert 'point = "return_belt"' in kept.read_text(encoding="utf-8")


def test_the_same_file_twice_adds_nothing(lab: Lab, tmp_path: Path) -> None:
    """Nor does a longer one add what was there already."""
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    assert importing.import_file(lab, path, by="KD", commit=True).added == 2
    again = importing.import_file(lab, path, by="KD", commit=True)
    assert (again.added, again.already_known, again.conflicts) == (0, 2, 0)
    write(tmp_path, HEAD + ROWS + "2026-03-02,08:00,43,3.1\n")
    longer = importing.import_file(lab, path, by="KD", commit=True)
    assert (longer.added, longer.already_known) == (1, 2)


def test_a_conflict_is_shown_and_nothing_is_overwritten(lab: Lab, tmp_path: Path) -> None:
    """By sheet and row, with what is recorded and by whom; what does not contradict is taken."""
    at = datetime(2026, 3, 2, 6, tzinfo=UTC)
    record_sample(
        lab, point="muller_discharge", by="AB", entries=[Entry("compactability", "44")], taken_at=at
    )
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    facts = importing.import_file(lab, path, by="KD", commit=True)
    (note,) = [one for one in facts.notes if one.severity == "conflict"]
    assert (note.sheet, note.row) == ("march.csv", 2)
    assert "44 is recorded (AB), the file says 42" in note.what
    assert (facts.added, facts.conflicts) == (2, 1)
    frame = lab.store.results(lab.system, "compactability")
    assert frame["value"].to_list() == [44.0, 41.0]
    assert lab.store.results(lab.system, "moisture")["value"].to_list() == [3.2, 3.3]
    again = importing.import_file(lab, path, by="KD", commit=True)
    assert (again.added, again.conflicts) == (0, 1)


def test_a_value_corrected_since_stays_corrected(lab: Lab, tmp_path: Path) -> None:
    """The file is known by what it said; importing it again is no conflict."""
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    importing.import_file(lab, path, by="KD", commit=True)
    (first, _) = lab.store.samples(lab.system)
    correct(lab, sample=first.id, property="moisture", text="3.4", by="AB", reason="misread")
    again = importing.import_file(lab, path, by="KD", commit=True)
    assert (again.added, again.already_known, again.conflicts) == (0, 2, 0)
    assert lab.store.results(lab.system, "moisture")["value"].to_list() == [3.4, 3.3]


def test_what_follows_from_imported_values_is_derived(lab: Lab, tmp_path: Path) -> None:
    """The ratio of moisture and compactability, as when the values are typed: 3.2 / 42."""
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    importing.import_file(lab, path, by="KD", commit=True)
    ratio = lab.store.results(lab.system, "moisture_compactability_ratio")["value"].to_list()
    assert ratio == pytest.approx([3.2 / 42, 3.3 / 41])


def test_breaking_off_saves_nothing(lab: Lab, tmp_path: Path) -> None:
    """Whoever is told of the progress may raise, even when the last row has just been written."""
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)

    class CancelledError(Exception):
        pass

    def tell(what: str, done: int, of: int) -> None:
        if what == "saving rows" and done == of:
            raise CancelledError

    with pytest.raises(CancelledError):
        importing.import_file(lab, path, by="KD", commit=True, tell=tell)
    assert lab.store.samples(lab.system) == ()


def test_a_conflict_in_the_decimals_is_told_in_them(lab: Lab, tmp_path: Path) -> None:
    """Compactability is shown in whole per cent; 42.4 and 42 are not told as the same."""
    at = datetime(2026, 3, 2, 6, tzinfo=UTC)
    record_sample(
        lab, point="muller_discharge", by="AB", entries=[Entry("compactability", "42.4")], taken_at=at
    )
    path = write(tmp_path, HEAD + ROWS)
    known(lab, path)
    facts = importing.import_file(lab, path, by="KD", commit=False)
    (note,) = [one for one in facts.notes if one.severity == "conflict"]
    assert "42.4 is recorded (AB), the file says 42.0" in note.what
    assert "1 value differs from what is recorded" in facts.words
    assert f"it was read by {facts.mapping}; run it again" in facts.words


def test_a_batch_that_is_recorded_otherwise_is_a_conflict(lab: Lab, tmp_path: Path) -> None:
    """The same number at the same time with other kilograms."""
    head = "Time,Batch no,Return sand kg,Water kg,Bentonite kg\n"
    path = write(tmp_path, f"{head}2026-03-02 06:00,7,1500,27,10\n", "batches.csv")
    known(lab, path)
    assert importing.import_file(lab, path, by="KD", commit=True).added == 1
    write(tmp_path, f"{head}2026-03-02 06:00,7,1500,28,10\n2026-03-02 06:03,8,1500,28,10\n", "batches.csv")
    facts = importing.import_file(lab, path, by="KD", commit=True)
    assert (facts.added, facts.conflicts) == (1, 1)
    assert [one.added_kg["water"] for one in lab.store.records(Batch, lab.system)] == [27.0, 28.0]


@pytest.mark.parametrize(
    "path", sorted((data_folder("sample_data") / "damaged").iterdir()), ids=lambda p: p.name
)
def test_each_damaged_file_gives_a_report_or_a_message(path: Path, lab: Lab) -> None:
    """Without a mapping too: never a traceback, and every problem says what to do."""
    try:
        facts = importing.import_file(lab, path, by="KD", commit=False)
    except ImportRefused as error:
        assert all(problem.what and problem.do for problem in error.problems)
    else:
        assert facts.report


def odd_files(folder: Path) -> list[Path]:
    """A workbook, an OpenDocument sheet and text, each whole, then cut and with bytes turned over."""
    book = openpyxl.Workbook()
    for row in (HEAD + ROWS).splitlines():
        book.worksheets[0].append(row.split(","))
    book.save(folder / "whole.xlsx")
    rows = [line.split(",") for line in (HEAD + ROWS).splitlines()]
    (folder / "whole.ods").write_bytes(package(table("Lab", rows)))
    (folder / "whole.csv").write_text(HEAD + ROWS, encoding="utf-8")
    chance, made = random.Random(5), []
    for source in ("whole.xlsx", "whole.ods", "whole.csv"):
        content = (folder / source).read_bytes()
        for number in range(12):
            spoilt = bytearray(content)
            for _ in range(number % 4):
                spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
            cut = len(spoilt) if number < 6 else chance.randrange(len(spoilt))
            made.append(folder / f"{number}_{source}")
            made[-1].write_bytes(bytes(spoilt[:cut]))
    odd = {
        "named.xlsx": b"Date,CB\n2026-03-02,42\n", "named.csv": (folder / "whole.xlsx").read_bytes(),
        "nul.csv": b"\x00\x01\x02" * 50, "wide.csv": b"," * 20_000 + b"\n", "quote.csv": b'Date,"CB\n1,2\n',
        "blank.csv": b"\n\n \n", "heads.csv": HEAD.encode(), "notes.ods": package(table("Lab", [["hello"]])),
        "repeated.csv": b"Date,Date,CB,CB,CB\n2026-03-02,2026-03-02,41,42,43\n", "x.docx": b"PK\x03\x04",
    }  # fmt: skip
    for name, content in odd.items():
        made.append(folder / name)
        made[-1].write_bytes(content)
    return made


def test_no_odd_file_ends_in_a_traceback(lab: Lab, tmp_path: Path) -> None:
    """A report or a refusal that says where, what and what to do."""
    refused = 0
    for path in odd_files(tmp_path):
        try:
            facts = importing.import_file(lab, path, by="KD", commit=False)
        except SandlabError as error:
            refused += 1
            assert all(problem.where and problem.what and problem.do for problem in error.problems), path.name
        else:
            assert facts.report
    assert refused > 15
    assert lab.store.records(Sample, lab.system) == ()
