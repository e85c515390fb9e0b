"""Shift report and monthly review: what they say, on one page, with nothing from outside."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pytest

from sandlab.errors import InputError
from sandlab.lab.advising import acknowledge, advise, override, release
from sandlab.lab.baselines import freeze_baseline
from sandlab.lab.batches import log_batch
from sandlab.lab.correcting import correct
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.handing import write_handover
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.reacting import mark_step, steps_due
from sandlab.lab.report import monthly_review, shift_report, write_report
from tests.lab.conftest import Clock, Ids

SIX = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
TEN = SIX + timedelta(hours=4)
NIGHT = timedelta(hours=16)
LONG_NAME = "Łukasz Ørsted-Żeromski"


@pytest.fixture(scope="module")
def shift_lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """Three tests after a night of them: one past a limit, one corrected, additions changed."""
    clock = Clock(SIX - NIGHT)
    lab = open_lab(tmp_path_factory.mktemp("shift") / "plant", clock=clock, new_id=Ids())
    point = next(iter(lab.sand.points))

    def measure(compactability: str) -> str:
        values = {"compactability": compactability, "moisture": "3.3", "green_compression_strength": "158"}
        entries = [Entry(name, value) for name, value in values.items()]
        return record_sample(lab, point=point, by="JV", entries=entries).sample.sample

    for hour in range(16):
        measure(str(41 + hour % 3))
        clock.move(hours=1)
    advice = advise(lab, by="MO")
    release(lab, recommendation=advice.recommendation, by="MO")
    for name in ("compactability", "moisture"):
        freeze_baseline(
            lab, name, window_from=clock.now - NIGHT, window_to=clock.now, by="AT", reason="quiet night"
        )
    acknowledge(lab, by="AK")
    measure("42")
    made = {name: one.reference_kg for name, one in lab.sand.feeders.items()} | {"water": 29.5}
    log_batch(lab, added_kg=made, by="AK")
    clock.move(hours=1)
    measure("52")
    step = steps_due(lab).steps[0]
    clock.move(minutes=5)
    mark_step(lab, property=step.property, signal=step.signal, step=step.step, by="JV", found="valve stuck")
    override(lab, by="AK", added_kg={"water": 25.0}, reason="valve stuck")
    clock.move(minutes=55)
    sample = measure("44")
    correct(lab, sample=sample, property="compactability", text="43", by="JV", reason="misread")
    write_handover(lab, text="Water valve repaired, keep an eye on it", by=LONG_NAME)
    clock.move(hours=2)
    yield lab
    lab.close()


def text_of(pdf: Path) -> str:
    """The text of a PDF as pypdf, an independent reader, finds it, blanks joined."""
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages))


class Outside(HTMLParser):
    """Everything that a browser would fetch, run or look up."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note elements and attributes that lead outside."""
        if tag in ("script", "link", "img", "iframe", "object", "embed", "base"):
            self.found.append(tag)
        self.found += [
            f"{tag} {name}" for name, _ in attrs if name in ("src", "href", "xlink:href", "onload")
        ]


def test_a_shift_is_told_from_its_records(shift_lab: Lab) -> None:
    """Results, the reaction with its step, additions set against made, decisions, correction, note."""
    facts = shift_report(shift_lab, "now").facts
    assert facts.since == SIX and facts.until == SIX + timedelta(hours=8)
    by_name = {one.property: one for one in facts.results}
    compactability = by_name["compactability"]
    assert (compactability.count, compactability.outside, compactability.past) == (3, 1, 1)
    assert (compactability.low, compactability.mean, compactability.high) == (
        42.0,
        pytest.approx(137 / 3),
        52.0,
    )
    (reaction,) = facts.reactions
    assert reaction.back_at == SIX + timedelta(hours=2) and not reaction.open
    assert (reaction.steps[0].done_by, reaction.steps[0].found) == ("JV", "valve stuck")
    assert reaction.steps[1].done_at is None
    water = next(one for one in facts.additions if one.feeder == "water")
    assert water.made_kg == 29.5 and water.batches == 1
    # The only batch was made before the override: what was set is what was recommended.
    assert water.recommended_kg == water.set_kg
    assert water.recommended_kg is not None
    assert f"{29.5 - water.recommended_kg:+.2f}" == water.difference_text
    said = " ".join(facts.decisions)
    assert "AT froze limits of compactability, moisture: quiet night" in said
    (signal,) = facts.signals
    assert (signal.property, signal.at, signal.count) == ("compactability", SIX + timedelta(hours=1), 1)
    assert any("valve stuck" in one for one in signal.done)
    assert "MO released" in said and "AK set" in said and "valve stuck" in said
    assert "Compactability 44 -> 43, JV: misread" in facts.corrections[0]
    assert [one.by for one in facts.notes] == [LONG_NAME]
    assert "This shift is still running." in facts.words
    # A batch at six o'clock is all that says the sand ran; beside it the three tests count.
    assert any("Hourly set: 3 of 3" in one for one in facts.words)


