"""From the computed additions to the muller: release, acknowledge, override, hold, and data that stops."""

from __future__ import annotations

import time
from datetime import timedelta
from pathlib import Path

import pytest

from sandlab.errors import Problem, StoreError
from sandlab.lab.advising import advise, muller, release
from sandlab.records import Batch
from sandlab.screens.desk import Changed
from sandlab.screens.number_field import NumberField
from tests.lab.conftest import Clock
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play


async def log_good_set(hand: Hand) -> None:
    """A set without anything to react to."""
    for value in ("41", "3.3", "160", "110", "152", "33"):
        await hand.type(value)
        await hand.press("enter")
    await hand.press("enter")


def test_released_shown_and_acknowledged(plant: Path, clock: Clock) -> None:
    """One key works the additions out, one releases them, one acknowledges them at the muller."""

    async def story(hand: Hand) -> None:
        await log_good_set(hand)
        await hand.press("f7")
        assert "Additions for the next batches" in hand.text()
        assert "Advice to a trained person" in hand.text()
        await hand.press(*["down"] * 30)
        assert "It rests on" in hand.text()
        await hand.press("f6")
        assert "Released. The muller screen says" in hand.words()
        await hand.press("f4")
        assert "released by AK; not set yet: F6" in hand.words()
        assert "Advice to a trained person" in hand.words()
        await hand.press("f6")
        assert "set by AK at 13:07" in hand.words()
        await hand.press("f6")
        assert "It is acknowledged already." in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        facts = muller(lab)
    assert (facts.released_by, facts.acknowledged_by) == ("AK", "AK")


