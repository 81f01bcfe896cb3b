"""A tree of records: what is found in it, and what every kind of tree can do."""

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from tension.workflow.inputs import RECORD_NAME


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """A record found in a tree, or a folder that holds none where one is missing.

    Attributes
    ----------
    record : str
        Path of the record, or of the folder, from the top, with forward slashes.
    reasons : tuple of str
        Why it cannot be used; empty for a record.
    """

    record: str
    reasons: tuple[str, ...] = ()


class Tree(Protocol):
    """Where records lie; passed to other processes and machines."""

    @property
    def name(self) -> str:
        """What a person calls it."""

    @property
    def folder(self) -> Path | None:
        """The folder in which it lies; None if it is copied piece by piece."""

    def places(self) -> Iterator[Place]:
        """Find every record, in natural order of the paths."""

    def at_hand(self, record: str) -> AbstractContextManager[Path]:
        """Have a record and its files in a folder of this machine."""

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""


def without_record(where: str) -> str:
    """Say that a folder of recordings lacks its record."""
    return (
        f"{where}: this folder holds recordings but no {RECORD_NAME}, so nothing is "
        f"known of the ropes; make one with 'tension start'"
    )
