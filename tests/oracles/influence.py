"""Influence matrices of a hitch: what one nut does to every rope, all at once.

Imports nothing from the package.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def influence_matrix(stiffnesses: ArrayLike) -> Array:
    """Change of every tension for unit travel of every nut.

    Parameters
    ----------
    stiffnesses : array_like, shape (n_ropes,)
        Stiffness of each rope. [N/m]

    Returns
    -------
    ndarray, shape (n_ropes, n_ropes)
        ``M`` of ``changes = M @ nut_travels``; rows and columns sum to zero. [N/m]

    Notes
    -----
    ``M = diag(k) - k k^T / sum(k)``: the hitch rises by ``x = sum(k d)/sum(k)`` so that
    the load stays, and rope i is stretched by ``d_i - x``. The null vector is all nuts
    alike.
    """
    k = np.asarray(stiffnesses, dtype=float)
    matrix: Array = np.diag(k) - np.outer(k, k) / k.sum()
    return matrix


def influence_matrix_from_compliance(compliance: ArrayLike) -> Array:
    """Influence matrix of a hitch whose ropes move each other, as on a tilting car.

    Parameters
    ----------
    compliance : array_like, shape (n_ropes, n_ropes)
        Symmetric; stretch at rope i for unit tension at rope j, tilt included. [m/N]

    Returns
    -------
    ndarray, shape (n_ropes, n_ropes)
        Rows and columns sum to zero. [N/m]

    Notes
    -----
    ``M = C^-1 - C^-1 1 1^T C^-1 / (1^T C^-1 1)``; with ``C = diag(1/k)`` it is
    `influence_matrix`.
    """
    c = np.asarray(compliance, dtype=float)
    stiffness = np.linalg.inv(c)
    row = stiffness.sum(axis=1)
    matrix: Array = stiffness - np.outer(row, row) / row.sum()
    return matrix
