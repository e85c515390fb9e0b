"""What instruments said, kept in files of the plant folder: readings, lines that were not read, and states.

Readings are proposals, not records: they stand here until a person takes one over into a sample.
"""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path

from sandlab.exchange.instruments.pattern import Named

FOLDER = "instruments"
# Newest readings that are looked at; one is offered for minutes, and no instrument sends so many.
LOOKED_AT_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class Heard:
    """One line read: from which instrument, when, and the values in it."""

    id: str
    instrument: str
    at: datetime
    line: str
    values: tuple[Named, ...]
    file: str = ""


@dataclass(frozen=True, slots=True)
class LineState:
    """How one instrument's line is: since when, why lost, what was heard last."""

    instrument: str
    connected: bool
    since: datetime
    why: str = ""
    heard_at: datetime | None = None
    line: str = ""
    heard: int = 0
    repeated: int = 0
    unread: int = 0


class Journal:
    """The files of one plant; used from several threads."""

    def __init__(self, plant_folder: Path) -> None:
        self.folder = plant_folder / FOLDER
        self._lock = threading.Lock()
        self._states: dict[str, LineState] = {}

    def hear(self, heard: Heard) -> None:
        """Keep a reading."""
        self._append("readings.jsonl", asdict(heard) | {"at": heard.at.isoformat()})

    def take(self, ids: tuple[str, ...], by: str, at: datetime) -> None:
        """Keep who took which readings over."""
        self._append("readings.jsonl", {"taken": list(ids), "by": by, "at": at.isoformat()})

    def unread(self, instrument: str, line: str, why: str, at: datetime) -> None:
        """Keep a line that could not be read, with the reason."""
        said = {"at": at.isoformat(), "instrument": instrument, "line": line[:500], "why": why}
        self._append("unread.jsonl", said)

    def _append(self, name: str, said: Mapping[str, object]) -> None:
        with self._lock:
            self.folder.mkdir(parents=True, exist_ok=True)
            with (self.folder / name).open("a", encoding="utf-8") as file:
                file.write(json.dumps(said, ensure_ascii=False) + "\n")

    def waiting(self) -> list[Heard]:
        """The readings that nobody has taken, oldest first."""
        found: dict[str, Heard] = {}
        for said in self._newest("readings.jsonl"):
            if "taken" in said:
                for id in said["taken"]:  # type: ignore[attr-defined]
                    found.pop(id, None)
            elif isinstance(said.get("id"), str):
                heard = _heard(said)
                found[heard.id] = heard
        return list(found.values())

    def _newest(self, name: str) -> list[dict[str, object]]:
        path = self.folder / name
        try:
            with path.open("rb") as file:
                size = file.seek(0, os.SEEK_END)
                file.seek(max(0, size - LOOKED_AT_BYTES))
                lines = file.read().split(b"\n")[1 if size > LOOKED_AT_BYTES else 0 :]
        except OSError:
            return []
        found = []
        for line in lines:
            try:
                found.append(json.loads(line))
            except ValueError:
                # A line that is only just being written, or was cut off by a stop of the computer.
                continue
        return [said for said in found if isinstance(said, dict)]

    def changed(self, state: LineState) -> None:
        """Keep how a line is now."""
        with self._lock:
            self._states[state.instrument] = state
            said = {name: asdict(one) for name, one in self._states.items()}
            self.folder.mkdir(parents=True, exist_ok=True)
            beside = self.folder / "state.json.new"
            beside.write_text(json.dumps(said, default=datetime.isoformat), encoding="utf-8")
            beside.replace(self.folder / "state.json")

    def states(self) -> dict[str, LineState]:
        """How each line was when it last changed."""
        try:
            said = json.loads((self.folder / "state.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return {name: _state(one) for name, one in said.items()}


def _heard(said: Mapping[str, object]) -> Heard:
    values = said.get("values")
    named = tuple(Named(**one) for one in values) if isinstance(values, list) else ()
    kept = {name: str(said[name]) for name in ("id", "instrument", "line", "file")}
    return Heard(at=datetime.fromisoformat(str(said["at"])), values=named, **kept)


def _state(said: dict[str, object]) -> LineState:
    state = LineState(**said)  # type: ignore[arg-type]
    since, heard_at = datetime.fromisoformat(str(state.since)), state.heard_at
    return replace(
        state, since=since, heard_at=datetime.fromisoformat(str(heard_at)) if heard_at is not None else None
    )
