"""Several numbers with a unit in one line, as a person types them."""

import re
from dataclasses import dataclass

from tension.errors import InvalidValueError
from tension.quantity.unit_table import CHAINS, SHOWN_UNITS, Dimension, find_factor

_FRACTION = r"(?:[0-9]+/[0-9]+|[½¼¾⅓⅔⅛⅜⅝⅞])"
_ITEM = re.compile(
    rf"(?P<number>[+\u2212-]?[0-9]+(?:\s*|-){_FRACTION}|{_FRACTION}"
    r"|[+\u2212-]?[0-9]+(?:[.,][0-9]+)?(?![0-9/])|[+\u2212-]?[.][0-9]+)"
    r"(?:\s*(?P<unit>[A-Za-z]+\.?(?:/[A-Za-z]+)?|[\"'′″’”%]))?"
    r"(?:\s+|[,;:]\s*)?"
)
_MIXED = re.compile(rf"([0-9])[\s-]*({_FRACTION})$")
_PLAIN = str.maketrans("′’″”", "''\"\"")


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedList:
    """Numbers of one line."""

    texts: tuple[str, ...]  # one for each number, with its unit where there is one
    lacks_unit: bool  # whether none of them has a unit


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
    texts: list[str] = []
    units: list[str] = []
    last = ""
    place = len(text) - len(text.lstrip())
    while place < len(text):
        found = _ITEM.match(text, place)
        if found is None:
            raise InvalidValueError(
                f'"{text[place : place + 20]}" is no number with a unit; write them '
                f"like 139 142 in {SHOWN_UNITS[dimension]}"
            )
        place = found.end()
        own = found["unit"] or ""
        number = _MIXED.sub(r"\1 \2", found["number"])
        written = f"{number}{' ' * own[:1].isalpha()}{own}"
        if last.isdigit() and _is_smaller(own, units[-1], dimension):
            # as inches of feet
            texts[-1], units[-1] = f"{texts[-1]} {written}", own
        else:
            texts.append(written)
            units.append(own)
        last = found["number"].lstrip("+-\u2212")
    for i, own in enumerate(units):
        near = [*units[i + 1 :], *reversed(units[:i]), unit]
        shared = next((one for one in near if one), "")
        if shared and not own:
            texts[i] += f" {shared}"
    return TypedList(texts=tuple(texts), lacks_unit=not any(units))


def _is_smaller(unit: str, than: str, dimension: Dimension) -> bool:
    """Whether a unit may follow another in one quantity, as inches of feet."""
    small, large = (
        find_factor(one.translate(_PLAIN).rstrip("."), dimension)
        for one in (unit, than)
    )
    return any(
        kind is dimension and large in sizes and small in sizes and large > small
        for kind, sizes in CHAINS
        if large and small
    )
