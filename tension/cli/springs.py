"""``tension springs``: rate, margin and load of the shackle springs."""

from dataclasses import dataclass

import click

from tension.cli import options
from tension.cli.output import ExitCode, echo_document, tell_progress
from tension.installation import HitchPlace


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """Which springs, and for what load."""

    series: options.Series
    hitch: HitchPlace | None = options.opt(
        "Where the springs are; next to the span measured if left out."
    )
    rated_load: options.Mass = options.opt(
        'Rated load, "1000 kg", for the margin at 125 % of it.'
    )


@options.command("springs")
def command(
    path: options.RecordPath,
    which: Checked,
    rule: options.Rule,
    form: options.Form,
    drawing: options.Plot = options.opt(
        "Draw tension against compression as svg, png or pdf."
    ),
) -> ExitCode:
    """Check the shackle springs: load by length beside load by sound or side pull.

    The record needs readings of kind "spring" in the series. Level springs do not mean
    level tension.

    Exit code 14 if springs contradict each other, their own figures or the readings.

    \b
    tension springs visit-2026-11-20 --rated-load "1000 kg"
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.result_text import refuse
    from tension.cli.screen import screen, signed_lines
    from tension.documents.commands import document
    from tension.figures.adjustment import draw_spring_loads
    from tension.notes import Refusal
    from tension.telling import plans
    from tension.workflow.adjustment import AdjustmentChoice, check_springs_of_record
    from tension.workflow.standing import NextKind, NextStep, standing_of

    drawing.require_drawable([path])
    checked = check_springs_of_record(
        path,
        series=which.series,
        choice=AdjustmentChoice(hitch=which.hitch, rule=rule.choice()),
        rated_load=which.rated_load,
        progress=tell_progress,
    )
    outcome = checked.outcome
    if form.json:
        notes = () if isinstance(outcome, Refusal) else outcome.notes
        echo_document(document("springs", outcome, checked.inputs, notes))
    if isinstance(outcome, Refusal):
        refuse(outcome, form.terms)
    if not form.json:
        told = plans.spring_lines(outcome, form.units, form.terms)
        said = {"has_load": which.rated_load is not None, "units": form.units}
        said |= {"check": outcome, "told": plans, "lines": signed_lines(told)}
        click.echo(screen("springs", form.terms, **said))
        if not outcome.is_contradicted:
            step = standing_of(path).step
            if step.kind is NextKind.ASSESS:  # springs agree: a plan can be made
                step = NextStep(kind=NextKind.ADJUST)
            echo_next_command(step, path)
    drawing.draw(
        lambda figure: draw_spring_loads(outcome, figure.add_subplot(), form.units),
        (7.0, 4.5),
    )
    return ExitCode.CONTRADICTION if outcome.is_contradicted else ExitCode.DONE
