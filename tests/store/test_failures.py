"""What is wrong with the file or the disk is said with where, what and what to do; what was saved stays."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import event

from sandlab.errors import StoreError
from sandlab.records import Comment, Event
from sandlab.store import Store, engines, open_store
from sandlab.store.places import on_network
from tests.store import child
from tests.store.examples import SYSTEM, TEXTS, hours, make, sample


@pytest.fixture
def filled(path: Path) -> Path:
    """A closed file with a few hundred samples."""
    store = open_store(path)
    store.save([sample(at=hours(number)) for number in range(300)], specs_texts=TEXTS)
    store.close()
    return path


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user can reach, unlike pytest's own."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_a_file_that_is_no_database(path: Path) -> None:
    """A text file under the name of the database is left as it is."""
    path.write_text("time;moisture\n" * 100)
    with pytest.raises(StoreError, match=f"{path}: this file is not a database; look at the path"):
        open_store(path)
    assert path.read_text() == "time;moisture\n" * 100


def test_a_database_of_another_program(path: Path) -> None:
    """No tables are laid beside somebody else's."""
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE meta (key TEXT)")
    raw.commit()
    with pytest.raises(StoreError, match=f"{path}: is a database of another program; look at the path"):
        open_store(path)
    assert raw.execute("SELECT name FROM sqlite_master").fetchall() == [("meta",)]
    raw.close()


def test_a_newer_schema(filled: Path) -> None:
    """A file of a newer version is not written to by an older one."""
    raw = sqlite3.connect(filled)
    raw.execute("INSERT INTO meta VALUES (999)")
    raw.commit()
    raw.close()
    expected = r"was written by a newer sandlab \(schema 999; this one knows 3\); install the newer sandlab"
    for readonly in (False, True):
        with pytest.raises(StoreError, match=expected):
            open_store(filled, readonly=readonly)


def test_an_older_schema_gets_the_tables_it_lacks(filled: Path) -> None:
    """What is there stays as it is; to be read only, such a file has to be opened for writing once."""
    raw = sqlite3.connect(filled)
    for statement in ("DROP TABLE notes_read", "DROP TABLE comments", "DROP TABLE steps_done"):
        raw.execute(statement)
    raw.execute("DROP TRIGGER meta_no_delete")
    raw.execute("DELETE FROM meta")
    raw.execute("INSERT INTO meta VALUES (1)")
    raw.commit()
    raw.close()
    with pytest.raises(StoreError, match="was last written by an older sandlab; open it for writing once"):
        open_store(filled, readonly=True)
    store = open_store(filled)
    taken = store.samples(SYSTEM, last=1)[0]
    store.save([make(Comment, sample=taken.id, text="late remark")])
    assert len(store.samples(SYSTEM)) == 300
    store.close()
    with sqlite3.connect(filled) as raw, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        raw.execute("DELETE FROM comments")
    raw.close()


@pytest.mark.parametrize("keep", [0.5, 0.9])
def test_a_cut_off_file(filled: Path, keep: float) -> None:
    """A copy that ended early is noticed at once."""
    content = filled.read_bytes()
    filled.write_bytes(content[: int(len(content) * keep)])
    with pytest.raises(StoreError, match=f"{filled}: the database file is damaged; stop working on it"):
        open_store(filled)


def test_a_file_damaged_in_the_middle(filled: Path) -> None:
    """A page of the results overwritten: whatever needs it says so; the rest works."""
    raw = sqlite3.connect(filled)
    (page,) = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'results'").fetchone()
    (size,) = raw.execute("PRAGMA page_size").fetchone()
    raw.close()
    content = bytearray(filled.read_bytes())
    content[(page - 1) * size : page * size] = b"\xa5" * size
    filled.write_bytes(content)
    store = open_store(filled)
    expected = "the database file is damaged; stop working on it, keep a copy"
    with pytest.raises(StoreError, match=expected):
        store.results(SYSTEM, "moisture")
    with pytest.raises(StoreError, match=expected):
        store.save([sample()])
    assert store.records(Event, SYSTEM) == ()
    store.close()


def test_a_file_that_somebody_keeps_to_himself(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After waiting, the message says what to close; then the save succeeds."""
    monkeypatch.setattr(engines, "BUSY_SECONDS", 0.05)
    store = open_store(filled)
    raw = sqlite3.connect(filled, isolation_level=None)
    raw.execute("BEGIN EXCLUSIVE")
    expected = "another program has kept the file to itself for too long; close what else works on it"
    with pytest.raises(StoreError, match=expected):
        store.save([make(Event, text="note")])
    with pytest.raises(StoreError, match=expected):
        store.records(Event, SYSTEM)
    with pytest.raises(StoreError, match=expected):
        open_store(filled)
    raw.execute("ROLLBACK")
    raw.close()
    assert store.save([make(Event, text="note")]) == 1
    store.close()


def test_a_disk_without_room(file_store: Store) -> None:
    """SQLite's own limit of pages stands for the end of the disk; nothing of the save is kept."""
    file_store.save([sample()], specs_texts=TEXTS)
    before = file_store.samples(SYSTEM)
    writer = file_store._engines.writer
    writer.dispose()

    @event.listens_for(writer, "connect")
    def limit(connection: sqlite3.Connection, _: object) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 3}")

    many = [sample(at=hours(number)) for number in range(1, 300)]
    with pytest.raises(
        StoreError, match=r"no room is left on the disk; nothing of this save.*free some space"
    ):
        file_store.save(many)
    assert file_store.samples(SYSTEM) == before
    event.remove(writer, "connect", limit)
    writer.dispose()
    assert file_store.save(many) == len(many)


