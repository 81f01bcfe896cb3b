"""From a text with a unit to tokens: sign, numbers, fractions, units.

Digits may be grouped by spaces in threes; a decimal comma is read; what could be read
in two ways is not read but asked back.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from tension.errors import InvalidValueError

LONGEST_TEXT = 60


class TokenKind(Enum):
    """What a piece of the text is."""

    SIGN = "sign"
    NUMBER = "number"
    FRACTION = "fraction"
    UNIT = "unit"


@dataclass(frozen=True, kw_only=True, slots=True)
class Token:
    """A piece of the text.

    Attributes
    ----------
    kind : TokenKind
        What it is.
    text : str
        As written, with one kind of space, minus and prime.
    value : float
        Of a number or a fraction; 0 for the others. [1]
    """

    kind: TokenKind
    text: str
    value: float = 0.0


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
}
_VULGAR = {
    "½": "1/2",
    "⅓": "1/3",
    "⅔": "2/3",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}

_PIECE = re.compile(
    r"(?P<fraction>\d+/\d+(?![\d.,/]))"
    r"|(?P<number>[1-9]\d{0,2}(?: \d{3})+(?:[.,]\d+)?(?![\d/.,])"
    r"|\d+[.,]\d+(?![\d.,/])|[.,]\d+(?![\d.,/])|\d+(?![\d.,/]))"
    r"|(?P<unit>[A-Za-zµ%]+(?:/[A-Za-z]+)?|''|['\"])"
)


def find_tokens(text: str) -> Iterator[Token]:
    """Split a text into its tokens.

    Parameters
    ----------
    text : str
        What a person typed.

    Yields
    ------
    Token
        At least one.

    Raises
    ------
    InvalidValueError
        If a piece is none of these, or can be read in two ways.
    """
    rest = _normalised(text)
    if not rest:
        raise InvalidValueError("there is nothing; write a number with its unit")
    if rest[0] in "+-":
        yield Token(kind=TokenKind.SIGN, text=rest[0])
        rest = rest[1:].lstrip()
        if not rest:
            raise InvalidValueError(f'"{text}" has no number')
    while rest:
        found = _PIECE.match(rest)
        if found is None:
            raise InvalidValueError(f'cannot read "{text}" at "{rest}"')
        yield _token(found, text)
        rest = rest[found.end() :].lstrip()


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


def _token(found: re.Match[str], text: str) -> Token:
    """The token of one match."""
    written = found.group()
    if found.group("unit"):
        return Token(kind=TokenKind.UNIT, text='"' if written == "''" else written)
    if found.group("fraction"):
        above, below = (int(part) for part in written.split("/"))
        if below == 0:
            raise InvalidValueError(f'"{text}" divides by zero')
        return Token(kind=TokenKind.FRACTION, text=written, value=above / below)
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", written):
        point, plain = written.replace(",", "."), written.replace(",", "")
        raise InvalidValueError(
            f'"{text}" can be read in two ways; write {point} or {plain}'
        )
    value = float(written.replace(" ", "").replace(",", "."))
    return Token(kind=TokenKind.NUMBER, text=written, value=value)
