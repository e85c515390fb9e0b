"""Repeats of one sample as subgroups: their limits hold the spread from sample to sample."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from sandlab.errors import InputError
from sandlab.lab.charting import chart, freeze_baseline
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab
from sandlab.lab.picturing import picture, spread_picture
from tests.lab.conftest import Clock

# Spread of moisture from sample to sample and of its repeats; 50 g weighed moist.
BETWEEN, INSIDE = 0.08, 0.02


def weigh(lab: Lab, clock: Clock, count: int, *, extra: float = 0.0) -> None:
    """Moisture of samples in two repeats each; `extra` parts the repeats of the last one."""
    draw = random.Random(7 + count)
    for place in range(count):
        level = 3.3 + BETWEEN * draw.gauss(0, 1)
        apart = extra if place == count - 1 else 0.0
        each = [level + INSIDE * draw.gauss(0, 1) + sign * apart / 2 for sign in (-1, 1)]
        readings = tuple(("50.00", f"{50.0 * (1.0 - one / 100.0):.3f}") for one in each)
        record_sample(
            lab,
            point=next(iter(lab.sand.points)),
            by="MO",
            entries=[Entry("moisture", method="moisture_oven", readings=readings)],
            confirmed=("moisture",),
        )
        clock.move(hours=1)


def freeze(lab: Lab, clock: Clock) -> None:
    """Limits from everything so far."""
    start = clock.now - timedelta(days=4)
    freeze_baseline(lab, "moisture", window_from=start, window_to=clock.now, by="MO", reason="quiet days")


def test_repeats_of_a_sample_make_its_mean_and_spread(lab: Lab, clock: Clock) -> None:
    """Two spreads are told apart; repeats far apart are outside the chart of spreads, not that of means."""
    weigh(lab, clock, 60)
    freeze(lab, clock)
    weigh(lab, clock, 5, extra=0.3)
    facts = chart(lab, "moisture", kind="subgroup")
    assert facts.kind == "subgroup"
    assert "subgroup" in facts.kinds
    assert facts.subgroup is not None
    assert facts.drawn is not None
    # Sixty samples tell a spread to about a fifth (chi-square with 59 and 60 degrees of freedom).
    assert facts.subgroup.sigma == pytest.approx(INSIDE, rel=0.25)
    assert facts.subgroup.sigma_between == pytest.approx(BETWEEN, rel=0.25)
    assert set(facts.subgroup.sizes) == {2}
    assert [point.value for point in facts.points] == pytest.approx(facts.drawn.values, abs=1e-9)
    last = [one for one in facts.signals if one.index == len(facts.points) - 1]
    assert [one.rule for one in last] == ["spread"]
    assert "at the last sample" in facts.kind_words
    spreads = spread_picture(facts)
    assert spreads is not None
    assert [flag.index for flag in spreads.flags] == [one.index for one in facts.signals]
    assert not picture(facts).flags


def test_a_property_that_is_never_tested_twice_says_so(lab: Lab) -> None:
    """The kind is not offered for it either."""
    assert "subgroup" not in chart(lab, "permeability").kinds
    with pytest.raises(InputError, match="has no repeats"):
        chart(lab, "permeability", kind="subgroup")


def test_without_limits_or_repeats_it_says_what_is_missing(lab: Lab, clock: Clock) -> None:
    """Values typed as shown are samples of one test: no spread inside them can be told."""
    weigh(lab, clock, 3)
    facts = chart(lab, "moisture", kind="subgroup")
    assert "freeze limits first" in facts.kind_words
    for _ in range(12):
        text = f"{3.3 + 0.01 * (clock.now.hour % 5):.2f}"
        entries = [Entry("moisture", text)]
        record_sample(
            lab, point=next(iter(lab.sand.points)), by="MO", entries=entries, confirmed=("moisture",)
        )
        clock.move(hours=1)
    start = clock.now - timedelta(hours=12)
    freeze_baseline(lab, "moisture", window_from=start, window_to=clock.now, by="MO", reason="typed")
    facts = chart(lab, "moisture", kind="subgroup")
    assert "subgroups of two or more tests: 0" in facts.kind_words
    assert facts.drawn is None
