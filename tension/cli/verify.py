"""``tension verify``: what changed in a sealed record."""

from pathlib import Path

import click

from tension.cli.options import json_option, record_argument
from tension.cli.output import ExitCode, echo_document, leave


@click.command("verify")
@record_argument
@json_option
def command(*, path: Path, as_json: bool) -> None:
    """Name every file of a sealed record that changed or is missing.

    Exit code 0 if all is as it was sealed and corrected, 13 if not. A changed record is
    shown line by line, its rule included. It proves sameness, not authorship.

    \b
    tension verify visit-2026-11-20
    """
    from tension.cli.record_text import echo_next_command, verification_text
    from tension.documents.commands import verify_document
    from tension.workflow.integrity import verify
    from tension.workflow.standing import NextKind, NextStep

    verification = verify(path)
    if as_json:
        echo_document(verify_document(verification))
    else:
        click.echo(verification_text(verification))
        if verification.is_same:
            echo_next_command(NextStep(kind=NextKind.REPORT), path)
    leave(ExitCode.DONE if verification.is_same else ExitCode.CHANGE_FOUND)
