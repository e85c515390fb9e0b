"""The spec files: shipped ones are in order, overlays merge key by key, every problem is told at once."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest
from pydantic import ValidationError

from sandlab import specs
from sandlab.errors import SpecsError
from sandlab.labels import FILES, first_form, overlay, shipped_folder
from sandlab.quantities import DIMENSIONS, PLAIN_UNITS

REQUIRED = [
    "compactability",
    "moisture",
    "green_compression_strength",
    "permeability",
    "specimen_weight",
    "bulk_density",
    "active_clay",
    "volatiles",
    "loss_on_ignition",
    "fixed_carbon",
    "afs_clay",
    "inert_fines",
    "grain_fineness_number",
    "fines",
    "sand_temperature",
    "return_moisture",
    "return_temperature",
    "dry_compression_strength",
    "wet_tensile_strength",
    "green_shear_strength",
    "friability",
    "shatter_index",
    "mould_hardness",
    "available_bond",
    "working_bond",
    "mulling_efficiency",
    "moisture_compactability_ratio",
    "dead_clay",
]


def write(folder: Path, name: str, text: str) -> Path:
    """One spec file of a plant."""
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems(folder: Path) -> list[str]:
    """The messages of a plant folder's specs."""
    with pytest.raises(SpecsError) as caught:
        specs.load(folder)
    return [str(problem) for problem in caught.value.problems]


def test_shipped_specs_hold_every_property_of_the_job() -> None:
    """The catalogue has all properties, each with a way to obtain it and a known source."""
    shipped = specs.load()
    assert set(REQUIRED) <= set(shipped.properties)
    obtained = {method.property for method in shipped.methods.values()}
    scheduled = {
        name
        for system in shipped.systems.values()
        for test_set in system.schedule.values()
        for name in test_set.properties
    }
    assert set(shipped.properties) <= obtained | scheduled
    assert not [name for name, one in shipped.sources.items() if one.title.startswith(("/", "."))]


def test_canonical_text_gives_the_same_specs_again() -> None:
    """What is kept with old samples rebuilds the specs with the same hash."""
    shipped = specs.load()
    again = specs.from_canonical(shipped.canonical_text)
    assert again == shipped
    assert again.hash == shipped.hash


OWN = """
[systems.main.schedule.zeal]
label = "Zeal"
point = "return_belt"
properties = ["moisture"]
every_min = 60
grace_min = 5
[systems.main.schedule.alarm]
label = "Alarm"
point = "return_belt"
properties = ["moisture"]
every_min = 60
grace_min = 5
[systems.second]
label = "Second"
points = { one = { label = "One" } }
[systems.auxiliary]
label = "Auxiliary"
points = { one = { label = "One" } }
"""


def ordered(found: specs.Specs) -> list[list[str]]:
    """The names of every table whose order a person sees, instruments apart."""
    tables: list[Mapping[str, object]] = [found.properties, found.methods, found.systems, found.reactions]
    tables += [method.readings for method in found.methods.values()]
    for system in found.systems.values():
        tables += [system.schedule, system.feeders, system.points, system.targets]
    return [list(table) for table in tables]


def own_plant(folder: Path) -> specs.Specs:
    """Specs with test sets and systems of the plant's own, not in the order of the alphabet."""
    below = tomllib.loads((shipped_folder() / "system.toml").read_text(encoding="utf-8"))["systems"]["main"]
    tables = "".join(
        f"[systems.{name}.{key}]\n" + "".join(f"{one} = {value}\n" for one, value in below[key].items())
        for name in ("second", "auxiliary")
        for key in ("stock", "muller", "loop")
    )
    write(folder, "system", OWN + tables)
    return specs.load(folder)


def test_the_kept_text_keeps_the_order_of_the_files(tmp_path: Path) -> None:
    """Also of what is the plant's own: properties, forms, test sets, systems."""
    plant = own_plant(tmp_path)
    assert list(plant.systems) == ["main", "second", "auxiliary"]
    assert list(plant.systems["main"].schedule)[-2:] == ["zeal", "alarm"]
    assert ordered(specs.from_canonical(plant.canonical_text)) == ordered(plant)


