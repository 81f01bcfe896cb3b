"""Questions to a person: any case, back to the last answer, units asked once."""

import sys
from collections.abc import Callable, Sequence
from typing import TypeVar

import click

from tension.cli.text import output_width, printable, wrapped
from tension.errors import InvalidValueError
from tension.quantity.unit_table import SHOWN_UNITS
from tension.quantity.units import Dimension, Quantity, parse_quantity, read_typed_list

Answer = TypeVar("Answer")

BACK = frozenset({"back", "<"})
DONE = frozenset({"done", "end"})
YES = frozenset({"y", "yes"})
NO = frozenset({"n", "no"})


class BackError(Exception):
    """The person wants the question before once more."""


class EndedError(Exception):
    """No more answers come: the input is at its end, or the person is done."""


def is_terminal() -> bool:
    """Tell whether somebody sits before the program."""
    return sys.stdin.isatty()


def ask_line(question: str) -> str:
    """Ask on stderr for one line; empty for Enter.

    Raises
    ------
    BackError
        If the answer is to go back.
    EndedError
        If the input ends, or the answer is that all is said.
    """
    click.echo(wrapped(printable(question), output_width()) + ": ", nl=False, err=True)
    line = sys.stdin.readline()
    if not is_terminal():
        click.echo(printable(line.rstrip("\r\n")), err=True)
    if not line:
        raise EndedError
    answer = line.strip().strip('"').strip()
    if answer.lower() in BACK:
        raise BackError
    if answer.lower() in DONE:
        raise EndedError
    return answer


def ask(question: str, read: Callable[[str], Answer], skipped: Answer) -> Answer:
    """Ask until the answer can be read."""
    while True:
        line = ask_line(question)
        if not line:
            return skipped
        try:
            return read(line)
        except InvalidValueError as error:
            click.echo(wrapped(f"  {printable(str(error))}", output_width()), err=True)


def ask_or_refuse(
    question: str, read: Callable[[str], Answer], skipped: Answer, usage: str
) -> Answer:
    """Ask; where no answer comes, it is wrong usage, which says what to give.

    Raises
    ------
    click.UsageError
        If the input ends, or the answer is to go back.
    """
    try:
        return ask(question, read, skipped)
    except (BackError, EndedError):
        raise click.UsageError(usage) from None


def one_of(words: Sequence[str]) -> Callable[[str], str]:
    """Read one of a few words, in any case, by its beginning if that is enough."""

    def read(line: str) -> str:
        plain = line.casefold().replace(" ", "-")
        same = [word for word in words if word.casefold() == plain]
        near = same or [word for word in words if word.casefold().startswith(plain)]
        if len(near) == 1:
            return near[0]
        raise InvalidValueError(f'"{line[:40]}" is none of {", ".join(words)}')

    return read


def ask_yes(question: str, *, skipped: bool) -> bool:
    """Ask yes or no."""

    def read(line: str) -> bool:
        if line.lower() in YES | NO:
            return line.lower() in YES
        raise InvalidValueError("answer y or n")

    shown = "Y/n" if skipped else "y/N"
    return ask(f"{question}? ({shown})", read, skipped)


class Units:
    """Units that were asked for, so that each is asked once."""

    def __init__(self) -> None:
        self._told: dict[str, str] = {}

    def read_list(
        self, line: str, dimension: Dimension, what: str
    ) -> tuple[Quantity, ...]:
        """Read numbers of one kind; where none has a unit, ask for it once.

        Parameters
        ----------
        line : str
            As typed.
        dimension : Dimension
            What they measure.
        what : str
            Their kind, such as "free length"; the unit told is kept for it.
        """
        told = self._told.get(what, "")
        typed = read_typed_list(line, dimension, told)
        if typed.lacks_unit and not told and any(map(_is_not_zero, typed.texts)):
            told = self._ask(typed.texts[0], dimension)
            typed = read_typed_list(line, dimension, told)
            self._told[what] = told
        return tuple(parse_quantity(text, dimension) for text in typed.texts)

    def _ask(self, first: str, dimension: Dimension) -> str:
        """Ask for the unit of a bare number."""
        shown = SHOWN_UNITS[dimension]

        def read(line: str) -> str:
            try:
                parse_quantity(f"1 {line}", dimension)
            except InvalidValueError:
                message = f'"{line}" is no unit here; write {shown}, without a number'
                raise InvalidValueError(message) from None
            return line

        while True:
            unit = ask(f"{first} of what: {shown}", read, "")
            if unit:
                return unit


def _is_not_zero(text: str) -> bool:
    """Whether a bare number is not nought."""
    return bool(text.strip(" +-0.,"))
