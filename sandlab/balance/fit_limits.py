"""How sure a least-squares fit is when results that lie close in time may err together."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sandlab.balance.composition import Floats

LEAST_BLOCKS = 4


def fit_sds(jacobian: Floats, residuals: Floats, blocks: npt.ArrayLike) -> Floats:
    """Standard deviations of fitted values, each value having a prior of sd 1.

    ``A = J'J + 1``; plain: ``max(1, mean r^2) A^-1``; by blocks: ``A^-1 (B/(B-1) sum g g' + 1) A^-1`` with
    ``g`` the sum of ``J_i r_i`` over a block. The larger of the two, never above the prior.

    jacobian: of the residuals by the values, shape (n, k) [-]
    residuals: in their own standard deviations, shape (n,) [-]
    blocks: the block of each residual, such as its days, shape (n,) [-]
    returns: standard deviations, shape (k,) [-]

    Shapes: n residuals, k values.
    Validity: blocks that are independent of each other; with fewer than four only the plain one is used.
    Errors: none.
    Example:
    >>> fit_sds(np.ones((24, 1)), np.array([1.0, -1.0] * 12), np.arange(24)).round(2).tolist()
    [0.2]

    Source: memory, the covariance of clustered errors (sandwich estimator).
    """
    inverse = np.linalg.inv(jacobian.T @ jacobian + np.eye(jacobian.shape[1]))
    plain = np.diag(inverse) * max(1.0, float(np.mean(residuals**2)))
    names, places = np.unique(np.asarray(blocks), return_inverse=True)
    if names.size < LEAST_BLOCKS:
        return np.asarray(np.minimum(np.sqrt(plain), 1.0))
    pulls = np.zeros((names.size, jacobian.shape[1]))
    np.add.at(pulls, places, jacobian * residuals[:, None])
    spread = names.size / (names.size - 1.0) * pulls.T @ pulls + np.eye(jacobian.shape[1])
    clustered = np.diag(inverse @ spread @ inverse)
    return np.asarray(np.minimum(np.sqrt(np.maximum(plain, clustered)), 1.0))
