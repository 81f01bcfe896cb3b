"""``tension demo``: the main job on the recordings that come with the program."""

from pathlib import Path

import click

from tension.cli import options
from tension.cli.output import ExitCode, printable
from tension.errors import FileFormatError


@options.command("demo")
def command(
    form: options.Table,
    folder: Path | None = options.opt(
        "Copy the demo recordings and records to a new folder instead.",
        "--to",
        metavar="FOLDER",
    ),
) -> ExitCode:
    """Assess six voice memos of an imaginary lift, Granary Wharf goods lift 2.

    The recordings are made by a program; no lift was measured. The set is unequal, so
    the exit code is 10.
    """
    from tension.cli.record_text import echo_command, echo_next_command
    from tension.cli.result_text import show_assessed
    from tension.workflow.adding import copy_demo
    from tension.workflow.assess import assess_record
    from tension.workflow.standing import NextKind, NextStep

    place = _find_demo()
    if folder is not None:
        copy_demo(place, folder)
        click.echo(f"Copied to {printable(str(folder))}.")
        echo_next_command(NextStep(kind=NextKind.ASSESS), folder / "six-memos")
        return ExitCode.DONE
    options.require_one_form(json=form.json, csv=form.csv)
    assessed = assess_record(place / "six-memos")
    to_copy = "tension demo --to demo"
    return show_assessed("demo", assessed, form, say_next=lambda: echo_command(to_copy))


def _find_demo() -> Path:
    """Find the demo recordings, in the wheel or beside the package in a clone."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "recordings_demo", package.parent / "recordings_demo"):
        if (folder / "README.md").is_file():
            return folder
    raise FileFormatError(
        "the demo recordings did not come with this copy of the program; "
        "install it again from its source folder or wheel"
    )
