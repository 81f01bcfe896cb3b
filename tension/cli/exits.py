"""What commands give: documents, exit codes, and on stderr why there is no answer."""

import re
import sys
from collections.abc import Sequence
from enum import IntEnum
from typing import NoReturn

import click

from tension.assessment.outcome import Assessment, Verdict
from tension.cli.text import output_width, printable, wrapped
from tension.documents.shape import Document, to_json
from tension.notes import Note, Refusal
from tension.telling.results import reason_text
from tension.wording import Terms, say
from tension.workflow.listening import HeardFile


class ExitCode(IntEnum):
    """What a script can read from the exit status."""

    DONE = 0
    CRASH = 1
    WRONG_USAGE = 2
    UNUSABLE_INPUT = 3
    UNEQUAL = 10
    CANNOT_TELL = 11
    NO_FEASIBLE_PLAN = 12
    CHANGE_FOUND = 13
    CONTRADICTION = 14
    INTERRUPTED = 130


EXIT_OF_VERDICT = {
    Verdict.EQUAL: ExitCode.DONE,
    Verdict.UNEQUAL: ExitCode.UNEQUAL,
    Verdict.CANNOT_TELL: ExitCode.CANNOT_TELL,
    Verdict.NO_RESULT: ExitCode.UNUSABLE_INPUT,
}


def leave(code: ExitCode) -> NoReturn:
    """Leave the command with an exit code.

    Raises
    ------
    click.exceptions.Exit
        Always.
    """
    raise click.exceptions.Exit(code)


def echo_document(document: Document) -> None:
    """Print a document for machines."""
    click.echo(to_json(document), nl=False)


def refuse(refusal: Refusal, terms: Terms, notes: Sequence[Note] = ()) -> NoReturn:
    """Tell why there is no answer and what to do, and leave."""
    told = [f"{n.text} {n.next_act}".strip() for n in notes]
    for text in [f"{refusal.text} {refusal.next_act}".strip(), *told]:
        line = say(f"tension: {text}", terms)
        click.echo(wrapped(line, output_width()), err=True)
    leave(ExitCode.UNUSABLE_INPUT)


def tell_no_result(assessment: Assessment, terms: Terms) -> None:
    """Say on stderr why there is no result: the set, then each refused rope."""
    act = assessment.reason_note.next_act if assessment.reason_note else ""
    lines = [f"no result: {reason_text(assessment)} {act}".strip()]
    if assessment.measurement.refusal is None:
        for rope in assessment.measurement.ropes:
            if rope.refusal is not None:
                said = f"{rope.refusal.text} {rope.refusal.next_act}".strip()
                is_named = re.search(
                    rf"\bropes? [\d, ]*\b{rope.number}\b", said.lower()
                )
                lines.append(said if is_named else f"rope {rope.number}: {said}")
    for line in dict.fromkeys(lines):  # one sentence may be of several ropes
        tell(say(line, terms))


def tell_unheard(heard: Sequence[HeardFile], terms: Terms) -> None:
    """Say on stderr why no file gave a number, a line for each rope."""
    for one in heard:
        for rope in one.hearing.ropes:
            if rope.refusal is not None:
                said = f"{rope.refusal.text} {rope.refusal.next_act}".strip()
                tell(f"{one.recording.name}: {say(said, terms)}")


def tell(line: str) -> None:
    """Say one line about the command on stderr."""
    click.echo(f"tension: {printable(line)}", err=True)


def tell_work(line: str) -> None:
    """Say on stderr what is being done."""
    click.echo(printable(line), err=True)


def tell_progress(line: str) -> None:
    """Say what is being read, where somebody sits before a terminal."""
    if sys.stderr.isatty():
        tell_work(line)
