"""How a table of the record and its keys are described."""

from dataclasses import dataclass
from enum import Enum

from tension.quantity.units import Dimension

NEEDED = "needed"
"""The default of a key that must be written."""


class Form(Enum):
    """How a value is written; the value says it on the page of file formats."""

    TEXT = "text"
    WORD = "one of the words"
    QUANTITY = "text with unit"
    QUANTITIES = "text with unit, or a list of them"
    WHOLE = "whole number"
    NUMBER = "number"
    WHOLES = "list of whole numbers"
    ROWS = "list of lists of rope numbers"
    DATE = "date"
    PATH = "path"
    LENGTHS = "table of span names and lengths"
    FLAG = "true or false"
    WORDS = "one of the words, or a list of them"
    PATHS = "path, or a list of them"


@dataclass(frozen=True, kw_only=True, slots=True)
class Key:
    """One key of a table.

    Attributes
    ----------
    name : str
        As written in the record.
    form : Form
        How its value is written.
    meaning : str
        What it says.
    default : str
        What holds where it is left out; "needed" if it must be written.
    dimension : Dimension or None
        Of a quantity.
    least, most : float
        Between what a quantity must lie, both included. [SI]
    """

    name: str
    form: Form
    meaning: str
    default: str = "not known"
    dimension: Dimension | None = None
    least: float = 0.0
    most: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """One table of the record.

    Attributes
    ----------
    name : str
        As written between the brackets; empty for the top of the file.
    is_list : bool
        Whether it is written in double brackets, as often as needed.
    keys : tuple of Key
        Its keys.
    meaning : str
        What it is for.
    """

    name: str
    is_list: bool
    keys: tuple[Key, ...]
    meaning: str

    @property
    def key_names(self) -> tuple[str, ...]:
        """Names of its keys."""
        return tuple(key.name for key in self.keys)

    def key(self, name: str) -> Key:
        """Find a key by name.

        Parameters
        ----------
        name : str
            The name.

        Returns
        -------
        Key
            The key; there must be one.
        """
        return next(key for key in self.keys if key.name == name)
