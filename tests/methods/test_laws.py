"""Laws that hold for any reading: bounds, symmetry, scale, inverse."""

from __future__ import annotations

import pytest

from sandlab.methods import equilibrium_moisture
from sandlab.methods.clay import afs_clay, methylene_blue_clay, methylene_blue_uptake
from sandlab.methods.combustibles import fixed_carbon, loss_on_ignition, volatiles
from sandlab.methods.compactability import compactability
from sandlab.methods.density import bulk_density, specimen_weight
from sandlab.methods.indices import available_bond, moisture_green_strength, working_bond
from sandlab.methods.moisture import moisture, moisture_in_dish
from sandlab.methods.mulling import mulling_efficiency, remulled_efficiency, water_sensitivity
from sandlab.methods.permeability import permeability, permeability_orifice
from sandlab.methods.strength import specimen_area, strength, strength_from_force, wet_tensile_strength
from sandlab.methods.toughness import friability, shatter_index

SHARES = [0.0, 0.1, 3.2, 50.0, 99.9, 100.0]


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("mass_g", [0.5, 50.0, 3000.0])
def test_a_share_made_up_by_weighing_comes_back(share: float, mass_g: float) -> None:
    """Take away a share of a mass and every loss formula finds it again."""
    rest = mass_g * (1.0 - share / 100.0)
    assert moisture(mass_g, rest).value == pytest.approx(share, abs=1e-9)
    assert moisture_in_dish(20.0, 20.0 + mass_g, 20.0 + rest).value == pytest.approx(share, abs=1e-9)
    assert afs_clay(mass_g, rest).value == pytest.approx(share, abs=1e-9)
    assert loss_on_ignition(30.0, 30.0 + mass_g, 30.0 + rest).value == pytest.approx(share, abs=1e-9)
    assert volatiles(30.0, 30.0 + mass_g, 30.0 + rest).value == pytest.approx(share, abs=1e-9)
    assert friability(mass_g, mass_g - rest).value == pytest.approx(share, abs=1e-9)
    assert shatter_index(mass_g, rest).value == pytest.approx(100.0 - share, abs=1e-9)


@pytest.mark.parametrize("fall", [0.0, 20.0, 37.5, 50.0, 80.0])
@pytest.mark.parametrize("tube_mm", [100.0, 120.0])
def test_compactability_does_not_depend_on_the_tube(fall: float, tube_mm: float) -> None:
    """The same relative fall is the same compactability in any tube."""
    assert compactability(tube_mm, tube_mm * (1.0 - fall / 100.0)).value == pytest.approx(fall, abs=1e-9)


@pytest.mark.parametrize("kpa", [1.0, 160.0, 580.0])
def test_one_strength_on_every_scale(kpa: float) -> None:
    """Exact factors of the units: pound 0.45359237 kg, inch 0.0254 m, standard gravity 9.80665 m/s2."""
    psi = kpa * 1000.0 / (0.45359237 * 9.80665 / 0.0254**2)
    gf_cm2 = kpa * 1000.0 / (0.001 * 9.80665 / 0.01**2)
    for reading, unit in ((kpa, "kPa"), (kpa / 10.0, "N/cm2"), (psi, "psi"), (gf_cm2, "gf/cm2")):
        assert strength(reading, unit).value == pytest.approx(kpa, rel=1e-12)
        assert wet_tensile_strength(reading, unit).value == pytest.approx(kpa / 10.0, rel=1e-12)
    area = specimen_area(50.8).value
    assert strength_from_force(kpa / 10.0 * area, area).value == pytest.approx(kpa, rel=1e-12)


@pytest.mark.parametrize("time_s", [10.0, 36.0, 90.0])
def test_permeability_goes_with_the_reciprocal_of_time_and_pressure(time_s: float) -> None:
    """Twice the time or twice the pressure is half the number."""
    number = permeability(9.6, time_s, 2000.0, 5.08, 20.268).value
    assert permeability(9.6, 2.0 * time_s, 2000.0, 5.08, 20.268).value == pytest.approx(number / 2.0)
    assert permeability(19.2, time_s, 2000.0, 5.08, 20.268).value == pytest.approx(number / 2.0)


