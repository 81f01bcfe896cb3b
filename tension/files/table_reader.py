"""Reading one table of a record: names, dimensions and ranges come from its schema."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tension.errors import InvalidValueError
from tension.files.record_schema import OWN_TABLES
from tension.files.schema_types import Key, Table
from tension.installation import HitchPlace
from tension.quantity.keys import KeyReader, is_below
from tension.quantity.units import Quantity, parse_quantity, show_quantity

MOST_ROPES = 12
_LONGEST_PATH = 500


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What the rest of a record may refer to.

    Attributes
    ----------
    folder : Path
        Where the record lies.
    n_ropes : int or None
        Number of ropes; None if it is not written or wrong. [1]
    spans, series : tuple of str
        Names.
    hitches : tuple of HitchPlace
        Hitches that are described.
    """

    folder: Path
    n_ropes: int | None = None
    spans: tuple[str, ...] = ()
    series: tuple[str, ...] = ()
    hitches: tuple[HitchPlace, ...] = ()


class TableReader(KeyReader):
    """The keys of one table of a record.

    Attributes
    ----------
    mistakes : list of Mistake
        What was wrong so far.
    """

    def __init__(
        self, raw: Mapping[str, object], table: Table, known: Known | None = None
    ) -> None:
        super().__init__(raw)
        self._schema = table
        self._known = known or Known(folder=Path())

    def refuse_unknown(self, elsewhere: Mapping[str, str] | None = None) -> None:
        """Refuse keys that the table does not have.

        Parameters
        ----------
        elsewhere : mapping of str to str, optional
            Keys of it that belong to another kind, and which.
        """
        others = elsewhere or {}
        places = {**_keys_of_other_tables(self._schema.name), **others}
        self.only([n for n in self._schema.key_names if n not in others], places)

    def need(self, *names: str) -> None:
        """Refuse that keys are missing.

        Parameters
        ----------
        *names : str
            Keys that must be written.
        """
        for name in names:
            if not self.has(name):
                meaning = self._schema.key(name).meaning
                self.refuse(name, f"is missing; write it ({meaning})")

    def needed_text(self, name: str) -> str:
        """Read a text that must be written and not be empty.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        str
            The text; empty if it is missing.
        """
        self.need(name)
        text = self.text(name)
        if self.has(name) and isinstance(self._table[name], str) and not text.strip():
            self.refuse(name, "must not be empty")
        return text

    def measured(self, name: str) -> Quantity | None:
        """Read a text with a unit that lies in the range of its key.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        Quantity or None
            The quantity; None if left out or wrong.
        """
        key = self._schema.key(name)
        if key.dimension is None:
            return None
        read = self.quantity(name, key.dimension)
        return read if read is not None and self._is_within(key, read) else None

    def measured_all(self, name: str) -> tuple[Quantity, ...]:
        """Read one text with a unit, or a list of them, in the range of its key.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        tuple of Quantity
            The quantities; empty if left out or one of them is wrong.
        """
        key = self._schema.key(name)
        if key.dimension is None:
            return ()
        read = self.quantities(name, key.dimension)
        if self._table.get(name) == []:
            self.refuse(name, "is an empty list; write one reading at least")
        within = [self._is_within(key, one) for one in read]
        return read if all(within) else ()

    def lengths(self, name: str) -> tuple[tuple[str, Quantity], ...]:
        """Read a table of span names and lengths.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        tuple of (str, Quantity)
            Those that are right.
        """
        key = self._schema.key(name)
        raw = self._table.get(name, {})
        if not isinstance(raw, dict) or key.dimension is None:
            self.refuse(name, 'must be like { "top, car side" = "3.55 m" }')
            return ()
        read: list[tuple[str, Quantity]] = []
        for span, text in raw.items():
            if span not in self._known.spans:
                self.refuse(name, f'there is no span "{span}"; {self._span_names()}')
                continue
            if not isinstance(text, str):
                self.refuse(name, f'"{span}" needs a text like "3.55 m", not {text}')
                continue
            try:
                length = parse_quantity(text, key.dimension)
            except InvalidValueError as error:
                self.refuse(name, str(error))
                continue
            if self._is_within(key, length):
                read.append((span, length))
        return tuple(read)

    def number_within(self, name: str, least: float, most: float) -> float | None:
        """Read a plain number.

        Parameters
        ----------
        name : str
            The key.
        least, most : float
            Between what it must lie. [1]

        Returns
        -------
        float or None
            The number; None if left out or wrong.
        """
        value = self._table.get(name)
        if value is None:
            return None
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if isinstance(value, int | float) and is_number and least <= value <= most:
            return float(value)
        self.refuse(
            name, f"must be a number from {least:g} to {most:g}, not {value!r:.40}"
        )
        return None

    def rope(self, name: str) -> int | None:
        """Read the number of a rope of the set.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        int or None
            The number; None if left out or wrong.
        """
        number = self.whole(name)
        if number is None or self._is_rope(number):
            return number
        self.refuse(name, f"must be 1 to {self._most_ropes}, not {number}")
        return None

    def ropes(self, name: str) -> tuple[int, ...]:
        """Read numbers of ropes of the set.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        tuple of int
            The numbers; empty if left out or one is wrong.
        """
        numbers = self.wholes(name)
        wrong = [number for number in numbers if not self._is_rope(number)]
        if wrong:
            self.refuse(name, f"must be 1 to {self._most_ropes}, not {wrong[0]}")
        return () if wrong else numbers

    def number_rows(self, name: str) -> tuple[tuple[int, ...], ...]:
        """Read a list of lists of whole numbers from 1 up.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        tuple of tuple of int
            The rows; empty if left out or wrong.
        """
        value = self._table.get(name, [])
        rows = value if isinstance(value, list) else [value]
        read = [_row(row) for row in rows]
        if all(read):
            return tuple(read)
        self.refuse(name, "must be like [[1, 3, 5], [2, 4, 6]], row by row")
        return ()

    def path(self, name: str) -> str:
        """Read a path beside or below the record.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        str
            As written; empty if left out or wrong.
        """
        text = self.text(name)
        if not text:
            return ""
        fault = path_fault(text, self._known.folder)
        if fault:
            self.refuse(name, fault)
            return ""
        return text

    def named(self, name: str, names: tuple[str, ...], what: str) -> str:
        """Read the name of something that is described in the record.

        Parameters
        ----------
        name : str
            The key.
        names : tuple of str
            What is described.
        what : str
            What it is, such as "series".

        Returns
        -------
        str
            The name; if left out, that of the only one.
        """
        text = self.text(name)
        if text in names:
            return text
        if not self.has(name) and len(names) == 1:
            return names[0]
        known = f"there are {_listed(names)}" if names else f"add a [[{what}]]"
        if not self.has(name):
            self.refuse(name, f"is missing; {known}")
        elif isinstance(self._table[name], str):
            self.refuse(name, f'there is no {what} "{text}"; {known}')
        return ""

    def hitch(self, name: str) -> HitchPlace | None:
        """Read a hitch that is described in the record.

        Parameters
        ----------
        name : str
            The key.

        Returns
        -------
        HitchPlace or None
            The place; if left out, that of the only hitch; None if wrong.
        """
        hitches = self._known.hitches
        if not self.has(name):
            if len(hitches) == 1:
                return hitches[0]
            self.need(name)
            return None
        place = self.choice(name, HitchPlace)
        if place is not None and place not in hitches:
            self.refuse(
                name,
                f'no hitch at "{place}" is described; add [[hitch]] at = "{place}"',
            )
        return place

    def _is_rope(self, number: int) -> bool:
        """Whether a rope has that number, as far as their number is known."""
        return number <= self._most_ropes

    @property
    def _most_ropes(self) -> int:
        """Number of ropes of the set, or of any."""
        return self._known.n_ropes or MOST_ROPES

    def _is_within(self, key: Key, quantity: Quantity) -> bool:
        """Refuse what no lift has."""
        slack = 1e-9 * max(abs(key.least), abs(key.most))
        if key.least - slack <= quantity.value <= key.most + slack:
            return True
        least = show_quantity(key.least, quantity.dimension)
        most = show_quantity(key.most, quantity.dimension)
        self.refuse(
            key.name,
            f"must be from {least} to {most}, not {quantity.text}; check number and "
            "unit",
        )
        return False

    def _span_names(self) -> str:
        """Which spans there are."""
        if not self._known.spans:
            return "add a [[span]]"
        return f"there are {_listed(self._known.spans)}"


