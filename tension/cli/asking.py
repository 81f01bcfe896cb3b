"""Questions to a person: any case, back to the last answer, units asked once.

A conversation asks what is not known yet, shows the answers and lets them be corrected.
"""

import contextlib
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

import click

from tension.cli.output import printable, wrapped
from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, parse_quantity
from tension.telling.lines import words_of

BACK = frozenset({"back", "<"})
DONE = frozenset({"done", "end"})
YES = frozenset({"y", "yes"})
NO = frozenset({"n", "no"})

Answer = TypeVar("Answer")


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
    click.echo(wrapped(printable(question)) + ": ", nl=False, err=True)
    line = sys.stdin.readline()
    if not is_terminal():
        click.echo(printable(line.rstrip("\r\n")), err=True)
    answer = line.strip().strip('"').strip()
    if answer.lower() in BACK:
        raise BackError
    if not line or answer.lower() in DONE:
        raise EndedError
    return answer


def ask(question: str, read: Callable[[str], Answer], skipped: Answer) -> Answer:
    """Ask until the answer can be read, anew where one goes back to it."""
    while True:
        line = ask_line(question)
        if not line:
            return skipped
        try:
            return read(line)
        except BackError:
            continue
        except InvalidValueError as error:
            click.echo(wrapped(f"  {printable(str(error))}"), err=True)


@contextlib.contextmanager
def answered(usage: str) -> Iterator[None]:
    """Call it wrong usage, which says what to give, where no answer comes.

    Raises
    ------
    click.UsageError
        If the input ends, or the answer is to go back.
    """
    try:
        yield
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


def number_to(most: int, said: str = "a number from 1 to {}") -> Callable[[str], int]:
    """Read a whole number from one up to the most."""

    def read(line: str) -> int:
        if line.isdigit() and 1 <= int(line) <= most:
            return int(line)
        raise InvalidValueError(said.format(most))

    return read


def ask_yes(question: str, *, skipped: bool) -> bool:
    """Ask yes or no."""

    def read(line: str) -> bool:
        if line.lower() in YES | NO:
            return line.lower() in YES
        raise InvalidValueError("answer y or n")

    shown = "Y/n" if skipped else "y/N"
    return ask(f"{question}? ({shown})", read, skipped)


def _ask_unit(first: str, dimension: Dimension) -> str:
    """Ask for the unit of bare numbers, of which the first is shown."""
    shown = dimension.offered

    def read(line: str) -> str:
        message = f'"{line}" is no unit here; write {shown}, without a number'
        if any(character.isnumeric() for character in line):
            raise InvalidValueError(message)
        try:
            parse_quantity(f"1 {line}", dimension)
        except InvalidValueError:
            raise InvalidValueError(message) from None
        return line

    return ask(f"{first} of what: {shown}", read, "")


@dataclass(kw_only=True, slots=True)
class Known:
    """What is known; the conversation fills it.

    Answers stand by the key of their question, None if it was skipped; units that were
    asked for by what they are of, so that each is asked once.
    """

    n_ropes: int
    same_height: bool = False
    answers: dict[str, Any] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)

    def says(self, key: str) -> bool:
        """Tell whether a question is answered."""
        return self.answers.get(key) is not None

    def with_unit(
        self, read: Callable[[str], Answer], line: str, what: str = ""
    ) -> Answer:
        """Read numbers with their unit; where none has one, it is asked and kept."""
        from tension.workflow.adding_readings import UnitMissingError

        try:
            return read(line)
        except UnitMissingError as error:
            while not self.units.get(what):
                self.units[what] = _ask_unit(error.first, error.dimension)
            return read(f"{line} {self.units[what]}")


def with_unit(read: Callable[[str], Answer], line: str) -> Answer:
    """Read what was typed; a missing unit is asked for once on a terminal."""
    if not is_terminal():
        return read(line)
    with answered("Without a unit nothing is added."):
        return Known(n_ropes=0).with_unit(read, line)


class Question(NamedTuple):
    """One question of a conversation; what it says stands in the tables of its key.

    The answer is read beside what is known; what is none is an InvalidValueError. It
    goes to keys of the record such as "lift.name", one for each of its values. The text
    may have a place for the words that answer it. What Enter means stands in the text,
    or is its price: what is missing without it. It is asked if it serves anything after
    what is known, and shown in words made of its values.
    """

    key: str
    places: tuple[str, ...]
    read: Callable[[str, Known], Any]
    words: str = ""
    is_wanted: Callable[[Known], bool] = lambda _: True
    shown: Callable[..., str] = lambda *values: " / ".join(filter(None, values))

    @property
    def name(self) -> str:
        """What it is called to people."""
        labels = words_of("start_questions.label")
        return labels.get(self.key, self.key.replace("_", " "))

    @property
    def price(self) -> str:
        """What is missing without an answer, if anything is."""
        return words_of("start_questions.price").get(self.key, "")

    def ask(self, known: Known) -> Any:
        """Ask; None if it is skipped."""
        text = words_of("start_questions")[self.key].format(words=self.words)
        text = f"{text} (Enter: {self.price})" if self.price else text
        return ask(text, lambda line: self.read(line, known), None)

    def said(self, known: Known) -> dict[str, Any]:
        """Give what the answer says, by keys of the record; empty if there is none."""
        answer = known.answers.get(self.key)
        if answer is None:
            return {}
        values = answer if len(self.places) > 1 else (answer,)
        return dict(zip(self.places, values, strict=True))

    def summary(self, known: Known) -> str:
        """Write the answer in words; a dash for none."""
        return self.shown(*self.said(known).values()) or "-"


def converse(questions: Sequence[Question], known: Known) -> list[Question]:
    """Ask for what is not known yet, let it be corrected; give what stays missing."""
    own = [question for question in questions if not known.says(question.key)]
    with contextlib.suppress(EndedError):
        _ask_all(own, known)
    for question in own:
        if question.is_wanted(known):
            known.answers.setdefault(question.key, None)
    with contextlib.suppress(EndedError):
        click.echo("", err=True)
        _correct(own, known)
    return [q for q in own if not known.says(q.key) and q.is_wanted(known)]


def _ask_all(own: Sequence[Question], known: Known) -> None:
    """Ask every question that serves something and has not been asked."""
    asked: list[str] = []

    def wanted() -> Iterator[Question]:
        return (q for q in own if q.key not in known.answers and q.is_wanted(known))

    while question := next(wanted(), None):
        try:
            known.answers[question.key] = question.ask(known)
            asked.append(question.key)
        except BackError:
            if asked:
                del known.answers[asked.pop()]
            else:
                click.echo("  This is the first question.", err=True)


def _correct(own: Sequence[Question], known: Known) -> None:
    """Show the answers and ask anew for those that are wrong."""
    while True:
        shown = [q for q in own if q.key in known.answers and q.is_wanted(known)]
        for number, question in enumerate(shown, start=1):
            line = f"{number:>2} {question.name}: {printable(question.summary(known))}"
            click.echo(wrapped(line, "", "   "), err=True)
        if not shown:
            return
        a_number = number_to(len(shown), "a number from 1 to {}, or Enter")
        try:
            number = ask("Enter writes it; a number corrects that answer", a_number, 0)
            if not number:
                return
            question = shown[number - 1]
            known.answers[question.key] = question.ask(known)
        except BackError:
            continue
        _ask_all(own, known)
