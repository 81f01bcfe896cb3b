"""Text of a quantity cut into numbers, signs, fractions and units.

Nothing is guessed here: a character that does not belong into a quantity, or a comma
that can be read in two ways, is refused with a sentence.
"""

import re
from dataclasses import dataclass
from enum import Enum

from tension.errors import InvalidValueError

LONGEST_TEXT = 60
"""Longest text that is read at all. [characters]"""


class TokenKind(Enum):
    """What a piece of the text is."""

    NUMBER = "number"
    FRACTION = "fraction"
    SIGN = "sign"
    UNIT = "unit"


@dataclass(frozen=True, kw_only=True, slots=True)
class Token:
    """One piece of the text.

    Attributes
    ----------
    kind : TokenKind
        What it is.
    text : str
        Its text, with plain characters.
    value : float
        Value of a number or a fraction; 0 for others. [1]
    """

    kind: TokenKind
    text: str
    value: float = 0.0


_FRACTIONS = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅓": "1/3",
    "⅔": "2/3",
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
_PLAIN = {
    **dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2013"), "-"),  # minus, hyphens, dash
    **dict.fromkeys(map(ord, "\u2032\u2019\u2018\u00b4"), "'"),  # prime, quotes, accent
    **dict.fromkeys(map(ord, "\u2033\u201d\u201c\u201e"), '"'),  # double prime, quotes
    **dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2007\u2009\u200a\u202f\t"), " "),
    ord("\u2044"): "/",  # fraction slash
}
_NUMBER = re.compile(
    r"(?P<grouped>[1-9][0-9]{0,2}(?: [0-9]{3})+(?![0-9]| ?/))(?:[.,](?P<after>[0-9]+))?"
    r"|(?P<whole>[0-9]*)[.](?P<point>[0-9]+)(?:[eE](?P<power>[+-]?[0-9]{1,3}))?"
    r"|(?P<left>[0-9]+)[,](?P<comma>[0-9]+)"
    r"|(?P<digits>[0-9]+)(?:[eE](?P<tens>[+-]?[0-9]{1,3})(?![0-9a-zA-Z]))?"
)
_FRACTION = re.compile(r"([0-9]+) ?/ ?([0-9]+)(?![0-9.,])")
_HYPHENED = re.compile(r"(?<=[0-9])-(?=[0-9]+ ?/ ?[0-9])|(?<=['\"t])-(?=[0-9])")
_UNIT = re.compile(r"[\"'%]|[A-Za-z]+\.?(?: ?/ ?(?:100 ?)?[A-Za-z]+\.?)?")


def find_tokens(text: str) -> tuple[Token, ...]:
    """Cut the text of a quantity into pieces.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    tuple of Token
        In the order of the text; at least one.

    Raises
    ------
    InvalidValueError
        If it is empty or too long, or holds a character or a number that is not plain.

    Examples
    --------
    >>> [token.text for token in find_tokens('10′ 4½″')]
    ['10', "'", '4', '1/2', '"']
    """
    if len(text) > LONGEST_TEXT:
        raise InvalidValueError(
            f'"{text[:20]}..." is too long for a number with its unit '
            f"({len(text)} characters); write it like 3.40 m"
        )
    plain = _plain_text(text)
    if not plain:
        raise InvalidValueError("an empty text is no quantity; write it like 3.40 m")
    tokens: list[Token] = []
    place = 0
    while place < len(plain):
        if plain[place] == " ":
            place += 1
            continue
        token, place = _next_token(plain, place, text)
        tokens.append(token)
    return tuple(tokens)


def _plain_text(text: str) -> str:
    """The text with plain marks and single spaces."""
    for character, fraction in _FRACTIONS.items():
        text = text.replace(character, f" {fraction} ")
    text = text.translate(_PLAIN).replace("''", '"')
    text = " ".join(part for part in text.split(" ") if part)
    return _HYPHENED.sub(" ", text)


def _next_token(plain: str, place: int, text: str) -> tuple[Token, int]:
    """The piece that starts at a place, and where the next one starts."""
    if plain[place] in "+-":
        return Token(kind=TokenKind.SIGN, text=plain[place]), place + 1
    if found := _FRACTION.match(plain, place):
        return _fraction(found, text), found.end()
    if found := _NUMBER.match(plain, place):
        if plain[found.end() : found.end() + 1] in {".", ","}:
            raise InvalidValueError(
                f'"{text}" has a point or comma that is not read; write one decimal '
                "mark at most and none between thousands, like 1200.5 N"
            )
        return _number(found, text), found.end()
    if found := _UNIT.match(plain, place):
        name = found[0].replace(" ", "").replace(".", "")
        return Token(kind=TokenKind.UNIT, text=name), found.end()
    raise InvalidValueError(
        f'"{text}": the character "{plain[place]}" does not belong into a number with '
        "its unit; write it like 3.40 m"
    )


def _fraction(found: re.Match[str], text: str) -> Token:
    """One fraction."""
    over, under = int(found[1]), int(found[2])
    if under == 0:
        raise InvalidValueError(f'"{text}" divides by nought; check the fraction')
    try:
        value = over / under
    except OverflowError:
        value = float("inf")
    return Token(kind=TokenKind.FRACTION, text=f"{over}/{under}", value=value)


def _number(found: re.Match[str], text: str) -> Token:
    """One number, its decimal mark a point or a comma."""
    groups = found.groupdict()
    if groups["grouped"]:
        plain = groups["grouped"].replace(" ", "") + "." + (groups["after"] or "0")
    elif groups["point"]:
        plain = f"{groups['whole'] or '0'}.{groups['point']}e{groups['power'] or 0}"
    elif groups["comma"]:
        _refuse_ambiguous_comma(groups["left"], groups["comma"], text)
        plain = f"{groups['left']}.{groups['comma']}"
    else:
        plain = f"{groups['digits']}e{groups['tens'] or 0}"
    return Token(kind=TokenKind.NUMBER, text=found[0], value=float(plain))


def _refuse_ambiguous_comma(left: str, right: str, text: str) -> None:
    """A comma before exactly three digits may part thousands or decimals."""
    if len(right) == 3 and 1 <= len(left) <= 3 and not left.startswith("0"):
        typed = f"{left},{right}"
        raise InvalidValueError(
            f'"{text}" can be read in two ways; write {left}{right} if the comma parts '
            f'thousands in "{typed}", {left}.{right} if it is a decimal comma'
        )
