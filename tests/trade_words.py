"""Which words a text leaves to the table of trade words, and whether it has them."""

from tension import wording


def places_of(text: str) -> tuple[str, ...]:
    """List the words that a text leaves to the table."""
    return tuple(word for _, word in wording._PLACE.findall(text))


def is_known(word: str) -> bool:
    """Tell whether the table has a word, in any of its forms."""
    return word.lower() in wording.WORDS
