"""``tension causes``: what a pattern of deviations suggests."""

import click

from tension.cli import options
from tension.cli.output import echo_document, tell_progress


@options.command("causes")
def command(
    paths: options.Paths,
    which: options.Lift,
    form: options.Form,
    drawing: options.Plot = options.opt(
        "Draw each rope's deviation against the place of the car, models through it."
    ),
) -> None:
    """Say what makes ropes unequal, as far as the measurements suggest it.

    PATH is a record, a folder that holds one, or a folder of such folders: all series
    of one lift, in the last life of its ropes. Series at several places, sides,
    directions, loads or days are held against mechanical models of ten causes, alone
    and two at once. It suggests, tells the number that tells, and names the one
    further measurement that would settle most.

    \b
    tension causes visit-2026-11-20
    tension causes lift-2 --plot causes.svg
    """
    from tension.cli.result_text import refuse
    from tension.cli.screen import screen
    from tension.documents.commands import document
    from tension.figures.shares import draw_causes
    from tension.notes import Refusal
    from tension.telling import causes
    from tension.workflow.causes import diagnose_records

    drawing.require_drawable_beside_records(paths)
    diagnosed = diagnose_records(
        paths, lift=which.lift, re_roped=which.re_roped, progress=tell_progress
    )
    outcome = diagnosed.outcome
    if form.json:
        echo_document(document("causes", outcome, diagnosed.inputs, diagnosed.notes))
    if isinstance(outcome, Refusal):
        refuse(outcome, form.terms, diagnosed.notes)
    if not form.json:
        said = {"diagnosis": outcome, "units": form.units, "told": causes}
        click.echo(screen("diagnosis", form.terms, **said))
    units, terms = form.units, form.terms
    drawing.draw(lambda fig: draw_causes(outcome, fig, units=units, terms=terms))
