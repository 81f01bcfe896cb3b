"""The conversation of `start`: question by question, back, a summary to correct."""

import contextlib
from collections.abc import Iterator, Sequence

import click

from tension.cli.asking import BackError, EndedError, Units, ask
from tension.cli.start_questions import Question, questions
from tension.cli.start_readers import Answers
from tension.cli.text import output_width, printable, wrapped
from tension.errors import InvalidValueError
from tension.quantity.units import Quantity


def converse(known: Answers) -> list[Question]:
    """Ask for what is not known yet, and let the answers be corrected.

    Parameters
    ----------
    known : dict
        What is known; answers are added to it.
    """
    every = list(questions(Units()))
    given = {key for key, value in known.items() if value is not None}
    own = [question for question in every if question.key not in given]
    with contextlib.suppress(EndedError):
        _ask_all(own, known)
    for question in own:
        if question.is_wanted(known):
            known.setdefault(question.key, None)
    with contextlib.suppress(EndedError):
        click.echo("", err=True)
        _correct(own, known)
    return [q for q in own if known.get(q.key) is None and q.is_wanted(known)]


def _ask_all(own: Sequence[Question], known: Answers) -> None:
    """Ask every question that serves something and has not been asked."""
    asked: list[int] = []
    place = 0
    while place < len(own):
        question = own[place]
        if question.key in known or not question.is_wanted(known):
            place += 1
            continue
        try:
            known[question.key] = _answer(question, known)
        except BackError:
            if asked:
                place = asked.pop()
                del known[own[place].key]
            else:
                click.echo("  This is the first question.", err=True)
            continue
        asked.append(place)
        place += 1


def _answer(question: Question, known: Answers) -> object:
    """Ask one question; None if it is skipped."""
    return ask(question.asked, lambda line: question.read(line, known), None)


def _correct(own: Sequence[Question], known: Answers) -> None:
    """Show the answers and ask anew for those that are wrong."""
    while True:
        shown = _show(own, known)
        if not shown:
            return

        def read(line: str, most: int = len(shown)) -> int:
            if line.isdigit() and 1 <= int(line) <= most:
                return int(line)
            raise InvalidValueError(f"a number from 1 to {most}, or Enter")

        try:
            number = ask("Enter writes it; a number corrects that answer", read, 0)
            if not number:
                return
            question = shown[number - 1]
            answer = _answer(question, known)
        except BackError:
            continue
        known[question.key] = answer
        _ask_all(own, known)


def _show(own: Sequence[Question], known: Answers) -> list[Question]:
    """Show what was answered, numbered; the questions in that order."""
    shown = [q for q in own if q.key in known and q.is_wanted(known)]
    width = output_width()
    for number, question in enumerate(shown, start=1):
        text = ", ".join(_words(known[question.key])) or "-"
        line = f"{number:>2} {question.label}: {printable(text)}"
        click.echo(wrapped(line, width, "", "   "), err=True)
    return shown


def _words(answer: object) -> Iterator[str]:
    """An answer in words, part by part."""
    if isinstance(answer, Quantity):
        yield answer.text
    elif isinstance(answer, dict):
        yield from (text for text in answer.values() if text)
    elif isinstance(answer, tuple) and all(isinstance(a, str) for a in answer):
        yield " / ".join(part for part in answer if part)
    elif isinstance(answer, tuple):
        yield from (
            words for part in answer for words in [" ".join(_words(part))] if words
        )
    elif answer is True:
        yield "all at one height"
    elif answer is not None and answer is not False:
        yield str(answer)
