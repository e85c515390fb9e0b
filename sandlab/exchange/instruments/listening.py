"""One instrument listened to in a thread of its own: lines in, readings and states into the journal."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from sandlab.errors import ImportRefused
from sandlab.exchange.instruments.folder import WatchedFolder, why
from sandlab.exchange.instruments.journal import Heard, Journal, LineState
from sandlab.exchange.instruments.pattern import Unread, values_in
from sandlab.exchange.instruments.wires import chunks
from sandlab.specs import Instrument, Specs

AGAIN_S = 3.0
LOOK_S = 0.5
LONGEST_LINE = 500


class Listener:
    """Listens until it is stopped; a lost line is tried again and again."""

    def __init__(
        self,
        key: str,
        instrument: Instrument,
        specs: Specs,
        system: str,
        journal: Journal,
        *,
        folder: Path,
        clock: Callable[[], datetime],
        new_id: Callable[[], str],
        again_s: float = AGAIN_S,
    ) -> None:
        self.key, self.instrument, self.specs, self.system = key, instrument, specs, system
        self.journal, self.clock, self.new_id, self.again_s = journal, clock, new_id, again_s
        self.folder = folder / instrument.port
        self.state = LineState(key, False, clock(), "not opened yet")
        self._last: tuple[str, datetime] | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"instrument {key}", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self.journal.changed(self.state)
        self._thread.start()

    def stop(self, wait_s: float = 2.0) -> None:
        """End, and wait for the thread a little."""
        self._stop.set()
        self._thread.join(wait_s)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._watch() if self.instrument.connection == "folder" else self._listen()
            except OSError as error:
                self._lost(str(error.strerror or error))
            except Exception as error:  # a fault here must not end the readings for good
                self._lost(f"{type(error).__name__}: {error}")
            self._stop.wait(self.again_s)

    def _listen(self) -> None:
        held = b""
        for chunk in chunks(self.instrument, self._stop.is_set, self._connected):
            held = (held + chunk).replace(b"\r", b"\n")
            *lines, held = held.split(b"\n")
            for line in lines:
                self._line(line.decode("cp1252", errors="replace"))
            if len(held) > LONGEST_LINE:
                self._unread(held.decode("cp1252", errors="replace"), "no line has that many characters")
                held = b""

    def _watch(self) -> None:
        watched = WatchedFolder(self.folder)
        while not self._stop.is_set():
            ready = list(watched.ready())
            if not self.state.connected:
                self._connected()
            for path in ready:
                self._file(watched, path)
            self._stop.wait(LOOK_S)

    def _file(self, watched: WatchedFolder, path: Path) -> None:
        """Read a file; when a line of it cannot be read it is set aside, the lines that can are kept."""
        try:
            lines = watched.lines(path)
        except (OSError, ImportRefused) as error:
            self._unread(path.name, why(error))
            watched.set_aside(path, why(error))
            return
        wrong = [said for line in lines if (said := self._line(line, file=path.name))]
        if wrong or not lines:
            note = "\n".join(wrong) or "the file is empty"
            watched.set_aside(path, note)
        else:
            watched.keep(path)

    def _line(self, text: str, *, file: str = "") -> str:
        """Read one line; the reason when it cannot be read."""
        line = "".join(letter if letter.isprintable() else " " for letter in text).strip()
        if not line or line.startswith(self.instrument.ignore or "\0"):
            return ""
        now = self.clock()
        if self._repeats(line, now) and not file:
            self._change(repeated=self.state.repeated + 1)
            return ""
        try:
            values = values_in(line, self.instrument, self.specs, self.system)
        except Unread as error:
            self._unread(line, str(error))
            return f"{line}: {error}"
        self._last = (line, now)
        self.journal.hear(Heard(self.new_id(), self.key, now, line, values, file))
        self._change(heard_at=now, line=line, heard=self.state.heard + 1)
        return ""

    def _repeats(self, line: str, now: datetime) -> bool:
        if self._last is None or self._last[0] != line:
            return False
        return abs((now - self._last[1]).total_seconds()) <= self.instrument.repeat_s

    def _unread(self, line: str, reason: str) -> None:
        self.journal.unread(self.key, line, reason, self.clock())
        self._change(unread=self.state.unread + 1)

    def _connected(self) -> None:
        self._change(connected=True, since=self.clock(), why="")

    def _lost(self, reason: str) -> None:
        """Say that the line is lost; while it stays so, since when is not moved."""
        since = self.clock() if self.state.connected else self.state.since
        if self.state.connected or self.state.why != reason:
            self._change(connected=False, since=since, why=reason)

    def _change(self, **changes: object) -> None:
        self.state = replace(self.state, **changes)  # type: ignore[arg-type]
        self.journal.changed(self.state)
