"""Damaged and wrong inputs: makers of files and arguments, and what may come of them.

Each maker fills an empty folder and returns the arguments of one command. Sound files
stand as rope 2 between two good ropes, so that the good ropes can be seen to stay.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.end_to_end.bad_files import FILE_MAKERS
from tests.end_to_end.bad_options import OPTION_MAKERS
from tests.end_to_end.bad_records import RECORD_MAKERS

Maker = Callable[[Path], list[str]]

WRONG_USAGE, UNUSABLE = 2, 3
EQUAL, UNEQUAL, CANNOT_TELL = 0, 10, 11

REFUSED = frozenset({WRONG_USAGE, UNUSABLE})
"""Nothing can come of it."""
NOT_EQUAL = frozenset({UNUSABLE, UNEQUAL, CANNOT_TELL})
"""One rope has no number: equal must never be said."""
ANY_RESULT = frozenset({EQUAL, UNUSABLE, UNEQUAL, CANNOT_TELL})
"""Part of it may be usable."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BadInput:
    """One bad input.

    Attributes
    ----------
    name : str
        What is wrong with it.
    make : callable
        Fills a folder and returns the arguments.
    codes : frozenset of int
        Exit codes that are right.
    says : str
        Words that must be told, on stdout or stderr; empty if any will do.
    """

    name: str
    make: Maker
    codes: frozenset[int]
    says: str = ""


_CODES = {"refused": REFUSED, "not equal": NOT_EQUAL, "any result": ANY_RESULT}


def bad_inputs() -> list[BadInput]:
    """Return every bad input, files, records and options in this order."""
    return [
        BadInput(name=f"{room}: {name}", make=make, codes=_CODES[outcome], says=says)
        for room, makers in (
            ("file", FILE_MAKERS),
            ("record", RECORD_MAKERS),
            ("option", OPTION_MAKERS),
        )
        for name, make, outcome, says in makers
    ]
