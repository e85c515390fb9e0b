"""The sheet: look at earlier samples, correct one value with a reason, take one back."""

from __future__ import annotations

from pathlib import Path

from sandlab.lab.correcting import correct, remark
from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play


async def to_compactability(hand: Hand) -> None:
    """Open the sheet and put the cursor on the newest compactability."""
    await hand.press("f8")
    for _ in range(20):
        if hand.words().split("Esc")[0].rpartition("Compactability of")[1]:
            return
        await hand.press("right")
    raise AssertionError(hand.text())


def revisions(folder: Path) -> list[tuple[int, float | None, str, str]]:
    """Number, value, who and why of every revision of the newest compactability."""
    with lab_of(folder) as lab:
        tables = (lab.store.revisions(one.sample, "compactability") for one in sheet(lab).samples)
        rows = next(table for table in tables if table.height).iter_rows(named=True)
        return [(row["revision"], row["value"], row["by"], row["reason"]) for row in rows]


def test_a_value_is_corrected_with_a_reason(plant: Path, clock: Clock) -> None:
    """Both values stay; the sheet shows the new one with a stroke."""

    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        await hand.type("43")
        await hand.press("enter", "enter")
        assert "Why? The reason is kept with both values." in hand.words(), "an empty reason is not taken"
        await hand.type("read the wrong scale")
        await hand.press("enter")
        assert "Corrected by AK: sample of 12:07, logged by" in hand.words()
        await hand.press("enter")
        assert "43'•" in hand.text()
        assert "then 43 by AK: read the wrong scale" in hand.words()

    play(story, plant, clock=clock)
    first, second = revisions(plant)
    assert first[1] != 43.0
    assert second == (1, 43.0, "AK", "read the wrong scale")


def test_a_value_that_is_shown_rounded_is_told_as_typed(plant: Path, clock: Clock) -> None:
    """41.5 stands as 42 in the sheet; who corrects it must see what is really saved."""

    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        await hand.type("41,5")
        await hand.press("enter")
        await hand.type("read between the lines")
        await hand.press("enter", "enter", "enter")
        assert "It is saved as 41.5 %. The right value:" in hand.words()

    play(story, plant, clock=clock)


def test_letters_are_refused_before_a_reason_is_asked_for(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        await hand.type("4x")
        await hand.press("enter")
        assert "'4x' is not a number" in hand.words()
        assert "Why?" not in hand.words()

    play(story, plant, clock=clock)
    assert len(revisions(plant)) == 1


def test_a_value_is_taken_back(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("f7")
        await hand.type("specimen fell")
        await hand.press("enter", "enter")
        assert "then void by AK: specimen fell; Enter adds a late value" in hand.words()

    play(story, plant, clock=clock)
    assert revisions(plant)[-1] == (1, None, "AK", "specimen fell")


def test_a_doubtful_correction_is_asked_about(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        await hand.type("70")
        await hand.press("enter")
        await hand.type("so it was")
        await hand.press("enter")
        assert "Is this really the right value?" in hand.words()
        await hand.press("f6")
        assert "Corrected by AK" in hand.text()

    play(story, plant, clock=clock)
    assert revisions(plant)[-1][1] == 70.0


def test_a_correction_of_what_somebody_else_corrected_meanwhile_is_refused(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        with lab_of(plant) as lab:
            sample = next(
                one
                for one in sheet(lab).samples
                if any(result.property == "compactability" for result in one.results)
            )
            correct(
                lab,
                sample=sample.sample,
                property="compactability",
                text="40",
                by="RM",
                reason="typing error",
            )
        await hand.type("43")
        await hand.press("enter")
        await hand.type("read the wrong scale")
        await hand.press("enter")
        assert "Not changed" in hand.text()

    play(story, plant, clock=clock)
    assert revisions(plant)[-1] == (1, 40.0, "RM", "typing error")


def test_additions_are_worked_out_from_a_correction(plant: Path, clock: Clock) -> None:
    """The key that the box offers does what it says, and leads back to the sheet."""

    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        await hand.press("enter")
        await hand.type("43")
        await hand.press("enter")
        await hand.type("wrong scale")
        await hand.press("enter", "f7")
        assert "Additions for the next batches" in hand.words()
        await hand.press("escape")
        assert "F6 Correct" in hand.text()

    play(story, plant, clock=clock)


def test_note_and_remarks_are_all_in_view(plant: Path, clock: Clock) -> None:
    """Words that need more lines than usual take them from the rows above."""
    with lab_of(plant) as lab:
        newest = next(
            one
            for one in sheet(lab).samples
            if any(each.property == "compactability" for each in one.results)
        )
        for text in ("first " * 20, "second " * 12):
            remark(lab, sample=newest.sample, property="compactability", text=text.strip(), by="SK")

    async def story(hand: Hand) -> None:
        await to_compactability(hand)
        assert "first " * 20 in hand.words()
        assert ("second " * 12).strip() in hand.words()
        lines = hand.text().split("\n")
        assert lines[-1].startswith(" Esc Form")
        await hand.press(*["down"] * 30)
        assert "Compactability of" in hand.words()

    play(story, plant, clock=clock)
