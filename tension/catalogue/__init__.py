"""Catalogue: published data, each row with its source and standing."""

import tomllib
from collections.abc import Mapping
from enum import StrEnum
from importlib.resources import files
from typing import Any, TypeVar, get_args, get_type_hints

from tension.quantity.units import Dimension, Quantity, parse_quantity

Row = TypeVar("Row")


class Standing(StrEnum):
    """How a figure is known; only SEEN counts as an outside check."""

    SEEN = "seen"
    SECOND_HAND = "second-hand"
    MEMORY = "from memory"
    PRACTICE = "common practice, no source"
    PROGRAM = "the program's own figure"
    USER = "given by the user"


def published(name: str) -> dict[str, Any]:
    """Read a file of the catalogue."""
    return tomllib.loads(files("tension.catalogue").joinpath(name).read_text("utf-8"))


def read_row(kind: type[Row], raw: Mapping[str, Any], **more: object) -> Row:
    """Make a row of what stands in a file, each value by the type of its field."""
    hints = get_type_hints(kind)
    return kind(**{name: _read(raw[name], hints[name]) for name in raw} | more)


def _read(value: Any, hint: Any) -> Any:  # noqa: ANN401 - of every field its own type
    """Words of an enumeration, lists, lengths and percentages; all else as it is."""
    kinds = get_args(hint) or (hint,)
    if isinstance(value, list):
        return tuple(value)
    if Quantity in kinds:
        is_part = value.endswith("%")
        return parse_quantity(
            value, Dimension.FRACTION if is_part else Dimension.LENGTH
        )
    if issubclass(kinds[0], StrEnum):
        return kinds[0](value)
    return value
