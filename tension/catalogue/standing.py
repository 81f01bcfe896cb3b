"""Rows of published data: how each is known, and how each is read."""

import tomllib
from collections.abc import Callable, Mapping
from enum import StrEnum
from importlib.resources import files
from typing import Any, TypeVar

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


def read_row(
    kind: type[Row],
    raw: Mapping[str, Any],
    readers: Mapping[str, Callable[[Any], Any]],
    **more: object,
) -> Row:
    """Make a row of what stands in a file; what has no reader is taken as it is."""
    read = {k: readers[k](v) if k in readers else v for k, v in raw.items()}
    return kind(**{**read, **more})
