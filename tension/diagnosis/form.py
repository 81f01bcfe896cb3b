"""One way in which a cause may show."""

from dataclasses import dataclass

from tension.diagnosis.causes import Cause
from tension.diagnosis.conditions import FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """One way in which a cause may show, over all conditions asked for.

    Attributes
    ----------
    cause : Cause
        Which cause.
    label : str
        Which form of it.
    weight : float
        Of this form among those of its cause, before looking. [1]
    level : ndarray, shape (n_conditions,)
        Expected deviation along `direction`. [N]
    spread : ndarray, shape (n_conditions, n_conditions)
        Covariance of the deviation over conditions. [N^2]
    direction : ndarray, shape (n_ropes,), or None
        How the ropes deviate together; None if each for itself. [1]
    rope : int or None
        Place of the one rope concerned, counted from 0.
    shape : ndarray, shape (n_conditions,)
        Deviation for unit unknown. [N, or N per unit of the unknown]
    """

    cause: Cause
    label: str
    weight: float
    level: FloatArray
    spread: FloatArray
    direction: FloatArray | None
    rope: int | None
    shape: FloatArray
