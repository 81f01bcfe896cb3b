"""A result in words: the answer first, then why, for what condition, and the table.

And what was heard in a file, and why there is no answer.
"""

import math
import re
from collections.abc import Callable, Sequence
from functools import partial
from itertools import zip_longest
from typing import NoReturn

import click

from tension.assessment.decide import Assessment, RopeShare, Verdict
from tension.cli import output
from tension.cli.options import Form, Plot, Table
from tension.cli.screen import screen
from tension.documents.commands import assessment_csv, document
from tension.figures.shares import draw_shares
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, Refusal
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling import results
from tension.telling.lines import notes_alike, with_next_act
from tension.wording import Terms, limit_text, say
from tension.workflow.assess import Assessed
from tension.workflow.inputs import SPAN_NAME
from tension.workflow.listening import HeardFile

EXIT_OF_VERDICT = {
    Verdict.EQUAL: output.ExitCode.DONE,
    Verdict.UNEQUAL: output.ExitCode.UNEQUAL,
    Verdict.CANNOT_TELL: output.ExitCode.CANNOT_TELL,
    Verdict.NO_RESULT: output.ExitCode.UNUSABLE_INPUT,
}
_SIGN = {
    Verdict.EQUAL: "=",
    Verdict.UNEQUAL: "≠",
    Verdict.CANNOT_TELL: "?",
    Verdict.NO_RESULT: "-",
}
"""A shape beside the large word; drawn, so that no console lacks it."""


def refuse(refusal: Refusal, terms: Terms, notes: Sequence[Note] = ()) -> NoReturn:
    """Tell why there is no answer and what to do, and leave.

    Raises
    ------
    click.exceptions.Exit
        Always.
    """
    for each in (refusal, *notes):
        line = say(f"tension: {with_next_act(each)}", terms)
        click.echo(output.wrapped(line), err=True)
    raise click.exceptions.Exit(output.ExitCode.UNUSABLE_INPUT)


def show_assessed(
    name: str,
    assessed: Assessed,
    form: Form,
    drawing: Plot | None = None,
    say_next: Callable[[], None] = lambda: None,
) -> output.ExitCode:
    """Print a result in the form asked for and give its exit code.

    The next command is printed after the text alone; `name` is that of the command.
    """
    assessment = assessed.assessment
    if form.json:
        told = document(
            name, assessment, assessed.inputs, assessment.notes, of="assess"
        )
        output.echo_document(told)
    elif isinstance(form, Table) and form.csv:
        click.echo(assessment_csv(assessment), nl=False)
    else:
        click.echo(result_text(assessment, form), nl=False)
        say_next()
    if drawing:
        drawing.draw(
            lambda figure: draw_shares(assessment, figure.add_subplot()), (7.0, 4.2)
        )
    if assessment.verdict is Verdict.NO_RESULT:
        _tell_no_result(assessment, form.terms)
    return EXIT_OF_VERDICT[assessment.verdict]


def _tell_no_result(assessment: Assessment, terms: Terms) -> None:
    """Say on stderr why there is no result: the set, then each refused rope."""
    act = assessment.reason_note.next_act if assessment.reason_note else ""
    lines = [f"no result: {results.reason_text(assessment)} {act}".strip()]
    if assessment.measurement.refusal is None:
        for rope in assessment.measurement.ropes:
            if rope.refusal is not None:
                said = with_next_act(rope.refusal)
                named = rf"\bropes? [\d, ]*\b{rope.number}\b"
                is_named = re.search(named, said.lower())
                lines.append(said if is_named else f"rope {rope.number}: {said}")
    for line in dict.fromkeys(lines):  # one sentence may be of several ropes
        output.tell(say(line, terms))


def result_text(assessment: Assessment, form: Form) -> str:
    """Write a whole result."""
    measured, verdict = assessment.measurement, assessment.verdict
    text = screen(
        "assessed",
        form.terms,
        found=assessment,
        results=results,
        banner=output.large(verdict.banner, _SIGN[verdict]),
        # sound files alone tell no place
        is_place_known=measured.span is None or measured.span.name != SPAN_NAME,
        has_ropes=measured.refusal is None and measured.given,
        lengths_known=measured.lengths is not LengthKnowledge.UNKNOWN,
        extremes=_extremes(assessment.shares),
        bar=_bar,
        force=partial(_about, units=form.units),
        limit=limit_text(assessment.rule.limit),
        notes=notes_lines(results.told_notes(assessment), form.terms),
    )
    return re.sub(r"\n{3,}", "\n\n", text.rstrip()) + "\n"


def notes_lines(notes: Sequence[Note], terms: Terms) -> list[str]:
    """Write notes under a heading, with their numbers, ready to be quoted."""
    lines = ["", "Notes"] if notes else []
    groups = notes_alike(notes)
    below = [alike[0].next_act for alike in groups[1:]]
    for alike, act_below in zip_longest(groups, below):
        note = alike[0]
        of, *others = (", ".join(map(str, one.ropes)) for one in alike)
        where = f"rope{'s' if len(note.ropes) > 1 else ''} {of}" if of else ""
        where += f", likewise {', '.join(others)}" if others else ""
        where = f" ({where})" if where else ""
        # what is to be done is told once, under the last that asks for it
        told = note.text if note.next_act == act_below else with_next_act(note)
        sentence = say(told, terms)
        lines.append(output.wrapped(f"{note.kind.number}{where}: {sentence}", "  "))
    return lines


def _extremes(shares: Sequence[RopeShare]) -> dict[int, str]:
    """Say which rope is highest and which lowest."""
    words = {share.number: "" for share in shares}
    known = [(s.share, s.number) for s in shares if s.share is not None]
    if known:
        (low, lowest), (high, highest) = min(known), max(known)
        # if they differ as printed
        if f"{100 * low:.1f}" != f"{100 * high:.1f}":
            words |= {lowest: "lowest", highest: "highest"}
    return words


def _bar(share: float | None) -> str:
    """Draw a share as a mark on a line from 70 to 130 %, the even share midway."""
    if share is None:
        return "no number"
    cells = ["."] * 21
    cells[10] = "|"
    place = round((share - 1.0) / 0.03) + 10
    mark = "<" if place < 0 else ">" if place > 20 else "o"
    cells[min(max(place, 0), 20)] = mark
    return "".join(cells)


def _about(tension: float | None, units: UnitSystem) -> str:
    """Tension to three digits, said to be about."""
    if tension is None:
        return ""
    return show_quantity(float(f"{tension:.3g}"), Dimension.FORCE, units, digits=3)


def hearing_text(heard: HeardFile, terms: Terms) -> str:
    """Write what was heard in one file."""
    shown = screen(
        "hearing",
        terms,
        recording=heard.recording,
        hearing=heard.hearing,
        isnan=math.isnan,
        notes=lambda notes: notes_lines(notes, terms),
    )
    return f"{shown}\n\n"


def tell_unheard(heard: Sequence[HeardFile], terms: Terms) -> None:
    """Say on stderr why no file gave a number, a line for each rope."""
    for one in heard:
        for rope in one.hearing.ropes:
            if rope.refusal is not None:
                said, name = say(with_next_act(rope.refusal), terms), one.recording.name
                output.tell(said if name in said else f"{name}: {said}")
