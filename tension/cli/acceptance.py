"""``tension acceptance``: the form after re-roping."""

from pathlib import Path

import click

from tension.cli import options
from tension.cli.output import echo_document, printable, tell_work, wrapped


@options.command("acceptance")
def command(
    *,
    path: Path | None = options.arg(required=False),
    blank: options.File = options.opt(
        "Write the blank form, .pdf or .html, to fill in by hand."
    ),
    form: options.Layout,
    as_json: options.Json,
    overwrite: bool = options.opt("Let --blank replace a file."),
) -> None:
    """Check a set after re-roping: figures computed, defects listed.

    PATH is a record (visit.toml) with [[check]] tables, or the folder that holds it.
    Rules that differ by source are shown by source; only the one named in the record
    decides.

    \b
    tension acceptance visit-2026-11-20
    tension acceptance --blank form.pdf --paper letter
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.screen import block_lines
    from tension.condition.acceptance import FigureKind
    from tension.documents.commands import document
    from tension.telling.condition import acceptance_blocks, blank_acceptance
    from tension.telling.lines import WHAT_THE_RESULT_IS, told
    from tension.telling.page import Manner, Paper
    from tension.workflow.evidence import accept_record
    from tension.workflow.outputs import write_document
    from tension.workflow.standing import NextKind, NextStep

    options.require(
        (path is None) != (blank is None), "Give either a record, or --blank FILE."
    )
    manner = Manner(terms=form.terms, units=form.units)
    if blank is not None:
        paper = Paper(form.paper)
        form_to_fill = blank_acceptance(manner)
        write_document(form_to_fill, blank, paper=paper, overwrite=overwrite)
        click.echo(f"Written: {printable(str(blank))}")
        return
    found, inputs = accept_record(path or Path(), progress=tell_work)
    if as_json:
        echo_document(document("acceptance", found, inputs))
        return
    lines = block_lines(acceptance_blocks(found, manner))
    lines += ["", *(wrapped(manner.say(text)) for text in WHAT_THE_RESULT_IS)]
    kinds = {figure.kind for item in found.items for figure in item.figures}
    if FigureKind.RUNBY in kinds:
        lines += ["", "  " + told("acceptance.sketch")]
    click.echo("\n".join(lines))
    echo_next_command(NextStep(kind=NextKind.REPORT), path or Path())
