"""The chart in words: what is said, and how often that is right, on simulated series with a known change."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.charts import Limits, When, describe, freeze, rule_set
from sandlab.errors import InputError
from tests.charts.test_alarm_rate import autoregressive

STANDARD = Limits(0.0, 1.0, 100, 1.0, 1.0, 0.0)
RESEMBLING = Limits(0.0, 1.0, 100, 1.0, 0.63, 0.6, flags=("autocorrelated",))
GCS = Limits(120.0, 4.0, 60, 4.0, 4.0, 0.0)
HOUR = 3_600_000_000
TIMES = 1_700_000_000_000_000 + HOUR * np.arange(100, dtype=np.int64)
RAMP = np.clip(np.arange(100) - 69, 0, None)


def clock(moment: When) -> str:
    """Hours from the first test, as a caller might print clock times."""
    start, low, high = ((us - int(TIMES[0])) // HOUR for us in (moment.start, moment.low, moment.high))
    return f"hour {start} ({low}-{high})"


def test_a_drift_in_words() -> None:
    """Direction, start with its range, size so far, false alarms; the parts make up the sentence."""
    values = 120.0 + 4.0 * np.random.default_rng(7).standard_normal(100) - 0.6 * RAMP
    found = describe(values, TIMES, GCS, name="GCS", unit="kPa", decimals=0, when=clock)
    assert found.state == "drift"
    assert found.what == "GCS has been drifting down"
    assert found.when is not None
    assert found.since == f"since {clock(found.when)}"
    assert found.when.low <= TIMES[70] <= found.when.high
    assert found.size is not None and found.size_low is not None and found.size_high is not None
    assert found.size_low < -18.6 < found.size_high
    assert found.amount == f"{-found.size:.0f} kPa so far ({-found.size_high:.0f} to {-found.size_low:.0f})"
    assert found.wrong.startswith("about one false alarm every 5.8 days (2.2 to 18 days")
    assert found.sentence == f"{found.what} {found.since}, {found.amount}; {found.wrong}."


def test_a_step_in_words() -> None:
    """Without times the tests are counted, and false alarms are one in so many tests."""
    values = np.random.default_rng(3).standard_normal(100) + 2.5 * (np.arange(100) >= 80)
    found = describe(values, None, STANDARD, name="LOI", unit="%", decimals=1)
    assert (found.state, found.what) == ("step", "LOI has been higher")
    assert found.when is not None and found.when.low <= 81 <= found.when.high
    assert found.since.startswith(f"since test {found.when.start}")
    assert found.amount.startswith("by 2.")
    assert found.sure == "the tests speak for a step; it began in that range about 9 times in 10"
    assert found.sentence.endswith(" (71 to 360: limits from few tests are uncertain).")
    assert "; limits and moving average together alarm falsely about once in " in found.sentence


def test_words_of_all_charts_in_use() -> None:
    """The caller's words for how often all charts are wrong replace this chart's own."""
    found = describe(
        [0.1] * 20, None, STANDARD, name="LOI", wrong="about one false alarm a month over all charts"
    )
    assert found.sentence == (
        "LOI is in control against limits from 100 tests; about one false alarm a month over all charts."
    )


def test_nothing_is_said_of_false_alarms_where_the_caller_says_so() -> None:
    """With an empty `wrong` the sentence of a lasting change ends with its size, no semicolon behind it."""
    values = np.random.default_rng(3).standard_normal(100) + 2.5 * (np.arange(100) >= 80)
    found = describe(values, None, STANDARD, name="LOI", unit="%", decimals=1, wrong="")
    assert found.sentence == f"{found.what} {found.since}, {found.amount}."
    assert found.alarms is None


def test_one_odd_test_is_a_signal_and_no_change() -> None:
    """However far out: the average takes it as four sigmas; two of them in a row are a change."""
    values = np.zeros(50)
    values[-1] = 60.0
    found = describe(values, None, STANDARD, name="LOI")
    assert found.state == "signal"
    assert found.what == "LOI: signal at the last test: 60.00 is above the upper control limit 3.00."
    assert found.when is None
    values[-2] = 60.0
    assert describe(values, None, STANDARD).state == "step"


@pytest.mark.parametrize(
    ("values", "limits", "state", "words"),
    [
        ([], STANDARD, "too few", "LOI: no test measured yet."),
        ([np.nan] * 5, STANDARD, "too few", "LOI: no test measured yet."),
        ([1.0] * 5, None, "too few", "LOI: 5 of the 8 tests that a baseline needs."),
        (
            [1.0] * 30,
            None,
            "no baseline",
            "LOI: no baseline frozen: choose a quiet window and freeze its limits.",
        ),
        (
            [1.0] * 30,
            freeze([3.0] * 10),
            "no baseline",
            "LOI: no limits: all baseline values are equal, so no",
        ),
    ],
)
def test_nothing_to_judge(values: list[float], limits: Limits | None, state: str, words: str) -> None:
    """No tests, no baseline, a constant one: words, no figures."""
    found = describe(values, None, limits, name="LOI")
    assert found.state == state
    assert found.sentence.startswith(words.rstrip("."))
    assert (found.change, found.average, found.alarms) == (None, None, None)


@pytest.mark.parametrize(("phi", "limits"), [(0.0, STANDARD), (0.6, RESEMBLING)])
def test_quiet_series_are_seldom_called_changed(phi: float, limits: Limits) -> None:
    """600 series in control: a lasting change is spoken of at the last test in at most 1 %."""
    states = [describe(values, None, limits).state for values in autoregressive(phi, (600, 60), 50)]
    assert sum(state in ("step", "drift") for state in states) <= 6
    # A point beyond three sigmas among the last five: 1.3 %, fewer runs of them where tests resemble.
    assert 1 <= states.count("signal") <= 18


@pytest.mark.parametrize(
    ("phi", "limits", "change", "start"),
    [
        (0.0, STANDARD, 0.1 * RAMP, 70),
        (0.0, STANDARD, 1.5 * (np.arange(100) >= 75), 75),
        (0.6, RESEMBLING, 0.15 * RAMP, 70),
        (0.6, RESEMBLING, 3.0 * (np.arange(100) >= 75), 75),
    ],
)
def test_what_is_said_holds_as_often_as_stated(
    phi: float, limits: Limits, change: np.ndarray, start: int
) -> None:
    """300 series each: the start lies in its range in 88 to 99 %, the size in its interval in 85 to 99 %."""
    told = [describe(values + change, None, limits) for values in autoregressive(phi, (300, 100), 51)]
    told = [one for one in told if one.when is not None]
    assert len(told) > 200
    starts = [one.when.low <= start + 1 <= one.when.high for one in told if one.when]
    assert 0.88 <= np.mean(starts) <= 0.99
    sizes = [one.size_low <= change[-1] <= one.size_high for one in told if one.size_low and one.size_high]
    assert 0.85 <= np.mean(sizes) <= 0.99
    # The range says something: half of them span less than 30 tests.
    assert np.median([one.when.high - one.when.low for one in told if one.when]) < 30


def test_the_resemblance_of_the_baseline_is_allowed_for() -> None:
    """Taken for independent, quiet tests with phi 0.6 are called changed far oftener."""
    series = autoregressive(0.6, (300, 60), 52)
    allowed = sum(describe(values, None, RESEMBLING).state in ("step", "drift") for values in series)
    naive = sum(describe(values, None, RESEMBLING, phi=0.0).state in ("step", "drift") for values in series)
    assert naive > 10 > allowed


def test_alarms_without_an_equation_need_a_generator() -> None:
    """Trend rules are simulated where a generator is given, and refused without."""
    values, rules = [0.1, -0.2] * 20, rule_set("nelson")
    with pytest.raises(InputError, match="random generator"):
        describe(values, None, STANDARD, alarms=rules)
    found = describe(values, None, STANDARD, alarms=rules, random=np.random.default_rng(1))
    assert found.alarms is not None
    assert 40.0 < found.alarms.charts[0].tests < 100.0


def test_bad_input_is_refused() -> None:
    """Infinite values, times that do not ascend, settings out of range: a message."""
    for call in (
        lambda: describe([np.inf], None, STANDARD),
        lambda: describe([1.0, 2.0], [2, 1], STANDARD),
        lambda: describe([1.0, 2.0], None, STANDARD, weight=0.0),
        lambda: describe([1.0, 2.0], None, STANDARD, signal_share=2.0, phi=0.5),
    ):
        with pytest.raises(InputError):
            call()
