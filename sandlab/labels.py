"""Names for the first frame, read by tomllib alone, before anything heavy is imported."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sandlab.quantities import shown_in

FILES = ("properties", "methods", "materials", "system", "reactions", "instruments", "sources")


def data_folder(name: str) -> Path:
    """`specs` or `sample_data`: packed into an installed wheel, else beside the package."""
    package = Path(__file__).parent
    packed = package / "_data" / name
    return packed if packed.is_dir() else package.parent / name


def shipped_folder() -> Path:
    """Where the shipped spec files are."""
    return data_folder("specs")


def overlay(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """`base` with `over` laid on it key by key: tables merge, arrays are replaced whole.

    A table with `enabled = false` is removed.
    """
    merged = dict(base)
    for key, value in over.items():
        if not isinstance(value, dict):
            merged[key] = value
        elif value.get("enabled") is False:
            merged.pop(key, None)
        else:
            below = merged.get(key)
            content = {name: item for name, item in value.items() if name != "enabled"}
            merged[key] = overlay(below if isinstance(below, dict) else {}, content)
    return merged


def read_tables(path: Path) -> dict[str, Any]:
    """The tables of one spec file; raises tomllib.TOMLDecodeError, UnicodeDecodeError or OSError."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def merged_tables(name: str, folder: Path | None) -> dict[str, Any]:
    """One spec file with the plant folder's laid over it; an unreadable file is left to the full check."""
    merged: dict[str, Any] = {}
    for place in (shipped_folder(), folder):
        path = place / f"{name}.toml" if place is not None else None
        if path is None or not path.exists():
            continue
        try:
            merged = overlay(merged, read_tables(path))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError):
            continue
    return merged


@dataclass(frozen=True, slots=True)
class FieldLabel:
    """One field of the entry form as the first frame shows it."""

    property: str
    label: str
    unit: str
    decimals: int


@dataclass(frozen=True, slots=True)
class FirstForm:
    """The first test set of the first system: enough to draw the form and take keys."""

    plant: str
    system: str
    test_set: str
    label: str
    fields: tuple[FieldLabel, ...]


def specs_folder(plant_folder: Path) -> Path:
    """Where a plant keeps its own spec files."""
    return plant_folder / "specs"


def first_form(plant_folder: Path | None) -> FirstForm:
    """The most frequent test set of the plant's first system, with its labelled fields."""
    folder = specs_folder(plant_folder) if plant_folder is not None else None
    tables = merged_tables("system", folder)
    catalogue = merged_tables("properties", folder)
    systems = tables.get("systems", {})
    system = next(iter(systems), "")
    schedule = systems.get(system, {}).get("schedule", {})
    test_set = min(schedule, key=lambda name: schedule[name].get("every_min", 1440), default="")
    entry = schedule.get(test_set, {})
    display = tables.get("plant", {}).get("units", {})
    fields = tuple(
        _field(name, catalogue[name], display) for name in entry.get("properties", ()) if name in catalogue
    )
    return FirstForm(
        plant=tables.get("plant", {}).get("name", ""),
        system=system,
        test_set=test_set,
        label=entry.get("label", test_set),
        fields=fields,
    )


def _field(name: str, entry: dict[str, Any], display: dict[str, str]) -> FieldLabel:
    # The form must ask in the plant's own unit from its first frame.
    unit = shown_in(entry.get("unit", ""), display)
    return FieldLabel(name, entry.get("label", name), "" if unit == "1" else unit, entry.get("decimals", 0))


def inside(label: str) -> str:
    """A label as it stands inside a sentence; AFS clay keeps its capitals."""
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]
