"""``tension acceptance``: the form after re-roping."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli import options
from tension.cli.output import echo_document, printable, tell_work, wrapped

if TYPE_CHECKING:
    from tension.condition.acceptance import Acceptance
    from tension.telling.page import Manner


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
    from tension.documents.commands import document
    from tension.figures.sheet import Paper
    from tension.telling.acceptance import blank_acceptance
    from tension.telling.page import Manner
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
    accepted, inputs = accept_record(path or Path(), progress=tell_work)
    if as_json:
        echo_document(document("acceptance", accepted, inputs))
    else:
        click.echo(_text(accepted, manner))
        echo_next_command(NextStep(kind=NextKind.REPORT), path or Path())


def _text(acceptance: "Acceptance", manner: "Manner") -> str:
    """Write the form of a record, with the sketch of the runby where it is needed."""
    from tension.cli.screen import block_lines
    from tension.condition.acceptance import FigureKind
    from tension.telling.acceptance import acceptance_blocks
    from tension.telling.lines import WHAT_THE_RESULT_IS, told

    lines = block_lines(acceptance_blocks(acceptance, manner))
    lines += ["", *(wrapped(manner.say(text)) for text in WHAT_THE_RESULT_IS)]
    figures = [figure for item in acceptance.items for figure in item.figures]
    if any(figure.kind is FigureKind.RUNBY for figure in figures):
        lines += ["", "  " + told("acceptance.sketch")]
    return "\n".join(lines)
