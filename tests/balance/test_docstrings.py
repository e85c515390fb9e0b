"""Each formula's docstring lists parameters with units, validity, an example and a known source."""

from __future__ import annotations

import doctest
import importlib
import inspect
from types import ModuleType

import pytest

from tests.formula_docstrings import require_sections, require_units
from tests.published_checks import load

MODULES = [
    importlib.import_module(f"sandlab.balance.{name}")
    for name in (
        "batch",
        "composition",
        "filtering",
        "fit_limits",
        "heat",
        "kalman",
        "loop",
        "materials",
        "steady",
        "temper",
        "warmth",
    )
]
FORMULAS = {
    name: item
    for module in MODULES
    for name, item in vars(module).items()
    if inspect.isfunction(item) and item.__module__ == module.__name__ and "``" in (item.__doc__ or "")
}
# Checked by their own tests or inside others, not by a published number.
UNPRINTED = {
    "cycle",
    "discharge_temperature",
    "dry_mass",
    "evaporation",
    "fit_sds",
    "fitted_demand",
    "heat_above",
    "job_temperature",
    "moisture_of",
    "steady_makeup",
    "steady_state",
    "water_per_dry",
    "water_with_evaporation",
}


@pytest.mark.parametrize("name", FORMULAS)
def test_parameters_have_units(name: str) -> None:
    """Every parameter stands in the docstring, in order, and its line ends in a unit; so does the result."""
    require_units(FORMULAS[name])


@pytest.mark.parametrize("name", FORMULAS)
def test_sections_and_source(name: str) -> None:
    """Shapes, validity, errors, an example and a source that is in the bibliography."""
    require_sections(FORMULAS[name])


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_hold(module: ModuleType) -> None:
    """The examples of the docstrings come out as written."""
    assert doctest.testmod(module).failed == 0


def test_formulas_without_a_published_check_are_listed() -> None:
    """The list of formulas that no published or derived number checks is neither too short nor too long."""
    checked = {check.function.rpartition(".")[2] for check in load() if ".balance." in check.function}
    assert set(FORMULAS) - checked == UNPRINTED