@pytest.mark.parametrize("shift", ["now", "2026-03-02T01:00"])
def test_a_shift_fits_one_page_and_can_be_read_back(shift_lab: Lab, tmp_path: Path, shift: str) -> None:
    """Checked with pypdf: one A4 page, its words, its faces inside, vectors and no pictures of dots."""
    file = tmp_path / "shift.pdf"
    facts = write_report(shift_lab, shift_report(shift_lab, shift), file)
    reader = pypdf.PdfReader(file)
    assert len(reader.pages) == facts.pages == 1
    page = reader.pages[0]
    assert [round(float(side)) for side in page.mediabox.upper_right] == [595, 842]
    assert not page.images
    for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
        descendant = font.get_object()["/DescendantFonts"][0].get_object()
        assert "/FontFile2" in descendant["/FontDescriptor"]
    text = text_of(file)
    assert "Compactability" in text and "Results against tolerance" in text
    if shift == "now":
        assert "■ past" in text.lower() or "■ Past" in text
        assert LONG_NAME in text and "Water valve repaired" in text
        assert "◆ 07:00" in text
        assert "Charts of this shift" in text


def test_the_page_needs_nothing_from_outside(shift_lab: Lab, tmp_path: Path) -> None:
    """Checked with the standard library's parser: no script, font, picture or link; charts are inside."""
    file = tmp_path / "shift.html"
    write_report(shift_lab, shift_report(shift_lab, "now"), file)
    page = file.read_text(encoding="utf-8")
    parser = Outside()
    parser.feed(page)
    assert parser.found == []
    assert "url(" not in page and "@import" not in page
    assert page.count("<svg") == 3
    assert LONG_NAME in page and "■" in page


@pytest.mark.parametrize("ending", [".pdf", ".html"])
def test_the_same_records_at_the_same_time_give_the_same_bytes(
    shift_lab: Lab, tmp_path: Path, ending: str
) -> None:
    """The time of making is the lab's clock; nothing else differs."""
    for name in ("one", "two"):
        write_report(shift_lab, shift_report(shift_lab, "now"), tmp_path / f"{name}{ending}")
    assert (tmp_path / f"one{ending}").read_bytes() == (tmp_path / f"two{ending}").read_bytes()


def test_states_are_told_without_colour(shift_lab: Lab, tmp_path: Path) -> None:
    """Printed black and white, a state is its word and its mark; colour only repeats them."""
    file = tmp_path / "shift.pdf"
    write_report(shift_lab, shift_report(shift_lab, "now"), file)
    text = text_of(file)
    for words in ("■ Past a reaction limit", "! Outside tolerance", "• in tolerance", "✓", "○"):
        assert words in text, words
    content = pypdf.PdfReader(file).pages[0].get_contents()
    assert content is not None
    colours = set(re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)", content.get_data()))
    # Greys, and the one red of an alarm's triangle, whose shape tells it apart as well.
    assert sum(len(set(one)) > 1 for one in colours) == 1


