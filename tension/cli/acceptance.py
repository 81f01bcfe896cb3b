"""``tension acceptance``: the form after re-roping."""

from dataclasses import dataclass
from pathlib import Path

import click

from tension.cli.declaring import FILE, PATH, opt, taking
from tension.cli.options import JSON, DocumentOptions
from tension.cli.text import printable


@dataclass(frozen=True, kw_only=True, slots=True)
class AcceptanceOptions(DocumentOptions):
    """How a form is laid out or printed."""

    json: bool = JSON
    overwrite: bool = opt(
        "--overwrite", is_flag=True, help="Let --blank replace a file."
    )


@click.command("acceptance")
@click.argument("path", required=False, type=PATH)
@click.option(
    "--blank",
    type=FILE,
    metavar="FILE",
    help="Write the blank form, .pdf or .html, to fill in by hand.",
)
@taking(form=AcceptanceOptions)
def command(path: Path | None, blank: Path | None, form: AcceptanceOptions) -> None:
    """Check a set after re-roping: figures computed, defects listed.

    PATH is a record (visit.toml) with [[check]] tables, or the folder that holds it.
    Rules that differ by source are shown by source; only the one named in the record
    decides.

    \b
    tension acceptance visit-2026-11-20
    tension acceptance --blank form.pdf --paper letter
    \f

    Raises
    ------
    click.UsageError
        If neither or both are given.
    """
    from tension.cli.exits import echo_document, tell_work
    from tension.cli.outcome_text import acceptance_text
    from tension.cli.record_text import echo_next_command
    from tension.documents.kept import acceptance_document
    from tension.figures.sheet import Paper
    from tension.telling.acceptance import blank_acceptance
    from tension.telling.page import Manner
    from tension.workflow.evidence import accept_record
    from tension.workflow.outputs import write_document
    from tension.workflow.standing import NextKind, NextStep

    if (path is None) == (blank is None):
        raise click.UsageError("Give either a record, or --blank FILE.")
    manner = Manner(terms=form.terms, units=form.units)
    if blank is not None:
        write_document(
            blank_acceptance(manner),
            blank,
            paper=Paper(form.paper),
            overwrite=form.overwrite,
        )
        click.echo(f"Written: {printable(str(blank))}")
        return
    accepted = accept_record(path or Path(), progress=tell_work)
    if form.json:
        document = acceptance_document(accepted.acceptance, accepted.inputs)
        echo_document(document)
    else:
        click.echo(acceptance_text(accepted.acceptance, manner))
        echo_next_command(NextStep(kind=NextKind.REPORT), path or Path())
