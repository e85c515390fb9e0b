"""The house keeps its shape: places, sizes, one spelling of every name, nothing heavy in the wrong room."""

from __future__ import annotations

import ast
import inspect
import re
import subprocess
from pathlib import Path

import pytest

from sandlab import methods
from sandlab.lab import facts
from sandlab.specs import load
from tests.source_lines import PACKAGE, code_lines, share_without_textual

ROOT = PACKAGE.parent
PLACES = {"README.md", "DEVELOPERS.md", "pyproject.toml", "sandlab", "specs", "tests", "sample_data"}
MODULES = sorted(PACKAGE.rglob("*.py"))


def tracked() -> list[str]:
    """Files under version control; none outside a checkout."""
    try:
        done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return []
    return done.stdout.split("\n")[:-1]


def test_top_level_holds_the_agreed_places_only() -> None:
    """Dot files aside, nothing else is visible."""
    found = {name.split("/")[0] for name in tracked()}
    assert {name for name in found if not name.startswith(".")} <= PLACES


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_fits_in_a_room(path: Path) -> None:
    """At most 300 lines, and no function runs on for more than 45 after its docstring."""
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= 300
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0]
            documented = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
            start = (first.end_lineno or first.lineno) if documented else node.lineno
            assert (node.end_lineno or 0) - start <= 45, node.name


def test_most_code_runs_without_the_terminal_toolkit() -> None:
    """At least 80 % of the code lines; the counter itself counts right."""
    assert share_without_textual() >= 0.80
    assert code_lines(PACKAGE / "__main__.py") == 3


def test_method_parameters_are_spelled_like_properties() -> None:
    """A formula that takes a catalogue property calls it by its key, or by key and unit."""
    specs = load()
    for key, method in specs.methods.items():
        for parameter, source in method.derived_from.items():
            stem = source.split("_")[0] if source != "green_compression_strength" else "gcs"
            assert parameter == source or parameter.startswith((stem, "gcs")), f"{key}: {parameter}"
    for name, function in methods.FUNCTIONS.items():
        assert name == function.__name__
        for parameter in inspect.signature(function).parameters:
            assert re.fullmatch(r"[a-z][a-z0-9_]*", parameter)


def test_spec_keys_feeders_and_facts_share_their_names() -> None:
    """The same words in specs, in stored columns and in the answers."""
    specs = load()
    columns = set(facts.BaselineFacts.model_fields)
    from sandlab.records import Baseline

    assert {"centre", "sigma", "sigma_moving_range", "lag1", "count", "width"} <= columns & set(
        Baseline.model_fields
    )
    for system in specs.systems.values():
        assert set(system.targets) <= set(specs.properties)
        for name, feeder in system.feeders.items():
            assert name == feeder.material


def test_no_machine_path_stands_in_the_project() -> None:
    """Nothing in a tracked text file points at somebody's machine."""
    pattern = re.compile(r"/root/\w|/work/(main|shared)")
    for name in tracked():
        path = ROOT / name
        if path.suffix in (".py", ".md", ".toml", ".json", ".txt", ".tcss") and path.exists():
            found = pattern.search(path.read_text(encoding="utf-8"))
            assert found is None or name == "tests/test_structure.py", f"{name}: {found and found.group()}"
