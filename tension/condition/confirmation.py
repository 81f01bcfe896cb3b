"""Which allowance table the inspector has open, and that he says so.

The record reader hands the ``[allowance]`` table to `allowance_from_table`.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from tension.quantity.keys import KeyReader, Mistake

CONFIRMING_KEYS = ("table", "edition", "page", "confirmed_by", "date")
"""All of them confirm a table; one missing, and it only pre-fills the form."""

ALLOWANCE_KEYS = (
    *CONFIRMING_KEYS,
    "file",
    "rope_class",
    "monthly_inspection",
)
"""Keys of ``[allowance]``."""


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


def allowance_from_table(
    table: Mapping[str, object],
) -> tuple[Allowance | None, tuple[Mistake, ...]]:
    """Read the ``[allowance]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.

    Returns
    -------
    tuple of (Allowance or None, tuple of Mistake)
        The allowance, or None with every mistake found.
    """
    reader = KeyReader(table)
    reader.only(ALLOWANCE_KEYS, {})
    files = reader.paths("file")
    allowance = Allowance(
        table=reader.text("table"),
        file=files[0] if files else "",
        edition=reader.text("edition"),
        page=reader.text("page"),
        confirmed_by=reader.text("confirmed_by"),
        date=reader.day("date"),
        rope_class=reader.text("rope_class"),
        is_inspected_monthly=reader.flag("monthly_inspection"),
    )
    if reader.mistakes:
        return None, tuple(reader.mistakes)
    return allowance, ()