@pytest.mark.parametrize("shuffled", [[0, 1, 2], [2, 0, 1], [1, 2, 0]])
def test_orifice_table_is_met_at_its_rows_in_any_order(shuffled: list[int]) -> None:
    """The rows come back exactly, and between them the number falls."""
    rows = [[1.0, 250.0], [2.5, 110.0], [6.0, 40.0]]
    table = [rows[i] for i in shuffled]
    assert [permeability_orifice(row[0], table).value for row in rows] == [250.0, 110.0, 40.0]
    falling = [permeability_orifice(1.0 + 0.5 * i, table).value for i in range(11)]
    assert falling == sorted(falling, reverse=True)


@pytest.mark.parametrize("height_mm", [48.0, 50.8, 53.0])
def test_weight_and_density_agree(height_mm: float) -> None:
    """A specimen brought to the standard height keeps its density."""
    brought = specimen_weight(155.0, height_mm, 50.8).value
    assert bulk_density(brought, 50.8, 50.8).value == pytest.approx(
        bulk_density(155.0, 50.8, height_mm).value
    )


@pytest.mark.parametrize("titre_ml", [0.0, 20.0, 44.0])
def test_methylene_blue_by_factor_and_by_certificate_agree(titre_ml: float) -> None:
    """The factor that follows from a certificate gives what the certificate gives, at any sample mass."""
    factor = 0.01 * 5.0 * 400.0 / 3.739
    for sample_g in (4.9, 5.0, 5.2):
        by_factor = methylene_blue_clay(titre_ml, sample_g, 5.0, factor, 0.0).value
        assert by_factor == pytest.approx(methylene_blue_uptake(titre_ml, sample_g, 3.739, 400.0).value)


@pytest.mark.parametrize("carbon", [0.5, 1.4, 2.2])
def test_loss_on_ignition_put_together_comes_apart_again(carbon: float) -> None:
    """Volatiles, coke and bound water make up the loss."""
    loss = 1.6 + carbon + 0.055 * 8.0
    assert fixed_carbon(loss, 1.6, 8.0, 5.5).value == pytest.approx(carbon)


@pytest.mark.parametrize("gcs_kpa", [60.0, 120.0, 200.0])
def test_bonds_rise_with_strength(gcs_kpa: float) -> None:
    """Working bond in proportion, available bond and moisture green strength monotonically."""
    stronger = 1.1 * gcs_kpa
    assert working_bond(stronger, 40.0).value == pytest.approx(1.1 * working_bond(gcs_kpa, 40.0).value)
    assert available_bond(stronger, 3.0).value > available_bond(gcs_kpa, 3.0).value
    assert moisture_green_strength(stronger, 3.0).value > moisture_green_strength(gcs_kpa, 3.0).value
    available = available_bond(gcs_kpa, 3.0).value
    assert mulling_efficiency(available, available).value == pytest.approx(100.0)
    assert not mulling_efficiency(available, available).flags
    assert remulled_efficiency(gcs_kpa, 40.0, 3.0, gcs_kpa, 40.0, 3.0, 12.0).value == pytest.approx(100.0)


def test_equilibrium_moisture_rises_on_each_branch_and_steps_at_the_joint() -> None:
    """At 47.5 the lower branch holds; the step up of 0.3 % is the published curve's own."""
    lower = [equilibrium_moisture(8.0, cb).value for cb in (35.0, 40.0, 45.0, 47.5)]
    upper = [equilibrium_moisture(8.0, cb).value for cb in (47.5 + 1e-9, 50.0, 55.0)]
    assert lower == sorted(lower)
    assert upper == sorted(upper)
    assert lower[-1] == pytest.approx(8.0 / (2.583 - 0.01185 * 47.5))
    assert 100.0 * (upper[0] / lower[-1] - 1.0) == pytest.approx(0.3, abs=0.05)


def test_water_sensitivity_is_the_slope_between_the_halves() -> None:
    """Exchanging the roles of a drier and a wetter half would be the same slope."""
    assert water_sensitivity(2.8, 30.0, 3.4, 45.0).value == pytest.approx(10.0 * 0.6 / 15.0)