def _row(row: object) -> tuple[int, ...]:
    """One row of rope numbers; empty if it is none."""
    if not isinstance(row, list):
        return ()
    is_right = all(type(number) is int and number >= 1 for number in row)
    return tuple(row) if is_right else ()


def path_fault(text: str, folder: Path) -> str:
    """Say why a path may not stand in a record.

    Parameters
    ----------
    text : str
        The path as written.
    folder : Path
        Where the record lies.

    Returns
    -------
    str
        The reason and what to write; empty if there is none.
    """
    shown = text if len(text) <= 60 else text[:57] + "..."
    if len(text) > _LONGEST_PATH or not text.isprintable():
        return "is no path; write one beside or below the record, like rope-1.m4a"
    if "\\" in text:
        return f'write "/" between folders, not "\\": {shown}'
    if not is_below(text):
        return f'must lie beside or below the record, not "{shown}"'
    try:
        place = (folder / text).resolve()
        if not place.is_relative_to(folder.resolve()):
            return (
                f'"{shown}" is a link that leads out of the record\'s folder; copy it'
            )
    except (OSError, RuntimeError, ValueError):
        return f'"{shown}" cannot be followed; check the name'
    return ""


def _listed(names: tuple[str, ...]) -> str:
    """Names in quotes, not too many."""
    shown = ", ".join(f'"{name}"' for name in names[:6])
    return shown + (", ..." if len(names) > 6 else "")


_NAMES_OF_MANY = frozenset({"name", "note", "by", "at", "date", "source", "format"})


@cache
def _keys_of_other_tables(name: str) -> Mapping[str, str]:
    """Keys that only other tables have, with those tables."""
    own = {key for table in OWN_TABLES if table.name == name for key in table.key_names}
    places: dict[str, list[str]] = {}
    for table in OWN_TABLES:
        brackets = f"[[{table.name}]]" if table.is_list else f"[{table.name}]"
        for key in table.keys:
            if key.name not in _NAMES_OF_MANY and key.name not in own:
                places.setdefault(key.name, []).append(brackets)
    return {name: " or ".join(tables) for name, tables in places.items()}