def test_a_text_kept_with_sorted_keys_gets_the_order_of_the_shipped_files(tmp_path: Path) -> None:
    """As earlier samples carry it: nothing is lost, its hash stays, the plant's own comes last."""
    plant = own_plant(tmp_path)
    once = json.dumps(
        json.loads(plant.canonical_text), sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    again = specs.from_canonical(once)
    assert again == plant.model_copy(update={"instruments": {}})
    assert again.hash == hashlib.sha256(once.encode()).hexdigest()
    assert list(again.properties) == list(plant.properties)
    assert list(again.systems) == ["main", "auxiliary", "second"]
    shipped = [*specs.load().systems["main"].schedule]
    assert list(again.systems["main"].schedule) == [*shipped, "alarm", "zeal"]


def test_specs_cannot_be_changed_in_place() -> None:
    """Frozen all the way down to a property's decimals."""
    with pytest.raises(ValidationError):
        specs.load().properties["moisture"].decimals = 1  # type: ignore[misc]


def test_overlay_merges_tables_replaces_arrays_and_removes() -> None:
    """Key by key; an array is replaced whole; enabled = false takes an entry away."""
    base = {"a": {"x": 1, "list": [1, 2]}, "b": {"y": 2}}
    assert overlay(base, {"a": {"list": [3]}, "b": {"enabled": False}, "c": {"enabled": True, "z": 3}}) == {
        "a": {"x": 1, "list": [3]},
        "c": {"z": 3},
    }
    assert base == {"a": {"x": 1, "list": [1, 2]}, "b": {"y": 2}}


def test_a_plant_overlays_what_it_names_and_keeps_the_rest(tmp_path: Path) -> None:
    """One changed target and one removed set; everything else is as shipped, and the hash differs."""
    write(
        tmp_path,
        "system",
        """
        [plant]
        name = "Haldmoor Castings"
        units = { pressure = "psi" }
        [systems.main.targets.compactability]
        target = 40.0
        [systems.main.schedule.weekly]
        enabled = false
        """,
    )
    plant, shipped = specs.load(tmp_path), specs.load()
    assert plant.plant.name == "Haldmoor Castings"
    assert plant.systems["main"].targets["compactability"].target == 40.0
    assert plant.systems["main"].targets["compactability"].tolerance == 4.0
    assert "weekly" not in plant.systems["main"].schedule
    assert plant.properties == shipped.properties
    assert plant.hash != shipped.hash


def test_every_problem_is_told_at_once_with_the_nearest_name(tmp_path: Path) -> None:
    """File, table, key, what is wrong, and the valid name that is nearest; all in one go."""
    write(tmp_path, "properties", "[moisture]\ndecimal = 1\n[compactability]\ndoubtful = [60.0, 25.0]\n")
    write(tmp_path, "system", '[plant]\ntime_zone = "Europe/Atlantis"\n[systems.main.stock]\nsand_t = -1.0\n')
    found = problems(tmp_path)
    assert len(found) == 4
    assert any(
        "properties.toml [moisture.decimal]" in one and "did you mean 'decimals'?" in one for one in found
    )
    assert any("properties.toml [compactability.doubtful]" in one and "60.0" in one for one in found)
    assert any("[plant.time_zone]" in one and "Europe/Atlantis" in one for one in found)
    assert any("[systems.main.stock.sand_t]" in one for one in found)


def test_a_missing_key_is_named(tmp_path: Path) -> None:
    """A new property without its unit says which table lacks which key."""
    write(tmp_path, "properties", '[clay_lumps]\nlabel = "Clay lumps"\n')
    found = problems(tmp_path)
    assert any("[clay_lumps.unit]: the key is missing; add it" in one for one in found)


def test_names_that_point_at_nothing_are_told_with_the_nearest(tmp_path: Path) -> None:
    """Schedule, feeders, targets and reactions must name what exists."""
    write(
        tmp_path,
        "system",
        """
        [systems.main.schedule.hourly]
        properties = ["compactibility"]
        point = "muller_dischrge"
        [systems.main.feeders.bentonite]
        material = "bentonit"
        [systems.main.targets.moistur]
        target = 3.0
        tolerance = 0.2
        reaction = [2.0, 4.0]
        """,
    )
    found = "\n".join(problems(tmp_path))
    for name in ("compactability", "muller_discharge", "bentonite", "moisture"):
        assert f"did you mean '{name}'?" in found


def test_a_wrong_value_hides_no_wrong_name(tmp_path: Path) -> None:
    """Values, names and switches that are wrong in several files are told in one go, and nothing else is."""
    write(tmp_path, "properties", "[moisture]\ndecimals = 2.5\n[clay_lumps]\nlabel = 'x'\n")
    write(tmp_path, "methods", '[moisture_oven]\nproperty = "moistur"\n')
    write(
        tmp_path,
        "system",
        """
        [plant.units]
        pressure = "psy"
        temprature = "F"
        [systems.main.targets.compactabilty]
        target = 40.0
        [systems.main.feeders.bentonite]
        max_kg = 3.0
        material = "bentonit"
        [systems.main.schedule.hourly]
        properties = ["moisture", "clay_lumps"]
        [systems.main.schedule.weekly]
        enabled = "no"
        """,
    )
    found = problems(tmp_path)
    told = "\n".join(found)
    for words in (
        "[systems.main.schedule.weekly.enabled]: 'no' is neither true nor false",
        "[moisture.decimals]",
        "[moisture_oven.property]: 'moistur' is not known; did you mean 'moisture'?",
        "'psy' is not a unit of pressure",
        "'temprature' is not a dimension; did you mean 'temperature'?",
        "did you mean 'compactability' instead of 'compactabilty'?",
        "[systems.main.feeders.bentonite.max_kg]",
        "[systems.main.feeders.bentonite.material]: 'bentonit' is not known; did you mean 'bentonite'?",
    ):
        assert words in told, words
    assert "'moisture' is not known" not in told
    assert "'clay_lumps' is not known" not in told


def test_unreadable_and_stray_files_are_told(tmp_path: Path) -> None:
    """A broken file and a file that is none of ours, both named."""
    write(tmp_path, "materials", "[water\n")
    write(tmp_path, "materal", "")
    found = problems(tmp_path)
    assert any("materials.toml: cannot be read" in one for one in found)
    assert any("materal.toml: is not a spec file; did you mean 'materials'?" in one for one in found)


def test_damaged_values_are_told_by_place(tmp_path: Path) -> None:
    """Reaction limits inside the tolerance, a feeder whose limits cross, an unknown unit."""
    write(
        tmp_path,
        "system",
        """
        [systems.main.targets.moisture]
        reaction = [3.2, 3.4]
        [systems.main.feeders.water]
        maximum_kg = 1.0
        """,
    )
    write(tmp_path, "properties", '[moisture]\nunit = "percent"\n')
    found = "\n".join(problems(tmp_path))
    assert "[systems.main.targets.moisture]" in found
    assert "[systems.main.feeders.water]" in found
    assert "'percent' is not a known unit" in found


def test_units_of_readings_and_properties_are_known() -> None:
    """A unit is written one way everywhere."""
    known = {*PLAIN_UNITS, *(unit for units in DIMENSIONS.values() for unit in units)}
    shipped = specs.load()
    used = {entry.unit for entry in shipped.properties.values()}
    used |= {reading.unit for method in shipped.methods.values() for reading in method.readings.values()}
    assert used <= known


def test_first_form_agrees_with_the_full_specs(tmp_path: Path) -> None:
    """The labels of the first frame, read without the models, are those of the models."""
    (tmp_path / "specs").mkdir()
    write(tmp_path / "specs", "system", '[plant.units]\npressure = "psi"\n')
    form, full = first_form(tmp_path), specs.load(tmp_path / "specs")
    hourly = full.systems[form.system].schedule[form.test_set]
    assert form.label == hourly.label
    assert tuple(one.property for one in form.fields) == hourly.properties
    assert [one.label for one in form.fields] == [full.properties[name].label for name in hourly.properties]
    units = {one.property: one.unit for one in form.fields}
    assert units["green_compression_strength"] == "psi"
    assert units["permeability"] == ""


def test_shipped_files_are_those_that_are_read() -> None:
    """No spec file lies there unread."""
    assert {path.stem for path in shipped_folder().glob("*.toml")} == set(FILES)
    for name in FILES:
        tomllib.loads((shipped_folder() / f"{name}.toml").read_text(encoding="utf-8"))
