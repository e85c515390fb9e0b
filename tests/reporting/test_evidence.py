"""Evidence packs: the same records give the same bytes, standard tools can check them, tampering shows."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest

from sandlab.errors import ImportRefused, InputError
from sandlab.lab.correcting import correct
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.exporting import NAMES
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.lab.proving import evidence_pack, verify_pack
from sandlab.lab.reacting import mark_step, steps_due
from sandlab.reporting.digests import MANIFEST, manifest_text
from sandlab.reporting.evidence_words import FILES
from tests.lab.conftest import MONDAY, Clock, Ids

MORNING = Period(MONDAY - timedelta(hours=1), MONDAY + timedelta(hours=12))


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    """Four hours of tests: one value corrected, one worked out from readings, one past a reaction limit."""
    clock = Clock()
    lab = open_lab(tmp_path / "plant", clock=clock, new_id=Ids())
    point = next(iter(lab.sand.points))
    first = record_sample(
        lab,
        point=point,
        by="JV",
        entries=[
            Entry("compactability", "41"),
            Entry("moisture", method="moisture_oven", readings=(("50.00", "48.35"),)),
        ],
    )
    clock.move(hours=1)
    correct(lab, sample=first.sample.sample, property="compactability", text="42", by="JV", reason="misread")
    record_sample(lab, point=point, by="JV", entries=[Entry("compactability", "52")])
    clock.move(minutes=5)
    step = steps_due(lab).steps[0]
    mark_step(lab, property=step.property, signal=step.signal, step=step.step, by="JV", found="same again")
    clock.move(hours=1)
    record_sample(lab, point=point, by="AK", entries=[Entry("compactability", "43")])
    return lab


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """A table of a pack, read with the standard library."""
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_same_records_give_the_same_bytes(lab: Lab, tmp_path: Path) -> None:
    """Twice, and from a copy of the plant in another place."""
    evidence_pack(lab, tmp_path / "one", period=MORNING)
    evidence_pack(lab, tmp_path / "two", period=MORNING)
    lab.close()
    shutil.copytree(lab.folder, tmp_path / "elsewhere" / "copy")
    copy = open_lab(tmp_path / "elsewhere" / "copy", readonly=True)
    evidence_pack(copy, tmp_path / "three", period=MORNING)
    copy.close()
    assert contents(tmp_path / "one") == contents(tmp_path / "two") == contents(tmp_path / "three")


def test_an_auditor_checks_it_with_standard_tools(lab: Lab, tmp_path: Path) -> None:
    """GNU sha256sum reads the manifest; the chain is followed here with hashlib as the README says."""
    facts = evidence_pack(lab, tmp_path / "pack", period=MORNING)
    folder = tmp_path / "pack"
    tool = shutil.which("sha256sum")
    assert tool
    done = subprocess.run([tool, "--check", "--quiet", "MANIFEST.sha256"], cwd=folder, capture_output=True)
    assert done.returncode == 0, done.stderr
    link = "0" * 64
    lines = (folder / "records.jsonl").read_bytes().split(b"\n")[:-1]
    for line, kept in zip(lines, rows(folder, "chain"), strict=True):
        digest = hashlib.sha256(line).hexdigest()
        link = hashlib.sha256((link + digest).encode()).hexdigest()
        assert (kept["digest"], kept["chain"]) == (digest, link)
        assert json.loads(line)["table"]
    assert facts.chain == link
    assert link in (folder / "README.txt").read_text(encoding="utf-8")
    for path in (folder / "specs").iterdir():
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.stem


def test_it_holds_what_an_auditor_asks_for(lab: Lab, tmp_path: Path) -> None:
    """Raw readings, method with source, correction with reason, reaction with the step that was taken."""
    evidence_pack(lab, tmp_path / "pack", period=MORNING, properties=["compactability", "moisture"])
    folder = tmp_path / "pack"
    (corrected,) = rows(folder, "corrections")
    assert (corrected["before"], corrected["after"], corrected["reason"]) == ("41.0", "42.0", "misread")
    assert [row["value"] for row in rows(folder, "readings")] == ["50.0", "48.35"]
    (method,) = rows(folder, "methods")
    assert method["method"] == "moisture_oven" and method["source"] and method["specs_hash"]
    assert "100 (moist_g - dry_g) / moist_g" in method["formula"]
    assert "dry_g: the same sample dried to constant mass [g]" in method["formula"]
    (reaction,) = rows(folder, "reactions")
    assert (reaction["value"], reaction["limit"], reaction["signal"]) == (
        "52.0",
        "50.0",
        "past_reaction_high",
    )
    assert "JV 2026-03-02 09:10 UTC (same again)" in reaction["done"]
    assert reaction["back_at"] == "2026-03-02T10:10:00.000000Z"
    assert {row["property"] for row in rows(folder, "results")} == {"compactability", "moisture"}
    page = (folder / "README.txt").read_text(encoding="utf-8")
    for path in folder.rglob("*.csv"):
        assert path.name in page
    assert (folder / "charts" / "compactability.svg").read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("results.csv", b"52.0", b"49.0", "was changed"),
        ("records.jsonl", b'"value":52.0', b'"value":49.0', "is not the record"),
        ("chain.csv", b"0", b"1", "is broken"),
    ],
)
def test_tampering_shows(lab: Lab, tmp_path: Path, file: str, old: bytes, new: bytes, said: str) -> None:
    """A changed value, a changed record, a changed chain, a file added or taken away."""
    folder = tmp_path / "pack"
    evidence_pack(lab, folder, period=MORNING)
    assert verify_pack(folder).ok
    path = folder / file
    path.write_bytes(path.read_bytes().replace(old, new, 1))
    facts = verify_pack(folder)
    assert not facts.ok and any(said in one.what for one in facts.problems)
    (folder / "extra.csv").touch()
    (folder / "samples.csv").unlink()
    whats = {one.where: one.what for one in verify_pack(folder).problems}
    assert "was added" in whats["extra.csv"] and "missing" in whats["samples.csv"]


def test_a_table_is_held_against_the_records(lab: Lab, tmp_path: Path) -> None:
    """Also when whoever changed it has computed a new manifest."""
    folder = tmp_path / "pack"
    evidence_pack(lab, folder, period=MORNING)
    path = folder / "results.csv"
    path.write_bytes(path.read_bytes().replace(b"52.0", b"49.0", 1))
    (folder / MANIFEST).write_text(manifest_text(folder), encoding="utf-8")
    (problem,) = verify_pack(folder).problems
    assert (problem.where, problem.what) == ("results.csv", "does not say what the records of the chain say")


@pytest.mark.parametrize(
    ("file", "content", "said"),
    [
        ("records.jsonl", b"{}\n", "is not the record"),
        ("records.jsonl", b"no JSON\n[1]\n", "is not the record"),
        ("records.jsonl", b"\xff\xfe\n", "cannot be read"),
        ("chain.csv", b"", "cannot be read"),
        ("results.csv", b"\xff\xfe", "cannot be read"),
        ("specs/*.json", b"\xff\xfe", "does not have the SHA-256 in its name"),
        (MANIFEST, b"", "was added"),
    ],
)
def test_damaged_files_are_told(lab: Lab, tmp_path: Path, file: str, content: bytes, said: str) -> None:
    """Whatever stands in them."""
    folder = tmp_path / "pack"
    evidence_pack(lab, folder, period=MORNING)
    next(folder.glob(file)).write_bytes(content)
    facts = verify_pack(folder)
    assert not facts.ok and any(said in one.what for one in facts.problems)


@pytest.mark.parametrize("about", [b"[]", b"{}", b"1", b"", b"\xff"])
def test_a_folder_that_does_not_say_what_it_is_is_no_pack(lab: Lab, tmp_path: Path, about: bytes) -> None:
    """Neither checked nor made anew."""
    folder = tmp_path / "pack"
    evidence_pack(lab, folder, period=MORNING)
    (folder / "about.json").write_bytes(about)
    for plant in (None, lab):
        with pytest.raises(ImportRefused, match="is no evidence pack"):
            verify_pack(folder, plant)


def test_its_page_says_what_every_table_is() -> None:
    """Each kind of record has words of its own."""
    assert set(NAMES) - set(FILES) == {"specs"}


def test_a_pack_is_compared_with_the_plant(lab: Lab, tmp_path: Path) -> None:
    """A later correction shows as a difference; nothing else does."""
    folder = tmp_path / "pack"
    evidence_pack(lab, folder, period=MORNING)
    assert verify_pack(folder, lab).ok
    sample = rows(folder, "samples")[-1]["id"]
    correct(lab, sample=sample, property="compactability", text="44", by="AK", reason="late second look")
    facts = verify_pack(folder, lab)
    assert not facts.ok
    assert "corrections.csv" in {one.where for one in facts.problems}
    assert "events.csv" not in {one.where for one in facts.problems}


def test_everything_wrong_is_said_at_once(lab: Lab, tmp_path: Path) -> None:
    """An open period, an unknown property; then an empty one, and a folder that is none."""
    with pytest.raises(InputError) as caught:
        evidence_pack(lab, tmp_path / "x", period=Period(MONDAY), properties=["moistre"])
    said = str(caught.value)
    assert "no start or no end" in said and "did you mean 'moisture'?" in said
    with pytest.raises(InputError, match="holds no result of volatiles"):
        evidence_pack(lab, tmp_path / "x", period=MORNING, properties=["volatiles"])
    with pytest.raises(ImportRefused, match="does not exist"):
        verify_pack(tmp_path / "x")
