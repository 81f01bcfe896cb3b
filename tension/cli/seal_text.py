"""What is said of sealing, correcting, verifying and trimming a record."""

from collections.abc import Sequence

from tension.cli.text import output_width, wrapped
from tension.files.corrections import Correction
from tension.files.seal import CLAIM, Seal
from tension.files.trim import TRIM_CLAIM
from tension.files.verification import Verification
from tension.report.visible import visible
from tension.workflow.trimming import Trimmed


def sealed_text(seal: Seal, doubts: Sequence[str]) -> str:
    """Say what was sealed, and which dates are doubtful."""
    told = _text(
        f"Sealed: {len(seal.files)} files, {seal.sealed}.",
        *(f"  not there, so not sealed: {name}" for name in seal.missing),
        *(f"  dates: {doubt}" for doubt in doubts),
    )
    return "\n".join([told, f"SHA-256 of the seal: {seal.sha256}", _text(CLAIM)])


def correction_text(correction: Correction) -> str:
    """Say what was corrected."""
    told = _text(
        f"Corrected, {correction.date}, by {correction.by}: {correction.reason}.",
        *(f"  changed: {file.path}" for file in correction.files),
        *(f"  not there, so not sealed: {name}" for name in correction.missing),
    )
    return f"{told}\nSHA-256 up to this correction: {correction.sha256}"


def verification_text(verification: Verification) -> str:
    """Say what changed since a record was sealed, line by line."""
    same = f"The same: all {verification.n_files} files are as sealed and corrected."
    n_changed = len(verification.changes)
    changed = f"CHANGED: {n_changed} differ from what was sealed."
    lines = [_text(same if verification.is_same else changed)]
    for change in verification.changes:
        lines.append(_text(f"{change.kind.value}: {change.text}"))
        lines += [f"    {visible(line)}" for line in change.lines]
    if len(verification.rules) > 1:
        lines.append("The rule was changed after sealing:")
    told = verification.sha256
    lines.append(
        _text(
            *(f"  rule from {when}: {rule}" for when, rule in verification.rules),
            *(
                f"  corrected {one.date} by {one.by}: {one.reason}"
                for one in verification.corrections
            ),
            *([f"Compare with what was written down: {told}"] if told else []),
            CLAIM,
        )
    )
    return "\n".join(lines)


def trim_text(trimmed: Trimmed) -> str:
    """Say what was kept of each recording."""
    lines = []
    for trim in trimmed.trims:
        lines += [
            f"{trim.recording}: kept {trim.kept} in {trim.trimmed}",
            f"  original {trim.original}, SHA-256 {trim.sha256}",
        ]
    lines += [f"{name}: left whole, {why}" for name, why in trimmed.whole]
    if trimmed.trims:
        lines.append("The result on what is left is the same.")
    return _text(*lines, TRIM_CLAIM)


def _text(*sentences: str) -> str:
    """Lines, wrapped, nothing hidden in them."""
    width = output_width()
    return "\n".join(wrapped(visible(one), width, "", "  ") for one in sentences)
