"""Lines of a commented TOML file; texts of users are escaped."""

from tension.errors import InvalidValueError

_COMMENT_COLUMN = 42
_SHORT_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def text_value(text: str) -> str:
    r"""Write a text as a basic string of TOML.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        In quotation marks, escaped (TOML 1.0.0, section String).

    Raises
    ------
    InvalidValueError
        If the text holds half a character, as names from other systems may.

    Examples
    --------
    >>> print(text_value('He said "slack"'))
    "He said \"slack\""
    """
    if any("\ud800" <= character <= "\udfff" for character in text):
        shown = text.encode("utf-8", "replace").decode()
        raise InvalidValueError(
            f"{shown!r} holds characters that cannot be written down; rename it"
        )
    return '"' + "".join(_escape(character) for character in text) + '"'


def _escape(character: str) -> str:
    """Escape one character where TOML asks for it."""
    if character in _SHORT_ESCAPES:
        return _SHORT_ESCAPES[character]
    if character < " " or character == "\x7f":
        return f"\\u{ord(character):04x}"
    return character


class Lines:
    """One table of a commented TOML file.

    Parameters
    ----------
    heading : str
        Such as ``[set]`` or ``[[rope]]``; empty for comments alone.
    is_example : bool
        Whether the whole table is an example in a comment.
    """

    def __init__(self, heading: str = "", *, is_example: bool = False) -> None:
        self._mark = "#" if is_example else ""
        self._said: list[str] = []
        self._lines = [self._mark + heading] if heading else []

    def say(self, sentence: str) -> None:
        """Add a sentence above the table."""
        self._said.append(f"# {sentence}")

    def add(self, key: str, value: str | None, comment: str, example: str) -> None:
        """Add a key with a text, or with an example in a comment.

        Parameters
        ----------
        key : str
            Name.
        value : str or None
            What is known; empty or None if nothing.
        comment : str
            What it means or what is allowed.
        example : str
            What stands there if nothing is known.
        """
        written = text_value(value) if value else ""
        self.add_raw(key, written, comment, text_value(example))

    def add_raw(self, key: str, value: str, comment: str, example: str) -> None:
        """Add a key with a number, date or list, or with an example in a comment.

        Parameters
        ----------
        key : str
            Name.
        value : str
            TOML; empty if nothing is known.
        comment : str
            What it means or what is allowed.
        example : str
            TOML that stands there if nothing is known.
        """
        # the first key of an example table is part of it
        mark = self._mark if value else "#"
        line = f"{mark}{key} = {value or example}"
        if comment:
            line = f"{line:<{_COMMENT_COLUMN}}  # {comment}"
        self._lines.append(line)

    def add_table(self, other: "Lines") -> None:
        """Add another table below."""
        self._lines += ["", *other.text().splitlines()]

    def text(self) -> str:
        """Return the lines."""
        return "\n".join([*self._said, *self._lines]) + "\n"
