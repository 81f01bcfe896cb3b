"""Words that stand inside sentences: trade words, ropes, percentages.

Every visible trade word stands here once, European and North American. A text of the
program holds ``[[word]]`` where the trade says it in two ways; `say`
fills the place. ``[[Word]]`` and ``[[words]]`` give a capital and the plural. Texts
that people typed never pass through here.
"""

import re
from collections.abc import Sequence
from enum import StrEnum


class Terms(StrEnum):
    """Whose words are used."""

    EUROPE = "europe"
    NORTH_AMERICA = "north-america"


# word: (European, North American), singular; common trade usage, no source.
_SINGULAR: dict[str, tuple[str, str]] = {
    "lift": ("lift", "elevator"),
    "well": ("well", "hoistway"),
    "machine room": ("machine room", "machine room"),
    "hitch": ("anchorage", "hitch"),
    "hitch plate": ("anchorage plate", "hitch plate"),
    "rod": ("rod", "shackle rod"),
    "spring": ("spring", "shackle spring"),
    "spanner": ("spanner", "wrench"),
    "split pin": ("split pin", "cotter pin"),
    "lock nut": ("lock nut", "jam nut"),
    "rope grip": ("rope grip", "retaining clip"),
    "landing": ("landing", "landing"),
    "re-roping": ("re-roping", "rope replacement"),
    "rope label": ("rope label", "rope tag"),
    "data plate": ("data plate", "crosshead data plate"),
    "deflector": ("diverter pulley", "deflector sheave"),
    "mechanic": ("lift fitter", "elevator mechanic"),
    "unfavourable": ("unfavourable", "unfavorable"),
    "equalise": ("equalise", "equalize"),
    "ground floor": ("ground floor", "first floor"),
    "anticlockwise": ("anticlockwise", "counterclockwise"),
}


def _plural(word: str) -> str:
    """More than one of a thing."""
    return word + ("es" if word.endswith(("ch", "s")) else "s")


WORDS = _SINGULAR | {
    _plural(word): (_plural(european), _plural(american))
    for word, (european, american) in _SINGULAR.items()
}
"""Every word that a text may name, singular and plural, by its European one."""

_PLACE = re.compile(r"(\b[Aa]n? )?\[\[([A-Za-z][A-Za-z -]*)\]\]")
"""A place, with the article before it: "a lift" is "an elevator"."""


def say(text: str, terms: Terms = Terms.EUROPE) -> str:
    """Fill the places of a text of the program; other double brackets stay.

    Examples
    --------
    >>> say("New [[split pin]] in each rod.", Terms.NORTH_AMERICA)
    'New cotter pin in each rod.'
    """
    return _PLACE.sub(lambda found: _word(found, terms), text)


def _word(found: re.Match[str], terms: Terms) -> str:
    """The word that stands for one place."""
    article, written = found.groups(default="")
    forms = WORDS.get(written.lower())
    if forms is None:
        return found.group()
    word = forms[terms is not Terms.EUROPE]
    word = word[0].upper() + word[1:] if written[0].isupper() else word
    if article:
        article = article[0] + ("n " if word[0].lower() in "aeiou" else " ")
    return article + word


def rope_list(numbers: Sequence[int], last: str = " and ") -> str:
    """Name ropes in a sentence: "rope 3", "ropes 2, 3 and 5", or "the set" for none."""
    texts = [str(number) for number in numbers]
    if len(texts) < 2:
        return f"rope {texts[0]}" if texts else "the set"
    return f"ropes {', '.join(texts[:-1])}{last}{texts[-1]}"


def percent_text(fraction: float | None) -> str:
    """Write a fraction [1] as percent with one decimal; a dash for None."""
    return "–" if fraction is None else f"{100 * fraction:.1f} %"


def limit_text(limit: float) -> str:
    """Write a limit [1] with all the figures it was typed with, such as "5.04 %"."""
    return f"{100 * limit:.10g} %"
