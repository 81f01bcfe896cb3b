"""Acceptance, seal, verification and trims as documents."""

from collections.abc import Mapping, Sequence

from tension.condition.acceptance import Acceptance
from tension.documents.shape import Document, Taker, described, envelope
from tension.files.corrections import Correction
from tension.files.evidence import FileEvidence
from tension.files.seal import CLAIM, Seal
from tension.files.verification import Verification
from tension.files.visit import Trim

_CORRECTED: Mapping[str, Taker] = {
    "correction.files": lambda correction: [file.path for file in correction.files],
}

ACCEPTANCE = described(
    "acceptance",
    {
        "acceptance.could_not_see": lambda form: [
            r.item.name for r in form.unseen_items
        ],
        "acceptance.not_answered": lambda form: [r.item.name for r in form.open_items],
        "acceptance.defects.answer": lambda defect: "no" if defect.check else None,
        "acceptance.items.rule": lambda result: (
            result.rules[0].name if len(result.rules) == 1 else None
        ),
        "acceptance.items.rules": lambda result: [rule.name for rule in result.rules],
        "figure.value": lambda figure: float(figure.value),
        "figure.unit": lambda f: f.dimension.value if f.dimension else f.unit,
        "figure.least": lambda f: None if f.least is None else float(f.least),
        "figure.most": lambda f: None if f.most is None else float(f.most),
        "figure.rule": lambda figure: figure.rule or None,
    },
)
SEAL = described("seal", {"seal.claim": lambda _: CLAIM})
CORRECTION = described("seal --correct", _CORRECTED)
VERIFY = described("verify", {**_CORRECTED, "verify.claim": lambda _: CLAIM})
TRIM = described("trim")


def acceptance_document(
    acceptance: Acceptance, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an acceptance form into its document."""
    return envelope("acceptance", inputs) | ACCEPTANCE.of(acceptance)


def seal_document(seal: Seal) -> Document:
    """Turn a seal into its document."""
    return envelope("seal", seal.files) | SEAL.of(seal)


def correction_document(correction: Correction) -> Document:
    """Turn a correction into its document."""
    return envelope("seal", correction.files) | CORRECTION.of(correction)


def verify_document(verification: Verification) -> Document:
    """Turn a verification into its document."""
    seal = verification.seal
    inputs = seal.files if seal else ()
    return envelope("verify", inputs) | VERIFY.of(verification)


def trim_document(
    trims: Sequence[Trim], whole: Sequence[tuple[str, str]], claim: str
) -> Document:
    """Turn what was trimmed into its document."""
    inputs = [
        FileEvidence(path=t.recording, n_bytes=t.n_bytes, sha256=t.sha256)
        for t in trims
    ]
    return envelope("trim", inputs) | TRIM.of((trims, whole, claim))
