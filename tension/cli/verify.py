"""``tension verify``: what changed in a sealed record."""

import click

from tension.cli import options
from tension.cli.output import ExitCode, echo_document


@options.command("verify")
def command(path: options.RecordPath, as_json: options.Json) -> ExitCode:
    """Name every file of a sealed record that changed or is missing.

    Exit code 0 if all is as it was sealed and corrected, 13 if not. A changed record is
    shown line by line, its rule included. It proves sameness, not authorship.

    \b
    tension verify visit-2026-11-20
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.screen import screen
    from tension.documents.commands import document
    from tension.workflow.integrity import verify
    from tension.workflow.standing import NextKind, NextStep

    verification = verify(path)
    if as_json:
        inputs = verification.seal.files if verification.seal else ()
        echo_document(document("verify", verification, inputs))
    else:
        click.echo(screen("verified", found=verification))
        if verification.is_same:
            echo_next_command(NextStep(kind=NextKind.REPORT), path)
    return ExitCode.DONE if verification.is_same else ExitCode.CHANGE_FOUND
