"""Reading the keys of one TOML table, every mistake a sentence, none an exception."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from enum import StrEnum
from pathlib import PurePosixPath
from typing import TypeVar

from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, Quantity, parse_quantity

Choice = TypeVar("Choice", bound=StrEnum)

_SUGGESTIONS = 50
"""So many unknown names of one table get the nearest known one told."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Mistake:
    """One mistake in one key.

    Attributes
    ----------
    key : str
        The key, as written.
    text : str
        What is wrong and what to write, without the key.
    """

    key: str
    text: str


class KeyReader:
    """The keys of one table, read one by one; what is wrong is gathered.

    Attributes
    ----------
    mistakes : list of Mistake
        What was wrong so far.
    """

    def __init__(self, table: Mapping[str, object]) -> None:
        self._table = table
        self.mistakes: list[Mistake] = []

    def refuse(self, key: str, text: str) -> None:
        """Add a mistake.

        Parameters
        ----------
        key : str
            The key.
        text : str
            What is wrong and what to write.
        """
        self.mistakes.append(Mistake(key=key, text=text))

    def has(self, key: str) -> bool:
        """Tell whether a key is written.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        bool
            Whether it is in the table.
        """
        return key in self._table

    def only(self, known: Collection[str], elsewhere: Mapping[str, str]) -> None:
        """Refuse every key that does not belong here.

        Parameters
        ----------
        known : collection of str
            Keys that belong here.
        elsewhere : mapping of str to str
            Keys that belong somewhere else, and where.
        """
        for key in self._table:
            if key in known:
                continue
            if key in elsewhere:
                self.refuse(key, f"goes with {elsewhere[key]}")
                continue
            is_many = len(self.mistakes) >= _SUGGESTIONS
            near = [] if is_many else get_close_matches(key, known, n=1)
            hint = f'did you mean "{near[0]}"?' if near else "take it out"
            self.refuse(key, f"unknown name; {hint}")

    def text(self, key: str) -> str:
        """Read a text.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        str
            The text; empty if left out or wrong.
        """
        value = self._table.get(key, "")
        if isinstance(value, str):
            return value
        self.refuse(key, f"must be a text in quotation marks, not {_shown(value)}")
        return ""

    def texts(self, key: str) -> tuple[str, ...]:
        """Read one text or a list of texts.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        tuple of str
            The texts; empty if left out or wrong.
        """
        value = self._table.get(key, [])
        values = value if isinstance(value, list) else [value]
        if all(isinstance(one, str) for one in values):
            return tuple(values)
        self.refuse(key, f"must be a text or a list of texts, not {_shown(value)}")
        return ()

    def paths(self, key: str) -> tuple[str, ...]:
        """Read paths beside or below the record.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        tuple of str
            The paths as written; those that lead outside are refused.
        """
        written = self.texts(key)
        for path in written:
            if not is_below(path):
                self.refuse(key, f'must lie beside or below the record, not "{path}"')
        return tuple(path for path in written if is_below(path))

    def flag(self, key: str) -> bool:
        """Read true or false.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        bool
            The value; False if left out or wrong.
        """
        value = self._table.get(key, False)
        if isinstance(value, bool):
            return value
        self.refuse(key, f"must be true or false, not {_shown(value)}")
        return False

    def whole(self, key: str, *, lowest: int = 1) -> int | None:
        """Read a whole number.

        Parameters
        ----------
        key : str
            The key.
        lowest : int
            The lowest allowed.

        Returns
        -------
        int or None
            The number; None if left out or wrong.
        """
        value = self._table.get(key)
        if value is None:
            return None
        if isinstance(value, int) and not isinstance(value, bool) and value >= lowest:
            return value
        self.refuse(key, f"must be a whole number from {lowest} up, {_not(value)}")
        return None

    def number(self, key: str) -> float | None:
        """Read a plain number without unit.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        float or None
            The number; None if left out or wrong. [1]
        """
        value = self._table.get(key)
        if value is None:
            return None
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        self.refuse(key, f"must be a number, {_not(value)}")
        return None

    def wholes(self, key: str) -> tuple[int, ...]:
        """Read a list of whole numbers from 1 up.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        tuple of int
            The numbers; empty if left out or wrong.
        """
        value = self._table.get(key, [])
        if isinstance(value, list) and all(
            isinstance(one, int) and not isinstance(one, bool) and one >= 1
            for one in value
        ):
            return tuple(value)
        self.refuse(key, f"must be a list of whole numbers from 1 up, {_not(value)}")
        return ()

    def quantity(self, key: str, dimension: Dimension) -> Quantity | None:
        """Read a text with a unit.

        Parameters
        ----------
        key : str
            The key.
        dimension : Dimension
            What it must measure.

        Returns
        -------
        Quantity or None
            The quantity; None if left out or wrong.
        """
        if key not in self._table:
            return None
        return self._parse(key, self._table[key], dimension)

    def quantities(self, key: str, dimension: Dimension) -> tuple[Quantity, ...]:
        """Read one text with a unit or a list of them.

        Parameters
        ----------
        key : str
            The key.
        dimension : Dimension
            What they must measure.

        Returns
        -------
        tuple of Quantity
            The quantities; empty if left out or one of them is wrong.
        """
        value = self._table.get(key, [])
        values = value if isinstance(value, list) else [value]
        read = [self._parse(key, one, dimension) for one in values]
        good = tuple(one for one in read if one is not None)
        return good if len(good) == len(read) else ()

    def choice(self, key: str, choices: type[Choice]) -> Choice | None:
        """Read one of several words.

        Parameters
        ----------
        key : str
            The key.
        choices : type
            The enum of the words.

        Returns
        -------
        StrEnum or None
            The choice; None if left out or wrong.
        """
        if key not in self._table:
            return None
        return self._choose(key, self._table[key], choices)

    def choices(self, key: str, choices: type[Choice]) -> tuple[Choice, ...]:
        """Read one word or a list of words.

        Parameters
        ----------
        key : str
            The key.
        choices : type
            The enum of the words.

        Returns
        -------
        tuple of StrEnum
            The choices; empty if left out or one of them is wrong.
        """
        value = self._table.get(key, [])
        values = value if isinstance(value, list) else [value]
        read = [self._choose(key, one, choices) for one in values]
        good = tuple(one for one in read if one is not None)
        return good if len(good) == len(read) else ()

    def day(self, key: str) -> date | None:
        """Read a date.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        date or None
            The date; None if left out or wrong.
        """
        value = self._table.get(key)
        if value is None:
            return None
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        if isinstance(value, str):
            try:
                return date.fromisoformat(value)
            except ValueError:
                pass
        self.refuse(key, f"must be a date like 2026-11-20, {_not(value)}")
        return None

    def text_or_day(self, key: str) -> str:
        """Read a text, or a date or time as TOML writes it.

        Parameters
        ----------
        key : str
            The key.

        Returns
        -------
        str
            The text; empty if left out or wrong.
        """
        value = self._table.get(key)
        return value.isoformat() if isinstance(value, date) else self.text(key)

    def _parse(self, key: str, value: object, dimension: Dimension) -> Quantity | None:
        """One text with a unit."""
        if not isinstance(value, str):
            is_number = isinstance(value, int | float) and not isinstance(value, bool)
            hint = f'; write {key} = "{value} ..." with its unit' if is_number else ""
            self.refuse(
                key, f"must be a text with its unit in quotes, {_not(value)}{hint}"
            )
            return None
        try:
            return parse_quantity(value, dimension)
        except InvalidValueError as error:
            self.refuse(key, str(error))
            return None

    def _choose(self, key: str, value: object, choices: type[Choice]) -> Choice | None:
        """One of several words."""
        words = [choice.value for choice in choices]
        if isinstance(value, str) and value in words:
            return choices(value)
        near = get_close_matches(value, words, n=1) if isinstance(value, str) else []
        hint = f'; did you mean "{near[0]}"?' if near else ""
        self.refuse(key, f"must be one of {', '.join(words)}, {_not(value)}{hint}")
        return None


def is_below(path: str) -> bool:
    """Tell whether a path as written in a record stays beside or below it.

    Parameters
    ----------
    path : str
        As written.

    Returns
    -------
    bool
        False for an empty, an absolute or a climbing path, on any system.
    """
    parts = PurePosixPath(path.replace("\\", "/")).parts
    return bool(parts) and parts[0] != "/" and ":" not in parts[0] and ".." not in parts


def _not(value: object) -> str:
    """Say what was found instead."""
    return f"not {_shown(value)}"


def _shown(value: object) -> str:
    """A value as a person would have typed it, not too long."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    if isinstance(value, bool):
        text = str(value).lower()
    return text if len(text) <= 60 else text[:57] + "..."
