"""``tension assess``: the main job."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.declaring import rope_order, taking
from tension.cli.options import (
    Drawing,
    RopeOptions,
    RuleOptions,
    TableOptions,
    drawing_of,
    series_option,
    some_paths_argument,
)
from tension.errors import FileFormatError

if TYPE_CHECKING:
    from tension.workflow.assess import Assessed


@click.command("assess")
@some_paths_argument
@series_option
@taking(ropes=RopeOptions, rule=RuleOptions, form=TableOptions)
@taking(drawing=drawing_of("Draw shares, intervals and limit as svg, png or pdf."))
def command(
    paths: tuple[Path, ...],
    series: str | None,
    ropes: RopeOptions,
    rule: RuleOptions,
    form: TableOptions,
    drawing: Drawing,
) -> None:
    """Say equal, unequal or cannot tell, with each rope's share of the load.

    PATH is a record (visit.toml), a folder that holds one, a folder of sound files, or
    the sound files in rope order; this folder if left out. Nothing is written unless
    --plot asks for it.

    \b
    tension assess visit-2026-11-20
    tension assess memos --free-length "3.4 m" --same-height
    tension assess r1.m4a r2.m4a r3.m4a --free-length "3.40 m"
        --free-length "3.55 m" --free-length "3.40 m"
    """
    from tension.cli.result_text import show_assessed
    from tension.workflow.inputs import is_record

    paths = paths or (Path(),)
    form.require_one_form()
    drawing.require_drawable(paths)
    if any(map(is_record, paths)):
        assessed = _assess_record(paths, series, ropes, rule)
    else:
        if not form.json:
            _require_any(paths)
        assessed = _assess_recordings(paths, series, ropes, rule)
    show_assessed("assess", assessed, form, drawing, lambda: _say_next(assessed, paths))


def _say_next(assessed: "Assessed", paths: Sequence[Path]) -> None:
    """Print the next command, unless a file is missing."""
    from tension.cli.record_text import echo_next_command
    from tension.workflow.standing import next_after_assessment

    if all(path.exists() for path in paths):
        step = next_after_assessment(assessed.visit, assessed.assessment)
        echo_next_command(step, *paths)


def _assess_record(
    paths: Sequence[Path], series: str | None, ropes: RopeOptions, rule: RuleOptions
) -> "Assessed":
    """Assess a record, which says all of its ropes itself."""
    from tension.cli.exits import tell_progress
    from tension.workflow.assess import assess_record

    choice = rule.choice()
    if len(paths) > 1:
        raise click.UsageError(
            "Give one record at a time; a record names its own sound files."
        )
    ropes.require_none()
    return assess_record(paths[0], series=series, choice=choice, progress=tell_progress)


def _assess_recordings(
    paths: Sequence[Path], series: str | None, ropes: RopeOptions, rule: RuleOptions
) -> "Assessed":
    """Assess sound files, of which the options say all."""
    from tension.cli.exits import tell_progress
    from tension.workflow.assess import assess_recordings

    choice = rule.choice()
    if series:
        raise click.UsageError("--series goes with a record; sound files are one.")
    return assess_recordings(
        _told_order(paths, ropes.order),
        given=ropes.given(),
        choice=choice,
        progress=tell_progress,
    )


def _require_any(paths: Sequence[Path]) -> None:
    """Refuse sound files of which none is there, a line each."""
    from tension.notes import NoteKind

    if not any(path.exists() for path in paths):
        told = [NoteKind.FILE_MISSING.refusal(recording=path) for path in paths]
        raise FileFormatError(*(f"{one.text} {one.next_act}" for one in told))


def _told_order(paths: Sequence[Path], order: str | None) -> tuple[Path, ...]:
    """Put files in rope order and tell which file is which rope."""
    from tension.cli.exits import tell_work
    from tension.workflow.inputs import in_rope_order, ropes_of_files

    files = in_rope_order(paths)
    if len(files) == 1 and not order and files[0].exists():
        tell_work(
            f"{files[0]}: taken as one rope; if several ropes were plucked in it, say "
            'in which order: --order "1 2 3 3 2 1"'
        )
    elif len(files) > 1:
        ropes = ropes_of_files(len(files), rope_order(order))
        for numbers, file in zip(ropes, files, strict=True):
            word = "rope" if len(numbers) == 1 else "ropes"
            tell_work(f"{word} {' '.join(map(str, numbers))}: {file}")
    return files
