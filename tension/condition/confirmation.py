"""Which allowance table the inspector has open, and that he says so."""

import datetime as dt
from dataclasses import dataclass

CONFIRMING_KEYS = ("table", "edition", "page", "confirmed_by", "date")
"""All of them confirm a table; one missing, and it only pre-fills the form."""


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
    confirmed_by : str
        Who has it open.
    date : date or None
        When.
    rope_class : str
        Such as "8x19", where the construction does not tell it.
    is_inspected_monthly : bool
        Whether a competent person inspects the ropes every month.
    """

    table: str = ""
    file: str = ""
    edition: str = ""
    page: str = ""
    confirmed_by: str = ""
    date: dt.date | None = None
    rope_class: str = ""
    is_inspected_monthly: bool = False

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys that are still needed for the table to be confirmed."""
        values = (self.table, self.edition, self.page, self.confirmed_by, self.date)
        return tuple(
            key
            for key, value in zip(CONFIRMING_KEYS, values, strict=True)
            if value is None or not str(value).strip()
        )

    @property
    def is_confirmed(self) -> bool:
        """Whether somebody says that the table is open before him."""
        return not self.missing
