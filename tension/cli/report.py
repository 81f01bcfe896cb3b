"""``tension report``: the record as a document."""

from pathlib import Path
from typing import Annotated

import click

from tension.cli import options
from tension.cli.output import printable, tell_work


@options.command("report")
def command(
    *,
    path: options.RecordPath,
    output: Annotated[Path, options.FILE] = options.opt(
        "Where to: a name that ends in .pdf or .html.", "-o", "--output", required=True
    ),
    series: str | None = options.opt(
        "Answered on the first page; the last if left out.", metavar="NAME"
    ),
    rule: options.Rule,
    form: options.Layout,
    overwrite: bool = options.opt("Replace the file if it exists."),
) -> None:
    """Write a record as a document, PDF or HTML, one page with the result first.

    PATH is a record (visit.toml) or the folder that holds it. The same record, files
    and versions give the same document again. It attaches to the report form of the
    authority or the inspector; it does not take its place.

    \b
    tension report visit-2026-11-20 -o evidence.pdf
    tension report visit-2026-11-20 -o evidence.html --terms north-america
    """
    from tension.cli.record_text import echo_next_command, next_of_files
    from tension.report.content import build_report
    from tension.telling.page import Manner, Paper
    from tension.workflow import outputs
    from tension.workflow.evidence import gather_evidence

    outputs.require_output(output, "report", [path], overwrite=overwrite)
    evidence = gather_evidence(
        path, series=series, choice=rule.choice(), progress=tell_work
    )
    outputs.write_document(
        build_report(evidence, Manner(terms=form.terms, units=form.units)),
        output,
        paper=Paper(form.paper),
        overwrite=overwrite,
    )
    click.echo(f"Written: {printable(str(output))}")
    echo_next_command(next_of_files(path), path)
