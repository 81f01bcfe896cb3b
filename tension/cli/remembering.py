"""What `causes` and `history` share: options to lines and exit codes."""

import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def with_lift_options(function: Decorated) -> Decorated:
    """Add which lift, and when it was re-roped."""
    for option in reversed(
        [
            click.option(
                "--lift",
                metavar="NAME",
                help="Which lift, where the records are of several.",
            ),
            click.option(
                "--re-roped",
                "re_roped",
                type=click.DateTime(["%Y-%m-%d"]),
                multiple=True,
                metavar="DAY",
                help="A day of re-roping that no record tells, 2025-03-14.",
            ),
        ]
    ):
        function = option(function)
    return function


def run_causes(
    ctx: click.Context, paths: Sequence[Path], options: Mapping[str, Any]
) -> None:
    """Diagnose, print and leave with the exit code."""
    from tension.cli.exits import ExitCode
    from tension.cli.remembered_text import diagnosis_text
    from tension.cli.text import output_width, wrapped
    from tension.documents.remembered import causes_document
    from tension.documents.shape import to_json
    from tension.notes import Refusal
    from tension.quantity.units import UnitSystem
    from tension.wording import Terms, say
    from tension.workflow.causes import LiftChoice, diagnose_records
    from tension.workflow.causes_figures import write_causes_figure

    _check_plot(paths, options)
    diagnosed = diagnose_records(
        paths,
        choice=LiftChoice(lift=options["lift"], re_roped=_days(options)),
        progress=_progress,
    )
    outcome, terms = diagnosed.outcome, Terms(options["terms"])
    units, width = UnitSystem(options["units"]), output_width()
    if options["as_json"]:
        document = causes_document(outcome, diagnosed.notes, diagnosed.inputs)
        click.echo(to_json(document), nl=False)
    elif not isinstance(outcome, Refusal):
        click.echo(diagnosis_text(outcome, units=units, terms=terms, width=width))
    if isinstance(outcome, Refusal):
        told = [f"{n.text} {n.next_act}".strip() for n in diagnosed.notes]
        for text in [f"{outcome.text} {outcome.next_act}", *told]:
            click.echo(wrapped(say(f"tension: {text}", terms), width), err=True)
        ctx.exit(ExitCode.UNUSABLE_INPUT)
    if options["plot"]:
        write_causes_figure(
            outcome,
            options["plot"],
            units=units,
            terms=terms,
            overwrite=options["overwrite"],
        )
    ctx.exit(ExitCode.DONE)


def run_history(
    ctx: click.Context, paths: Sequence[Path], options: Mapping[str, Any]
) -> None:
    """Show the visits over time and leave with the exit code.

    Raises
    ------
    FileFormatError
        If no series gives a rope a number.
    """
    from tension.cli.assessing import rule_choice
    from tension.cli.exits import ExitCode
    from tension.cli.remembered_text import history_text
    from tension.cli.text import output_width
    from tension.documents.remembered import history_document
    from tension.documents.shape import to_json
    from tension.errors import FileFormatError
    from tension.wording import Terms
    from tension.workflow.causes import LiftChoice, remember_records
    from tension.workflow.causes_figures import write_history_figure

    _check_plot(paths, options)
    choice = LiftChoice(
        lift=options["lift"], re_roped=_days(options), rule=rule_choice(options)
    )
    remembered = remember_records(paths, choice=choice, progress=_progress)
    history, terms = remembered.history, Terms(options["terms"])
    if not history.tracks:
        raise FileFormatError(
            f"{paths[0]}: no series in it gives a rope a number; see what "
            "'tension assess' says of each record"
        )
    if options["as_json"]:
        document = history_document(history, remembered.inputs)
        click.echo(to_json(document), nl=False)
    else:
        click.echo(history_text(history, terms=terms, width=output_width()))
    if options["plot"]:
        write_history_figure(
            history, options["plot"], terms=terms, overwrite=options["overwrite"]
        )
    ctx.exit(ExitCode.DONE)


def _days(options: Mapping[str, Any]) -> tuple[dt.date, ...]:
    """Days of re-roping in order."""
    return tuple(sorted(day.date() for day in options["re_roped"]))


def _check_plot(paths: Sequence[Path], options: Mapping[str, Any]) -> None:
    """Refuse a figure that cannot be written before any work is done."""
    from tension.workflow.figures import require_drawable
    from tension.workflow.lift_records import find_records
    from tension.workflow.outputs import require_no_input

    if options["plot"]:
        require_drawable(options["plot"], overwrite=options["overwrite"])
        if options["plot"].exists():
            require_no_input(
                options["plot"], [r for path in paths for r in find_records(path)]
            )


def _progress(line: str) -> None:
    """Tell on a terminal what is being read."""
    if sys.stderr.isatty():
        click.echo(line, err=True)