def test_the_operator_runs_other_kilograms(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f4", "f7")
        assert "Which kilograms do you run, and why?" in hand.text()
        await hand.press("enter")
        await hand.type("7,5")
        await hand.press("down", "down", "down", "enter")
        assert "reason: is empty" in hand.words()
        await hand.type("feeder sticks")
        await hand.press("enter")
        assert "Set otherwise by RM: feeder sticks" in hand.words()

    play(story, plant, clock=clock, technician="RM")
    with lab_of(plant) as lab:
        facts = muller(lab)
    assert facts.overridden_by == "RM"
    assert 7.5 in {one.kg for one in facts.additions}


def test_a_batch_is_logged_as_shown_by_one_key_twice_or_as_typed(plant: Path, clock: Clock) -> None:
    """The first as shown, the second with other bentonite."""

    async def story(hand: Hand) -> None:
        await hand.press("f4", "f8")
        assert "What went into this batch?" in hand.words()
        await hand.press("f8")
        assert "is logged." in hand.words()
        clock.move(minutes=2)
        await hand.press("f8", "enter")
        await hand.type("7,5")
        await hand.press("f8")
        await hand.press("f8")
        await hand.type("9000")
        await hand.press("f8")
        assert "9000 kg is impossible" in hand.words()

    play(story, plant, clock=clock, technician="RM")
    with lab_of(plant) as lab:
        shown = {one.feeder: one.kg for one in muller(lab).additions}
        first, second = lab.store.records(Batch, lab.system, last=2)
    assert first.added_kg == shown and first.by == "RM"
    assert second.added_kg == shown | {list(shown)[1]: 7.5} and second.number == first.number + 1


def test_impossible_kilograms_are_refused(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f4", "f7")
        await hand.type("9000")
        await hand.press(*["down"] * 4)
        await hand.type("more")
        await hand.press("enter")
        assert "9000 kg is impossible" in hand.words()
        await hand.press("enter")
        assert "9000" in hand.words() and "more" in hand.words(), "what was typed stands there again"
        await hand.press("ctrl+u")
        await hand.type("21,5")
        await hand.press(*["down"] * 4, "enter")
        assert "Set otherwise by AK: more" in hand.words()
        assert "set otherwise by AK" in hand.words() and "not set yet" not in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        assert {one.feeder: one.kg for one in muller(lab).additions}["water"] == 21.5


def test_the_cursor_stands_on_the_kilograms_that_were_refused(plant: Path, clock: Clock) -> None:
    """In the box that reads them wrong, and in the box that asks again after the feeder's limit."""

    async def story(hand: Hand) -> None:
        await hand.press("f4", "f8", "down", "down")
        await hand.type("2x")
        await hand.press("up", "f8")
        assert "'2x' is not a number" in hand.words()
        third = hand.app.focused
        assert isinstance(third, NumberField) and third.value == "2x"
        await hand.press("ctrl+u")
        await hand.type("9000")
        await hand.press("up", "up", "f8", "enter")
        again = hand.app.focused
        assert isinstance(again, NumberField) and again.value == "9000"
        assert again.id == third.id

    play(story, plant, clock=clock)


def test_a_release_that_came_meanwhile_is_not_answered_unread(plant: Path, clock: Clock) -> None:
    """The box showed other kilograms; blank fields would have kept those of the new release."""

    async def story(hand: Hand) -> None:
        await hand.press("f4", "f7")
        with lab_of(plant, NOW + timedelta(seconds=1)) as lab:
            release(lab, recommendation=advise(lab, by="TB").recommendation, by="TB")
        clock.move(minutes=1)
        await hand.type("21,5")
        await hand.press(*["down"] * 4)
        await hand.type("wet")
        await hand.press("enter")
        assert "release: new additions were released at 13:07 by TB." in hand.words()
        await hand.press("enter")
        assert "21,5" in hand.words()
        await hand.press("escape")
        await hand.until("released by TB", within_s=10.0)
        await hand.press("f6")
        assert "set by AK" in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        facts = muller(lab)
        assert (facts.released_by, facts.acknowledged_by, facts.overridden_by) == ("TB", "AK", "")


def test_past_a_reaction_limit_the_muller_says_hold_and_whom_to_call(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("30")
        await hand.press(*["enter"] * 7)
        assert "the muller screen says HOLD" in hand.words()
        await hand.press("enter", "f4")
        assert "CALL Foundry engineer on call 4417" in " ".join(hand.text().replace("█", " ").split())
        assert "Compactability 30 % is below the reaction limit 34 %" in hand.words()

    play(story, plant, clock=clock)


@pytest.mark.parametrize("size", [(80, 24), (120, 38), (142, 38), (160, 50)])
def test_why_it_says_check_is_never_cut_away(plant: Path, clock: Clock, size: tuple[int, int]) -> None:
    """Nor is whose decision it is; other sentences give way to the digits."""

    async def story(hand: Hand) -> None:
        await hand.press("f4")
        assert "Hold carbon, because no test of volatiles: test again before changing." in hand.words()
        assert "Advice to a trained person, who decides under the site's rules" in hand.words()

    play(story, plant, clock=clock, size=size)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_release_made_elsewhere_shows_by_itself(plant: Path, clock: Clock, size: tuple[int, int]) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f4")
        assert "released by JV" in hand.words()
        for second, by in enumerate(("TB", "SK", "MO"), start=1):
            with lab_of(plant, NOW + timedelta(seconds=second)) as lab:
                release(lab, recommendation=advise(lab, by=by).recommendation, by=by)
            await hand.until(f"released by {by}", within_s=10.0)

    play(story, plant, clock=clock, size=size)


def test_data_that_stops_is_said_since_when(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And it says no more once the records can be read again."""

    async def story(hand: Hand) -> None:
        await hand.press("f4")
        await hand.until("records read 13:07:00", within_s=5.0)
        lab = hand.app.desk._lab
        assert lab is not None
        with monkeypatch.context() as patch:
            patch.setattr(type(lab.store), "change_number", broken)
            hand.app.desk.beat = time.monotonic() - 10.0
            await hand.until("NO DATA since 13:07:00", within_s=5.0)
        await hand.until("records read 13:07:00", within_s=5.0)

    play(story, plant, clock=clock)


def test_a_file_of_records_that_is_gone_is_no_data(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its open connections would go on reading the lost file as if it were in force."""
    monkeypatch.setattr("sandlab.screens.muller_screen.SILENT_AFTER_S", 0.5)
    file, gone = plant / "sandlab.sqlite", plant / "moved.sqlite"

    async def story(hand: Hand) -> None:
        await hand.press("f4")
        await hand.until("records read 13:07:00", within_s=5.0)
        file.rename(gone)
        await hand.until("NO DATA since 13:07:00", within_s=10.0)
        gone.rename(file)
        await hand.until("records read 13:07:00", within_s=10.0)

    play(story, plant, clock=clock)


def test_facts_that_cannot_be_fetched_are_said_without_covering_the_kilograms(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f4")
        await hand.until("records read 13:07:00", within_s=5.0)
        monkeypatch.setattr("sandlab.screens.muller_screen.muller", broken)
        hand.app.post_message(Changed())
        await hand.until("NO DATA since 13:07:00", within_s=5.0)
        assert "What is shown may be out of date. the drive: it is gone" in hand.words()
        assert "Water, kg" in hand.text()

    play(story, plant, clock=clock)


def broken(_what: object) -> int:
    """Reading fails."""
    raise StoreError(Problem("the drive", "it is gone", "look at the cable"))


def test_nothing_released_says_what_comes_first(empty: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f4")
        assert "No additions are released." in hand.text()
        assert "A technician works them out (F2, then F7) and releases them." in hand.words()
        await hand.press("f6")
        assert "Nothing is released yet" in hand.words()

    play(story, empty, clock=clock)
    with lab_of(empty, NOW) as lab:
        assert muller(lab).release is None
