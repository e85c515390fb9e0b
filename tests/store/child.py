"""What other processes do to a file in the tests: `python -m tests.store.child TASK FILE [NUMBER]`."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

from sandlab.errors import StoreError
from sandlab.store import open_store
from tests.store.examples import TEXTS, hours, sample

NOBODY = 65534
ROOT = Path(__file__).parents[2]


def start(task: str, path: Path, *more: str) -> subprocess.Popen[str]:
    """Start a task in a process of its own; it prints the id of each save once that has returned."""
    command = [sys.executable, "-m", "tests.store.child", task, str(path), *more]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def write(path: Path, count: int) -> None:
    """Save samples one by one."""
    store = open_store(path)
    for number in range(count):
        taken = sample(at=hours(number))
        store.save([taken], specs_texts=TEXTS)
        print(taken.id, flush=True)
    store.close()


def fill(path: Path, limit: int) -> None:
    """Save until a file may not grow beyond a limit, then say why it ended."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    try:
        write(path, 100_000)
    except StoreError as error:
        print(error)


def trespass(path: Path, _: int) -> None:
    """As somebody who may only read there, open the file for writing, then for reading."""
    if os.geteuid() == 0:
        os.setuid(NOBODY)
    try:
        open_store(path)
    except StoreError as error:
        print(error)
    print(len(open_store(path, readonly=True).samples("main")))


if __name__ == "__main__":
    tasks = {"write": write, "fill": fill, "trespass": trespass}
    tasks[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]))
