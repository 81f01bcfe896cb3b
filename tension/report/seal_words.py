"""Seal and corrections in one line each, for the first page."""

from tension.files.corrections import Correction
from tension.files.verification import Verification


def seal_words(verification: Verification | None) -> str:
    """Say whether a record is sealed, and whether it is still the same.

    Parameters
    ----------
    verification : Verification or None
        None if it is not sealed.
    """
    if verification is None:
        return "NOT SEALED: nothing shows whether it was changed"
    seal = verification.seal
    when = f"sealed {seal.sealed}" if seal else "sealed"
    if verification.is_same:
        return f"{when}; the same since, SHA-256 {verification.sha256}"
    first = verification.changes[0]
    return (
        f"CHANGED since it was {when}: {len(verification.changes)} differ, first "
        f"{first.path}"
    )


def correction_words(verification: Verification | None) -> str:
    """Say what was corrected since a record was sealed, and by whom.

    Parameters
    ----------
    verification : Verification or None
        None if it is not sealed.

    Returns
    -------
    str
        The newest first; empty without any.
    """
    if verification is None or not verification.corrections:
        return ""
    told, rule = [], verification.seal.rule if verification.seal else ""
    for one in verification.corrections:
        told.append(f"{_what(one, rule)} on {one.date} by {one.by} ({one.reason})")
        rule = one.rule or rule
    return f"{len(told)}: " + "; ".join(reversed(told))


def _what(correction: Correction, rule: str) -> str:
    """What a correction changed."""
    if correction.rule and correction.rule != rule:
        return f"RULE changed to {correction.rule}"
    changed = [line for line in correction.lines if line.startswith(("+ ", "- "))]
    if changed:
        return f"{len(changed)} lines of the record"
    if correction.files:
        return f"file {correction.files[0].path}"
    if correction.text:
        return "words"
    return "files taken out" if correction.removed else "files that are not there"
