"""Texts of people made fit for paper: nothing hidden, nothing that moves other text."""

import re
import unicodedata

_HARD_SPACE = "\u00a0"
_BOUND = re.compile(
    r"(?<=\d) (?=(?:%|N|kN|kgf|lbf|kg|lb|mm|cm|m|in|ft|Hz|kHz|s|dB)\b|%)"
    r"|(?<=\b[Rr]ope) (?=\d)"
)
_JOINERS = frozenset("\u200c\u200d")
_HIDDEN = _JOINERS | frozenset(
    "\u00ad\u200b\u2060\ufeff\u2028\u2029"  # without width
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # moving
)
_LATIN_END = "\u02ff"
LONGEST_ON_FIRST_PAGE = 160
"""Longer texts of people are shortened on the first page; they stand in full later."""

GOES_ON = " … (in full on a later page)"


def visible(text: str) -> str:
    r"""Show what would be hidden or would turn other text around.

    Line ends stay; tabs become spaces; control characters, halves of characters, marks
    that change the direction of writing and marks without width are shown by their
    number, but joiners stay inside scripts and signs that need them.

    Examples
    --------
    >>> visible("bell\x07, turn\u202ened")
    'bell[U+0007], turn[U+202E]ned'
    """
    unified = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    unified = unicodedata.normalize("NFC", unified)
    return "".join(
        _shown(character, unified[place - 1 : place], unified[place + 1 : place + 2])
        for place, character in enumerate(unified)
    )


def bound(text: str) -> str:
    """Let no line break between a number and its unit, or a rope and its number."""
    return _BOUND.sub(_HARD_SPACE, text)


def unbound(text: str) -> str:
    """Give hard spaces back as ordinary ones, for a terminal."""
    return text.replace(_HARD_SPACE, " ")


def readable_marks(text: str) -> str:
    r"""Show by number what would spoil the text that is copied out of a PDF.

    A mark on a plain letter for which there is no letter with that mark makes the PDF
    say so of every such letter, those of the checksums included.

    Examples
    --------
    >>> readable_marks("m\u0300")
    'm[U+0300]'
    """
    parts: list[str] = []
    is_plain = False
    for character in text:
        if unicodedata.combining(character) and is_plain:
            parts.append(f"[U+{ord(character):04X}]")
            continue
        is_plain = character.isascii()
        parts.append(character)
    return "".join(parts)


def _shown(character: str, before: str, after: str) -> str:
    """One character, or its number."""
    if character == "\n":
        return character
    if character in _JOINERS and min(before, after) > _LATIN_END:
        return character
    # controls, halves, and U+FFFE, U+FFFF and the like, which are no characters
    is_none = unicodedata.category(character) in {"Cc", "Cs", "Cn"}
    is_hidden = is_none or character in _HIDDEN
    return f"[U+{ord(character):04X}]" if is_hidden else character


def shortened(
    text: str, longest: int = LONGEST_ON_FIRST_PAGE, mark: str = GOES_ON
) -> str:
    """Shorten a text to so many characters [1] of a line, with a mark if it goes on.

    A word is cut only where it is longer than half of that.
    """
    line = " ".join(text.split())
    if len(line) <= longest:
        return line
    words, _, _ = line[: longest + 1].rpartition(" ")
    kept = words if len(words) > longest // 2 else line[:longest].rstrip()
    return f"{kept}{mark}"
