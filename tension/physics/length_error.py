"""A free length that is not what it was taken for, and a mass that is not."""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import FloatArray, require_positive


def apparent_tension_ratio(
    *, length_taken: ArrayLike, length_true: ArrayLike
) -> FloatArray:
    """Compute by how much a tension from pitch or returns is off for a wrong length.

    Parameters
    ----------
    length_taken : array_like
        Free length that was reckoned with. [m]
    length_true : array_like
        Free length that swings: longer in a lower socket, shorter where the rope
        touches something. [m]

    Returns
    -------
    ndarray
        Tension worked out over tension. [1]

    Raises
    ------
    InvalidValueError
        If a length is not above zero.

    Notes
    -----
    ``T = m (2 L f)^2``, so the ratio is ``(L_taken/L_true)^2``; a small error s of the
    length gives ``1 + 2 s/L``. Holds for an ideal string; with stiffness the ratio is
    the same to first order in ``sqrt(EI/T)/L`` for a common error of both ends.

    Examples
    --------
    150 mm of stagger left out at 3 m:

    >>> round(float(apparent_tension_ratio(length_taken=3.15, length_true=3.0)), 3)
    1.103
    """
    taken = require_positive("free length taken [m]", length_taken)
    true = require_positive("free length [m]", length_true)
    return np.asarray((taken / true) ** 2)[()]
