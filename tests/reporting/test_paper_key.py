"""One key on the overview writes the report of the running shift."""

from __future__ import annotations

import pytest

from sandlab.errors import impossible
from sandlab.lab.opening import Lab
from tests.reporting.test_report import TEN, shift_lab
from tests.screens.hand import Hand, play

__all__ = ["shift_lab"]


def test_one_key_writes_the_report(shift_lab: Lab) -> None:
    """The screen says where it is; the file is a PDF."""

    async def story(hand: Hand) -> None:
        await hand.press("f3")
        await hand.press("f6")
        await hand.until("Report of this shift:", within_s=30.0)
        assert "Report of this shift: reports/shift_2026-03-02_0600_100000.pdf" in hand.words()

    shift_lab.close()
    play(story, shift_lab.folder, size=(120, 40), clock=lambda: TEN)
    (file,) = (shift_lab.folder / "reports").iterdir()
    assert file.read_bytes().startswith(b"%PDF-")


def test_a_report_that_cannot_be_written_is_told(shift_lab: Lab, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a box, and nothing says any more that it is being written."""

    def refused(_: Lab) -> None:
        raise impossible("reports", "cannot be written", "look at the room")

    async def story(hand: Hand) -> None:
        await hand.press("f3")
        await hand.press("f6")
        await hand.until("cannot be written", within_s=30.0)
        await hand.press("enter")
        assert "Writing the report" not in hand.words()

    monkeypatch.setattr("sandlab.lab.report.shift_paper", refused)
    shift_lab.close()
    play(story, shift_lab.folder, size=(120, 40), clock=lambda: TEN)
