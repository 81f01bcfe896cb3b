"""Text with a unit to SI and back."""

from dataclasses import dataclass
from enum import Enum


class Dimension(Enum):
    """What a number measures; the value is how a person would call it."""

    LENGTH = "length"
    FORCE = "force"
    MASS = "mass"
    LINEAR_DENSITY = "mass per length"
    STIFFNESS = "spring rate"
    FREQUENCY = "frequency"
    TIME = "time"
    FRACTION = "percentage"
    TURNS = "turns"


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """A number as a person gave it, and in SI.

    Attributes
    ----------
    value : float
        In the SI unit of its dimension (m, N, kg, kg/m, N/m, Hz, s, 1, turns).
    dimension : Dimension
        What it measures.
    text : str
        The text exactly as given.
    """

    value: float
    dimension: Dimension
    text: str


def parse_quantity(text: str, dimension: Dimension) -> Quantity:
    """Read a text with a unit.

    Parameters
    ----------
    text : str
        What a person typed, such as ``10' 4 1/2"`` or ``0,58 kg/m``.
    dimension : Dimension
        What it must measure.

    Returns
    -------
    Quantity
        The value in SI beside the text.

    Raises
    ------
    InvalidValueError
        If the text is no such quantity; the message says what to write instead.
    """
    raise NotImplementedError(text, dimension)
