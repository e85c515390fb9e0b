"""The command line starts light: nothing heavy is imported before a command needs it."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = {"textual", "rich", "pydantic", "sqlalchemy", "numpy", "polars", "scipy"}


def modules_after(statement: str) -> set[str]:
    """Top-level modules that a fresh interpreter holds after a statement."""
    code = f"{statement}\nimport sys\nprint(' '.join({{name.partition('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "statement",
    [
        "import sandlab.cli",
        "import sandlab.cli.parser; sandlab.cli.parser.build()",
        "import sandlab.labels; assert sandlab.labels.first_form(None).fields",
        "import sandlab.quantities, sandlab.errors",
    ],
)
def test_nothing_heavy_is_loaded(statement: str) -> None:
    """A fresh interpreter importing the command line loads none of the heavy packages."""
    assert not modules_after(statement) & HEAVY


def test_the_probe_can_see_a_heavy_import() -> None:
    """The check itself notices what it looks for."""
    assert "numpy" in modules_after("import numpy")
