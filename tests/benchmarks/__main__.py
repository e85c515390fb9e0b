"""Runs one benchmark module by name, handing the other arguments on to its `main`."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

PREFIX = "bench_"


def names() -> list[str]:
    """The benchmarks that stand in this folder."""
    return sorted(path.stem.removeprefix(PREFIX) for path in Path(__file__).parent.glob(f"{PREFIX}*.py"))


def main(argv: list[str]) -> int:
    """Run the benchmark named first in `argv`."""
    if not argv or argv[0] not in names():
        print(f"usage: python -m tests.benchmarks NAME [ARGUMENTS]\nNAME is one of: {', '.join(names())}")
        return 2
    importlib.import_module(f"tests.benchmarks.{PREFIX}{argv[0]}").main(argv[1:])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
