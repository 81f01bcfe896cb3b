"""``tension acceptance``: the form after re-roping."""

from pathlib import Path
from typing import Any

import click

from tension.cli.document_options import with_document_options


@click.command("acceptance")
@click.argument("path", required=False, type=click.Path(path_type=Path))
@click.option(
    "--blank",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the blank form, .pdf or .html, to fill in by hand.",
)
@with_document_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--overwrite", is_flag=True, help="Let --blank replace a file.")
@click.pass_context
def command(
    ctx: click.Context, /, path: Path | None, blank: Path | None, **options: Any
) -> None:
    """Check a set after re-roping: figures computed, defects listed.

    PATH is a record (visit.toml) with [[check]] tables, or the folder that holds it.
    Rules that differ by source are shown by source; only the one named in the record
    decides.

    \b
    tension acceptance visit-2026-11-20
    tension acceptance --blank form.pdf --paper letter
    """
    from tension.cli.documents import run_acceptance

    run_acceptance(ctx, path, blank, options)
