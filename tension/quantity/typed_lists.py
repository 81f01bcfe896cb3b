"""Several numbers with a unit in one line, as a person types them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from tension.errors import InvalidValueError
from tension.quantity.unit_table import CHAINS, SHOWN_UNITS, Dimension, find_factor

_WORD = re.compile(
    r"(?P<number>[+\u2212-]?[0-9]+(?:[.,][0-9]+)?(?![0-9/])|[+\u2212-]?[.][0-9]+)"
    r"|(?P<fraction>[0-9]+/[0-9]+|[½¼¾⅓⅔⅛⅜⅝⅞])"
    r"|(?P<unit>[A-Za-z]+\.?(?:/[A-Za-z]+)?|[\"'′″’”%])"
    r"|(?P<apart>\s+|[,;:]\s*|-(?=[0-9]+/))"
)


@dataclass(kw_only=True, slots=True)
class _Item:
    """One quantity on its way: its text, its last unit, what may still follow."""

    text: str
    unit: str = ""
    is_whole: bool = True
    has_fraction: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedList:
    """Numbers of one line.

    Attributes
    ----------
    texts : tuple of str
        One for each number, with its unit where there is one.
    lacks_unit : bool
        Whether none of them has a unit.
    """

    texts: tuple[str, ...]
    lacks_unit: bool


def read_typed_list(text: str, dimension: Dimension, unit: str = "") -> TypedList:
    """Part a line into texts that `parse_quantity` reads, in the order typed.

    A number takes the next unit to its right, else the last to its left, else `unit`. A
    comma between two digits is a decimal comma; one before a space parts numbers.


    Raises
    ------
    InvalidValueError
        If it holds something else.

    Examples
    --------
    >>> read_typed_list("139 142 139,5 mm", Dimension.LENGTH).texts
    ('139 mm', '142 mm', '139,5 mm')
    """
    items: list[_Item] = []
    place = 0
    while place < len(text):
        found = _WORD.match(text, place)
        if found is None:
            rest = text[place : place + 20]
            raise InvalidValueError(
                f'"{rest}" is no number with a unit; write them like '
                f"139 142 in {SHOWN_UNITS[dimension]}"
            )
        _take(found, items, dimension, text[found.end() :])
        place = found.end()
    lacks_unit = not any(item.unit for item in items)
    _share_units(items, unit)
    return TypedList(texts=tuple(item.text for item in items), lacks_unit=lacks_unit)


def _take(
    found: re.Match[str], items: list[_Item], dimension: Dimension, rest: str
) -> None:
    """Add one word to the numbers read so far."""
    word = found[0]
    last = items[-1] if items else _Item(text="", is_whole=False)
    if found["number"]:
        is_whole = word.lstrip("+-\u2212").isdigit()
        if _continues(last, rest, dimension):
            last.text, last.is_whole = f"{last.text} {word}", is_whole
        else:
            items.append(_Item(text=word, is_whole=is_whole))
    elif found["fraction"]:
        is_mixed = last.text[-1:].isdigit() and last.is_whole and not last.has_fraction
        if is_mixed or _continues(last, rest, dimension):
            last.text, last.has_fraction = f"{last.text} {word}", True
        else:
            items.append(_Item(text=word, has_fraction=True))
    elif found["unit"]:
        if not items:
            raise InvalidValueError(f'"{word}" stands before any number; take it out')
        last.text += word if word in "\"'′″’”%" else f" {word}"
        last.unit = word


def _continues(last: _Item, rest: str, dimension: Dimension) -> bool:
    """Whether the next number is the smaller part of the last, as inches of feet."""
    if not last.unit or not last.is_whole or last.has_fraction:
        return False
    following = re.match(r"\s*(?:[0-9]+/[0-9]+|[½¼¾⅛⅜⅝⅞])?\s*([A-Za-z]+|[\"″”])", rest)
    if following is None:
        return False
    larger = find_factor(_plain(last.unit), dimension)
    smaller = find_factor(_plain(following[1]), dimension)
    return any(
        kind is dimension and larger in sizes and smaller in sizes and larger > smaller
        for kind, sizes in CHAINS
        if larger and smaller
    )


def _plain(unit: str) -> str:
    """A unit with plain marks."""
    return unit.translate(str.maketrans("′’″”", "''\"\"")).rstrip(".")


def _share_units(items: Sequence[_Item], unit: str) -> None:
    """Give numbers without a unit that of their neighbours, to the right first."""
    typed = [item.unit for item in items]
    for i, item in enumerate(items):
        near = [*typed[i + 1 :], *reversed(typed[:i]), unit]
        shared = next((one for one in near if one), "")
        if shared and not item.unit:
            item.text += f" {shared}"
