"""What was half typed is found again, said in words, taken up once, and never saved twice."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sandlab.lab.drafts import DraftSet, keep, left, take_up, throw_away
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab, open_lab
from tests.lab.conftest import MONDAY, Clock, Ids

ENTRIES = (
    Entry("compactability", "41"),
    Entry("moisture", "3.25", method="moisture_oven", readings=(("50.0", "48.4"), ("50.0", ""))),
)


def half_typed(**changes: object) -> DraftSet:
    """Two fields of the hourly set."""
    given: dict[str, object] = {
        "sample": Ids(count=900)(),
        "test_set": "hourly",
        "point": "muller_discharge",
        "title": "Hourly set, muller discharge",
        "begun": MONDAY,
        "taken": "",
        "note": "",
        "entries": ENTRIES,
    }
    return DraftSet.model_validate(given | changes)


@pytest.fixture
def other(lab: Lab, clock: Clock) -> Iterator[Lab]:
    """Another terminal on the same plant."""
    opened = open_lab(lab.folder, clock=clock)
    yield opened
    opened.close()


def test_a_draft_is_nobody_elses_while_its_terminal_lives(lab: Lab, other: Lab) -> None:
    keep(lab, [half_typed()], by="AK")
    assert left(other) == ()
    lab.drafts.close()
    assert [one.by for one in left(other)] == ["AK"]


def test_it_is_told_with_age_initials_and_what_it_holds(lab: Lab, other: Lab, clock: Clock) -> None:
    keep(lab, [half_typed(), half_typed(title="Return sand", entries=(), note="wet")], by="AK")
    lab.drafts.close()
    clock.move(minutes=23)
    (found,) = left(other)
    assert found.words == (
        "Hourly set, muller discharge: 2 values, by AK",
        "Return sand: a note, by AK",
        "Last typed at 08:05, 23 min ago.",
    )
    assert found.sets[0].entries == ENTRIES


def test_who_takes_it_up_first_has_it(lab: Lab, other: Lab) -> None:
    keep(lab, [half_typed()], by="AK")
    lab.drafts.close()
    (found,) = left(other)
    taken = take_up(other, found.name, by="SK")
    assert taken is not None
    assert taken.sets == found.sets
    assert take_up(lab, found.name, by="MO") is None
    other.drafts.close()
    assert [one.by for one in left(lab)] == ["SK"]


def test_what_was_saved_before_the_crash_is_not_offered_again(lab: Lab, other: Lab) -> None:
    draft = half_typed()
    keep(lab, [draft], by="AK")
    entries = [Entry("compactability", "41")]
    saved = record_sample(lab, point=draft.point, by="AK", entries=entries, sample_id=draft.sample)
    assert saved.sample.sample == draft.sample
    lab.drafts.close()
    assert left(other) == ()
    assert list((lab.folder / "drafts").iterdir()) == []


def test_thrown_away_is_gone_and_what_cannot_be_read_goes_too(lab: Lab, other: Lab) -> None:
    keep(lab, [half_typed()], by="AK")
    lab.drafts.close()
    throw_away(other, left(other)[0].name)
    assert left(lab) == ()
    (lab.folder / "drafts" / "old.draft").write_text('{"by": 3}\n')
    assert left(lab) == ()
    assert not Path(lab.folder / "drafts" / "old.draft").exists()


def test_nothing_half_typed_leaves_no_file(lab: Lab) -> None:
    keep(lab, [half_typed()], by="AK")
    keep(lab, [], by="AK")
    assert list((lab.folder / "drafts").iterdir()) == []