def test_a_limit_on_the_size_of_a_file(path: Path) -> None:
    """A quota in another process: every save that returned is there, and the file is sound."""
    printed = child.start("fill", path, "400000").communicate()[0].splitlines()
    assert f"{path}: the disk did not do what it was told; nothing of this save was kept" in printed[-1]
    assert "look for room, quotas and faults on the disk, then save again" in printed[-1]
    store = open_store(path)
    assert {one.id for one in store.samples(SYSTEM)} == set(printed[:-1])
    assert len(printed) > 20
    store.save([sample()])
    store.close()
    raw = sqlite3.connect(path)
    assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    raw.close()


def test_a_folder_that_may_only_be_read(open_folder: Path) -> None:
    """Another user is told so when opening it, and can still read; a new file cannot be made there."""
    path = open_folder / "records.sqlite"
    store = open_store(path)
    store.save([sample()], specs_texts=TEXTS)
    store.close()
    path.chmod(0o444)
    open_folder.chmod(0o555)
    expected = f"{open_folder}: may not be written; get the right to write there, or open it for reading only"
    assert child.start("trespass", path, "0").communicate()[0].splitlines() == [expected, "1"]


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "plant").write_text("")
    with pytest.raises(StoreError, match="look at the path"):
        open_store(tmp_path / "plant" / "records.sqlite")
    with pytest.raises(StoreError, match="is a folder; name the database file in it"):
        open_store(tmp_path)


def test_folders_are_made(tmp_path: Path) -> None:
    """The first start needs no preparation; odd names are no trouble."""
    path = tmp_path / "über 50 %" / "a?b#c" / "records.sqlite"
    open_store(path).close()
    assert path.exists()
    url = f"sqlite:///{tmp_path / 'by address.sqlite'}"
    open_store(url).close()
    assert (tmp_path / "by address.sqlite").exists()


@pytest.mark.parametrize(
    ("place", "what"),
    [
        ("oracle://host/db", "is no kind of database that is known here"),
        ("no dialect://", "is not a database address"),
        ("sqlite://", "is no kind of database that is known here"),
        ("postgresql+psycopg://127.0.0.1:1/none", "the database says: .*connection"),
    ],
)
def test_addresses_that_lead_nowhere(place: str, what: str) -> None:
    """Each says where and what."""
    with pytest.raises(StoreError, match=what):
        open_store(place)


MOUNTS = """\
overlay / overlay rw 0 0
server:/lab /mnt/lab nfs4 rw 0 0
/dev/sdb1 /mnt/lab/local ext4 rw 0 0
//server/sand /mnt/sand\\040lab cifs rw 0 0
"""


@pytest.mark.parametrize(
    ("path", "network"),
    [
        ("/home/lab/records.sqlite", False),
        ("/mnt/lab/records.sqlite", True),
        ("/mnt/lab/local/records.sqlite", False),
        ("/mnt/sand lab/records.sqlite", True),
        ("/mnt/laboratory/records.sqlite", False),
        ("\\\\server\\sand\\records.sqlite", True),
    ],
)
def test_network_drives_are_known(path: str, network: bool) -> None:
    """By the nearest mount above the file."""
    assert on_network(Path(path), MOUNTS) is network


def test_a_network_drive_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before anything is made there."""
    table = tmp_path / "mounts"
    table.write_text(f"server:/x {tmp_path} nfs rw 0 0\n")
    monkeypatch.setattr("sandlab.store.places.MOUNTS", table)
    with pytest.raises(StoreError, match=r"is on a network drive.*keep the plant folder on a disk of this"):
        open_store(tmp_path / "plant" / "records.sqlite")
    assert not (tmp_path / "plant").exists()


def test_a_file_put_in_the_place_of_an_open_one(filled: Path) -> None:
    """The connections would go on with the lost file: nothing is read as fresh or saved into it."""
    store = open_store(filled)
    backup = filled.with_name("backup.sqlite")
    shutil.copy(filled, backup)
    filled.rename(filled.with_name("moved.sqlite"))
    with pytest.raises(StoreError, match="No such file or directory"):
        store.change_number()
    backup.rename(filled)
    for act in (store.change_number, lambda: store.save([sample(at=hours(301))])):
        with pytest.raises(StoreError, match=r"another file was put in its place .* quit and open"):
            act()
    filled.with_name("moved.sqlite").replace(filled)
    assert store.change_number() >= 0
    store.close()
