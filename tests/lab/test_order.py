"""Records of the same time keep the order in which they were saved."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from sandlab.lab import opening
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab, new_uuid, open_lab
from sandlab.lab.rounds import sheet
from sandlab.lab.timeline import add_event, events
from tests.lab.conftest import MONDAY


@pytest.fixture
def still(tmp_path: Path) -> Iterator[Lab]:
    """A plant whose clock stands still, with ids as in use."""
    lab = open_lab(tmp_path / "plant", clock=lambda: MONDAY)
    yield lab
    lab.close()


def test_ids_rise_and_are_of_version_7() -> None:
    """RFC 9562: version 7 in the 13th digit, variant 10; as text they sort as they were made."""
    ids = [new_uuid() for _ in range(5000)]
    assert ids == sorted(set(ids))
    assert {uuid.UUID(one).version for one in ids} == {7}
    assert {uuid.UUID(one).variant for one in ids} == {uuid.RFC_4122}


def test_the_published_example_is_laid_out_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 9562, appendix A.6: 2022-02-22 19:22:22 UTC is 017F22E2-79B0-7CC3-98C4-DC0C0C07398F."""
    moment = 0x17F22E279B0 * 4096 + 0xCC3
    monkeypatch.setattr(opening, "_last_tick", moment - 1)
    monkeypatch.setattr("sandlab.lab.opening.time.time_ns", lambda: 0)
    monkeypatch.setattr("sandlab.lab.opening.secrets.randbits", lambda _bits: 0x18C4DC0C0C07398F)
    assert new_uuid().upper() == "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"


def test_samples_and_notes_of_one_moment_stand_as_they_were_saved(still: Lab) -> None:
    texts = [str(number) for number in (41, 38, 44, 40, 39, 43)]
    for text in texts:
        entries = [Entry("compactability", text)]
        record_sample(still, point="muller_discharge", by="JV", entries=entries)
        add_event(still, text=text, by="JV")
    found = [one.results[0].text for one in reversed(sheet(still).samples)]
    assert found == texts
    assert [one.text for one in events(still, MONDAY)] == texts
    frame = still.store.results("main", "compactability")
    assert [f"{value:.0f}" for value in frame["value"]] == texts
