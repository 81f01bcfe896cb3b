"""``tension history``: the visits to one lift over time."""

import click

from tension.cli import options
from tension.cli.output import echo_document, tell_progress
from tension.errors import FileFormatError


@options.command("history")
def command(
    paths: options.Paths,
    which: options.Lift,
    rule: options.Rule,
    form: options.Form,
    drawing: options.Plot = options.opt(
        "Draw deviations over time as svg, png or pdf."
    ),
) -> None:
    """Show how each rope's deviation went over the visits to one lift.

    PATH is a folder of records of one lift, or of folders that hold one each. The same
    side, position and load stand together, others apart; as found and as left are told
    apart by the turns in the record; a re-roping begins a new life. The next check is
    suggested from the trend.

    \b
    tension history lift-2
    tension history lift-2 --re-roped 2025-03-14 --plot history.svg
    \f

    Raises
    ------
    FileFormatError
        If no series gives a rope a number.
    """
    from tension.cli.screen import screen
    from tension.documents.commands import document
    from tension.figures.shares import draw_history
    from tension.telling import causes
    from tension.workflow.causes import remember_records

    drawing.require_drawable_beside_records(paths)
    remembered = remember_records(
        paths,
        lift=which.lift,
        re_roped=which.re_roped,
        rule=rule.choice(),
        progress=tell_progress,
    )
    history = remembered.history
    if not history.tracks:
        raise FileFormatError(
            f"{paths[0]}: no series in it gives a rope a number; see what "
            "'tension assess' says of each record"
        )
    if form.json:
        echo_document(document("history", history, remembered.inputs, history.notes))
    else:
        click.echo(screen("history", form.terms, history=history, told=causes))
    drawing.draw(lambda figure: draw_history(history, figure, terms=form.terms))
