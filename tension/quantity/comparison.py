"""Readings and limits compared as they were typed, not as binary fractions."""

from math import isclose

_AS_TYPED = 1e-9
"""Far under the last digit that anybody types, far over what arithmetic adds. [1]"""


def is_same(one: float, other: float) -> bool:
    """Tell whether two values are the same as typed.

    Parameters
    ----------
    one, other : float
        In one unit, typed or worked out from what was typed.

    Returns
    -------
    bool
        Whether they differ by rounding alone.

    Examples
    --------
    >>> is_same(7 * 0.01, 7 / 100), is_same(0.0704, 0.07)
    (True, False)
    """
    return isclose(one, other, rel_tol=_AS_TYPED)


def exceeds(value: float, limit: float, *, hair: float = 0.0) -> bool:
    """Tell whether a value lies over a limit.

    Parameters
    ----------
    value, limit : float
        In one unit, typed or worked out from what was typed.
    hair : float, optional
        What counts as on the limit besides, in that unit.

    Returns
    -------
    bool
        False on the limit, as typed: the mean of 11.7 and 11.7 is nine tenths of 13,
        though neither is a binary fraction.

    Examples
    --------
    >>> exceeds(0.9 * 13.0, (11.7 + 11.7) / 2), exceeds(11.71, 0.9 * 13.0)
    (False, True)
    """
    return value > limit + hair and not is_same(value, limit)


def falls_short(value: float, limit: float, *, hair: float = 0.0) -> bool:
    """Tell whether a value lies under a limit.

    Parameters
    ----------
    value, limit : float
        In one unit, typed or worked out from what was typed.
    hair : float, optional
        What counts as on the limit besides, in that unit.

    Returns
    -------
    bool
        False on the limit, as typed.

    Examples
    --------
    >>> falls_short((8.1 + 8.1) / 2, 0.9 * 9.0), falls_short(8.09, 0.9 * 9.0)
    (False, True)
    """
    return exceeds(limit, value, hair=hair)
