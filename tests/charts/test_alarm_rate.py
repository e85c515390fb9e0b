"""The quiet alarm rate of an individuals chart on autocorrelated tests."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import individuals_alarm_rate_ar1
from sandlab.charts.normal import Floats, below
from sandlab.errors import InputError
from tests.charts.published_data import rows


def autoregressive(phi: float, shape: tuple[int, int], seed: int) -> Floats:
    """Stationary series of unit variance, one per row."""
    from scipy.signal import lfilter

    noise = np.random.default_rng(seed).standard_normal(shape) * math.sqrt(1.0 - phi * phi)
    noise[:, 0] /= math.sqrt(1.0 - phi * phi)
    return np.asarray(lfilter([1.0], [1.0, -phi], noise, axis=1))


@pytest.mark.parametrize(
    "row",
    [row for row in rows("run_lengths.csv") if row["chart"] == "shewhart_ar1_modified"],
    ids=lambda row: f"{row['parameters']} {row['shift']}",
)
def test_kramer_schmid(row: dict[str, str]) -> None:
    """Kramer & Schmid 2000, Table 1; the first printed value, 515.44, is 515.451."""
    settings = dict(part.split("=") for part in row["parameters"].split(";"))
    found = individuals_alarm_rate_ar1(
        float(settings["phi"]), float(settings["c"]), shift=float(row["shift"])
    )
    printed = row["value"]
    if printed == "515.44":
        assert found.average_run_length == pytest.approx(515.451, abs=5e-4)
        return
    half = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert abs(found.average_run_length - float(printed)) <= half * (1 + 1e-9)


@pytest.mark.parametrize("phi", [0.5, 0.9, -0.4])
def test_shares_agree_with_simulation(phi: float) -> None:
    """Share beyond and share opening a run of such points, by a million simulated tests, within 5 errors."""
    beyond = np.abs(autoregressive(phi, (500, 4000), 4)) > 2.5
    rate = individuals_alarm_rate_ar1(phi, 2.5)
    share = beyond.mean(axis=1)
    assert share.mean() == pytest.approx(rate.beyond_share, abs=5 * share.std() / math.sqrt(500))
    opening = (beyond[:, 1:] & ~beyond[:, :-1]).mean(axis=1)
    assert opening.mean() == pytest.approx(rate.opening_share, abs=5 * opening.std() / math.sqrt(500))


@pytest.mark.parametrize(("phi", "count"), [(0.0, 50), (0.5, 100), (0.8, 300)])
def test_estimated_limits_agree_with_simulation(phi: float, count: int) -> None:
    """Mean share beyond limits frozen on a simulated baseline: the approximation is within 6 %."""
    values = autoregressive(phi, (20_000, count), 9)
    centre, reach = values.mean(axis=1), 3.0 * values.std(axis=1, ddof=1)
    high = np.array([math.erfc(x / math.sqrt(2)) for x in centre + reach])
    low = np.array([math.erfc(x / math.sqrt(2)) for x in reach - centre])
    rate = individuals_alarm_rate_ar1(phi, baseline_count=count)
    assert rate.beyond_share == pytest.approx(float((high + low).mean() / 2), rel=0.06)


@pytest.mark.parametrize("count", [30, 100, 300])
def test_estimated_limits_of_independent_tests(count: int) -> None:
    """Mean run length over 200 000 drawn baselines of independent tests: the approximation is within 12 %."""
    random = np.random.default_rng(count)
    centre = random.standard_normal(200_000) / math.sqrt(count)
    sigma = np.sqrt(random.chisquare(count - 1, centre.size) / (count - 1))
    lengths = 1.0 / (below(centre - 3.0 * sigma) + below(-centre - 3.0 * sigma))
    rate = individuals_alarm_rate_ar1(0.0, baseline_count=count)
    assert rate.average_run_length == pytest.approx(float(lengths.mean()), rel=0.12)


@pytest.mark.parametrize(("phi", "share"), [(0.9, 0.6), (0.97, 0.9), (-0.5, 0.4)])
def test_noise_of_testing_agrees_with_simulation(phi: float, share: float) -> None:
    """Shares and run length of a signal seen through noise, by 2 million simulated tests, within 5 errors."""
    signal = autoregressive(phi, (500, 4000), 4)
    noise = np.random.default_rng(5).standard_normal(signal.shape)
    beyond = np.abs(math.sqrt(share) * signal + math.sqrt(1.0 - share) * noise) > 2.0
    rate = individuals_alarm_rate_ar1(phi, 2.0, signal_share=share)
    opening = (beyond[:, 1:] & ~beyond[:, :-1]).mean(axis=1)
    assert opening.mean() == pytest.approx(rate.opening_share, abs=5 * opening.std() / math.sqrt(500))
    lengths = beyond.argmax(axis=1) + 1.0
    assert beyond.any(axis=1).all()
    error = lengths.std() / math.sqrt(500)
    assert lengths.mean() == pytest.approx(rate.average_run_length, abs=5 * error)


def test_noise_alone_is_independent() -> None:
    """Without a signal phi says nothing; with no noise the share changes nothing."""
    independent = individuals_alarm_rate_ar1(0.0).average_run_length
    assert individuals_alarm_rate_ar1(0.9, signal_share=0.0).average_run_length == pytest.approx(independent)
    nearly = individuals_alarm_rate_ar1(0.6, signal_share=0.999999).average_run_length
    assert nearly == pytest.approx(individuals_alarm_rate_ar1(0.6).average_run_length, rel=1e-3)


def test_moving_range_limits_cry_wolf() -> None:
    """Limits from moving ranges are sqrt(1 - phi) as wide: at phi 0.5 a false alarm every 34 tests."""
    rate = individuals_alarm_rate_ar1(0.5, 3.0 * math.sqrt(0.5))
    assert 34.0 < rate.average_run_length < 34.5


def test_impossible_settings_are_refused() -> None:
    """Every setting out of range is named at once."""
    with pytest.raises(InputError) as caught:
        individuals_alarm_rate_ar1(1.0, 9.0, baseline_count=2, signal_share=2.0)
    assert [problem.where for problem in caught.value.problems] == [
        "phi", "width", "baseline", "signal share",
    ]  # fmt: skip
