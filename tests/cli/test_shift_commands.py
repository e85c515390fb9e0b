"""The commands of a shift: notes, steps of the plan, remarks, a result explained, the sheet of a day."""

from __future__ import annotations

from tests.cli.test_commands import Run, answer, run

__all__ = ["run"]


def logged(run: Run) -> str:
    """A sample past a reaction limit."""
    words = ("record", "compactability=30", "specimen_weight=153", "--by", "JV")
    sample: dict[str, str] = answer(run, *words)["sample"]  # type: ignore[assignment]
    return sample["sample"]


def test_notes_are_written_read_and_shown(run: Run) -> None:
    assert answer(run, "handover", "--write", "belt wet", "--by", "JV")["unread"] == 1
    code, out, _ = run("handover")
    assert code == 0
    assert "UNREAD  belt wet" in out
    code, _, err = run("handover", "--read", "--by", "JV")
    assert code == 1
    assert "the only unread note is your own; it stays until somebody else has read it" in err
    assert answer(run, "handover", "--read", "--by", "SK")["unread"] == 0
    assert "Every handover note has been read." in run("handover")[1]


def test_a_step_is_done_by_its_number(run: Run) -> None:
    logged(run)
    assert answer(run, "steps")["open"] == 3
    code, _, err = run("steps", "--done", "9", "--by", "AK")
    assert code == 1
    assert "there is no step 9; run: sandlab steps" in err
    done = answer(run, "steps", "--done", "2", "--by", "AK", "--found", "meter stuck")
    assert done["open"] == 2
    assert "done" in run("steps")[1]
    assert "by AK: meter stuck" in run("steps")[1]


def test_a_remark_and_an_explanation(run: Run) -> None:
    sample = logged(run)
    facts = answer(run, "remark", sample, "tube dirty", "--property", "compactability", "--by", "AK")
    assert [one["text"] for one in facts["comments"]] == ["tube dirty"]  # type: ignore[attr-defined]
    assert "remark by AK: compactability: tube dirty" in run("sheet")[1]
    found = answer(run, "explain", sample, "bulk_density")["results"]
    assert [one["agrees"] for one in found] == [True]  # type: ignore[attr-defined]
    out = run("explain", sample)[1]
    assert "typed as the instrument showed it" in out
    assert "formula bulk_density" in out
    assert "Specimen weight" in out


def test_the_sheet_of_a_day(run: Run) -> None:
    logged(run)
    words = str(answer(run, "sheet", "--day", "today")["words"])
    assert words.startswith("Today, ")
    assert "1 sample by JV" in words
    assert str(answer(run, "sheet", "--day", "yesterday")["words"]).endswith("no sample.")
    assert answer(run, "sheet", "--day", "2026-03-04")["samples"] == []
    code, _, err = run("sheet", "--day", "thursday")
    assert code == 1
    assert "'thursday' is not a day; write today, yesterday or for example 2026-03-04" in err


def test_a_sample_of_long_ago_is_asked_about(run: Run) -> None:
    words = ("record", "compactability=42", "--by", "JV", "--at", "2020-03-04T14:05")
    code, _, err = run(*words)
    assert code == 1
    assert "confirm with: --confirm taken_at" in err
    assert run(*words, "--confirm", "taken_at")[0] == 0
