"""``tension assess``: the main job."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tension.cli import options
from tension.cli.output import ExitCode, tell_progress, tell_work
from tension.errors import FileFormatError

if TYPE_CHECKING:
    from tension.workflow.assess import Assessed


@options.command("assess")
def command(
    paths: options.SomePaths,
    series: options.Series,
    ropes: options.Ropes,
    rule: options.Rule,
    form: options.Table,
    drawing: options.Plot = options.opt(
        "Draw shares, intervals and limit as svg, png or pdf."
    ),
) -> ExitCode:
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
    from tension.cli.record_text import echo_next_command
    from tension.cli.result_text import show_assessed
    from tension.workflow.assess import assess_record
    from tension.workflow.inputs import is_record
    from tension.workflow.standing import next_after_assessment

    paths = paths or (Path(),)
    options.require_one_form(json=form.json, csv=form.csv)
    drawing.require_drawable(paths)
    if any(map(is_record, paths)):
        options.require(
            len(paths) == 1,
            "Give one record at a time; a record names its own sound files.",
        )
        ropes.require_none()
        assessed = assess_record(
            paths[0], series=series, choice=rule.choice(), progress=tell_progress
        )
    else:
        if not form.json:
            _require_any(paths)
        options.require(not series, "--series goes with a record; sound files are one.")
        assessed = _assess_recordings(paths, ropes, rule)

    def say_next() -> None:
        if all(path.exists() for path in paths):
            step = next_after_assessment(assessed)
            echo_next_command(step, *paths)

    return show_assessed("assess", assessed, form, drawing, say_next)


def _require_any(paths: Sequence[Path]) -> None:
    """Refuse sound files of which none is there, a line each."""
    from tension.notes import NoteKind

    if not any(path.exists() for path in paths):
        told = [NoteKind.FILE_MISSING.refusal(recording=path) for path in paths]
        raise FileFormatError(*(f"{one.text} {one.next_act}" for one in told))


def _assess_recordings(
    paths: Sequence[Path], ropes: options.Ropes, rule: options.Rule
) -> "Assessed":
    """Assess sound files, of which the options say all; tell which is which rope."""
    from tension.workflow.assess import assess_recordings
    from tension.workflow.inputs import in_rope_order, ropes_of_files

    files = in_rope_order(paths)
    if len(files) == 1 and not ropes.order and files[0].exists():
        tell_work(
            f"{files[0]}: taken as one rope; if several ropes were plucked in it, say "
            'in which order: --order "1 2 3 3 2 1"'
        )
    elif len(files) > 1:
        of_files = ropes_of_files(len(files), ropes.order)
        for numbers, file in zip(of_files, files, strict=True):
            word = "rope" if len(numbers) == 1 else "ropes"
            tell_work(f"{word} {' '.join(map(str, numbers))}: {file}")
    return assess_recordings(
        files, given=ropes.given(), choice=rule.choice(), progress=tell_progress
    )
