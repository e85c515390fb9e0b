"""A watched folder: each file taken once and kept; one that cannot be read is set aside with a note."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sandlab.errors import ImportRefused
from sandlab.exchange.text_file import decoded

DONE, ASIDE = "done", "set_aside"
_UNFINISHED = (".part", ".tmp", ".note")
LARGEST = 2_000_000


class WatchedFolder:
    """Files that instruments drop; a file is taken when it has stopped growing between two looks."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._sizes: dict[str, tuple[int, int]] = {}

    def ready(self) -> Iterator[Path]:
        """The files that are complete, oldest first; raises OSError when the folder cannot be looked into."""
        seen: dict[str, tuple[int, int]] = {}
        found = []
        for path in self.folder.iterdir():
            if path.is_file() and not path.name.startswith(".") and path.suffix not in _UNFINISHED:
                status = path.stat()
                seen[path.name] = (status.st_size, status.st_mtime_ns)
                if self._sizes.get(path.name) == seen[path.name]:
                    found.append((status.st_mtime_ns, path.name, path))
        self._sizes = seen
        yield from (path for _, _, path in sorted(found))

    def lines(self, path: Path) -> list[str]:
        """The lines of a file that hold something; raises ImportRefused or OSError."""
        if path.stat().st_size > LARGEST:
            raise OSError(f"it has more than {LARGEST} bytes; import it instead")
        text = decoded(path.name, path.read_bytes())
        return [line.strip() for line in text.splitlines() if line.strip()]

    def keep(self, path: Path) -> Path:
        """Put a file that was taken among those done."""
        return self._move(path, DONE)

    def set_aside(self, path: Path, note: str) -> Path:
        """Put a file aside, with a note beside it that says why."""
        moved = self._move(path, ASIDE)
        moved.with_name(f"{moved.name}.note").write_text(f"{note}\n", encoding="utf-8")
        return moved

    def _move(self, path: Path, place: str) -> Path:
        folder = self.folder / place
        folder.mkdir(exist_ok=True)
        target, number = folder / path.name, 1
        while target.exists():
            # An instrument may use the same name again and again.
            number += 1
            target = folder / f"{path.stem}_{number}{path.suffix}"
        path.rename(target)
        self._sizes.pop(path.name, None)
        return target


def why(error: OSError | ImportRefused) -> str:
    """The reason in one sentence."""
    if isinstance(error, ImportRefused):
        return "; ".join(map(str, error.problems))
    return str(error.strerror or error)
