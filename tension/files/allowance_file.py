"""A person's own tables of allowances, beside the record."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from importlib.resources import files
from typing import Any

from tension.catalogue import allowances
from tension.catalogue.standing import Standing
from tension.files.table_model import Length, Whole, form, tables
from tension.files.toml_reading import parse_toml, read_tables

Contradictions = Iterator[tuple[str, str]]


def _breaks(written: Mapping[str, Any]) -> Contradictions:
    """The allowance is a number or a part."""
    if ("breaks" in written) == ("fraction_of_wires" in written):
        yield "breaks", "write either breaks or fraction_of_wires"
    if ("adjacent_from" in written) != ("adjacent_to" in written):
        yield "adjacent_from", "goes with adjacent_to; write both"


def _diameter(written: Mapping[str, Any]) -> Contradictions:
    """The allowance is a diameter or a loss."""
    if ("least" in written) == ("most_loss" in written):
        yield "least", "write either least or most_loss"


def _file(written: Mapping[str, Any]) -> Contradictions:
    """There is a table at least."""
    if not written.get("table"):
        yield "table", "is missing; add a [[table]]"


_TABLES = tables(
    files("tension.files").joinpath("allowance_keys.txt").read_text("utf-8"),
    {
        "": replace(form(format=Whole), against=_file),
        "table": form(allowances.AllowanceTable),
        "table.breaks": replace(form(allowances.BreakRow), against=_breaks),
        "table.diameter": replace(
            form(allowances.DiameterRow, size_to=Length | None), against=_diameter
        ),
    },
)


def read_allowance_tables(
    text: str, name: str
) -> tuple[allowances.AllowanceTable, ...]:
    """Read a person's own tables, all with the standing "given by the user".

    Raises
    ------
    FileFormatError
        With every mistake, a line each.
    """
    document = parse_toml(text, name)
    read_tables(document, _TABLES[""], (name, text))
    return allowances.tables_of(document, Standing.USER)
