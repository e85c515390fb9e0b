"""The filter's few lines against the best exponential weight, least squares by hand and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.balance.filtering import best_weight
from sandlab.balance.kalman import GATE, Gaussian, corrected, moved, steady_gain

# Best exponential weight for a random walk seen through noise: derived, roots of the steady-state equation
# K^2 + q K - q = 0, worked out by hand to three digits.
WEIGHTS = {0.01: 0.095, 0.05: 0.200, 0.1: 0.270, 0.2: 0.358, 0.5: 0.500, 1.0: 0.618}


@pytest.mark.parametrize(("ratio", "weight"), WEIGHTS.items())
def test_steady_gain_is_the_best_exponential_weight(ratio: float, weight: float) -> None:
    """The filter that is run settles at the weight of the closed form, whatever the unit."""
    assert steady_gain(ratio, 1.0) == pytest.approx(weight, abs=0.0006)
    assert steady_gain(9.0 * ratio, 9.0) == pytest.approx(best_weight(ratio), abs=1e-9)


TRANSITION = np.array([[1.0, 0.5], [0.0, 0.9]])
ROW = np.array([1.0, 0.2])
WALK = np.array([0.04, 0.01])
TEST = 0.25


def series(count: int) -> np.ndarray:
    """Results of a level with a decaying trend, with a hole in the middle."""
    values = 8.0 + np.cumsum(np.random.default_rng(5).normal(0.0, 0.4, count))
    values[count // 2] = np.nan
    return values


def filtered(values: np.ndarray) -> Gaussian:
    """The filter run along the results; no result, no correction."""
    state = Gaussian(np.array([7.0, 0.1]), np.diag([1.0, 0.3]))
    for place, value in enumerate(values):
        if place:
            state = moved(state, TRANSITION, TRANSITION @ state.mean, WALK)
        if not np.isnan(value):
            innovation = float(value - ROW @ state.mean)
            state = corrected(state, innovation, ROW, TEST, gate=np.inf).state
    return state


def test_filter_is_generalised_least_squares() -> None:
    """The last state equals one large weighted least-squares problem over all states, written out."""
    values = series(12)
    count = values.size
    rows, wanted, weights = [], [], []

    def equation(blocks: dict[int, np.ndarray], value: float, variance: float) -> None:
        row = np.zeros(2 * count)
        for place, block in blocks.items():
            row[2 * place : 2 * place + 2] = block
        rows.append(row)
        wanted.append(value)
        weights.append(1.0 / variance)

    equation({0: np.array([1.0, 0.0])}, 7.0, 1.0)
    equation({0: np.array([0.0, 1.0])}, 0.1, 0.3)
    for place in range(count):
        if place:
            for axis in range(2):
                equation({place: np.eye(2)[axis], place - 1: -TRANSITION[axis]}, 0.0, WALK[axis])
        if not np.isnan(values[place]):
            equation({place: ROW}, values[place], TEST)
    a, w = np.array(rows), np.array(weights)
    normal = a.T @ (a * w[:, None])
    solution = np.linalg.solve(normal, a.T @ (w * np.array(wanted)))
    state = filtered(values)
    np.testing.assert_allclose(state.mean, solution[-2:], rtol=1e-10)
    np.testing.assert_allclose(state.covariance, np.linalg.inv(normal)[-2:, -2:], rtol=1e-9)


@pytest.mark.oracles
def test_filter_agrees_with_statsmodels() -> None:
    """The same linear case in statsmodels' state-space filter: last filtered state and covariance."""
    reason = "statsmodels, an independent implementation, is not installed"
    mlemodel = pytest.importorskip("statsmodels.tsa.statespace.mlemodel", reason=reason)
    values = series(40)
    model = mlemodel.MLEModel(values, k_states=2, initialization="known", initial_state=np.array([7.0, 0.1]),
                              initial_state_cov=np.diag([1.0, 0.3]))  # fmt: skip
    model["design"] = ROW[None, :]
    model["transition"] = TRANSITION
    model["selection"] = np.eye(2)
    model["state_cov"] = np.diag(WALK)
    model["obs_cov"] = np.array([[TEST]])
    theirs = model.filter([])
    state = filtered(values)
    np.testing.assert_allclose(state.mean, theirs.filtered_state[:, -1], rtol=1e-9)
    np.testing.assert_allclose(state.covariance, theirs.filtered_state_cov[:, :, -1], rtol=1e-8)


@pytest.mark.parametrize("distance", [0.5, 2.9, 3.1, 8.0, 40.0])
def test_gate_weakens_but_never_drops(distance: float) -> None:
    """A result beyond the gate moves the state as one on the gate would, never less and never not at all."""
    state = Gaussian(np.array([8.0]), np.array([[0.04]]))
    sd = np.sqrt(0.04 + 0.09)
    plain = corrected(state, distance * sd, np.ones(1), 0.09, gate=np.inf)
    gated = corrected(state, distance * sd, np.ones(1), 0.09)
    on_gate = corrected(state, GATE * sd, np.ones(1), 0.09, gate=np.inf)
    assert gated.innovation == pytest.approx(distance)
    moved_by = gated.state.mean[0] - 8.0
    if distance <= GATE:
        assert gated.weight == 1.0 and moved_by == plain.state.mean[0] - 8.0
    else:
        assert 0.0 < gated.weight < 1.0
        assert 0.0 < moved_by <= on_gate.state.mean[0] - 8.0
        assert gated.state.covariance[0, 0] > plain.state.covariance[0, 0]


def test_covariance_stays_sound() -> None:
    """Thousands of nearly exact results of nearly the same view: symmetric and without negative variance."""
    g = np.random.default_rng(3)
    state = Gaussian(np.zeros(6), np.eye(6))
    for _ in range(3000):
        row = np.ones(6) + 1e-4 * g.standard_normal(6)
        state = corrected(state, 1e-3 * float(g.standard_normal()), row, 1e-9, gate=np.inf).state
        state = moved(state, np.eye(6), state.mean, np.full(6, 1e-12))
    np.testing.assert_array_equal(state.covariance, state.covariance.T)
    assert np.linalg.eigvalsh(state.covariance).min() > -1e-15
