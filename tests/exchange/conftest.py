"""Shipped specs, and the small messy sheet with its plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.exchange import ImportPlan, Mapping, load_mapping, plan_import
from sandlab.specs import Specs, load
from tests.exchange.messy import MAPPING, NOW, write_messy


@pytest.fixture(scope="session")
def specs() -> Specs:
    """The specs as shipped."""
    return load()


@pytest.fixture(scope="session")
def messy_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with messy.xlsx and mapping.toml."""
    folder = tmp_path_factory.mktemp("messy")
    write_messy(folder / "messy.xlsx")
    (folder / "mapping.toml").write_text(MAPPING, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def messy_mapping(messy_folder: Path, specs: Specs) -> Mapping:
    """The mapping of the messy sheet."""
    return load_mapping(messy_folder / "mapping.toml", specs)


@pytest.fixture(scope="session")
def messy_plan(messy_folder: Path, messy_mapping: Mapping, specs: Specs) -> ImportPlan:
    """What importing the messy sheet would add."""
    return plan_import(messy_folder / "messy.xlsx", messy_mapping, specs=specs, now=NOW, by="A. Importer")
