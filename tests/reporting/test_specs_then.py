"""Past shifts are judged by the targets their tests were taken under, and it is said where today's differ."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import openpyxl
import pypdf
import pytest

from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.exporting import export
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.lab.proving import evidence_pack, verify_pack
from sandlab.lab.report import monthly_review, shift_report, write_report
from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock

SIX = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
OLD = "target = 42.0\ntolerance = 3.0\nreaction = [37.0, 47.0]\n"
NEW = "target = 46.0\ntolerance = 2.0\nreaction = [41.0, 51.0]\n"
HOURS = Period(SIX, SIX + timedelta(hours=8))


def opened(folder: Path, clock: Clock, text: str) -> Lab:
    """The plant with these limits of compactability."""
    (folder / "specs").mkdir(parents=True, exist_ok=True)
    text = f'[plant]\ntime_zone = "UTC"\n[systems.main.targets.compactability]\n{text}'
    (folder / "specs" / "system.toml").write_text(text, encoding="utf-8")
    return open_lab(folder, clock=clock)


def measure(lab: Lab, clock: Clock, *texts: str) -> None:
    """One test an hour."""
    for text in texts:
        entries = [Entry("compactability", text)]
        record_sample(lab, point="muller_discharge", by="JV", entries=entries)
        clock.move(hours=1)


@pytest.fixture
def changed(tmp_path: Path) -> Iterator[Lab]:
    """Four tests under the old limits, one past them; then others hold, and a day has gone by."""
    clock = Clock(SIX)
    lab = opened(tmp_path / "plant", clock, OLD)
    measure(lab, clock, "42", "41", "48", "44")
    lab.close()
    clock.move(hours=20)
    lab = opened(tmp_path / "plant", clock, NEW)
    yield lab
    lab.close()


def test_a_past_shift_is_judged_by_the_targets_of_then(changed: Lab, tmp_path: Path) -> None:
    """By hand: only 48 is outside 39 to 45, and past 47; today's tolerance would leave 41 and 42 outside."""
    report = shift_report(changed, "2026-03-02T06:00")
    (one,) = report.facts.results
    assert (one.aim, one.outside, one.past, one.last_state) == ("39 to 45", 1, 1, "in_tolerance")
    (reaction,) = report.facts.reactions
    assert reaction.what.endswith("above the reaction limit 47 %")
    assert reaction.at == SIX + timedelta(hours=2) and reaction.back_at == SIX + timedelta(hours=3)
    said = "39 to 45 % with reaction limits 37 and 47 (today 44 to 48 % with reaction limits 41 and 51)"
    assert one.judged_by == said
    assert report.charts["compactability"].tolerance == (39.0, 45.0)
    assert report.charts["compactability"].reaction == (37.0, 47.0)
    write_report(changed, report, tmp_path / "shift.pdf")
    pages = pypdf.PdfReader(tmp_path / "shift.pdf").pages
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))
    assert len(pages) == 1 and f"differs from today's: Compactability {said}." in text


def test_nothing_is_said_where_the_targets_are_todays(tmp_path: Path) -> None:
    """Other changes of the spec files are no change of what a test is judged by."""
    clock = Clock(SIX)
    lab = opened(tmp_path / "plant", clock, OLD)
    measure(lab, clock, "42", "41")
    lab.close()
    lab = opened(tmp_path / "plant", clock, f"{OLD}[systems.main.targets.moisture]\ntolerance = 0.29\n")
    report = shift_report(lab, "now").facts
    assert report.results[0].judged_by == ""
    assert not any("differs from today" in one for one in report.words)
    lab.close()


def test_a_change_within_the_period_is_told_with_its_time(changed: Lab) -> None:
    """Each value by its own; the tests of one tolerance alone make the capability of the month."""
    clock = changed.clock
    assert isinstance(clock, Clock)
    measure(changed, clock, *(["46", "47", "45"] * 8))
    month = monthly_review(changed, "2026-03")
    (one,) = month.facts.results
    assert (one.count, one.aim, one.outside, one.past) == (28, "39 to 45, then 44 to 48", 1, 1)
    assert one.judged_by == (
        "39 to 45 % with reaction limits 37 and 47 until 02 Mar 09:00, "
        "then today's 44 to 48 % with reaction limits 41 and 51"
    )
    (fit,) = month.facts.capability
    assert (fit.label, fit.count, fit.outside) == ("Compactability (03 Mar 06:00 to 04 Mar 05:00)", 24, 0.0)


def test_the_sheet_of_a_day_judges_by_the_targets_of_then(changed: Lab) -> None:
    """48 was past the limit of then and would be in tolerance today; 41 would be outside."""
    facts = sheet(changed, day=date(2026, 3, 2))
    states = {each.results[0].value: each.results[0].state for each in facts.samples}
    assert states == {
        42.0: "in_tolerance",
        41.0: "in_tolerance",
        48.0: "past_reaction_limit",
        44.0: "in_tolerance",
    }
    assert "1 past a reaction limit." in facts.words
    assert "Judged by the targets in force then; today others hold for compactability." in facts.words


def test_a_workbook_draws_the_tolerance_of_its_period(changed: Lab, tmp_path: Path) -> None:
    """Read with openpyxl: the level lines stand in cells beside the charts."""
    export(changed, tmp_path / "old.xlsx", format="xlsx", period=HOURS)
    cells = openpyxl.load_workbook(tmp_path / "old.xlsx")["charts"].iter_rows(values_only=True)
    levels = {row[23] for row in cells if "tolerance" in row}
    assert levels == {39.0, 45.0}


def test_an_evidence_pack_stays_what_it_was_when_the_specs_change(tmp_path: Path) -> None:
    """Made before the change and held against the plant after it, nothing differs."""
    clock = Clock(SIX)
    lab = opened(tmp_path / "plant", clock, OLD)
    measure(lab, clock, "42", "41", "48", "44")
    evidence_pack(lab, tmp_path / "proof", period=HOURS)
    lab.close()
    lab = opened(tmp_path / "plant", clock, NEW)
    facts = verify_pack(tmp_path / "proof", lab)
    assert facts.ok, facts.problems
    lab.close()
