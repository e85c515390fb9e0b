"""Impossible input raises, and names every problem; doubtful input gives a result with a sentence."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from sandlab.errors import InputError
from sandlab.methods import (
    clay,
    combustibles,
    compactability,
    density,
    indices,
    moisture,
    mulling,
    permeability,
    strength,
    temperature,
    toughness,
)
from sandlab.methods.outcome import Outcome

IMPOSSIBLE: list[tuple[Callable[..., Any], dict[str, Any], set[str]]] = [
    (moisture.moisture, {"moist_g": 0.0, "dry_g": -1.0}, {"moist_g", "dry_g"}),
    (moisture.moisture, {"moist_g": 40.0, "dry_g": 50.0}, {"dry_g"}),
    (moisture.moisture, {"moist_g": math.nan, "dry_g": math.inf}, {"moist_g", "dry_g"}),
    (
        moisture.moisture_in_dish,
        {"dish_g": 20.0, "moist_dish_g": 20.0, "dry_dish_g": 19.0},
        {"moist_dish_g - dish_g", "dish_g"},
    ),
    (
        moisture.moisture_in_dish,
        {"dish_g": 20.0, "moist_dish_g": 60.0, "dry_dish_g": 70.0},
        {"dry_dish_g"},
    ),
    (
        compactability.compactability,
        {"tube_height_mm": 120.0, "rammed_height_mm": 121.0},
        {"rammed_height_mm"},
    ),
    (
        compactability.compactability,
        {"tube_height_mm": 0.0, "rammed_height_mm": 0.0},
        {"tube_height_mm", "rammed_height_mm"},
    ),
    (strength.specimen_area, {"diameter_mm": 0.0}, {"diameter_mm"}),
    (strength.strength, {"scale_reading": -1.0, "scale_unit": "kPa"}, {"scale_reading"}),
    (strength.strength, {"scale_reading": 1.0, "scale_unit": "lb"}, {"scale_unit"}),
    (strength.strength, {"scale_reading": 1.0, "scale_unit": "C"}, {"scale_unit"}),
    (strength.strength_from_force, {"force_n": -1.0, "area_cm2": 0.0}, {"force_n", "area_cm2"}),
    (strength.wet_tensile_strength, {"scale_reading": math.nan, "scale_unit": "kPa"}, {"scale_reading"}),
    (strength.wet_tensile_from_force, {"force_n": 1.0, "area_cm2": -2.0}, {"area_cm2"}),
    (
        permeability.permeability,
        {"pressure_gf_cm2": 0.0, "time_s": 0.0, "air_cm3": 0.0, "height_cm": 0.0, "area_cm2": 0.0},
        {"pressure_gf_cm2", "time_s", "air_cm3", "height_cm", "area_cm2"},
    ),
    (
        density.bulk_density,
        {"specimen_g": 0.0, "diameter_mm": 0.0, "height_mm": 0.0},
        {"specimen_g", "diameter_mm", "height_mm"},
    ),
    (
        density.specimen_weight,
        {"specimen_g": -1.0, "height_mm": 0.0, "standard_height_mm": 50.8},
        {"specimen_g", "height_mm"},
    ),
    (
        clay.methylene_blue_clay,
        {
            "titre_ml": -1.0,
            "sample_g": 0.0,
            "calibration_sample_g": 0.0,
            "ml_per_percent": 0.0,
            "intercept_ml": math.nan,
        },
        {"titre_ml", "sample_g", "calibration_sample_g", "ml_per_percent", "intercept_ml"},
    ),
    (
        clay.methylene_blue_uptake,
        {"titre_ml": -1.0, "sample_g": 0.0, "solution_g_l": 0.0, "uptake_mg_g": 0.0},
        {"titre_ml", "sample_g", "solution_g_l", "uptake_mg_g"},
    ),
    (clay.afs_clay, {"dry_g": 50.0, "residue_g": 51.0}, {"residue_g"}),
    (
        combustibles.loss_on_ignition,
        {"crucible_g": 30.0, "sample_crucible_g": 30.0, "ignited_crucible_g": 29.0},
        {"sample_crucible_g - crucible_g", "crucible_g"},
    ),
    (
        combustibles.volatiles,
        {"crucible_g": 30.0, "sample_crucible_g": 40.0, "heated_crucible_g": 0.0},
        {"heated_crucible_g"},
    ),
    (
        combustibles.fixed_carbon,
        {"loss_on_ignition": math.nan, "volatiles": 1.0, "active_clay": 101.0, "clay_bound_water": -1.0},
        {"loss_on_ignition", "active_clay", "clay_bound_water"},
    ),
    (
        combustibles.inert_fines,
        {
            "afs_clay": -1.0,
            "active_clay": 8.0,
            "volatiles": 1.0,
            "fixed_carbon": math.inf,
            "washed_share": 120.0,
        },
        {"afs_clay", "fixed_carbon", "washed_share"},
    ),
    (toughness.friability, {"specimens_g": 300.0, "abraded_g": 301.0}, {"abraded_g"}),
    (toughness.shatter_index, {"specimen_g": 0.0, "retained_g": -1.0}, {"specimen_g", "retained_g"}),
    (toughness.mould_hardness, {"dial_reading": 100.5}, {"dial_reading"}),
    (
        temperature.sand_temperature,
        {"thermometer_reading": -300.0, "thermometer_unit": "C", "correction_c": 0.0},
        {"thermometer_reading"},
    ),
    (
        temperature.sand_temperature,
        {"thermometer_reading": 40.0, "thermometer_unit": "K", "correction_c": math.nan},
        {"thermometer_unit", "correction_c"},
    ),
    (indices.available_bond, {"gcs_kpa": -1.0, "moisture": 101.0}, {"gcs_kpa", "moisture"}),
    (indices.working_bond, {"gcs_kpa": 100.0, "compactability": 132.1}, {"compactability"}),
    (indices.moisture_green_strength, {"gcs_kpa": 0.0, "moisture": 0.0}, {"gcs_kpa", "moisture"}),
    (indices.moisture_green_strength, {"gcs_kpa": 600.0, "moisture": 20.0}, {"gcs_kpa, moisture"}),
    (indices.dead_clay, {"afs_clay": -1.0, "active_clay": math.nan}, {"afs_clay", "active_clay"}),
    (
        mulling.mulling_efficiency,
        {"working_bond": -1.0, "available_bond": 0.0},
        {"working_bond", "available_bond"},
    ),
    (
        mulling.equilibrium_moisture,
        {"active_clay": -1.0, "compactability": 101.0},
        {"active_clay", "compactability"},
    ),
    (mulling.moisture_compactability_ratio, {"moisture": 3.0, "compactability": 0.0}, {"compactability"}),
    (
        mulling.water_sensitivity,
        {"moisture": 4.0, "compactability": 40.0, "wetter_moisture": 3.0, "wetter_compactability": 50.0},
        {"moisture"},
    ),
    (
        mulling.water_sensitivity,
        {"moisture": 3.0, "compactability": 40.0, "wetter_moisture": 4.0, "wetter_compactability": 40.0},
        {"wetter_compactability"},
    ),
]


@pytest.mark.parametrize(
    ("function", "inputs", "named"),
    IMPOSSIBLE,
    ids=[f"{case[0].__name__}-{i}" for i, case in enumerate(IMPOSSIBLE)],
)
def test_impossible_input_names_every_problem(
    function: Callable[..., Any], inputs: dict[str, Any], named: set[str]
) -> None:
    """One error lists all that is wrong, with what to do about each."""
    with pytest.raises(InputError) as caught:
        function(**inputs)
    assert {problem.where for problem in caught.value.problems} == named
    assert all(problem.what and problem.do for problem in caught.value.problems)


DOUBTFUL: list[tuple[Outcome, float, str]] = [
    (combustibles.loss_on_ignition(30.0, 40.0, 40.05), -0.5, "gained mass"),
    (combustibles.volatiles(30.0, 40.0, 40.05), -0.5, "gained mass"),
    (combustibles.fixed_carbon(1.0, 1.5, 8.0, 5.5), -0.94, "negative"),
    (combustibles.inert_fines(8.0, 8.5, 1.0, 1.0, 50.0), -1.5, "negative"),
    (clay.methylene_blue_clay(1.0, 5.0, 5.0, 5.0, 2.0), -0.2, "clay-free sand"),
    (density.specimen_weight(150.0, 60.0, 50.8), 127.0, "ram another"),
    (indices.dead_clay(8.0, 8.5), -0.5, "exceeds"),
    (mulling.mulling_efficiency(7.0, 5.0), 140.0, "above 100 %"),
    (mulling.equilibrium_moisture(12.0, 40.0), 5.69, "outside 7 to 11"),
    (mulling.equilibrium_moisture(6.9, 40.0), 3.27, "outside 7 to 11"),
    (mulling.water_sensitivity(3.0, 50.0, 4.0, 45.0), -2.0, "wet side"),
    (mulling.remulled_efficiency(120.0, 40.0, 3.0, 150.0, 46.0, 3.0, 12.0), 69.57, "more than 5"),
    (mulling.remulled_efficiency(120.0, 40.0, 3.0, 150.0, 40.0, 3.0, 10.0), 80.0, "more than 10"),
    (permeability.permeability_orifice(5.0, [[2.0, 100.0], [3.0, 80.0]]), 80.0, "outside the plate's table"),
    (permeability.permeability_orifice(1.0, [[2.0, 100.0], [3.0, 80.0]]), 100.0, "outside the plate's table"),
    (indices.moisture_green_strength(300.0, 6.0), 15.98, "far out"),
]


@pytest.mark.parametrize(("outcome", "value", "words"), DOUBTFUL, ids=[case[2] for case in DOUBTFUL])
def test_doubtful_input_is_flagged(outcome: Outcome, value: float, words: str) -> None:
    """The number is given, with one sentence that says why to doubt it."""
    assert outcome.value == pytest.approx(value, abs=0.005)
    assert len(outcome.flags) == 1
    assert words in outcome.flags[0]


def test_edges_of_validity_are_not_flagged() -> None:
    """A range includes its ends."""
    assert not mulling.equilibrium_moisture(7.0, 40.0).flags
    assert not mulling.equilibrium_moisture(11.0, 40.0).flags
    assert not mulling.remulled_efficiency(120.0, 40.0, 3.0, 150.0, 45.0, 3.0, 10.5).flags
    assert not permeability.permeability_orifice(3.0, [[2.0, 100.0], [3.0, 80.0]]).flags
    assert not combustibles.loss_on_ignition(30.0, 40.0, 40.0).flags
    assert not combustibles.volatiles(30.0, 40.0, 39.9995).flags
    assert not combustibles.fixed_carbon(2.005, 2.0, 0.0, 0.0).flags
    assert not combustibles.inert_fines(8.005, 8.0, 0.0, 0.0, 50.0).flags
    assert not indices.dead_clay(8.0, 8.0).flags


@pytest.mark.parametrize(
    "table",
    [
        [],
        [[1.0, 2.0]],
        [[1.0], [2.0]],
        [[1.0, 50.0], [2.0, 60.0]],
        [[1.0, 50.0], [1.0, 40.0]],
        [[1.0, 0.0], [2.0, -1.0]],
    ],
)
def test_orifice_table_that_cannot_be_read_is_refused(table: list[list[float]]) -> None:
    """No table is invented for a plate, and one that does not fall is not used."""
    with pytest.raises(InputError, match="orifice_table"):
        permeability.permeability_orifice(1.5, table)
