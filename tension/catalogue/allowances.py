"""Allowances of broken wires and of diameter: tables as data, the user's own likewise.

A table only pre-fills the form; what confirms it stands in `tension.condition`.
"""

from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from functools import cache

from tension.catalogue import Standing, published, read_row
from tension.errors import InvalidValueError
from tension.quantity.units import Quantity

SAME_SIZE = 0.05e-3
"""Two nominal diameters closer than this are one size: 12.70 mm is 1/2 in. [m]"""


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
    """Allowance of broken wires in one lay, and in one strand of it."""

    rope_class: str  # such as "8x19"; "8x*" for all with eight strands, "*" for all
    standing: Standing  # how the row is known
    distribution: RowDistribution = RowDistribution.ANY  # how the broken wires lie
    # the allowance as a number; None where it is a part of the wires [1]
    breaks: int | None = None
    # the higher one where the ropes are inspected every month [1]
    breaks_if_monthly: int | None = None
    # the allowance as a part of all wires [1]
    fraction_of_wires: Quantity | None = None
    when: When = When.OVER  # from where on it is exceeded
    has_filler_counted: bool = False  # whether filler wires are among all wires
    # what one strand may have of them; where wires are badly rusted or worn [1]
    in_strand: int | None = None
    in_strand_worn: int | None = None
    # the same as a part of the wires of one strand [1]
    fraction_of_strand: Quantity | None = None
    # whether it holds for the wires that lie side by side, not for all of the lay
    is_of_adjacent: bool = False
    # for how many side by side a row for all of the lay holds [1]
    adjacent_from: int | None = None
    adjacent_to: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class DiameterRow:
    """Least diameter of the ropes of one size, or of a range of sizes."""

    # nominal diameters for which the row holds, both included [m]
    size: Quantity
    size_to: Quantity
    standing: Standing  # how the row is known
    # least diameter, and where rouge shows [m]
    least: Quantity | None = None
    least_with_rouge: Quantity | None = None
    most_loss: Quantity | None = None  # or the largest loss of diameter [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class AllowanceTable:
    """One published table, or one of the user's own."""

    # what it is, where it is published, and what else it says
    name: str
    source: str
    edition: str
    standing: Standing  # how it is known
    title: str = ""
    note: str = ""
    scope: str = ""  # what it is for; empty for ropes of lifts
    breaks: tuple[BreakRow, ...] = ()  # rows for broken wires
    diameters: tuple[DiameterRow, ...] = ()  # rows for diameters
    # least diameter as a part of the nominal one [1]
    least_fraction: Quantity | None = None
    # what an allowance is multiplied by under unfavourable conditions; None if the
    # table has no such rule [1]
    reduction: Quantity | None = None
    reduced_for: tuple[str, ...] = ()  # kinds of finding that it names as unfavourable
    # whether it has other least diameters where rouge shows, held here or not
    has_rouge_column: bool = False
    # whether a rope over it is examined within a stated time, not discarded
    is_for_examination: bool = False
    by_sight: tuple[str, ...] = ()  # kinds of finding for which it discards by sight

    def break_row(
        self, rope_class: str, distribution: RowDistribution
    ) -> BreakRow | None:
        """Find the row for a class, such as "8x19", and a distribution."""
        fitting = [
            row
            for row in self.breaks
            if row.distribution in {distribution, RowDistribution.ANY}
            and fnmatchcase(rope_class.lower(), row.rope_class.lower())
        ]
        own = [row for row in fitting if row.distribution is distribution]
        return next(iter(own or fitting), None)

    def diameter_row(self, nominal: float) -> DiameterRow | None:
        """Find the row of exactly one nominal diameter [m]; never between two rows."""
        for row in self.diameters:
            low, high = row.size.value - SAME_SIZE, row.size_to.value + SAME_SIZE
            if low <= nominal <= high:
                return row
        return None


@cache
def allowance_tables() -> tuple[AllowanceTable, ...]:
    """Give the tables of the catalogue.

    A row without a standing has that of its table, one of a single size ends there.
    """
    tables = []
    for raw in published("allowances.toml")["table"]:
        own = {"standing": raw["standing"]}
        breaks = [own | row for row in raw.pop("breaks", ())]
        diameters = [
            own | {"size_to": row["size"]} | row for row in raw.pop("diameter", ())
        ]
        table = read_row(
            AllowanceTable,
            raw,
            breaks=tuple(read_row(BreakRow, row) for row in breaks),
            diameters=tuple(read_row(DiameterRow, row) for row in diameters),
        )
        tables.append(table)
    return tuple(tables)


def find_allowance_table(
    name: str, tables: tuple[AllowanceTable, ...] | None = None
) -> AllowanceTable:
    """Find a table by its name, in the catalogue or among those given.

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
