"""What is half typed is on the disk at once; a file that no process holds was left behind."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from sandlab.errors import StoreError
from sandlab.store import drafts as module
from sandlab.store.drafts import Drafts

TYPIST = """
import sys, time
from pathlib import Path
from sandlab.store.drafts import Drafts
drafts = Drafts(Path(sys.argv[1]))
drafts.keep("one", "41")
drafts.keep("one", "41 3.28")
print("kept", flush=True)
time.sleep(60)
"""


def test_a_killed_terminal_leaves_the_last_line_it_wrote(tmp_path: Path) -> None:
    """While it lives nobody sees its file; killed without warning, it is offered to whoever opens next."""
    typist = subprocess.Popen(
        [sys.executable, "-c", TYPIST, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    assert typist.stdout is not None
    assert typist.stdout.readline() == "kept\n"
    assert Drafts(tmp_path).left() == {}
    typist.kill()
    typist.communicate()
    assert Drafts(tmp_path).left() == {"one": "41 3.28"}


def test_a_line_cut_short_does_not_count(tmp_path: Path) -> None:
    first = Drafts(tmp_path)
    first.keep("one", "41")
    first.close()
    with (tmp_path / "drafts" / "one.draft").open("ab") as file:
        file.write(b"41 3.2")
    assert Drafts(tmp_path).left() == {"one": "41"}


def test_two_terminals_keep_apart_and_only_one_takes_up(tmp_path: Path) -> None:
    left, here, there = Drafts(tmp_path), Drafts(tmp_path), Drafts(tmp_path)
    left.keep("left", "41")
    here.keep("here", "38")
    there.keep("there", "39")
    left.close()
    assert here.left() == there.left() == {"left": "41"}
    with here.taken("left") as text, there.taken("left") as late:
        assert text == "41"
        assert late is None
    assert here.left() == {}
    here.done()
    there.close()
    assert Drafts(tmp_path).left() == {"there": "39"}


def test_what_fails_while_it_is_taken_up_stays(tmp_path: Path) -> None:
    left = Drafts(tmp_path)
    left.keep("left", "41")
    left.close()
    taker = Drafts(tmp_path)
    with pytest.raises(RuntimeError), taker.taken("left"):
        raise RuntimeError
    assert taker.left() == {"left": "41"}


def test_a_file_does_not_grow_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "LARGEST", 20)
    drafts = Drafts(tmp_path)
    for number in range(30):
        drafts.keep(f"file{number}", f"value {number}")
    sizes = [path.stat().st_size for path in (tmp_path / "drafts").iterdir()]
    assert len(sizes) == 1
    assert sizes[0] < 40
    drafts.close()
    assert list(Drafts(tmp_path).left().values()) == ["value 29"]


def test_a_disk_that_takes_nothing_is_told(tmp_path: Path) -> None:
    (tmp_path / "drafts").write_text("a file where the folder belongs")
    with pytest.raises(StoreError, match=r"could not be kept: .*; save the values; they would not survive"):
        Drafts(tmp_path).keep("one", "41")
