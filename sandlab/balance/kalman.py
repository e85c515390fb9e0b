"""The few lines of a Kalman filter: a Gaussian, one scalar measurement at a time, a gate for doubt."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.errors import impossible

KEPT_DOUBTS = 20
GATE = 3.0  # standard deviations of an innovation beyond which a result is doubtful


@dataclass(frozen=True, slots=True)
class Gaussian:
    """What is known of a state: mean, shape (n,), and covariance, shape (n, n)."""

    mean: Floats
    covariance: Floats

    def of(self, row: Floats) -> float:
        """Standard deviation of a linear view of the state."""
        return sqrt(max(0.0, float(row @ self.covariance @ row)))


@dataclass(frozen=True, slots=True)
class Corrected:
    """A state after one measurement.

    weight: share of its usual precision that the measurement was given, 1 inside the gate [-]
    innovation: measurement less what was expected of it, in its own standard deviations [-]
    """

    state: Gaussian
    weight: float
    innovation: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """A result beyond the gate: when it was taken, what it was, its innovation in standard deviations.

    again: the second in a row on the same side, so that it is the repeat of the first
    """

    taken_us: int
    property: str
    value: float
    innovation: float
    again: bool = False


def doubted(
    doubts: tuple[Doubt, ...],
    taken_us: int,
    name: str,
    value: float,
    innovation: float,
    *,
    again: bool = False,
) -> tuple[Doubt, ...]:
    """The last doubts with this one, if the innovation lies beyond the gate."""
    if abs(innovation) <= GATE:
        return doubts
    return (*doubts[1 - KEPT_DOUBTS :], Doubt(taken_us, name, value, innovation, again))


def moved(state: Gaussian, transition: Floats, mean: Floats, added: Floats) -> Gaussian:
    """The state one step on: `mean` by the process, covariance F P F' plus variances on the diagonal."""
    covariance = transition @ state.covariance @ transition.T
    covariance.flat[:: covariance.shape[0] + 1] += added
    return Gaussian(mean, (covariance + covariance.T) / 2.0)


def corrected(
    state: Gaussian, innovation: float, row: Floats, variance: float, *, gate: float = GATE
) -> Corrected:
    """The state after a measurement, in Joseph form; one beyond the gate counts as much as one on it.

    innovation: measurement less its expectation; row: its derivative by the state; variance: of its noise.
    """
    spread = state.covariance @ row
    expected = float(row @ spread)
    total = expected + variance
    distance = innovation / sqrt(total)
    used = variance
    if abs(distance) > gate:
        # the noise at which this innovation would lie on the gate
        used = (innovation / gate) ** 2 - expected
    gain = spread / (expected + used)
    # (I - K H) P (I - K H)' + K R K', multiplied out
    left = state.covariance - np.outer(gain, spread)
    covariance = left - np.outer(left @ row, gain) + np.outer(gain, gain) * used
    settled = Gaussian(state.mean + gain * innovation, (covariance + covariance.T) / 2.0)
    return Corrected(settled, variance / used if used > 0.0 else 1.0, distance)


def steady_gain(process_variance: float, test_variance: float) -> float:
    """Gain that the filter settles at for a random walk seen through noise, by running it.

    ``P = P + q``, ``K = P / (P + r)``, ``P = (1 - K) P`` until K stays

    process_variance: q, of the walk between two tests [unit squared]
    test_variance: r, of one test [unit squared]
    returns: gain [-]

    Shapes: scalars.
    Validity: a walk and a noise of constant size.
    Errors: InputError when the process variance is below 0 or the test variance not above 0.
    Example:
    >>> round(steady_gain(0.1, 1.0), 3)
    0.27

    Source: derived, steady-state Kalman filter.
    """
    if not (process_variance >= 0.0 and test_variance > 0.0):
        raise impossible(
            "steady gain", f"variances {process_variance} and {test_variance}", "give 0 or more, and above 0"
        )
    state, row, last = Gaussian(np.zeros(1), np.eye(1) * test_variance), np.ones(1), -1.0
    while True:
        ahead = moved(state, np.eye(1), state.mean, np.array([process_variance]))
        state = corrected(ahead, 1.0, row, test_variance).state
        gain = float(state.mean[0] - ahead.mean[0])
        if abs(gain - last) < 1e-12 or gain < 1e-9:
            return gain
        last = gain
