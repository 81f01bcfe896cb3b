"""Which allowance table the inspector has open, and the figures that he reads there."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from tension.quantity.units import Quantity

CONFIRMING_KEYS = ("table", "edition", "page", "confirmed_by", "date")
"""All of them, and the figure itself, confirm a figure; else nothing is compared."""


class FigureOf(StrEnum):
    """What a figure is of."""

    SPREAD = "spread"
    ONE_OR_TWO_STRANDS = "one-or-two-strands"
    SIDE_BY_SIDE = "side-by-side"
    VALLEY = "valley"
    DIAMETER = "diameter"


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedFigure:
    """One row of the table, as the inspector reads it in his book.

    Attributes
    ----------
    breaks : int or None
        Broken wires allowed in one lay. [1]
    fraction_of_wires : Quantity or None
        The same as a part of all wires. [1]
    in_strand, in_strand_worn : int or None
        Of them in one strand; where wires are badly rusted or worn. [1]
    fraction_of_strand : Quantity or None
        The same as a part of the wires of one strand. [1]
    least, least_with_rouge : Quantity or None
        Least diameter, and where rouge shows. [m]
    least_fraction : Quantity or None
        Least diameter as a part of the nominal one. [1]
    most_loss : Quantity or None
        Largest loss of diameter. [m]
    """

    what: FigureOf
    breaks: int | None = None
    fraction_of_wires: Quantity | None = None
    in_strand: int | None = None
    in_strand_worn: int | None = None
    fraction_of_strand: Quantity | None = None
    least: Quantity | None = None
    least_with_rouge: Quantity | None = None
    least_fraction: Quantity | None = None
    most_loss: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Allowance:
    """Which allowance table is used, and whether somebody confirms it.

    Attributes
    ----------
    table : str
        Name of a table of the catalogue or of the file.
    file : str
        Path of the user's own tables beside the record; empty for the catalogue.
    edition, page : str
        What the inspector has open.
    confirmed_by, date : str, date or None
        Who has it open, and when.
    rope_class : str
        Such as "8x19", where the construction does not tell it.
    is_inspected_monthly : bool
        Whether a competent person inspects the ropes every month.
    figures : tuple of TypedFigure
        The figures as read in the book, one for each that is compared.
    is_of_the_future : bool
        Whether the date is still to come on the day on which it is used.
    """

    table: str = ""
    file: str = ""
    edition: str = ""
    page: str = ""
    confirmed_by: str = ""
    date: dt.date | None = None
    rope_class: str = ""
    is_inspected_monthly: bool = False
    figures: tuple[TypedFigure, ...] = ()
    is_of_the_future: bool = False

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys that are still needed, a mere "?" or "-" counting as none."""
        values = (self.table, self.edition, self.page, self.confirmed_by, self.date)
        return tuple(
            key
            for key, value in zip(CONFIRMING_KEYS, values, strict=True)
            if value is None or not any(letter.isalnum() for letter in str(value))
        )

    @property
    def is_confirmed(self) -> bool:
        """Whether somebody says that the table is open before him."""
        return not self.missing and not self.is_of_the_future

    def figure(self, what: str) -> TypedFigure | None:
        """Find the figure that was typed; None if it was not."""
        return next((one for one in self.figures if one.what == what), None)
