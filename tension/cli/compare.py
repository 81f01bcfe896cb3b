"""``tension compare``: as found against as left."""

from dataclasses import dataclass

import click

from tension.cli import options
from tension.cli.output import echo_document, tell_progress
from tension.installation import HitchPlace


@dataclass(frozen=True, kw_only=True, slots=True)
class Pair:
    """Which two series, and where the nuts were turned between them."""

    before: str | None = options.opt(
        "Series as found; the first if left out.", metavar="NAME"
    )
    after: str | None = options.opt(
        "Series as left; the last if left out.", metavar="NAME"
    )
    hitch: HitchPlace | None = options.opt(
        "Where the nuts were turned; next to the span measured if left out."
    )


@options.command("compare")
def command(
    path: options.RecordPath,
    pair: Pair,
    rule: options.Rule,
    form: options.Form,
    drawing: options.Plot = options.opt(
        "Draw both series with intervals and limit as svg, png or pdf."
    ),
) -> None:
    """Hold as found against as left, and learn from the turns between them.

    Both series must be of one span, side and load. The change of every rope stands
    beside what its turns should have brought; a rope that answers little is named.
    Something is learned only if the record says that the car ran.

    \b
    tension compare visit-2026-11-20
    tension compare visit-2026-11-20 --before "as found" --after "second round"
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.result_text import refuse
    from tension.cli.screen import signed_lines
    from tension.documents.commands import document
    from tension.figures.adjustment import draw_as_found_as_left
    from tension.notes import Refusal
    from tension.telling.plans import comparison_lines
    from tension.workflow.adjustment import AdjustmentChoice, compare_record
    from tension.workflow.standing import NextKind, NextStep

    drawing.require_drawable([path])
    compared = compare_record(
        path,
        before=pair.before,
        after=pair.after,
        choice=AdjustmentChoice(hitch=pair.hitch, rule=rule.choice()),
        progress=tell_progress,
    )
    outcome = compared.outcome
    if form.json:
        notes = () if isinstance(outcome, Refusal) else outcome.notes
        echo_document(document("compare", outcome, compared.inputs, notes))
    if isinstance(outcome, Refusal):
        refuse(outcome, form.terms)
    if not form.json:
        lines = comparison_lines(outcome, form.units, form.terms)
        click.echo(signed_lines(lines).lstrip("\n"))
        echo_next_command(NextStep(kind=NextKind.REPORT), path)
    drawing.draw(
        lambda figure: draw_as_found_as_left(outcome, figure.add_subplot()),
        (7.5, 4.5),
    )
