"""Instruments heard over a pseudo-terminal, a loopback socket and a folder."""

from __future__ import annotations

import fcntl
import json
import os
import termios
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sandlab.exchange.instruments import Journal
from sandlab.specs import Instrument, Specs
from tests.exchange.instrument_bench import FarEnd, Gateway, listening, until

LINES = ("CB {compactability} %", "GCS {green_compression_strength} N/cm2", "W {specimen_weight} g")


def described(connection: str, port: str, **more: Any) -> Instrument:
    """A strength tester that also weighs."""
    units = {"green_compression_strength": "N/cm2"}
    return Instrument.model_validate(
        {"label": "Tester", "connection": connection, "port": port, "lines": LINES, "units": units} | more
    )


def heard(folder: Path) -> list[tuple[str, float]]:
    """Everything that waits to be taken."""
    return [(one.name, one.value) for reading in Journal(folder).waiting() for one in reading.values]


def unread(folder: Path) -> list[dict[str, str]]:
    """The log of lines that were not read."""
    path = folder / "instruments" / "unread.jsonl"
    return (
        [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []
    )


def test_lines_of_a_serial_port_become_readings(tmp_path: Path, specs: Specs) -> None:
    """In pieces, with either line end, converted (1 N/cm2 is 10 kPa by definition)."""
    far = FarEnd()
    with listening(described("serial", far.port), specs, tmp_path) as listener:
        until(lambda: listener.state.connected)
        far.send(b"CB 4")
        far.send(b"2 %\r\nGCS  16,5 N/cm2\rW\t149.8 g\n")
        until(lambda: len(heard(tmp_path)) == 3)
        assert heard(tmp_path) == [
            ("compactability", 42.0),
            ("green_compression_strength", pytest.approx(165.0)),
            ("specimen_weight", 149.8),
        ]
    os.close(far.handle)


def test_a_serial_line_is_set_as_described_and_opened_for_reading_alone(tmp_path: Path, specs: Specs) -> None:
    """Speed, bits, parity as the kernel reports them; the handle that reads cannot write."""
    far = FarEnd()
    instrument = described("serial", far.port, baud=2400, bits=7, parity="even", stop=2)
    with listening(instrument, specs, tmp_path) as listener:
        until(lambda: listener.state.connected)
        near = os.open(far.port, os.O_RDONLY | os.O_NOCTTY)
        flags = termios.tcgetattr(near)
        os.close(near)
        assert flags[4] == flags[5] == termios.B2400
        assert flags[3] & (termios.ECHO | termios.ICANON) == 0
        opened = [
            fcntl.fcntl(int(link.name), fcntl.F_GETFL) & os.O_ACCMODE
            for link in Path("/proc/self/fd").iterdir()
            if link.is_symlink() and str(link.readlink()) == far.port
        ]
        assert opened == [os.O_RDONLY]
    os.close(far.handle)


def test_a_line_lost_says_since_when_and_is_taken_up_again(tmp_path: Path, specs: Specs) -> None:
    """A gateway that hangs up, then comes back; nothing is ever sent to it."""
    gateway = Gateway()
    with listening(described("tcp", gateway.port), specs, tmp_path) as listener:
        until(lambda: listener.state.connected and len(gateway.callers) == 1)
        gateway.send(b"CB 42 %\n")
        until(lambda: len(heard(tmp_path)) == 1)
        before = datetime.now(UTC)
        gateway.hang_up()
        until(lambda: len(gateway.callers) == 2 and listener.state.connected)
        gateway.send(b"CB 43 %\n")
        until(lambda: len(heard(tmp_path)) == 2)
        gateway.close()
        until(lambda: not listener.state.connected)
        state = Journal(tmp_path).states()["tester"]
        assert not state.connected
        assert state.since >= before
        assert state.why
        assert state.heard == 2
    assert not gateway.received


def test_while_it_stays_lost_the_time_does_not_move(tmp_path: Path, specs: Specs) -> None:
    """Tried again and again, but lost since the first time."""
    far = FarEnd()
    times = iter(datetime(2026, 3, 4, tzinfo=UTC) + timedelta(seconds=second) for second in range(10_000))
    with listening(described("serial", far.port), specs, tmp_path, clock=lambda: next(times)) as listener:
        until(lambda: listener.state.connected)
        far.hang_up()
        until(lambda: not listener.state.connected)
        lost = listener.state.since
        until(lambda: listener.state.why.startswith("No such") or listener.state.since > lost)
        assert listener.state.since == lost


def test_repeats_are_counted_and_garbage_is_kept_with_the_reason(tmp_path: Path, specs: Specs) -> None:
    """The same line twice is one reading; noise, the impossible and lines without end go to the log."""
    far = FarEnd()
    with listening(described("serial", far.port, repeat_s=60.0, ignore=["OK"]), specs, tmp_path) as listener:
        until(lambda: listener.state.connected)
        far.send(b"CB 42 %\nCB 42 %\nOK ready\n\xff\x00\x07rubbish\nCB 4.2.1 %\nGCS 99 N/cm2\n")
        until(lambda: listener.state.unread == 3)
        far.send(b"x" * 600)
        until(lambda: listener.state.unread == 4)
        far.send(b"\nCB 41 %\n")
        until(lambda: listener.state.heard == 2)
        assert listener.state.repeated == 1
    assert heard(tmp_path) == [("compactability", 42.0), ("compactability", 41.0)]
    reasons = [one["why"] for one in unread(tmp_path)]
    assert reasons[0] == reasons[1] == "it looks like none of the instrument's lines"
    assert "cannot be 99" in reasons[2]
    assert "characters" in reasons[3]
    os.close(far.handle)


def test_files_are_taken_once_and_kept(tmp_path: Path, specs: Specs) -> None:
    """A good one goes among those done, a bad one is set aside with a note, a name may come again."""
    folder = tmp_path / "drop"
    folder.mkdir()
    with listening(described("folder", "drop"), specs, tmp_path) as listener:
        (folder / "a.txt").write_bytes("CB 42 %\r\n\r\nW 149,8 g\r\n".encode("utf-16"))
        until(lambda: (folder / "done" / "a.txt").exists())
        assert heard(tmp_path) == [("compactability", 42.0), ("specimen_weight", 149.8)]
        (folder / "bad.txt").write_text("CB 44 %\nERROR 7\n", encoding="utf-8")
        (folder / "empty.txt").write_text("", encoding="utf-8")
        (folder / "a.txt").write_text("CB 45 %\n", encoding="utf-8")
        until(lambda: (folder / "done" / "a_2.txt").exists())
        until(lambda: (folder / "set_aside" / "empty.txt.note").exists())
        until(lambda: (folder / "set_aside" / "bad.txt.note").exists())
        assert listener.state.connected
    note = (folder / "set_aside" / "bad.txt.note").read_text(encoding="utf-8")
    assert note.startswith("ERROR 7: it looks like none")
    assert sorted(heard(tmp_path))[:3] == [
        ("compactability", 42.0),
        ("compactability", 44.0),
        ("compactability", 45.0),
    ]
    assert not [path for path in folder.iterdir() if path.is_file()]


def test_a_folder_that_goes_away_is_lost(tmp_path: Path, specs: Specs) -> None:
    """And found again when it comes back."""
    with listening(described("folder", "drop"), specs, tmp_path) as listener:
        until(lambda: listener.state.why == "No such file or directory")
        (tmp_path / "drop").mkdir()
        until(lambda: listener.state.connected)


def test_a_reading_taken_is_offered_no_more(tmp_path: Path, specs: Specs) -> None:
    """Also to somebody who reads the journal later; a torn last line is passed over."""
    far = FarEnd()
    with listening(described("serial", far.port), specs, tmp_path) as listener:
        until(lambda: listener.state.connected)
        far.send(b"CB 42 %\nW 150 g\n")
        until(lambda: listener.state.heard == 2)
    os.close(far.handle)
    journal = Journal(tmp_path)
    first = journal.waiting()[0]
    journal.take((first.id,), "KD", datetime.now(UTC))
    with (journal.folder / "readings.jsonl").open("a", encoding="utf-8") as file:
        file.write('{"id": "torn')
    assert heard(tmp_path) == [("specimen_weight", 150.0)]
