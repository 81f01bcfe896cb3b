"""Which notes a result carries."""

from collections.abc import Sequence
from typing import Protocol

from tension.notes import Note


class Noted(Protocol):
    """Anything with notes."""

    @property
    def notes(self) -> Sequence[Note]:
        """What was found doubtful."""


def codes(found: Noted) -> set[str]:
    """Codes of all notes of a result."""
    return {note.code for note in found.notes}
