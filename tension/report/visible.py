"""Texts of people made fit for paper: nothing hidden, nothing that moves other text."""

import unicodedata

_MOVERS = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
LONGEST_ON_FIRST_PAGE = 160
"""Longer texts of people are shortened on the first page; they stand in full later."""


def visible(text: str) -> str:
    r"""Show what would be hidden or would turn other text around.

    Line ends stay; tabs become spaces; control characters, halves of characters and
    marks that change the direction of writing are shown by their number.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text, with nothing lost.

    Examples
    --------
    >>> visible("bell\x07, turn\u202ened")
    'bell[U+0007], turn[U+202E]ned'
    """
    unified = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    return "".join(_shown(character) for character in unified)


def _shown(character: str) -> str:
    """One character, or its number."""
    if character == "\n":
        return character
    category = unicodedata.category(character)
    is_hidden = category in {"Cc", "Cs"} or character in _MOVERS
    # U+FFFE, U+FFFF and the like are no characters, U+FEFF is invisible
    is_hidden = is_hidden or category == "Cn" or character in "\ufeff\u2028\u2029"
    return f"[U+{ord(character):04X}]" if is_hidden else character


def shortened(text: str, longest: int = LONGEST_ON_FIRST_PAGE) -> str:
    """Shorten a text for the first page, on one line.

    Parameters
    ----------
    text : str
        Any text.
    longest : int, optional
        Characters kept. [1]

    Returns
    -------
    str
        The text, or its beginning with a mark that it goes on.
    """
    line = " ".join(text.split())
    if len(line) <= longest:
        return line
    return f"{line[:longest].rstrip()} … (in full on a later page)"
