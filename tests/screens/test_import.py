"""A file taken in from the screen: seen first, saved after one more key, broken off without a trace."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from sandlab.exchange import Tell, quiet
from sandlab.records import AnyRecord, Sample
from sandlab.store import Store
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play

TABLE = "Date,Time,CB [%],Moist. [%]\n2026-02-27,06:00,42,3.2\n2026-02-27,07:00,4O,3.3\n"


def recorded(folder: Path) -> int:
    """How many samples there are."""
    with lab_of(folder) as lab:
        return len(lab.store.records(Sample, lab.system))


def test_a_file_is_shown_first_and_saved_after_one_more_key(empty: Path, tmp_path: Path) -> None:
    """What it would add, how it was understood, what is refused; F6 saves, and the screen says so."""
    file = tmp_path / "february.csv"
    file.write_text(TABLE, encoding="utf-8")

    async def story(hand: Hand) -> None:
        await hand.press("ctrl+f")
        assert "Take in a file" in hand.text()
        assert "Enter See what it would add PgDn Page" in hand.words()
        await hand.type(str(file))
        await hand.press("enter")
        assert "2 samples would be added" in hand.words()
        assert "F6 saves it without the 1 place that is refused" in hand.words()
        assert "february.toml" in hand.words()
        await hand.press("pagedown", "pagedown")
        assert "'4O' is not a number" in hand.words()
        assert recorded(empty) == 0
        await hand.press("f6")
        assert "2 samples added, 0 known already" in hand.text()
        assert recorded(empty) == 2

    play(story, empty, clock=lambda: NOW)


def test_what_cannot_be_read_is_said_in_place(empty: Path, tmp_path: Path) -> None:
    """The name stays to be corrected; F6 has nothing to save."""

    async def story(hand: Hand) -> None:
        await hand.press("ctrl+f")
        await hand.type(str(tmp_path / "nothing.xlsx"))
        await hand.press("enter", "f6")
        assert "there is no such file" in hand.words()
        assert "nothing.xlsx" in hand.words()
        await hand.press("escape")
        assert "Take in a file" not in hand.text()

    play(story, empty, clock=lambda: NOW)


def test_a_long_file_says_how_far_it_is_and_can_be_broken_off(
    empty: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Esc ends it at its next step; nothing is saved, and the box stays for another try."""

    def endless(_lab: object, _path: Path, *, by: str, tell: Tell) -> None:
        while by:
            tell("reading rows", 1, 2)
            time.sleep(0.01)

    monkeypatch.setattr("sandlab.screens.import_box.prepare", endless)

    async def story(hand: Hand) -> None:
        await hand.press("ctrl+f")
        await hand.type("february.csv")
        hand._post("enter", None)
        await hand.until("reading rows 50%; Esc breaks it off", within_s=20)
        hand._post("escape", None)
        await hand.until("Broken off; nothing was saved", within_s=20)
        assert "Take in a file" in hand.text()
        await hand.press("escape")
        assert "Take in a file" not in hand.text()

    play(story, empty, clock=lambda: NOW)


def test_saving_says_how_far_it_is_and_breaking_it_off_takes_all_back(
    empty: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Esc while the rows are written; afterwards Enter and F6 save the same file whole."""
    file = tmp_path / "february.csv"
    file.write_text(TABLE, encoding="utf-8")
    save = Store.save

    def slow(self: Store, records: Sequence[AnyRecord], *, tell: Tell = quiet, **options: Any) -> int:
        def told(what: str, done: int, of: int) -> None:
            tell(what, done, of)
            while what == "saving rows" and done == of:
                tell(what, done, of)
                time.sleep(0.01)

        return save(self, records, tell=told, **options)

    async def story(hand: Hand) -> None:
        await hand.press("ctrl+f")
        await hand.type(str(file))
        await hand.press("enter")
        with monkeypatch.context() as patch:
            patch.setattr(Store, "save", slow)
            hand._post("f6", None)
            await hand.until("saving rows 100%; Esc breaks it off", within_s=20)
            hand._post("escape", None)
            await hand.until("Broken off; nothing was saved", within_s=20)
        assert recorded(empty) == 0
        await hand.press("enter", "f6")
        assert recorded(empty) == 2

    play(story, empty, clock=lambda: NOW)
