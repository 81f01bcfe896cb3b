"""How ropes of different stiffness share what is added to the car."""

import numpy as np
from numpy.typing import ArrayLike

from tension.physics.domain import FloatArray, require_positive


def added_load_shares(stiffnesses: ArrayLike) -> FloatArray:
    """Compute the share of an added load that each rope takes while the car stands.

    Parameters
    ----------
    stiffnesses : array_like, shape (n_ropes,)
        Stiffness of each rope as it stands: its spring and this fall in series. [N/m]

    Returns
    -------
    ndarray, shape (n_ropes,)
        ``k_i / sum(k)``; they sum to one. [1]

    Raises
    ------
    InvalidValueError
        If a stiffness is not above zero.

    Notes
    -----
    The rigid hitch sinks by ``x = load/sum(k)`` and stretches every rope by x. Ropes
    alike take ``1/n`` each; a rope whose spring is bound has the stiffness of its fall
    alone, ``EA/L``, against ``1/(1/k_s + L/EA)`` of the others.

    Examples
    --------
    Springs of 150 N/mm on 4 m of 4.6 MN, the first one bound:

    >>> free, bound = 1 / (1 / 150e3 + 4 / 4.6e6), 4.6e6 / 4
    >>> [round(float(s), 2) for s in added_load_shares([bound, free, free, free])]
    [0.74, 0.09, 0.09, 0.09]
    """
    k = require_positive("stiffness [N/m]", stiffnesses)
    return np.asarray(k / k.sum())
