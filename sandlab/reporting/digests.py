"""Digests by which a reader sees that nothing was changed: of each file, each record, and their chain."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from sandlab.errors import Problem

MANIFEST = "MANIFEST.sha256"
START = "0" * 64
"""What the chain begins from."""


def canonical(content: Mapping[str, Any]) -> str:
    """One line of JSON that the same content always gives: keys sorted, no blanks, every digit."""
    return json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def digest(text: str) -> str:
    """The SHA-256 of a text in UTF-8."""
    return hashlib.sha256(text.encode()).hexdigest()


def chained(digests: Iterable[str]) -> list[str]:
    """Each digest joined to everything before it: SHA-256 of the link before and the digest, as one text."""
    links: list[str] = []
    for one in digests:
        links.append(digest((links[-1] if links else START) + one))
    return links


def manifest_text(folder: Path) -> str:
    """A line for each file, as `sha256sum --check` reads it."""
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder).as_posix()}"
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != MANIFEST
    ]
    return "\n".join(lines) + "\n"


def changed_files(folder: Path) -> list[Problem]:
    """Every file that differs from the manifest, is missing, or is not named in it."""
    named: dict[str, str] = {}
    for line in (folder / MANIFEST).read_text(encoding="utf-8").splitlines():
        value, _, name = line.partition("  ")
        named[name] = value
    problems = []
    there = {
        path.relative_to(folder).as_posix(): path
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != MANIFEST
    }
    for name, value in named.items():
        if name not in there:
            problems.append(Problem(name, "is missing", "ask for the whole folder again"))
        elif hashlib.sha256(there[name].read_bytes()).hexdigest() != value:
            problems.append(Problem(name, "was changed after the pack was made", "do not rely on it"))
    for name in sorted(set(there) - set(named)):
        problems.append(Problem(name, "was added after the pack was made", "do not rely on it"))
    return problems
