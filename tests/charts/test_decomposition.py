"""The decomposition of T2: exact sums, laws by scipy, and planted causes named in words."""

from __future__ import annotations

from itertools import permutations
from math import comb

import numpy as np
import pytest
from scipy import stats

from sandlab.charts.decomposition import decompose
from sandlab.charts.multivariate import MultivariateLimits, freeze_multivariate, hotelling
from sandlab.errors import InputError
from tests.charts.test_multivariate import CENTRE, NAMES, TRUE, samples

LIMITS = MultivariateLimits(
    names=NAMES,
    centre=tuple(CENTRE.tolist()),
    covariance=tuple(tuple(row) for row in TRUE.tolist()),
    count=100.0,
    freedom=99.0,
    method="sample",
)
WORDS = {"strength": "green strength"}
DECIMALS = {"compactability": 1, "strength": 0}


def test_terms_add_up_to_t2_in_every_order() -> None:
    """Each of the 24 orders of conditioning gives T2; every subset's T2 is that of its own chart."""
    row = samples(1, 1)[0]
    found = decompose(row, LIMITS)
    assert len(found.subsets) == 15
    assert found.statistic == pytest.approx(hotelling(row[None, :], LIMITS).statistic[0])
    for order in permutations(NAMES):
        terms = [found.term(name, order[:place]) for place, name in enumerate(order)]
        assert sum(terms) == pytest.approx(found.statistic)
        assert min(terms) >= -1e-12
    for names, value in found.subsets.items():
        partial = np.where(np.isin(NAMES, names), row, np.nan)
        assert value == pytest.approx(hotelling(partial[None, :], LIMITS).statistic[0])


def test_last_terms_come_from_the_inverse() -> None:
    """A property given all others has (P d)_j^2/P_jj (Mason & others 1995), P the inverse covariance."""
    row = samples(1, 2)[0]
    found, inverse, away = decompose(row, LIMITS), np.linalg.inv(TRUE), row - CENTRE
    for place, name in enumerate(NAMES):
        others = [other for other in NAMES if other != name]
        expected = (inverse @ away)[place] ** 2 / inverse[place, place]
        assert found.term(name, others) == pytest.approx(expected)


def test_a_single_property_is_named() -> None:
    """Strength five sigmas low by itself: one cause, nothing left."""
    found = decompose(CENTRE + np.array([0.0, 0.0, -30.0, 0.0]), LIMITS, labels=WORDS, decimals=DECIMALS)
    assert found.causes[0].property == "strength"
    assert found.causes[0].given == ()
    assert found.sentence.startswith("green strength is low: 110 where 140 is usual")
    expected = stats.f.sf(25.0 * 100 / 101, 1, 99)
    assert found.causes[0].chance == pytest.approx(expected)


def test_a_broken_relation_is_named() -> None:
    """Moisture up by two sigmas, too little by itself, with compactability down: the relation is named."""
    row = CENTRE + np.array([-2.0, 0.2, 0.0, 0.0])
    assert hotelling(row[None, :], LIMITS).beyond == (0,)
    found = decompose(row, LIMITS, labels=WORDS, decimals=DECIMALS)
    cause = found.causes[0]
    assert (cause.property, cause.given, cause.side) == ("moisture", ("compactability",), "high")
    assert cause.expected == pytest.approx(3.2 - 2.0 * 0.16 / 4.0)
    variance = 0.01 - 0.16**2 / 4.0
    assert cause.term == pytest.approx((3.4 - cause.expected) ** 2 / variance)
    assert cause.chance == pytest.approx(stats.f.sf(cause.term * 100 / 101 * 98 / 99, 1, 98))
    assert cause.sentence == "moisture is high for this compactability: 3.40 where 3.12 would go with it"
    assert found.rest_chance > 0.0027


def test_a_relation_among_three_is_named() -> None:
    """c = a + b plus little noise: breaking it shows in no single property and no pair."""
    covariance = ((1.0, 0.0, 1.0), (0.0, 1.0, 1.0), (1.0, 1.0, 2.05))
    limits = MultivariateLimits(("a", "b", "c"), (0.0, 0.0, 0.0), covariance, 200.0, 199.0, "sample")
    found = decompose([0.5, -0.5, 1.2], limits)
    assert [(cause.property, set(cause.given)) for cause in found.causes] == [("c", {"a", "b"})]
    assert found.sentence.startswith("c is high for this a and b: 1.20 where 0.00 would go with it")


@pytest.mark.parametrize("place", range(4))
def test_planted_shifts_are_named(place: int) -> None:
    """Each property in turn moved by six sigmas, 100 samples, estimated baseline: named first in 95."""
    limits = freeze_multivariate(samples(120, 30), NAMES)
    rows = samples(100, 31 + place)
    rows[:, place] += 6.0 * np.sqrt(TRUE[place, place])
    named = sum(decompose(row, limits).causes[0].property == NAMES[place] for row in rows)
    assert named >= 95


def test_missing_tests_are_left_out() -> None:
    """Two of four measured: three subsets, and a cause among them."""
    found = decompose([np.nan, 3.2, np.nan, 160.0], LIMITS)
    assert len(found.subsets) == 3
    assert [cause.property for cause in found.causes] == ["permeability"]


def test_samples_in_control_name_nothing() -> None:
    """A sample at the centre has no cause; of 500 in control, at most one in 80 names any."""
    quiet = decompose(CENTRE, LIMITS)
    assert quiet.causes == ()
    assert quiet.sentence == "No property or relation stands out by itself."
    named = sum(bool(decompose(row, LIMITS).causes) for row in samples(500, 40))
    assert named <= 500 // 80 * 2


def test_twelve_properties_have_all_their_subsets() -> None:
    """4095 subsets; a thirteenth property is refused."""
    rows = np.random.default_rng(1).normal(size=(200, 13))
    names = [f"p{place}" for place in range(13)]
    found = decompose(rows[0, :12], freeze_multivariate(rows[:, :12], names[:12]))
    assert len(found.subsets) == sum(comb(12, size) for size in range(1, 13))
    with pytest.raises(InputError, match="too many subsets"):
        decompose(rows[0], freeze_multivariate(rows, names))


def test_impossible_input_is_refused() -> None:
    """Nothing measured, another length, infinite, an alarm out of range."""
    with pytest.raises(InputError, match="nothing measured"):
        decompose([np.nan] * 4, LIMITS)
    with pytest.raises(InputError, match="shape"):
        decompose([1.0, 2.0], LIMITS)
    with pytest.raises(InputError, match="infinite"):
        decompose([np.inf, 1.0, 1.0, 1.0], LIMITS)
    with pytest.raises(InputError, match="alarm"):
        decompose(CENTRE, LIMITS, alarm=0.5)
