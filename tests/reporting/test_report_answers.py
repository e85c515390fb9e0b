"""What a report says of changed records and of values beside a limit is what happened."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.lab.baselines import freeze_baseline
from sandlab.lab.correcting import correct, remark, void
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.leaving import leave_out, take_in
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.report import shift_report
from tests.lab.conftest import Clock, Ids

SIX = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> Clock:
    """Six in the morning."""
    return Clock(SIX)


@pytest.fixture
def lab(tmp_path: Path, clock: Clock) -> Iterator[Lab]:
    """An empty plant."""
    lab = open_lab(tmp_path / "plant", clock=clock, new_id=Ids())
    yield lab
    lab.close()


def measure(lab: Lab, clock: Clock, property: str, value: str, point: str = "muller_discharge") -> str:
    """One test, and ten minutes later."""
    confirmed = frozenset({property})
    saved = record_sample(lab, point=point, by="JV", entries=[Entry(property, value)], confirmed=confirmed)
    clock.move(minutes=10)
    return saved.sample.sample


def test_a_test_that_leaves_the_limits_is_no_correction(lab: Lab, clock: Clock) -> None:
    """Its value stays; a correction and a value taken back beside it are told as such."""
    samples = [measure(lab, clock, "compactability", value) for value in ("42", "43", "44", "45")]
    leave_out(lab, "compactability", sample=samples[0], by="AK", reason="dish warm")
    leave_out(lab, "compactability", sample=samples[1], by="AK", reason="wrong dish")
    take_in(lab, "compactability", sample=samples[1], by="AK", reason="the right dish after all")
    correct(lab, sample=samples[2], property="compactability", text="41", by="JV", reason="misread")
    void(lab, sample=samples[3], property="compactability", by="JV", reason="spilt")
    said = [one.partition("Compactability ")[2] for one in shift_report(lab, "now").facts.corrections]
    assert said == [
        "42 left out of limits, AK: dish warm",
        "43 left out of limits, AK: wrong dish",
        "43 kept as it was, AK: the right dish after all",
        "44 -> 41, JV: misread",
        "45 taken back, JV: spilt",
    ]


def test_a_value_just_past_its_limit_is_told_apart_from_it(lab: Lab, clock: Clock) -> None:
    """Not "50 %, above the reaction limit 50 %"; a mean on the limit to the last digit is not past it."""
    measure(lab, clock, "compactability", "49.99999999999999")
    measure(lab, clock, "compactability", "50.00000000000001")
    measure(lab, clock, "compactability", "50.08")
    (reaction,) = shift_report(lab, "now").facts.reactions
    assert reaction.what == "Compactability 50.1 %, above the reaction limit 50 %"


def test_remarks_on_another_sample_are_no_answer_to_an_alarm(lab: Lab, clock: Clock) -> None:
    """One on return sand says nothing of compactability; one on its own sample does, on one line."""
    for number in range(30):
        measure(lab, clock, "compactability", str(41 + number % 3))
    start, end = SIX, clock.now
    freeze_baseline(lab, "compactability", window_from=start, window_to=end, by="AT", reason="quiet")
    high = measure(lab, clock, "compactability", "48.5")
    belt = measure(lab, clock, "return_moisture", "2.0", "return_belt")
    remark(lab, sample=belt, text="belt wet", by="JV")
    remark(lab, sample=high, text="dish warm,\nrepeated", by="JV")
    clock.move(minutes=20)
    (signal,) = [one for one in shift_report(lab, "now").facts.signals if one.count]
    assert [words.partition(" - ")[0] for words in signal.done] == ["dish warm, repeated"]
    assert signal.at >= start + timedelta(hours=5)
