"""One key on the overview writes the report of the running shift."""

from __future__ import annotations

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
