"""``tension trim``: keep only the windows around the plucks."""

from pathlib import Path

import click

from tension.cli import options
from tension.cli.output import echo_document, tell_work


@options.command("trim")
def command(
    *,
    path: Path = options.arg(),
    by: str = options.opt("Who trims.", metavar="NAME"),
    delete_originals: bool = options.opt(
        "Delete originals whose checksums stand in the record, of earlier trims too."
    ),
    as_json: options.Json,
) -> None:
    """Write recordings that hold only the windows around the plucks.

    Each window begins 1 s before its pluck, for the hum, and ends 8 s after it. The
    original's checksum is taken first, the record says what was kept, and the result on
    what is left must be the same, or nothing is changed. Broken off, it goes on where
    it stopped when it is run again. This reduces speech and guarantees nothing: what
    was said within a window is still there. Originals stay unless you ask.

    \b
    tension trim visit-2026-11-20
    tension trim visit-2026-11-20 --delete-originals --by "R. Calder"
    """
    from tension.cli.record_text import echo_next_command, next_of_files
    from tension.cli.screen import screen
    from tension.documents.commands import document
    from tension.files.evidence import FileEvidence
    from tension.files.wav import TRIM_CLAIM
    from tension.workflow.trimming import trim_record

    trimmed = trim_record(
        path, by=by, delete_originals=delete_originals, progress=tell_work
    )
    if as_json:
        inputs = [
            FileEvidence(path=one.recording, n_bytes=one.n_bytes, sha256=one.sha256)
            for one in trimmed.trims
        ]
        found = (trimmed.trims, trimmed.whole, TRIM_CLAIM)
        echo_document(document("trim", found, inputs))
    else:
        click.echo(screen("trimmed", trimmed=trimmed, claim=TRIM_CLAIM))
        echo_next_command(next_of_files(path), path)
