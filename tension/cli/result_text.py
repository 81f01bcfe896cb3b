"""A result in words: the answer first, then why, for what condition, and the table."""

import re
from collections.abc import Callable, Sequence
from typing import NoReturn

import click

from tension.assessment.outcome import Assessment, RopeShare, Spread, Verdict
from tension.cli.exits import EXIT_OF_VERDICT, echo_document, leave, tell_no_result
from tension.cli.options import Drawing, FormOptions, TableOptions
from tension.cli.text import large, output_width, table, wrapped
from tension.documents.assessed import assessment_csv, assessment_document
from tension.measurement.outcome import LengthKnowledge, RopeMeasurement
from tension.notes import Note
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import notes_alike, with_next_act
from tension.telling.results import (
    condition_words,
    reason_text,
    rule_text,
    share_of,
    told_notes,
)
from tension.wording import Terms, limit_text, say
from tension.workflow.assess import Assessed
from tension.workflow.inputs import SPAN_NAME
from tension.workflow.outputs import write_shares_figure

_SIGN = {
    Verdict.EQUAL: "=",
    Verdict.UNEQUAL: "≠",
    Verdict.CANNOT_TELL: "?",
    Verdict.NO_RESULT: "-",
}
"""A shape beside the large word; drawn, so that no console lacks it."""

_SCALE = "70       100      130"
"""What the bar of a share runs over, in percent."""


def show_assessed(
    name: str,
    assessed: Assessed,
    form: FormOptions,
    drawing: Drawing | None = None,
    say_next: Callable[[], None] | None = None,
) -> NoReturn:
    """Print a result in the form asked for and leave with its exit code.

    Parameters
    ----------
    name : str
        The command, for the document.
    assessed : Assessed
        The result.
    form : FormOptions
        How it is shown.
    drawing : Drawing, optional
        A figure asked for.
    say_next : callable, optional
        Prints the next command, after the text alone.
    """
    is_csv = isinstance(form, TableOptions) and form.csv
    assessment = assessed.assessment
    if form.json:
        document = assessment_document(name, assessment, assessed.inputs)
        echo_document(document)
    elif is_csv:
        click.echo(assessment_csv(assessment), nl=False)
    else:
        click.echo(result_text(assessment, form), nl=False)
        if say_next:
            say_next()
    if drawing and drawing.plot:
        write_shares_figure(assessment, drawing.plot, overwrite=drawing.overwrite)
    if assessment.verdict is Verdict.NO_RESULT:
        tell_no_result(assessment, form.terms)
    leave(EXIT_OF_VERDICT[assessment.verdict])


def result_text(assessment: Assessment, form: FormOptions) -> str:
    """Write a whole result."""
    width, units, terms = output_width(), form.units, form.terms
    reason = say(reason_text(assessment), terms)
    verdict = assessment.verdict
    parts = [large(verdict.banner, width, _SIGN[verdict]), wrapped(reason, width)]
    parts += next_act_lines(assessment, width=width, terms=terms)
    if assessment.measure_again:
        again = ", then ".join(f"rope {n}" for n in assessment.measure_again[:3])
        parts.append(wrapped(f"Measure again: {again}.", width))
    parts += [
        wrapped(f"Holds for: {_condition(assessment)}.", width),
        wrapped(f"Rule: {rule_text(assessment.rule)}", width),
        "",
    ]
    has_shares = any(share.share is not None for share in assessment.shares)
    if assessment.measurement.refusal is None and assessment.measurement.given:
        parts += [
            _ropes_table(assessment, width=width, units=units),
            *([wrapped(say(_legend(assessment), terms), width)] if has_shares else []),
            "",
        ]
    parts += _spread_lines(assessment, width)
    parts += notes_lines(told_notes(assessment), width=width, terms=terms)
    text = "\n".join(parts).rstrip()
    return re.sub(r"\n{3,}", "\n\n", text) + "\n"


def next_act_lines(assessment: Assessment, *, width: int, terms: Terms) -> list[str]:
    """Say what to do where there is no result, or a doubt stands before it."""
    reason = assessment.reason_note
    if reason is None or not reason.next_act:
        return []
    return [wrapped(f"Next: {say(reason.next_act, terms)}", width)]


def _condition(assessment: Assessment) -> str:
    """For what condition a result holds; sound files alone tell no place."""
    span = assessment.measurement.span
    is_known = span is None or span.name != SPAN_NAME
    return condition_words(assessment, is_place_known=is_known)


def notes_lines(notes: Sequence[Note], *, width: int, terms: Terms) -> list[str]:
    """Write notes with their numbers, ready to be quoted.

    Returns
    -------
    list of str
        A heading and a paragraph per note; empty without notes.
    """
    if not notes:
        return []
    lines = ["", "Notes"]
    for alike in notes_alike(notes):
        note = alike[0]
        word = "rope" if len(note.ropes) == 1 else "ropes"
        where = f"{word} {_numbers(note.ropes)}" if note.ropes else ""
        if len(alike) > 1:
            where += f", likewise {_numbers([n for o in alike[1:] for n in o.ropes])}"
        where = f" ({where})" if where else ""
        sentence = say(with_next_act(note), terms)
        lines.append(wrapped(f"{note.kind.number}{where}: {sentence}", width, "  "))
    return lines


