"""Allowances of broken wires and of diameter: tables as data, the user's own likewise.

A table only pre-fills the form; what confirms it stands in `tension.condition`.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from functools import lru_cache
from pathlib import Path

from tension.catalogue.standing import Standing
from tension.errors import FileFormatError, InvalidValueError
from tension.quantity.keys import KeyReader
from tension.quantity.units import Dimension, Quantity

SAME_SIZE = 0.05e-3
"""Two nominal diameters closer than this are one size: 12.70 mm is 1/2 in. [m]"""

_FILE = Path(__file__).with_name("allowances.toml")


class RowDistribution(StrEnum):
    """How the broken wires lie for which a row holds."""

    SPREAD = "spread"
    ONE_OR_TWO_STRANDS = "one-or-two-strands"
    SIDE_BY_SIDE = "side-by-side"
    VALLEY = "valley"
    ANY = "any"


class When(StrEnum):
    """From where on an allowance is exceeded."""

    OVER = "over"
    REACHES = "reaches"


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakRow:
    """Allowance of broken wires in one lay.

    Attributes
    ----------
    rope_class : str
        Such as "8x19"; "8x*" for all with eight strands, "*" for all.
    distribution : RowDistribution
        How the broken wires lie.
    breaks : int or None
        The allowance as a number; None where it is a part of the wires. [1]
    breaks_if_monthly : int or None
        The higher one where the ropes are inspected every month. [1]
    fraction_of_wires : float or None
        The allowance as a part of all wires. [1]
    when : When
        From where on it is exceeded.
    standing : Standing
        How the row is known.
    """

    rope_class: str
    distribution: RowDistribution
    breaks: int | None
    breaks_if_monthly: int | None
    fraction_of_wires: float | None
    when: When
    standing: Standing


@dataclass(frozen=True, kw_only=True, slots=True)
class DiameterRow:
    """Least diameter of the ropes of one size, or of a range of sizes.

    Attributes
    ----------
    size, size_to : Quantity
        Nominal diameters for which the row holds, both included. [m]
    least, least_with_rouge : Quantity or None
        Least diameter, and where rouge shows. [m]
    most_loss : Quantity or None
        Or the largest loss of diameter. [m]
    standing : Standing
        How the row is known.
    """

    size: Quantity
    size_to: Quantity
    least: Quantity | None
    least_with_rouge: Quantity | None
    most_loss: Quantity | None
    standing: Standing


@dataclass(frozen=True, kw_only=True, slots=True)
class AllowanceTable:
    """One published table, or one of the user's own.

    Attributes
    ----------
    name, title, source, edition, note : str
        What it is, where it is published, and what else it says.
    scope : str
        What it is for; empty for ropes of lifts.
    standing : Standing
        How it is known.
    breaks : tuple of BreakRow
        Rows for broken wires.
    diameters : tuple of DiameterRow
        Rows for diameters.
    least_fraction : Quantity or None
        Least diameter as a part of the nominal one. [1]
    reduction : Quantity or None
        What an allowance is multiplied by under unfavourable conditions; None if the
        table has no such rule. [1]
    reduced_for : tuple of str
        Kinds of finding that it names as unfavourable.
    has_rouge_column : bool
        Whether it has other least diameters where rouge shows, held here or not.
    """

    name: str
    title: str
    source: str
    edition: str
    standing: Standing
    note: str = ""
    scope: str = ""
    breaks: tuple[BreakRow, ...] = ()
    diameters: tuple[DiameterRow, ...] = ()
    least_fraction: Quantity | None = None
    reduction: Quantity | None = None
    reduced_for: tuple[str, ...] = ()
    has_rouge_column: bool = False

    def break_row(
        self, rope_class: str, distribution: RowDistribution
    ) -> BreakRow | None:
        """Find the row for a class and a distribution.

        Parameters
        ----------
        rope_class : str
            Class of the rope, such as "8x19".
        distribution : RowDistribution
            How the broken wires lie.

        Returns
        -------
        BreakRow or None
            The row; None if the table has none.
        """
        fitting = [
            row
            for row in self.breaks
            if row.distribution in {distribution, RowDistribution.ANY}
            and fnmatchcase(rope_class.lower(), row.rope_class.lower())
        ]
        own = [row for row in fitting if row.distribution is distribution]
        return next(iter(own or fitting), None)

    def diameter_row(self, nominal: float) -> DiameterRow | None:
        """Find the row of exactly one nominal diameter; never between two rows.

        Parameters
        ----------
        nominal : float
            Nominal diameter. [m]

        Returns
        -------
        DiameterRow or None
            The row of that size; None if the table has none.
        """
        for row in self.diameters:
            low, high = row.size.value - SAME_SIZE, row.size_to.value + SAME_SIZE
            if low <= nominal <= high:
                return row
        return None


@lru_cache(maxsize=1)
def allowance_tables() -> tuple[AllowanceTable, ...]:
    """Give the tables of the catalogue.

    Returns
    -------
    tuple of AllowanceTable
        In the order of the file.
    """
    return read_allowance_tables(_FILE.read_text(encoding="utf-8"), _FILE.name)


def read_allowance_tables(
    text: str, name: str, *, standing: Standing | None = None
) -> tuple[AllowanceTable, ...]:
    """Read tables from TOML.

    Parameters
    ----------
    text : str
        Content of the file.
    name : str
        Name of the file, for messages.
    standing : Standing, optional
        Standing of everything in it, such as given by the user.

    Returns
    -------
    tuple of AllowanceTable
        In the order of the file.

    Raises
    ------
    FileFormatError
        With every mistake, a line each.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(f"{name}: {error}; correct that line") from error
    mistakes: list[str] = []
    top = KeyReader(document)
    top.only(("format", "table"), {})
    mistakes += [f"{name}: {m.key}: {m.text}" for m in top.mistakes]
    tables = [
        _read_table(raw, f"{name}: table {i}", mistakes, standing)
        for i, raw in enumerate(_tables(document, "table"), start=1)
    ]
    if not tables:
        mistakes.append(f"{name}: holds no [[table]]; add one")
    if mistakes:
        raise FileFormatError(*mistakes)
    return tuple(tables)


