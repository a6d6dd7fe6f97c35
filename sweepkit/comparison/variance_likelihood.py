"""Restricted likelihood of variances, on data folded up into cells of like setups.

The values of a setup enter by their number, mean and sum of squares; setups of one antenna, site and number of
sweeps by the same three again. What remains are Henderson's mixed-model equations in the levels of antennas and
sites, of which the larger set is eliminated as a diagonal, so that nothing of the size of the data squared is made.
Source: Searle, Casella, McCulloch, Variance Components, Wiley 1992, chapters 6 and 7 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.comparison.variance_design import Labels
from sweepkit.conversions import FloatArray


@dataclass(frozen=True, eq=False)
class Cells:
    """Setups that are alike, folded up: each field of shape (cells,)."""

    few: Labels  # levels of the factor with fewer levels
    many: Labels  # levels of the other
    setups: FloatArray  # how many
    sweeps: FloatArray  # values in each of them
    told: FloatArray  # variance of the instrument known from elsewhere
    mean: FloatArray  # of the setups
    between: FloatArray  # sum of squares of setups round the mean
    within: FloatArray  # sum of squares of values round their setup


def fold_up(values: FloatArray, setup: Labels, few: Labels, many: Labels, told: FloatArray) -> Cells:
    """Fold values into cells; ``told`` is the known variance of each, 0 where unknown, within a setup its mean."""
    sweeps = np.bincount(setup).astype(np.float64)
    mean = np.bincount(setup, values) / sweeps
    within = np.bincount(setup, (values - mean[setup]) ** 2)
    first = np.unique(setup, return_index=True)[1]
    keys = np.stack([few[first], many[first], sweeps, np.bincount(setup, told) / sweeps], axis=1)
    alike, cell = np.unique(keys, axis=0, return_inverse=True)
    cell = cell.reshape(-1)
    setups = np.bincount(cell).astype(np.float64)
    middle = np.bincount(cell, mean) / setups
    return Cells(
        alike[:, 0].astype(np.intp),
        alike[:, 1].astype(np.intp),
        setups,
        alike[:, 2],
        alike[:, 3],
        middle,
        np.bincount(cell, (mean - middle[cell]) ** 2).astype(np.float64),
        np.bincount(cell, within).astype(np.float64),
    )


def minus_two_log(
    cells: Cells, instrument: float, setup: float, few: float, many: float
) -> tuple[float, FloatArray]:
    """Minus twice the restricted log-likelihood, up to a constant, and its slopes by the logarithm of each variance.

    That of the instrument comes on top of what is told.
    """
    c = cells
    w = instrument + c.told
    repeats = c.setups * (c.sweeps - 1)
    inner = np.where(repeats > 0, w, 1.0)  # a cell without repeats says nothing here
    d = setup + w / c.sweeps
    weight = c.setups / d
    wy = weight * c.mean
    root_few, root_many = np.sqrt(few), np.sqrt(many)
    n_few, n_many = int(c.few.max()) + 1, int(c.many.max()) + 1
    per_few, per_many = np.bincount(c.few, weight), np.bincount(c.many, weight)
    crossed = np.bincount(c.few * n_many + c.many, weight, n_few * n_many).reshape(n_few, n_many)
    border = np.zeros((n_few + 1, n_few + 1))
    border[0, 0] = weight.sum()
    border[0, 1:] = border[1:, 0] = root_few * per_few
    border[1:, 1:] = np.diag(1 + few * per_few)
    edge = root_many * np.vstack([per_many, root_few * crossed])
    diagonal = 1 + many * per_many
    schur = border - (edge / diagonal) @ edge.T
    # The mean's own row without taking large numbers from one another.
    schur[0, 0] = np.sum(crossed / diagonal)
    schur[0, 1:] = schur[1:, 0] = root_few * np.sum(crossed / diagonal, axis=1)
    inverse = np.linalg.inv(schur)
    right_many = root_many * np.bincount(c.many, wy)
    right = np.concatenate([[wy.sum()], root_few * np.bincount(c.few, wy)])
    solved = inverse @ (right - edge @ (right_many / diagonal))
    solved_many = (right_many - edge.T @ solved) / diagonal
    value = (
        np.sum(repeats * np.log(inner) + c.within / inner)
        + np.sum(c.setups * np.log(d) + c.between / d)
        + np.log(diagonal).sum()
        + np.linalg.slogdet(schur)[1]
        + wy @ c.mean
        - right @ solved
        - right_many @ solved_many
    )
    # Diagonal of P and P y at each cell, with P the inverse covariance freed of the mean.
    gain = inverse @ (edge / diagonal)
    own_many = 1 / diagonal + np.einsum("ij,ij->j", edge / diagonal, gain)
    spread = inverse[0, 0] + 2 * root_few * inverse[0, 1:][c.few] + few * np.diag(inverse)[1:][c.few]
    spread = spread - 2 * root_many * (gain[0, c.many] + root_few * gain[1 + c.few, c.many])
    spread = spread + many * own_many[c.many]
    left = weight * (c.mean - solved[0] - root_few * solved[1:][c.few] - root_many * solved_many[c.many])
    by_d = (weight - weight**2 * spread - left**2) / c.setups + (c.setups - 1) / d - c.between / d**2
    by_w = np.where(repeats > 0, repeats / inner - c.within / inner**2, 0.0)
    slope = np.array(
        [
            instrument * np.sum(by_w + by_d / c.sweeps),
            setup * np.sum(by_d),
            np.sum(1 - np.diag(inverse)[1:] - solved[1:] ** 2),
            np.sum(1 - own_many - solved_many**2),
        ]
    )
    return float(value), slope
