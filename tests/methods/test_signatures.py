"""The docstring, the signature and the spec file of every method say the same."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

import sandlab.methods
from sandlab.methods import FUNCTIONS, name_problems
from tests.formula_docstrings import require_sections, require_units
from tests.published_checks import load

SPECS = Path(__file__).parents[2] / "specs"
METHODS: dict[str, dict[str, Any]] = tomllib.loads((SPECS / "methods.toml").read_text(encoding="utf-8"))
CATALOGUE: dict[str, Any] = tomllib.loads((SPECS / "properties.toml").read_text(encoding="utf-8"))
MODULES = [
    importlib.import_module(f"sandlab.methods.{module.name}")
    for module in pkgutil.iter_modules(sandlab.methods.__path__)
]
MACHINERY = {"sandlab.methods.outcome", "sandlab.methods.registry"}
FORMULAS = {
    name: item
    for module in MODULES
    if module.__name__ not in MACHINERY
    for name, item in vars(module).items()
    if inspect.isfunction(item) and item.__module__ == module.__name__ and not name.startswith("_")
}
del FORMULAS["read_mixes"]  # reads a table, computes nothing
# Formulas without a printed number: arithmetic from a published equation, or memory, is all they have.
OWING = {
    "available_bond",
    "bulk_density",
    "calibrate_methylene_blue",
    "combine",
    "compactability",
    "dead_clay",
    "equilibrium_moisture",
    "fines",
    "fixed_carbon",
    "friability",
    "inert_fines",
    "loss_on_ignition",
    "methylene_blue_clay",
    "methylene_blue_mixes",
    "methylene_blue_uptake",
    "moisture_compactability_ratio",
    "moisture_green_strength",
    "moisture_in_dish",
    "mould_hardness",
    "mulling_efficiency",
    "permeability_orifice",
    "remulled_efficiency",
    "retained_percent",
    "sand_temperature",
    "shatter_index",
    "specimen_weight",
    "strength_from_force",
    "volatiles",
    "water_sensitivity",
    "wet_tensile_from_force",
    "working_bond",
}


@pytest.mark.parametrize("name", FORMULAS)
def test_docstring_lists_the_parameters_with_units(name: str) -> None:
    """Every parameter stands in the docstring, in order, and its line ends in a unit; so does the result."""
    require_units(FORMULAS[name])


@pytest.mark.parametrize("name", FORMULAS)
def test_docstring_has_every_section(name: str) -> None:
    """Equation, shapes, validity, errors, an example and a source that is in the bibliography."""
    require_sections(FORMULAS[name])


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_hold(module: Any) -> None:
    """The examples of the docstrings come out as written."""
    assert doctest.testmod(module).failed == 0


def test_spec_file_and_registry_name_the_same_functions() -> None:
    """Every function is used by a method and every method names a function."""
    assert {method["function"] for method in METHODS.values()} == set(FUNCTIONS)


@pytest.mark.parametrize("name", METHODS)
def test_readings_and_constants_are_the_parameters(name: str) -> None:
    """A method gives its function exactly what it takes."""
    method = METHODS[name]
    entered = [*method.get("readings", {}), *method.get("derived_from", {})]
    assert not name_problems(method["function"], entered, method.get("constants", {}))
    sieves = method.get("constants", {}).get("sieves")
    if sieves:
        assert set(sieves) == set(entered) - {"sample_g"}


def test_every_property_has_a_method() -> None:
    """Each entry of the catalogue can be obtained, and each method obtains one."""
    assert {method["property"] for method in METHODS.values()} == set(CATALOGUE)


@pytest.mark.parametrize("name", METHODS)
def test_methods_with_heat_acid_or_dust_carry_a_caution(name: str) -> None:
    """Where a test can hurt someone the usual caution is shown with it."""
    words = ("oven", "dish", "ignition", "volatiles", "methylene", "washing", "sieve", "wet tens", "dry comp")
    dangerous = any(word in METHODS[name]["label"].lower() for word in words)
    assert METHODS[name].get("caution") or not dangerous or "derived_from" in METHODS[name]


def test_formulas_without_a_printed_check_are_listed() -> None:
    """The list of what is owing is neither too short nor too long."""
    published = [check for check in load() if check.status == "published" and not check.trap]
    printed = {check.function.rpartition(".")[2] for check in published}
    assert set(FORMULAS) - printed == OWING


def test_every_formula_has_some_check() -> None:
    """No formula rests on its own output alone, apart from the share per sieve, whose sum is checked."""
    checked = {check.function.rpartition(".")[2] for check in load()} | {"calibrate_methylene_blue"}
    assert set(FORMULAS) - checked == {"retained_percent"}