def _ropes_table(assessment: Assessment, *, width: int, units: UnitSystem) -> str:
    """Write one line per rope."""
    has_tension = any(s.tension is not None for s in assessment.shares)
    has_fundamental = any(r.fundamental for r in assessment.measurement.ropes)
    words = _extremes(assessment.shares)
    headers = ["Rope", "Share", "±", _SCALE, ""]
    if has_tension:
        headers.append("About")
    if has_fundamental:
        headers.append("Heard")
    rows = []
    for measured, share in zip(
        assessment.measurement.ropes, assessment.shares, strict=True
    ):
        row = [
            str(measured.number),
            _percent_cell(share.share),
            _uncertainty_cell(assessment, share),
            _bar(share.share),
            _word_cell(measured, words.get(measured.number, "")),
        ]
        if has_tension:
            row.append(_tension_cell(share, units))
        if has_fundamental:
            row.append(_fundamental_cell(measured))
        rows.append(row)
    if not any(share.share is not None for share in assessment.shares):
        headers = [headers[0], *headers[4:]]
        rows = [[row[0], *row[4:]] for row in rows]
        return table(headers, rows, width, left=(1,))
    return table(headers, rows, width, left=(3, 4), spare=(3,))


def _legend(assessment: Assessment) -> str:
    """Say what the columns of the table are."""
    text = f"Share: {share_of(assessment.shares)}, at the [[hitch]]."
    if assessment.measurement.lengths is LengthKnowledge.UNKNOWN:
        return f"{text} No ± while the free lengths are not known."
    return f"{text} ±: one standard uncertainty."


def _extremes(shares: Sequence[RopeShare]) -> dict[int, str]:
    """Say which rope is highest and which lowest, if they differ as printed."""
    known = [(s.share, s.number) for s in shares if s.share is not None]
    if not known:
        return {}
    (low, lowest), (high, highest) = min(known), max(known)
    if f"{100 * low:.1f}" == f"{100 * high:.1f}":
        return {}
    return {lowest: "lowest", highest: "highest"}


def _percent_cell(share: float | None) -> str:
    """Share of one rope."""
    return "-" if share is None else f"{100 * share:.1f} %"


def _uncertainty_cell(assessment: Assessment, share: RopeShare) -> str:
    """Standard uncertainty; none of one rope is known while its length is not."""
    if share.share is None:
        return ""
    if assessment.measurement.lengths is LengthKnowledge.UNKNOWN:
        return "?"
    return f"{100 * share.share_uncertainty:.1f}" if share.share_uncertainty else ""


def _word_cell(measured: RopeMeasurement, word: str) -> str:
    """Highest, lowest, or why there is no number."""
    if measured.tension is not None:
        return word
    refusal = measured.refusal
    return f"{refusal.kind.number} {refusal.code}" if refusal else "not measured"


def _bar(share: float | None) -> str:
    """Draw a share as a mark on a line from 70 to 130 %, the even share midway."""
    if share is None:
        return "no number"
    cells = ["."] * 21
    cells[10] = "|"
    place = round((share - 1.0) / 0.03) + 10
    if place < 0:
        cells[0] = "<"
    elif place > 20:
        cells[20] = ">"
    else:
        cells[place] = "o"
    return "".join(cells)


def _tension_cell(share: RopeShare, units: UnitSystem) -> str:
    """Tension to three digits, said to be about."""
    if share.tension is None:
        return ""
    rounded = float(f"{share.tension:.3g}")
    return show_quantity(rounded, Dimension.FORCE, units, digits=3)


def _fundamental_cell(measured: RopeMeasurement) -> str:
    """Fundamental frequency."""
    if measured.fundamental is None:
        return ""
    return f"{measured.fundamental.value:.2f} Hz"


def _spread_lines(assessment: Assessment, width: int) -> list[str]:
    """The deciding metric, and the others for those who work to another rule."""
    if assessment.spread.observed is None:
        return []
    others = ", ".join(
        _spread_text(spread)
        for spread in assessment.other_spreads
        if spread.observed is not None
    )
    limit = limit_text(assessment.rule.limit)
    return [
        wrapped(
            f"Spread: {_spread_text(assessment.spread)} by the rule, limit {limit}.",
            width,
            hanging="  ",
        ),
        wrapped(f"Not deciding: {others}.", width, hanging="  "),
    ]


def _spread_text(spread: Spread) -> str:
    """One metric with its interval."""
    if spread.observed is None:
        return f"{spread.metric.value} none"
    text = f"{spread.metric.value} {_percent(spread.observed)}"
    lower, upper = spread.lower, spread.upper
    if lower is not None and upper is not None:
        return f"{text} ({_percent(lower).removesuffix(' %')} to {_percent(upper)})"
    if lower is not None:
        return f"{text} (at least {_percent(lower)})"
    if upper is not None:
        return f"{text} (at most {_percent(upper)})"
    return f"{text} (not bounded)"


def _percent(fraction: float) -> str:
    """Percent with one decimal at most."""
    text = f"{100 * fraction:.1f}".removesuffix(".0")
    return f"{text} %"


def _numbers(ropes: Sequence[int]) -> str:
    """Rope numbers in a list."""
    return ", ".join(map(str, ropes))