def find_allowance_table(
    name: str, tables: tuple[AllowanceTable, ...] | None = None
) -> AllowanceTable:
    """Find a table by its name.

    Parameters
    ----------
    name : str
        Name of the table.
    tables : tuple of AllowanceTable, optional
        Where to look; the catalogue if left out.

    Returns
    -------
    AllowanceTable
        The table.

    Raises
    ------
    InvalidValueError
        If there is none of that name.
    """
    known = allowance_tables() if tables is None else tables
    for table in known:
        if table.name == name:
            return table
    names = ", ".join(table.name for table in known)
    raise InvalidValueError(
        f'there is no allowance table "{name}"; there are {names}; '
        "a table of your own goes into a file of its own"
    )


def _tables(raw: Mapping[str, object], key: str) -> list[Mapping[str, object]]:
    """The tables under one key; none if it is something else."""
    found = raw.get(key, [])
    if not isinstance(found, list):
        return []
    return [one for one in found if isinstance(one, dict)]


_TABLE_KEYS = (
    "name",
    "title",
    "source",
    "edition",
    "standing",
    "note",
    "scope",
    "breaks",
    "diameter",
    "least_fraction",
    "reduction",
    "reduced_for",
    "has_rouge_column",
)


def _read_table(
    raw: Mapping[str, object],
    where: str,
    mistakes: list[str],
    standing: Standing | None,
) -> AllowanceTable:
    """One ``[[table]]``."""
    reader = KeyReader(raw)
    reader.only(_TABLE_KEYS, {})
    for key in ("name", "source", "edition"):
        if not reader.text(key):
            reader.refuse(key, "is missing; a table without its source is none")
    own = standing or reader.choice("standing", Standing) or Standing.USER
    table = AllowanceTable(
        name=reader.text("name"),
        title=reader.text("title"),
        source=reader.text("source"),
        edition=reader.text("edition"),
        standing=own,
        note=reader.text("note"),
        scope=reader.text("scope"),
        breaks=tuple(
            _read_break_row(row, f"{where}: breaks {i}", mistakes, own, standing)
            for i, row in enumerate(_tables(raw, "breaks"), start=1)
        ),
        diameters=tuple(
            row
            for i, raw_row in enumerate(_tables(raw, "diameter"), start=1)
            if (
                row := _read_diameter_row(
                    raw_row, f"{where}: diameter {i}", mistakes, standing or own
                )
            )
        ),
        least_fraction=_fraction(reader, "least_fraction"),
        reduction=_fraction(reader, "reduction"),
        reduced_for=reader.texts("reduced_for"),
        has_rouge_column=reader.flag("has_rouge_column"),
    )
    mistakes += [f"{where}: {m.key}: {m.text}" for m in reader.mistakes]
    return table


