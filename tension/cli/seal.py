"""``tension seal``: checksums of a record and of all it names; corrections."""

import click

from tension.cli import options
from tension.cli.output import echo_document


@options.command("seal")
def command(
    *,
    path: options.RecordPath,
    correct: bool = options.opt("Add a correction to a sealed record."),
    by: str = options.opt("Who corrects.", metavar="NAME"),
    reason: str = options.opt("Why."),
    text: str = options.opt("What is put right, in words."),
    as_json: options.Json,
) -> None:
    """Write sizes and SHA-256 of a record and of all it names beside it.

    The seal proves sameness, not authorship: whoever can write the files can seal them
    anew, so write its checksum down elsewhere. Corrections are added to a file of the
    record's own beside it, dated, named and with a reason, each tied to the one before.

    \b
    tension seal visit-2026-11-20
    tension seal visit-2026-11-20 --correct --by "R. Calder" --reason "typing error"
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.screen import screen
    from tension.documents.commands import document
    from tension.files.record import read_visit
    from tension.files.seal import Correction, Verification
    from tension.workflow.inputs import find_record
    from tension.workflow.integrity import correct_record, date_doubts, seal_record
    from tension.workflow.standing import NextKind, NextStep

    if correct:
        corrected = correct_record(path, Correction(by=by, reason=reason, text=text))
        if as_json:
            told = document("seal", corrected, corrected.files, of="seal --correct")
            echo_document(told)
        else:
            click.echo(screen("corrected", correction=corrected))
        return
    options.require(
        not (by or reason or text), "--by, --reason and --text go with --correct."
    )
    seal = seal_record(path)
    if as_json:
        echo_document(document("seal", seal, seal.files))
        return
    doubts = date_doubts(read_visit(find_record(path)), Verification(seal=seal))
    click.echo(screen("sealed", seal=seal, doubts=doubts))
    echo_next_command(NextStep(kind=NextKind.VERIFY), path)
