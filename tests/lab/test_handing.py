"""Notes for the next shift stay until somebody else has read them."""

from __future__ import annotations

import pytest

from sandlab.errors import InputError
from sandlab.lab.handing import handover, take_over, write_handover
from sandlab.lab.opening import Lab
from tests.lab.conftest import Clock


def test_a_note_is_shown_until_another_person_takes_it_over(lab: Lab, clock: Clock) -> None:
    write_handover(lab, text="Return sand wet since 13:00", by="JV")
    clock.move(minutes=25)
    facts = handover(lab)
    assert facts.unread == 1
    assert facts.words == "1 handover note not read yet."
    assert facts.notes[0].words == "written 08:05 by JV, unread for 25 min"
    with pytest.raises(InputError, match="the only unread note is your own; it stays until somebody else"):
        take_over(lab, by="jv")
    read = take_over(lab, by="SK")
    assert read.unread == 0
    assert read.notes[0].words == "written 08:05 by JV, read 08:30 by SK"


def test_the_first_reader_counts_and_nothing_is_left_to_read_twice(lab: Lab, clock: Clock) -> None:
    write_handover(lab, text="one", by="JV")
    clock.move(minutes=1)
    write_handover(lab, text="two", by="AK")
    take_over(lab, by="SK")
    with pytest.raises(InputError, match="every note has been read"):
        take_over(lab, by="MO")
    assert [one.read_by for one in handover(lab).notes] == ["SK", "SK"]
    assert [one.text for one in handover(lab).notes] == ["two", "one"]


def test_a_note_needs_a_text_and_initials_told_at_once(lab: Lab) -> None:
    with pytest.raises(InputError) as refused:
        write_handover(lab, text="  ", by="")
    assert [one.where for one in refused.value.problems] == ["handover note", "technician"]
    with pytest.raises(InputError, match="has 501 characters, at most 500"):
        write_handover(lab, text="x" * 501, by="JV")


def test_two_readers_at_once_leave_the_first_as_reader(lab: Lab, clock: Clock) -> None:
    """Reading twice is harmless: two terminals may both answer."""
    note = write_handover(lab, text="one", by="JV").notes[0].note
    take_over(lab, by="SK")
    clock.move(minutes=3)
    from sandlab.records import NoteRead

    now = lab.now()
    late = NoteRead(id=lab.new_id(), system=lab.system, at=now, by="MO", recorded_at=now, note=note)
    lab.store.save([late])
    assert handover(lab).notes[0].read_by == "SK"


def test_there_are_no_notes_at_first(lab: Lab) -> None:
    assert handover(lab).words == "No handover note has been written yet."