def _read_break_row(
    raw: Mapping[str, object],
    where: str,
    mistakes: list[str],
    standing: Standing,
    fixed: Standing | None,
) -> BreakRow:
    """One ``[[table.breaks]]``."""
    reader = KeyReader(raw)
    reader.only(
        (
            "rope_class",
            "distribution",
            "breaks",
            "breaks_if_monthly",
            "fraction_of_wires",
            "when",
            "standing",
        ),
        {},
    )
    fraction = _fraction(reader, "fraction_of_wires")
    if reader.has("breaks") == reader.has("fraction_of_wires"):
        reader.refuse("breaks", "write either breaks or fraction_of_wires")
    if not reader.text("rope_class"):
        reader.refuse("rope_class", 'is missing; write it like "8x19"')
    row = BreakRow(
        rope_class=reader.text("rope_class"),
        distribution=reader.choice("distribution", RowDistribution)
        or RowDistribution.ANY,
        breaks=reader.whole("breaks", lowest=0),
        breaks_if_monthly=reader.whole("breaks_if_monthly", lowest=0),
        fraction_of_wires=None if fraction is None else fraction.value,
        when=reader.choice("when", When) or When.OVER,
        standing=fixed or reader.choice("standing", Standing) or standing,
    )
    mistakes += [f"{where}: {m.key}: {m.text}" for m in reader.mistakes]
    return row


def _read_diameter_row(
    raw: Mapping[str, object], where: str, mistakes: list[str], standing: Standing
) -> DiameterRow | None:
    """One ``[[table.diameter]]``."""
    reader = KeyReader(raw)
    reader.only(("size", "size_to", "least", "least_with_rouge", "most_loss"), {})
    size = reader.quantity("size", Dimension.LENGTH)
    if not reader.has("size"):
        reader.refuse("size", 'is missing; write the nominal diameter, like "13 mm"')
    if reader.has("least") == reader.has("most_loss"):
        reader.refuse("least", "write either least or most_loss")
    size_to = reader.quantity("size_to", Dimension.LENGTH) or size
    least = reader.quantity("least", Dimension.LENGTH)
    with_rouge = reader.quantity("least_with_rouge", Dimension.LENGTH)
    most_loss = reader.quantity("most_loss", Dimension.LENGTH)
    mistakes += [f"{where}: {m.key}: {m.text}" for m in reader.mistakes]
    if size is None or size_to is None:
        return None
    return DiameterRow(
        size=size,
        size_to=size_to,
        least=least,
        least_with_rouge=with_rouge,
        most_loss=most_loss,
        standing=standing,
    )


def _fraction(reader: KeyReader, key: str) -> Quantity | None:
    """A percentage between 0 and 100."""
    fraction = reader.quantity(key, Dimension.FRACTION)
    if fraction is not None and not 0 < fraction.value <= 1:
        reader.refuse(key, f'must lie between 0 % and 100 %, not "{fraction.text}"')
    return fraction
