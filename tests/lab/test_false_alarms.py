"""The stated rate of false alarms: which charts it counts, how often they are tested, what it supposes."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np
import pytest

from sandlab.charts import ChartInUse, false_alarms
from sandlab.lab.attention import attention
from sandlab.lab.baselines import newest_baselines
from sandlab.lab.charting import freeze_baseline
from sandlab.lab.false_alarms import WATCH, all_alarms, property_chart
from sandlab.lab.figures import figures
from sandlab.lab.opening import Lab
from sandlab.records import Result, Sample
from tests.lab.conftest import Clock

PHI, SHARE = 0.9, 0.4


def simulate(lab: Lab, clock: Clock, *, weeks: int, names: tuple[str, ...]) -> datetime:
    """Hourly tests of noisy autoregressive properties, 12 hours on each working day; the first hour."""
    random = np.random.default_rng(2)
    signal = random.standard_normal(len(names))
    start, samples = clock.now, []
    for _ in range(weeks * 7 * 24):
        if clock.now.weekday() < 5 and 8 <= clock.now.hour < 20:
            signal = PHI * signal + math.sqrt(1.0 - PHI**2) * random.standard_normal(len(names))
            noise = random.standard_normal(len(names))
            x = math.sqrt(SHARE) * signal + math.sqrt(1.0 - SHARE) * noise
            values = 40.0 + 1.5 * x
            samples.append(
                Sample(
                    id=lab.new_id(),
                    system=lab.system,
                    at=clock.now,
                    by="JV",
                    recorded_at=clock.now,
                    point="muller_discharge",
                    specs_hash=lab.specs.hash,
                    results=tuple(
                        Result(property=name, value=float(value))
                        for name, value in zip(names, values, strict=True)
                    ),
                )
            )
        clock.move(hours=1)
    lab.store.save(samples, specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return start


def freeze(lab: Lab, name: str, start: datetime, end: datetime) -> None:
    """Limits from a window."""
    freeze_baseline(lab, name, window_from=start, window_to=end, by="MO", reason="quiet weeks")


def test_tests_are_counted_by_the_calendar(lab: Lab, clock: Clock) -> None:
    """Sixty tests a week are 60/7 a day, not the schedule's 24; phi and noise are those of the window.

    The rate is that of the library with the true phi and share, within a quarter: a fit of 360 tests.
    """
    start = simulate(lab, clock, weeks=6, names=("compactability",))
    freeze(lab, "compactability", start, clock.now)
    (baseline,) = newest_baselines(lab).values()
    assert property_chart(lab, baseline).tests_per_day == pytest.approx(60.0 / 7.0, rel=0.01)
    found = all_alarms(lab, [baseline])
    assert found is not None
    true = ChartInUse(
        "compactability",
        60.0 / 7.0,
        phi=PHI,
        signal_share=SHARE,
        baseline_count=360,
        ewma=WATCH,
        model=(PHI * SHARE, 1.0),
    )
    stated = false_alarms([true], random=np.random.default_rng(3))
    assert found.days == pytest.approx(stated.days, rel=0.25)
    assert found.days_exact == pytest.approx(stated.days_exact, rel=0.25)
    assert (found.charts, found.short) == (1, 0)


def test_a_short_window_counts_the_weeks_before_it(lab: Lab, clock: Clock) -> None:
    """Three working days hold 12 tests a day, the four weeks up to their end only 60/7; few tests cost."""
    simulate(lab, clock, weeks=6, names=("compactability",))
    end = clock.now - timedelta(days=2, hours=12)
    freeze(lab, "compactability", end - timedelta(days=3), end)
    (baseline,) = newest_baselines(lab).values()
    assert baseline.count == 36
    assert property_chart(lab, baseline).tests_per_day == pytest.approx(60.0 / 7.0, rel=0.03)
    found = all_alarms(lab, [baseline])
    assert found is not None and found.short == 1
    assert found.days_low < found.days < found.days_exact


def test_the_set_together_is_counted_once_it_is_judged(lab: Lab, clock: Clock) -> None:
    """Two baselines that share time make a third chart, which adds its one in 370 tests."""
    start = simulate(lab, clock, weeks=6, names=("compactability", "green_compression_strength"))
    freeze(lab, "compactability", start, clock.now)
    freeze(lab, "green_compression_strength", start, start + timedelta(days=21))
    baselines = newest_baselines(lab)
    each = [all_alarms(lab, [one]) for one in baselines.values()]
    both = all_alarms(lab, baselines.values())
    assert both is not None and both.charts == 3
    own = sum(1.0 / one.days_exact for one in each if one)
    per_day = 60.0 / 7.0
    assert 1.0 / both.days_exact - own == pytest.approx(per_day / 370.4, rel=0.3)


def test_what_the_figure_supposes_is_said(lab: Lab, clock: Clock) -> None:
    """The figures say what is supposed, and what exact limits would give where a baseline is short."""
    start = simulate(lab, clock, weeks=3, names=("compactability",))
    freeze(lab, "compactability", start, clock.now)
    section = next(one for one in figures(lab, "compactability").sections if "all charts" in one.title)
    said = " ".join(section.lines)
    assert "supposes that tests are normal" in said
    assert "if all limits were exact" in said.lower()
    assert "1 chart has limits from fewer than 300 tests" in said


def test_the_first_screen_does_not_ask_how_often_charts_are_wrong(
    lab: Lab, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It shows the chart that calls and not its rate, so nothing is solved for it."""
    start = simulate(lab, clock, weeks=3, names=("compactability",))
    freeze(lab, "compactability", start, clock.now)
    monkeypatch.setattr("sandlab.lab.charting.wrong_words", lambda *_: pytest.fail("the rate was asked for"))
    assert attention(lab).charts in (0, 1)
