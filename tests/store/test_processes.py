"""Several processes and threads use one file, and one of them may die at any moment."""

from __future__ import annotations

import random
import shutil
import signal
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from sandlab.errors import StoreError
from sandlab.records import Event
from sandlab.store import Store, open_store
from tests.store import child
from tests.store.examples import SYSTEM, TEXTS, hours, make, sample

ROUNDS = 5
EACH = 40


def test_three_writers_lose_nothing_while_a_reader_looks_on(path: Path) -> None:
    """All saves succeed, and the reader sees the change number move and whole samples only."""
    open_store(path).close()
    writers = [child.start("write", path, str(EACH)) for _ in range(3)]
    reader = open_store(path, readonly=True)
    numbers = [reader.change_number()]
    while any(writer.poll() is None for writer in writers):
        number = reader.change_number()
        if number != numbers[-1]:
            numbers.append(number)
            assert all(len(one.results) == 2 for one in reader.samples(SYSTEM, last=20))
        time.sleep(0.005)
    printed = [line for writer in writers for line in writer.communicate()[0].split()]
    assert [writer.returncode for writer in writers] == [0, 0, 0]
    assert len(printed) == 3 * EACH
    assert {one.id for one in reader.samples(SYSTEM)} == set(printed)
    assert len(numbers) > 2, "it moved while they wrote; how often it was seen depends on the machine"
    reader.close()


def test_threads_of_one_process_save_and_read_at_once(file_store: Store) -> None:
    """A worker may save while the screen reads."""
    file_store.save([], specs_texts=TEXTS)

    def save_and_look(number: int) -> int:
        file_store.save([sample(at=hours(number))])
        return file_store.results(SYSTEM, "moisture").height

    with ThreadPoolExecutor(6) as pool:
        seen = list(pool.map(save_and_look, range(30)))
    assert max(seen) == 30
    assert min(seen) >= 1


def test_the_change_number_moves_with_every_save_and_rests_otherwise(store: Store, place: str) -> None:
    """Whoever saves: this store or another one."""
    other = open_store(place)
    seen = store.change_number()
    assert store.change_number() == seen
    for saver in (store, other):
        saver.save([make(Event, text="note")])
        assert store.change_number() != seen
        seen = store.change_number()
    store.records(Event, SYSTEM)
    assert store.change_number() == seen
    other.close()


def test_what_was_acknowledged_survives_a_kill(path: Path) -> None:
    """A child prints each id when its save has returned, and is killed somewhere in one of the next saves."""
    draw, acknowledged, waited_for = random.Random(6), set[str](), 0
    for _ in range(ROUNDS):
        writer = child.start("write", path, "100000")
        assert writer.stdout is not None
        saves = draw.randint(4, 9)
        acknowledged.update(writer.stdout.readline().strip() for _ in range(saves - 1))
        before = time.monotonic()
        acknowledged.add(writer.stdout.readline().strip())
        # As long as a save took, so that the kill falls anywhere in one however slow the machine is.
        time.sleep(draw.random() * (time.monotonic() - before))
        waited_for += saves
        writer.send_signal(signal.SIGKILL)
        # What a killed process had in its pipe counts as well; a cut line does not.
        lines = writer.communicate()[0].split("\n")[:-1]
        acknowledged.update(lines)
        store = open_store(path)
        assert acknowledged <= {one.id for one in store.samples(SYSTEM)}
        assert all(len(one.results) == 2 for one in store.samples(SYSTEM))
        store.close()
    assert len(acknowledged) >= waited_for
    raw = sqlite3.connect(path)
    assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    raw.close()


def test_a_save_cut_short_is_cleared_away(file_store: Store, path: Path, tmp_path: Path) -> None:
    """File and journal as a crash in the middle of writing leaves them: what was saved before is intact."""
    kept = sample()
    file_store.save([kept], specs_texts=TEXTS)
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA cache_size = 1")
    raw.execute("BEGIN IMMEDIATE")
    rows = [(f"hash {number}", "x" * 3000) for number in range(200)]
    raw.executemany("INSERT INTO specs VALUES (?, ?)", rows)
    crashed = tmp_path / "crashed.sqlite"
    shutil.copy(path, crashed)
    shutil.copy(f"{path}-journal", f"{crashed}-journal")
    raw.execute("ROLLBACK")
    raw.close()
    assert crashed.stat().st_size > path.stat().st_size
    with pytest.raises(StoreError, match=r"the last save was cut short.*open it once for writing"):
        open_store(crashed, readonly=True)
    store = open_store(crashed)
    assert store.samples(SYSTEM) == (kept,)
    assert store.specs_text("hash 0") is None
    store.close()
    open_store(crashed, readonly=True).close()
