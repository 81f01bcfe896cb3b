"""``tension demo``: the main job on the recordings that come with the program."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import with_form_options


@click.command("demo")
@with_form_options
@click.option("--csv", "as_csv", is_flag=True, help="Print one CSV row per rope.")
@click.option(
    "--to",
    "folder",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Copy the demo recordings and records to a new folder instead.",
)
@click.pass_context
def command(ctx: click.Context, /, folder: Path | None, **options: Any) -> None:
    """Assess six voice memos of an imaginary lift, Granary Wharf goods lift 2.

    The recordings are made by a program; no lift was measured. The set is unequal, so
    the exit code is 10.
    """
    from tension.cli.assessing import show_assessed
    from tension.cli.demo_place import find_demo
    from tension.cli.text import printable
    from tension.workflow.assess import assess_record
    from tension.workflow.start import copy_demo

    place = find_demo()
    if folder is not None:
        copy_demo(place, folder)
        shown = printable(str(folder))
        click.echo(f"Copied to {shown}. Next: tension assess {shown}/six-memos")
        return
    show_assessed(ctx, "demo", assess_record(place / "six-memos"), options)