def test_a_month_is_fuller_than_a_shift(shift_lab: Lab, tmp_path: Path) -> None:
    """Capability and every chart with enough tests; values once a shift come in by date."""
    report = monthly_review(shift_lab, "2026-03")
    assert report.facts.name == "March 2026"
    assert {"compactability", "moisture", "green_compression_strength"} <= set(report.facts.charts)
    assert [one.count for one in report.facts.results if one.property == "compactability"] == [19]
    file = tmp_path / "month.pdf"
    assert write_report(shift_lab, report, file).pages >= 1
    assert "monthly review" in text_of(file)


def test_a_run_past_a_limit_is_told_whole_in_the_next_shift(tmp_path: Path) -> None:
    """It began before this shift, whose step was taken before it too; the others are open."""
    clock = Clock(SIX - timedelta(minutes=30))
    lab = open_lab(tmp_path / "plant", clock=clock, new_id=Ids())
    point = next(iter(lab.sand.points))
    for minutes in (35, 60):
        record_sample(lab, point=point, by="JV", entries=[Entry("compactability", "52")])
        if clock.now < SIX:
            step = steps_due(lab).steps[0]
            mark_step(lab, property=step.property, signal=step.signal, step=step.step, by="JV")
        clock.move(minutes=minutes)
    (reaction,) = shift_report(lab, "now").facts.reactions
    assert reaction.at == SIX - timedelta(minutes=30)
    assert [one.done_by for one in reaction.steps] == ["JV", "", ""]
    assert reaction.open and reaction.back_at is None
    assert [one.open for one in shift_report(lab, "last").facts.reactions] == [True]
    lab.close()


def test_charts_without_limits_are_not_said_to_be_quiet(tmp_path: Path) -> None:
    """Nothing is frozen yet: nothing could alarm."""
    lab = open_lab(tmp_path / "plant", clock=Clock(SIX), new_id=Ids())
    point = next(iter(lab.sand.points))
    record_sample(lab, point=point, by="JV", entries=[Entry("compactability", "42")])
    file = tmp_path / "shift.pdf"
    write_report(lab, shift_report(lab, "now"), file)
    assert "No chart has limits yet" in text_of(file) and "No chart alarmed" not in text_of(file)
    lab.close()


@pytest.mark.browser
def test_a_browser_prints_the_page_without_a_network(shift_lab: Lab, tmp_path: Path) -> None:
    """Chromium, with no name resolved, prints it; pypdf finds the words and charts' texts in the print."""
    browser = shutil.which("chromium")
    if browser is None:
        pytest.skip("chromium is not installed")
    write_report(shift_lab, shift_report(shift_lab, "now"), tmp_path / "shift.html")
    printed = tmp_path / "print.pdf"
    words = ["--headless", "--no-sandbox", "--disable-gpu", "--host-resolver-rules=MAP * ~NOTFOUND"]
    words += [
        f"--user-data-dir={tmp_path / 'profile'}",
        "--no-pdf-header-footer",
        f"--print-to-pdf={printed}",
    ]
    subprocess.run(
        [browser, *words, (tmp_path / "shift.html").as_uri()], check=True, capture_output=True, timeout=60
    )
    text = text_of(printed)
    assert "Results against tolerance" in text and "Compactability [%]" in text
    assert len(pypdf.PdfReader(printed).pages) <= 2


def test_what_cannot_be_reported_is_refused(shift_lab: Lab, tmp_path: Path) -> None:
    """In words that say what to do; an empty shift is a report of its own."""
    for written, said in (("tomorrow", "is not a shift"), ("2031-01-01T06:00", "has not begun")):
        with pytest.raises(InputError, match=said):
            shift_report(shift_lab, written)
    for written, said in (("2026-13", "is not a month"), ("2031-01", "has not begun")):
        with pytest.raises(InputError, match=said):
            monthly_review(shift_lab, written)
    with pytest.raises(InputError, match=r"end in \.pdf or \.html"):
        write_report(shift_lab, shift_report(shift_lab, "now"), tmp_path / "shift.doc")
    empty = shift_report(shift_lab, "2026-01-05T06:00")
    assert empty.facts.words == ("Nothing was tested.",)
    assert write_report(shift_lab, empty, tmp_path / "empty.pdf").pages == 1
    assert io.BytesIO((tmp_path / "empty.pdf").read_bytes()).read(5) == b"%PDF-"
