"""What the chart's own acts leave on record: tests left out, coming tests, relations, stretches of time."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from math import sin

import pytest

from sandlab.errors import InputError
from sandlab.lab.charting import chart, freeze_baseline, overview, picture
from sandlab.lab.correcting import correct
from sandlab.lab.leaving import leave_out, left_out, take_in
from sandlab.lab.opening import Lab
from sandlab.lab.phase import propose
from sandlab.lab.relating import relation, scatter
from sandlab.records import Amendment, Result, Sample
from tests.lab.conftest import Clock


def save(lab: Lab, clock: Clock, rows: Iterable[dict[str, float]]) -> None:
    """One sample an hour, straight into the store."""
    for values in rows:
        results = tuple(Result(property=name, value=round(value, 2)) for name, value in values.items())
        sample = Sample(
            id=lab.new_id(),
            system=lab.system,
            at=clock.now,
            by="JV",
            recorded_at=clock.now,
            point="muller_discharge",
            specs_hash=lab.specs.hash,
            results=results,
        )
        lab.store.save([sample], specs_texts={lab.specs.hash: lab.specs.canonical_text})
        clock.move(hours=1)


@pytest.fixture
def quiet(lab: Lab, clock: Clock) -> Lab:
    """Thirty hours of compactability with moisture following it; one test at hour 12 is odd."""
    rows = []
    for hour in range(30):
        wave = 1.2 * sin(hour * 1.7) + sin(hour * 0.6)
        odd = 4.0 if hour == 12 else 0.0
        moisture = 3.3 + 0.05 * wave + 0.01 * sin(hour * 2.9)
        rows.append({"compactability": 42 + wave + odd, "moisture": moisture})
    save(lab, clock, rows)
    clock.move(hours=1)
    return lab


def freeze(lab: Lab, clock: Clock, name: str = "compactability") -> None:
    """Limits from everything so far."""
    start = clock.now - timedelta(days=2)
    freeze_baseline(lab, name, window_from=start, window_to=clock.now, by="MO", reason="trial run")


def test_a_test_left_out_stays_on_record_and_leaves_the_limits(quiet: Lab, clock: Clock) -> None:
    """The value is not touched; the amendment says who and why; the next baseline counts one test less."""
    freeze(quiet, clock)
    before = chart(quiet, "compactability")
    odd = before.points[12]
    leave_out(quiet, "compactability", sample=odd.sample, by="AK", reason="tube not filled")
    after = chart(quiet, "compactability")
    assert after.points[12].value == odd.value
    assert after.baseline == before.baseline
    assert left_out(after.points) == {odd.sample: "by AK: tube not filled"}
    assert picture(after).excluded == (12,)
    stored = quiet.store.records(Amendment, quiet.system)[-1]
    assert (stored.by, stored.reason, stored.sample) == ("AK", "tube not filled", odd.sample)
    freeze(quiet, clock)
    baseline = chart(quiet, "compactability").baseline
    assert baseline is not None
    assert before.baseline is not None
    assert baseline.count == before.baseline.count - 1
    assert baseline.excluded == (odd.sample,)
    assert "left out: by AK: tube not filled" in baseline.reason
    assert baseline.sigma < before.baseline.sigma


def test_a_proposal_names_what_was_left_out(quiet: Lab, clock: Clock) -> None:
    sample = chart(quiet, "compactability").points[3].sample
    leave_out(quiet, "compactability", sample=sample, by="AK", reason="scale drifting")
    found = propose(quiet, "compactability", window_from=clock.now - timedelta(days=2))
    marked = [one for one in found.exclusions if one.sample == sample]
    assert [one.leaves for one in marked] == [True]
    assert "left out of limits; leaves: by AK: scale drifting" in found.words


def test_a_test_can_count_again_and_corrections_clear_the_mark(quiet: Lab) -> None:
    """Taking in needs a reason too; a corrected value is a new one, with nothing left out."""
    sample = chart(quiet, "compactability").points[3].sample
    leave_out(quiet, "compactability", sample=sample, by="AK", reason="scale drifting")
    with pytest.raises(InputError, match="left out already"):
        leave_out(quiet, "compactability", sample=sample, by="AK", reason="again")
    take_in(quiet, "compactability", sample=sample, by="MO", reason="scale checked, it was right")
    assert not left_out(chart(quiet, "compactability").points)
    leave_out(quiet, "compactability", sample=sample, by="AK", reason="scale drifting")
    correct(quiet, sample=sample, property="compactability", text="43", by="JV", reason="read again")
    assert not left_out(chart(quiet, "compactability").points)


@pytest.mark.parametrize(
    ("name", "by", "reason", "said"),
    [
        ("compactability", "", "", "who"),
        ("water_kg", "AK", "wrong", "not a test"),
        ("permeability", "AK", "wrong", "no value in that sample"),
    ],
)
def test_what_cannot_be_left_out_is_said(quiet: Lab, name: str, by: str, reason: str, said: str) -> None:
    sample = chart(quiet, "compactability").points[3].sample
    with pytest.raises(InputError, match=said):
        leave_out(quiet, name, sample=sample, by=by, reason=reason)
    with pytest.raises(InputError, match="not left out"):
        take_in(quiet, "compactability", sample=sample, by="AK", reason="x")


def test_coming_tests_return_to_the_level_or_follow_the_drift(quiet: Lab, clock: Clock) -> None:
    """In control they lie about the centre; after a lasting drift they go on, and a limit is named."""
    freeze(quiet, clock)
    calm = chart(quiet, "compactability").forecast
    assert calm is not None
    assert calm.basis == "level"
    centre = chart(quiet, "compactability").baseline
    assert centre is not None
    assert calm.level[-1] == pytest.approx(centre.centre, abs=0.3)
    assert calm.low[5] < centre.centre < calm.high[5]
    save(quiet, clock, ({"compactability": 42 - 0.3 * h + 0.4 * sin(h * 2.0)} for h in range(16)))
    found = chart(quiet, "compactability").forecast
    assert found is not None
    assert found.basis == "drift"
    assert (found.level[10] - found.level[0]) / 10 == pytest.approx(-0.3, abs=0.08)
    assert "limit" in found.words
    assert found.times[1] - found.times[0] == timedelta(hours=1)


def test_the_words_do_not_depend_on_how_much_is_shown(quiet: Lab, clock: Clock) -> None:
    """A stretch of time shows only its own tests, and speaks of the present all the same."""
    freeze(quiet, clock)
    start = clock.now - timedelta(hours=20)
    whole, part = chart(quiet, "compactability"), chart(quiet, "compactability", since=start)
    assert part.words == whole.words
    assert part.points == tuple(one for one in whole.points if one.at is not None and one.at >= start)
    early = chart(quiet, "compactability", since=start, until=start + timedelta(hours=5))
    assert len(early.points) == 6
    assert early.words == whole.words


def test_a_relation_is_fitted_on_the_baseline_and_finds_what_leaves_it(quiet: Lab, clock: Clock) -> None:
    """Both were made from one wave, 1 of it in compactability, 0.05 in moisture: the slope is 0.05."""
    sample = chart(quiet, "compactability").points[12].sample
    leave_out(quiet, "compactability", sample=sample, by="AK", reason="tube not filled")
    freeze(quiet, clock, "moisture")
    clock.move(hours=1)
    save(quiet, clock, ({"compactability": 42.0, "moisture": one} for one in (3.3, 3.55)))
    found = relation(quiet, "moisture", "compactability")
    assert found.slope == pytest.approx(0.05, abs=0.003)
    assert found.count == 29
    assert [one.side for one in found.pairs if not one.baseline] == [0, 1]
    assert "above what is expected" in found.words
    assert "1 of the last 2 tests lie outside the band" in found.words
    drawn = scatter(found)
    assert (drawn.later, drawn.x.size) == (29, 31)


def test_relations_that_cannot_be_say_so(lab: Lab, clock: Clock) -> None:
    save(lab, clock, [{"compactability": 42.0, "moisture": 3.3}])
    found = relation(lab, "moisture", "compactability")
    assert found.words == (
        "No relation yet, 1 pair so far: freeze limits of moisture, or come back after 48 pairs."
    )
    with pytest.raises(InputError, match="same property"):
        relation(lab, "moisture", "moisture")
    with pytest.raises(InputError, match="not a property"):
        relation(lab, "moisture", "compactabilty")


def test_the_overview_says_each_state_in_few_words(quiet: Lab, clock: Clock) -> None:
    """What has changed since when, or what is missing; never longer than a small chart can show."""
    freeze(quiet, clock)
    save(quiet, clock, ({"compactability": 36 - 0.5 * hour} for hour in range(8)))
    found = {one.property: one for one in overview(quiet).properties}
    assert found["compactability"].brief == "32 % is past a reaction limit"
    assert found["moisture"].brief == "no limits frozen"
    assert found["permeability"].brief == "not tested yet"
    assert found["compactability"].centre is not None
