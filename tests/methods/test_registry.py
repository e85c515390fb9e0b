"""Methods called by the names of the spec file, with the constants shipped in it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from sandlab.errors import InputError
from sandlab.methods import compute

SPECS = Path(__file__).parents[2] / "specs"
METHODS: dict[str, dict[str, Any]] = tomllib.loads((SPECS / "methods.toml").read_text(encoding="utf-8"))
CATALOGUE: dict[str, Any] = tomllib.loads((SPECS / "properties.toml").read_text(encoding="utf-8"))
SIEVES = {
    "sample_g": 50.0,
    "sieve_6": 0.0,
    "sieve_12": 0.0,
    "sieve_20": 0.2,
    "sieve_30": 1.0,
    "sieve_40": 5.0,
    "sieve_50": 14.0,
    "sieve_70": 16.0,
    "sieve_100": 9.0,
    "sieve_140": 3.4,
    "sieve_200": 1.0,
    "sieve_270": 0.3,
    "pan": 0.1,
}
CRUCIBLE = {"crucible_g": 30.0, "sample_crucible_g": 40.0}
# Ordinary readings of an ordinary green sand; the value is worked out by hand.
ORDINARY: dict[str, tuple[dict[str, float], float]] = {
    "moisture_oven": ({"moist_g": 50.0, "dry_g": 48.4}, 3.2),
    "moisture_dish": ({"dish_g": 20.0, "moist_dish_g": 70.0, "dry_dish_g": 68.4}, 3.2),
    "return_moisture_oven": ({"moist_g": 50.0, "dry_g": 49.0}, 2.0),
    "compactability_tube": ({"rammed_height_mm": 72.0}, 40.0),
    "gcs_scale": ({"scale_reading": 160.0}, 160.0),
    "gcs_force": ({"force_n": 324.288}, 160.0),
    "green_shear_scale": ({"scale_reading": 45.0}, 45.0),
    "dry_compression_scale": ({"scale_reading": 500.0}, 500.0),
    "dry_compression_force": ({"force_n": 1013.4}, 500.0),
    "wet_tensile_scale": ({"scale_reading": 0.25}, 0.25),
    "wet_tensile_force": ({"force_n": 5.067}, 0.25),
    "permeability_timed": ({"pressure_gf_cm2": 9.6, "time_s": 36.0}, 87.03),
    "specimen_weight_proportion": ({"specimen_g": 150.0, "height_mm": 50.0}, 152.4),
    "bulk_density": ({"specimen_g": 155.0}, 1.5054),
    "bulk_density_measured": ({"specimen_g": 155.0, "height_mm": 50.8}, 1.5054),
    "methylene_blue": ({"titre_ml": 42.8, "sample_g": 5.0}, 8.0),
    "methylene_blue_uptake": ({"titre_ml": 40.0, "sample_g": 5.0}, 7.478),
    "afs_clay_wash": ({"dry_g": 50.0, "residue_g": 44.1}, 11.8),
    "loss_on_ignition_982": (CRUCIBLE | {"ignited_crucible_g": 39.6}, 4.0),
    "loss_on_ignition_1000": (CRUCIBLE | {"ignited_crucible_g": 39.6}, 4.0),
    "volatiles_482": (CRUCIBLE | {"heated_crucible_g": 39.85}, 1.5),
    "volatiles_650": (CRUCIBLE | {"heated_crucible_g": 39.8}, 2.0),
    "volatiles_900": (CRUCIBLE | {"heated_crucible_g": 39.75}, 2.5),
    "fixed_carbon": ({"loss_on_ignition": 3.76, "volatiles": 1.15, "active_clay": 7.5}, 2.1975),
    "fixed_carbon_900": ({"loss_on_ignition": 3.76, "volatiles": 1.56, "active_clay": 7.5}, 2.2),
    "inert_fines": ({"afs_clay": 11.8, "active_clay": 8.0, "volatiles": 1.6, "fixed_carbon": 1.4}, 2.3),
    # 2 + 20 + 150 + 560 + 800 + 630 + 340 + 140 + 60 + 30 = 2732 over 50
    "sieve_us": (SIEVES, 54.64),
    "fines_us": (SIEVES, 2.8),
    "sand_temperature_thermometer": ({"thermometer_reading": 35.0}, 35.0),
    "return_temperature_thermometer": ({"thermometer_reading": 55.0}, 55.0),
    "friability_tumbler": ({"specimens_g": 310.0, "abraded_g": 31.0}, 10.0),
    "shatter_drop": ({"specimen_g": 150.0, "retained_g": 120.0}, 80.0),
    "mould_hardness_dial": ({"dial_reading": 88.0}, 88.0),
    "available_bond": ({"gcs_kpa": 124.105631, "moisture": 3.2}, 6.1012),
    "working_bond": ({"gcs_kpa": 124.105631, "compactability": 40.0}, 2.9883),
    "mulling_efficiency": ({"working_bond": 3.0, "available_bond": 6.0}, 50.0),
    "mulling_efficiency_remulled": (
        {
            "gcs_kpa": 120.0,
            "compactability": 40.0,
            "moisture": 3.0,
            "remulled_gcs_kpa": 150.0,
            "remulled_compactability": 40.0,
            "remulled_moisture": 3.0,
            "remull_min": 12.0,
        },
        80.0,
    ),
    "moisture_compactability_ratio": ({"moisture": 3.2, "compactability": 40.0}, 0.08),
    "dead_clay": ({"afs_clay": 11.8, "active_clay": 8.0}, 3.8),
}
# Methods that need the user's own table first.
NEEDS_TABLE = {"permeability_orifice": "orifice_table", "methylene_blue_mixes": "mixes"}
BLUE = {"titre_ml": 30.0, "sample_g": 5.0}
PRESSURE = {"pressure_gf_cm2": 3.0}
BROKEN_SET = {"sum_within": 1.0, "sieves": {"pan": 3}}


def test_every_shipped_method_is_tried() -> None:
    """A new method needs its ordinary reading here."""
    assert set(METHODS) == set(ORDINARY) | set(NEEDS_TABLE)


@pytest.mark.parametrize("name", ORDINARY)
def test_shipped_method_gives_an_ordinary_result(name: str) -> None:
    """The hand-worked value comes out, unflagged, inside the doubtful range of its property."""
    readings, expected = ORDINARY[name]
    method = METHODS[name]
    outcome = compute(method["function"], readings, method.get("constants", {}))
    assert outcome.value == pytest.approx(expected, rel=2e-4)
    assert not outcome.flags
    low, high = CATALOGUE[method["property"]]["doubtful"]
    assert low <= outcome.value <= high


@pytest.mark.parametrize("name", ORDINARY)
def test_ordinary_readings_are_within_the_limits_of_the_form(name: str) -> None:
    """No ordinary reading is refused by the limits of its own method."""
    for reading, value in ORDINARY[name][0].items():
        limits = METHODS[name].get("readings", {}).get(reading)
        assert limits is None or limits["low"] <= value <= limits["high"]


@pytest.mark.parametrize("name", NEEDS_TABLE)
def test_method_without_the_users_table_says_what_is_missing(name: str) -> None:
    """No orifice table and no calibration is invented."""
    readings = dict.fromkeys(METHODS[name]["readings"], 5.0)
    with pytest.raises(InputError, match=NEEDS_TABLE[name]):
        compute(METHODS[name]["function"], readings, METHODS[name]["constants"])


def refused(function: str, readings: dict[str, Any], constants: dict[str, Any]) -> dict[str, str]:
    """What each problem of a refused call says, by where it stands."""
    with pytest.raises(InputError) as caught:
        compute(function, readings, constants)
    return {problem.where: str(problem) for problem in caught.value.problems}


def test_unknown_function_names_the_nearest() -> None:
    """A slip of the pen in the spec file is met with the likely name."""
    assert "'moisture'" in refused("moistur", {"moist_g": 50.0}, {})["function"]


def test_wrong_names_are_all_reported_with_the_nearest() -> None:
    """Unknown, missing and doubled names stand in one error."""
    problems = refused("strength_from_force", {"force": 300.0, "area_cm2": 20.0}, {"area_cm2": 20.0})
    assert set(problems) == {"force", "force_n", "area_cm2"}
    assert "'force_n'" in problems["force"]


@pytest.mark.parametrize("value", ["50", None, True, float("nan"), float("inf"), [], [1.0, "2"]])
def test_reading_that_is_no_number_is_refused(value: Any) -> None:
    """Letters, nothing, yes and not-a-number never reach a formula."""
    assert set(refused("moisture", {"moist_g": value, "dry_g": 1.0}, {})) == {"moist_g"}


@pytest.mark.parametrize(
    ("function", "readings", "constants", "named"),
    [
        ("strength", {"scale_reading": 1.0}, {"scale_unit": 7}, "scale_unit"),
        ("compactability", {"rammed_height_mm": 70.0}, {"tube_height_mm": "120"}, "tube_height_mm"),
        ("methylene_blue_mixes", BLUE, {"mixes": [], "through_zero": 1}, "through_zero"),
        ("methylene_blue_mixes", BLUE, {"mixes": [7], "through_zero": True}, "methylene_blue_mixes"),
        ("permeability_orifice", PRESSURE, {"orifice_table": 7}, "permeability_orifice"),
        ("permeability_orifice", PRESSURE, {"orifice_table": [["a", "b"], [1, 2]]}, "permeability_orifice"),
        ("grain_fineness_number", {"sample_g": 50.0, "pan": 1.0}, BROKEN_SET, "grain_fineness_number"),
    ],
)
def test_constant_of_the_wrong_kind_is_refused(
    function: str, readings: dict[str, Any], constants: dict[str, Any], named: str
) -> None:
    """A mistake in a plant's spec file comes back as words, not as a traceback."""
    assert named in refused(function, readings, constants)


def test_a_result_beyond_all_numbers_is_refused() -> None:
    """A tiny divisor cannot make an infinite result."""
    assert "moisture_compactability_ratio" in refused(
        "moisture_compactability_ratio", {"moisture": 3.0, "compactability": 5e-324}, {}
    )
