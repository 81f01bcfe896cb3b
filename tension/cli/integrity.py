"""What `seal`, `verify` and `trim` share: options to lines and exit codes."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from tension.cli.exits import ExitCode
from tension.cli.next_text import echo_next_command
from tension.cli.text import output_width, printable, wrapped
from tension.documents.kept import (
    correction_document,
    seal_document,
    trim_document,
    verify_document,
)
from tension.documents.shape import to_json
from tension.files.seal import CLAIM
from tension.files.trim import TRIM_CLAIM
from tension.files.verification import Verification
from tension.report.visible import visible
from tension.workflow.integrity import (
    CorrectionWords,
    correct_record,
    doubtful_dates,
    seal_record,
    verify,
)
from tension.workflow.standing import NextKind, NextStep
from tension.workflow.trimming import trim_record


def run_seal(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Seal a record, or correct a sealed one.

    Raises
    ------
    click.UsageError
        If words of a correction are given without --correct.
    """
    del ctx
    words = CorrectionWords(
        by=options["by"], reason=options["reason"], text=options["text"]
    )
    if not options["correct"]:
        if words.by or words.reason or words.text:
            raise click.UsageError("--by, --reason and --text go with --correct.")
        seal = seal_record(path)
        if options["as_json"]:
            click.echo(to_json(seal_document(seal)), nl=False)
            return
        _say(f"Sealed: {len(seal.files)} files, {seal.sealed}.")
        for name in seal.missing:
            _say(f"  not there, so not sealed: {name}")
        for doubt in doubtful_dates(path):
            _say(f"  dates: {doubt}")
        click.echo(f"SHA-256 of the seal: {seal.sha256}")
        _say(CLAIM)
        echo_next_command(NextStep(kind=NextKind.VERIFY), path)
        return
    correction = correct_record(path, words)
    if options["as_json"]:
        click.echo(to_json(correction_document(correction)), nl=False)
        return
    _say(f"Corrected, {correction.date}, by {correction.by}: {correction.reason}.")
    for file in correction.files:
        _say(f"  changed: {file.path}")
    for name in correction.missing:
        _say(f"  not there, so not sealed: {name}")
    click.echo(f"SHA-256 up to this correction: {correction.sha256}")


def run_verify(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Verify a sealed record and leave with 13 if anything changed."""
    verification = verify(path)
    if options["as_json"]:
        click.echo(to_json(verify_document(verification)), nl=False)
    else:
        _show_verification(verification)
    if not verification.is_same:
        ctx.exit(int(ExitCode.CHANGE_FOUND))


def _show_verification(verification: Verification) -> None:
    """What was found, in lines."""
    if verification.is_same:
        _say(f"The same: all {verification.n_files} files are as sealed and corrected.")
    else:
        _say(f"CHANGED: {len(verification.changes)} differ from what was sealed.")
    for change in verification.changes:
        _say(f"{change.kind.value}: {change.text}")
        for line in change.lines:
            click.echo(f"    {visible(line)}")
    if len(verification.rules) > 1:
        _say("The rule was changed after sealing:")
    for when, rule in verification.rules:
        _say(f"  rule from {when}: {rule}")
    for one in verification.corrections:
        _say(f"  corrected {one.date} by {one.by}: {one.reason}")
    if verification.sha256:
        click.echo(f"Compare with what was written down: {verification.sha256}")
    _say(CLAIM)


def run_trim(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Trim the recordings of a record."""
    del ctx
    trimmed = trim_record(
        path,
        by=options["by"],
        delete_originals=options["delete_originals"],
        progress=_progress,
    )
    if options["as_json"]:
        document = trim_document(trimmed.trims, trimmed.whole, TRIM_CLAIM)
        click.echo(to_json(document), nl=False)
        return
    for trim in trimmed.trims:
        _say(f"{trim.recording}: kept {trim.kept} in {trim.trimmed}")
        _say(f"  original {trim.original}, SHA-256 {trim.sha256}")
    for name, why in trimmed.whole:
        _say(f"{name}: left whole, {why}")
    if trimmed.trims:
        _say("The result on what is left is the same.")
    _say(TRIM_CLAIM)


def _say(sentence: str) -> None:
    """One line, wrapped, nothing hidden in it."""
    click.echo(wrapped(visible(sentence), output_width(), "", "  "))


def _progress(line: str) -> None:
    """Tell what is being done."""
    click.echo(printable(line), err=True)
