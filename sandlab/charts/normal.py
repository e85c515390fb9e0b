"""The standard normal distribution and Gauss-Legendre nodes, with numpy and math alone."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_ROOT_TWO = math.sqrt(2.0)
_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


def density(z: npt.ArrayLike) -> Floats:
    """The standard normal density at each `z`."""
    values = np.asarray(z, dtype=np.float64)
    return np.asarray(np.exp(-0.5 * values * values) / _ROOT_TWO_PI)


def below(z: npt.ArrayLike) -> Floats:
    """The chance that a standard normal value lies below each `z`, right in both tails."""
    values = np.asarray(z, dtype=np.float64)
    flat = [0.5 * math.erfc(-x / _ROOT_TWO) for x in values.ravel().tolist()]
    return np.array(flat, dtype=np.float64).reshape(values.shape)


def below_one(z: float) -> float:
    """The chance that a standard normal value lies below `z`."""
    return 0.5 * math.erfc(-z / _ROOT_TWO)


def dot(first: Floats, second: Floats) -> float:
    """Sum of products; unlike `@` on long rows it starts no threads, which are slow on a busy machine."""
    return float(np.einsum("i,i->", first, second))


@lru_cache(maxsize=64)
def _unit_nodes(count: int) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return nodes, weights


def nodes_between(low: float, high: float, count: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on [low, high]."""
    nodes, weights = _unit_nodes(count)
    half = 0.5 * (high - low)
    return low + half * (nodes + 1.0), half * weights
