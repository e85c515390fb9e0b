"""The command line starts light: nothing heavy is imported before a command needs it."""

from __future__ import annotations

import pkgutil
import subprocess
import sys

import pytest

from sandlab import drawing

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


def test_the_first_judgement_waits_for_no_charts() -> None:
    """What is due and the marks of its judgement need neither frames nor arrays nor a server's dialect."""
    loaded = "import sandlab.lab.opening, sandlab.lab.rounds, sandlab.drawing.scale"
    assert not modules_after(loaded) & {"numpy", "polars", "scipy"}
    code = f"{loaded}\nimport sys\nassert 'sqlalchemy.dialects.postgresql' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_name_of_the_drawing_package_is_found_when_first_asked_for() -> None:
    """Also after each of its modules was loaded, whose names could hide it."""
    names = ", ".join(drawing.__all__)
    modules = ", ".join(f"sandlab.drawing.{one.name}" for one in pkgutil.iter_modules(drawing.__path__))
    for first in ("sys", modules):
        code = f"import sys, {first}\nfrom sandlab.drawing import {names}\n"
        code += f"assert not any(type(one) is type(sys) for one in ({names}))"
        subprocess.run([sys.executable, "-c", code], check=True)
