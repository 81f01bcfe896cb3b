"""``tension report``: the record as a document."""

from pathlib import Path
from typing import Any

import click

from tension.cli.document_options import with_document_options
from tension.cli.options import record_argument, with_rule_options


@click.command("report")
@record_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where to: a name that ends in .pdf or .html.",
)
@click.option(
    "--series", metavar="NAME", help="Answered on the first page; the last if left out."
)
@with_rule_options
@with_document_options
@click.option("--overwrite", is_flag=True, help="Replace the file if it exists.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, output: Path, **options: Any) -> None:
    """Write a record as a document, PDF or HTML, one page with the result first.

    PATH is a record (visit.toml) or the folder that holds it. The same record, files
    and versions give the same document again. It attaches to the report form of the
    authority or the inspector; it does not take its place.

    \b
    tension report visit-2026-11-20 -o evidence.pdf
    tension report visit-2026-11-20 -o evidence.html --terms north-america
    """
    from tension.cli.documents import run_report

    run_report(ctx, path, output, options)
