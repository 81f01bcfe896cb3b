"""From a text with a unit to numbers and units, piece by piece.

A number is an integer or a decimal (point or comma), a fraction ``3/4`` or an integer
with a fraction ``4 1/2``; digits may be grouped by spaces in threes. What could be read
in two ways is not read.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

from tension.errors import InvalidValueError

LONGEST_TEXT = 60

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u200a\u202f\u2002\u2003\t"), " ")
_ALIKE = {
    ord("−"): "-",
    ord("–"): "-",
    ord("⁄"): "/",
    ord("′"): "'",
    ord("’"): "'",
    ord("‘"): "'",
    ord("″"): '"',
    ord("”"): '"',
    ord("“"): '"',
    ord("·"): " ",
}
_VULGAR = {
    "½": "1/2",
    "⅓": "1/3",
    "⅔": "2/3",
    "¼": "1/4",
    "¾": "3/4",
    "⅕": "1/5",
    "⅖": "2/5",
    "⅗": "3/5",
    "⅘": "4/5",
    "⅙": "1/6",
    "⅚": "5/6",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}

_NUMBER = re.compile(
    r"(?P<grouped>\d{1,3}(?: \d{3})+(?:[.,]\d+)?(?![\d/]| \d))"
    r"|(?P<mixed>\d+[ -]\d+/\d+)"
    r"|(?P<fraction>\d+/\d+)"
    r"|(?P<decimal>\d+[.,]\d+|[.,]\d+|\d+)"
)
_UNIT = re.compile(r"[A-Za-zµ°%]+(?:/[A-Za-z]+)?|''|['\"]|%")


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """A number with the unit behind it.

    Attributes
    ----------
    number : Fraction
        The number, without its sign. [1]
    unit : str
        The unit as written; empty if there is none.
    """

    number: Fraction
    unit: str


def split_quantity(text: str) -> tuple[int, tuple[Part, ...]]:
    """Split a text into its sign and its parts.

    Parameters
    ----------
    text : str
        What a person typed.

    Returns
    -------
    tuple of (int, tuple of Part)
        The sign, 1 or -1, and at least one part.

    Raises
    ------
    InvalidValueError
        If the text is not a row of numbers with units, or can be read in two ways.
    """
    rest = _normalised(text)
    sign = -1 if rest.startswith("-") else 1
    rest = rest.removeprefix("+").removeprefix("-").lstrip()
    parts = []
    while rest:
        found = _NUMBER.match(rest)
        if found is None:
            raise InvalidValueError(f'cannot read "{text}" at "{rest}"')
        number = _number(found, text)
        rest = rest[found.end() :].lstrip()
        unit = _UNIT.match(rest)
        name = unit.group() if unit else ""
        parts.append(Part(number=number, unit='"' if name == "''" else name))
        rest = rest[len(name) :].lstrip(" ")
        if not name and rest:
            raise InvalidValueError(f'cannot read "{text}" at "{rest}"')
    if not parts:
        raise InvalidValueError(f'there is no number in "{text}"')
    return sign, tuple(parts)


def _normalised(text: str) -> str:
    """One kind of space, minus, prime and fraction."""
    if len(text) > LONGEST_TEXT:
        raise InvalidValueError(
            f'"{text[:20]}..." is too long for one quantity ({len(text)} characters)'
        )
    plain = text.translate(_SPACES).translate(_ALIKE)
    for vulgar, written in _VULGAR.items():
        plain = plain.replace(vulgar, f" {written}")
    return re.sub(r" +", " ", plain).strip()


def _number(found: re.Match[str], text: str) -> Fraction:
    """The value of one number."""
    written = found.group()
    if found.group("grouped"):
        return _decimal(written.replace(" ", ""), text)
    if found.group("mixed"):
        whole, fraction = re.split("[ -]", written)
        return int(whole) + _fraction(fraction, text)
    if found.group("fraction"):
        return _fraction(written, text)
    return _decimal(written, text)


def _fraction(written: str, text: str) -> Fraction:
    """The value of a written fraction."""
    above, below = (int(part) for part in written.split("/"))
    if below == 0:
        raise InvalidValueError(f'"{text}" divides by zero')
    return Fraction(above, below)


def _decimal(written: str, text: str) -> Fraction:
    """The value of a decimal; a comma before three digits is asked back."""
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", written):
        point, plain = written.replace(",", "."), written.replace(",", "")
        raise InvalidValueError(
            f'"{text}" can be read in two ways; write {point} or {plain}'
        )
    return Fraction(written.replace(",", "."))
