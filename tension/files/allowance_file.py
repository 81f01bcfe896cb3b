"""A person's own tables of allowances, beside the record."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator

from tension.catalogue.allowances import (
    AllowanceTable,
    RowDistribution,
    When,
    tables_of,
)
from tension.catalogue.standing import Standing
from tension.files.mistakes import read_tables
from tension.files.table_model import (
    Flag,
    Length,
    Measured,
    NeededText,
    Table,
    Whole,
    WholeOrNone,
    key,
    listed,
)
from tension.files.toml_reading import parse_toml
from tension.quantity.units import Dimension, Quantity

_Share = Annotated[
    Quantity, Measured(dimension=Dimension.FRACTION, least=1e-6, most=1.0)
]


class _BreakRow(Table):
    """Allowance of broken wires in one lay."""

    rope_class: NeededText = key('such as "8x19"', ...)
    distribution: RowDistribution = key("how they lie", RowDistribution.ANY)
    breaks: WholeOrNone | None = key("as a number")
    breaks_if_monthly: WholeOrNone | None = key("where inspected every month")
    fraction_of_wires: _Share | None = key("as a part of all wires")
    has_filler_counted: Flag = key("whether filler wires are wires", False)  # noqa: FBT003
    in_strand: WholeOrNone | None = key("of them in one strand")
    in_strand_worn: WholeOrNone | None = key("where wires are badly rusted or worn")
    fraction_of_strand: _Share | None = key("as a part of the wires of one strand")
    is_of_adjacent: Flag = key("only of those side by side", False)  # noqa: FBT003
    adjacent_from: Whole | None = key("of the lay, where so many lie side by side")
    adjacent_to: Whole | None = key("up to so many")
    when: When = key("from where on it is exceeded", When.OVER)
    standing: Standing = key("how it is known", Standing.USER)

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """The allowance is a number or a part."""
        if ("breaks" in written) == ("fraction_of_wires" in written):
            yield "breaks", "write either breaks or fraction_of_wires"
        if ("adjacent_from" in written) != ("adjacent_to" in written):
            yield "adjacent_from", "goes with adjacent_to; write both"


class _DiameterRow(Table):
    """Least diameter of the ropes of one size, or of a range of sizes."""

    size: Length = key('the nominal diameter, like "13 mm"', ...)
    size_to: Length | None = key("up to this one")
    least: Length | None = key("the least diameter")
    least_with_rouge: Length | None = key("where rouge shows")
    most_loss: Length | None = key("the largest loss")

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """The allowance is a diameter or a loss."""
        if ("least" in written) == ("most_loss" in written):
            yield "least", "write either least or most_loss"


class _AllowanceTable(Table):
    """One table with its source."""

    name: NeededText = key("the record names it", ...)
    title: str = key("what it is", "")
    source: NeededText = key("where it is published; without it no table", ...)
    edition: NeededText = key("which edition", ...)
    standing: Standing = key("how it is known", Standing.USER)
    note: str = key("anything", "")
    scope: str = key("what it is for", "")
    breaks: tuple[_BreakRow, ...] = ()
    diameter: tuple[_DiameterRow, ...] = ()
    least_fraction: _Share | None = key("least diameter, of the nominal one")
    reduction: _Share | None = key("factor under unfavourable conditions")
    reduced_for: Annotated[tuple[str, ...], BeforeValidator(listed)] = key(
        "kinds of finding that count as unfavourable", ()
    )
    has_rouge_column: Flag = key("whether rouge has its own", False)  # noqa: FBT003
    is_for_examination: Flag = key("over it: examined, not discarded", False)  # noqa: FBT003
    by_sight: Annotated[tuple[str, ...], BeforeValidator(listed)] = key(
        "kinds of finding for which it discards by sight", ()
    )


class _AllowanceFile(Table):
    """Tables of allowances."""

    format: Whole = key("version of this format: 1", 1)
    table: tuple[_AllowanceTable, ...] = ()

    @classmethod
    def _contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """There is a table at least."""
        if not written.get("table"):
            yield "table", "is missing; add a [[table]]"


def read_allowance_tables(text: str, name: str) -> tuple[AllowanceTable, ...]:
    """Read a person's own tables.

    Returns
    -------
    tuple of AllowanceTable
        In the order of the file, all with the standing "given by the user".

    Raises
    ------
    FileFormatError
        With every mistake, a line each.
    """
    document = parse_toml(text, name)
    read_tables(document, _AllowanceFile, (name, text))
    return tables_of(document, Standing.USER)
