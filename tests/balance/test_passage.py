"""The differentiated batch against the equations it repeats, against differences, and for closed masses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.balance.batch import mix
from sandlab.balance.composition import Floats
from sandlab.balance.loop import Loop, cycle
from sandlab.balance.passage import Charged, Passage, mixed
from tests.balance.plants import LOOP

ASSAYS = np.array([[97.0, 0.0, 0.0, 3.0], [0.0, 33.0, 53.0, 14.0], [70.0, 9.0, 15.0, 4.0]])


def drawn(case: int) -> tuple[Floats, Charged, Loop]:
    """Return sand, a charge and a loop at random."""
    g = np.random.default_rng([12, case])
    sand = np.array([8.0, 1.4, 2.5, 4.0]) * g.uniform(0.6, 1.4, 4)
    loop = replace(
        LOOP,
        sand_to_metal=float(g.uniform(4, 9)),
        core_sand_t_per_t=float(g.uniform(0, 0.4)),
        clay_wear_factor=float(g.uniform(0.25, 0.4)),
        carbon_wear_factor=float(g.uniform(0.7, 1.5)),
        volatiles_ash=0.05,
        core_volatiles=0.6,
        core_inert_fines=0.5,
    )
    core = loop.core_retention * loop.core_sand_t_per_t / loop.sand_to_metal
    charged = Charged(float(g.uniform(900, 2500)), g.uniform(0, 20, 3), ASSAYS, loop.sand_to_metal, core)
    return sand, charged, loop


@pytest.mark.parametrize("case", range(30))
def test_same_as_the_balance(case: int) -> None:
    """Mixing and passing agree with batch.mix and loop.cycle."""
    sand, charged, loop = drawn(case)
    made = mixed(sand, charged, np.zeros(3), np.zeros(3))
    expected = mix(charged.dry_kg, sand, charged.added_kg, ASSAYS).composition
    np.testing.assert_allclose(made.composition, expected, rtol=1e-12)
    passed = Passage(loop).passed(made.composition, charged)
    np.testing.assert_allclose(passed.composition, cycle(made.composition, loop).composition, rtol=1e-12)


@pytest.mark.parametrize("case", range(10))
def test_derivatives(case: int) -> None:
    """Every derivative equals a central difference."""
    sand, charged, loop = drawn(case)
    passage, step = Passage(loop), 1e-5
    feed, lot = np.array([0.02, -0.03, 0.01]), np.array([-0.01, 0.02, 0.03])
    made = mixed(sand, charged, feed, lot)
    for place in range(3):
        one = step * np.eye(3)[place]
        by_feed = mixed(sand, charged, feed + one, lot).composition
        by_feed = (by_feed - mixed(sand, charged, feed - one, lot).composition) / (2 * step)
        np.testing.assert_allclose(made.by_feed[:, place], by_feed, atol=1e-7)
        by_lot = mixed(sand, charged, feed, lot + one).composition
        by_lot = (by_lot - mixed(sand, charged, feed, lot - one).composition) / (2 * step)
        # the filter holds the derivative at the assay of the certificate
        np.testing.assert_allclose(made.by_assay[:, place], by_lot, atol=1e-7)
    x, passed = made.composition, passage.passed(made.composition, charged)
    for place in range(4):
        one = step * np.eye(4)[place]
        by = passage.passed(x + one, charged).composition - passage.passed(x - one, charged).composition
        np.testing.assert_allclose(passed.by_prepared[:, place], by / (2 * step), atol=1e-7)
    for name, found in (("clay_wear", passed.by_clay_wear), ("carbon_wear", passed.by_carbon_wear)):
        up = passage.passed(x, charged, **{name: step}).composition
        down = passage.passed(x, charged, **{name: -step}).composition
        np.testing.assert_allclose(found, (up - down) / (2 * step), atol=1e-7)


def test_masses_close_over_a_period() -> None:
    """Sand in = sand out + gas + dust + change of stock, and each burnt kg is found again, to 1e-9."""
    stock = np.array([8.0, 1.4, 2.5, 4.0])
    brought = lost = 0.0
    kg = start = 120_000.0
    for case in range(400):
        _, charged, loop = drawn(case)
        made = mix(charged.dry_kg, stock, charged.added_kg, ASSAYS)
        pass_ = cycle(made.composition, loop)
        total = float(made.dry_kg)
        added, core = float(charged.added_kg.sum()), pass_.core_kg / 100.0 * total
        out = (float(pass_.gas_kg) + float(pass_.dust_kg)) / 100.0 * total
        back = float(pass_.returned_kg) / 100.0 * total
        assert abs(charged.dry_kg + added + core - out - back) < 1e-9 * total
        brought, lost = brought + added + core, lost + out
        kg += back - charged.dry_kg
        stock = pass_.composition
    assert abs(start + brought - lost - kg) < 1e-9 * start
