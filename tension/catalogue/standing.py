"""How a published figure is known."""

from enum import StrEnum


class Standing(StrEnum):
    """How a figure is known; only SEEN counts as an outside check."""

    SEEN = "seen"
    SECOND_HAND = "second-hand"
    MEMORY = "from memory"
    PRACTICE = "common practice, no source"
    PROGRAM = "the program's own figure"
    USER = "given by the user"
