"""Acceptance, seal, verification and trims as documents."""

from collections.abc import Sequence
from typing import NamedTuple

from tension.condition.acceptance import Acceptance
from tension.documents.envelope import envelope
from tension.documents.shape import Document, shape
from tension.files.corrections import Correction
from tension.files.evidence import FileEvidence
from tension.files.seal import CLAIM, Seal
from tension.files.verification import Verification
from tension.files.visit import Trim
from tension.telling.acceptance import figure_label

_FIGURE = shape(
    """
    label | | what it is
    rope  | | rope number; null for the set
    value | | computed
    unit  | | quantity it is of, or its unit
    least | | what it must be at least; null if nothing is asked
    most  | | likewise, at most
    met   | is_met | whether it is within; null where nothing is asked
    rule  | | what asks for it
    """,
    label=figure_label,
    value=lambda figure: float(figure.value),
    unit=lambda f: f.kind.dimension.value if f.kind.dimension else f.kind.unit,
    least=lambda f: None if f.least is None else float(f.least),
    most=lambda f: None if f.most is None else float(f.most),
    rule=lambda figure: figure.rule or None,
)

_DEFECT = shape(
    """
    item    | item.name | what was looked at
    rope    | | rope number; null for the set
    answer  | | no, or null where a figure tells it
    figure  | |
    verdict | assessment.verdict | of the series that answers, or null
    """,
    answer=lambda defect: "no" if defect.check else None,
    figure=_FIGURE,
)

_CHECK = shape(
    """
    rope   | | rope number; null for the set
    answer | | yes, no, not-applicable, could-not-see or null
    note   | | as typed
    by     | | who looked
    photos | | paths as written
    """
)

_ITEM = shape(
    """
    number    | item.number | on the form
    name      | item.name | what is looked at
    rule      | | what asks for it; null if none or several do
    rules     | | all that do
    answers[] | checks |
    figures[] | | as in `defects[].figure`
    verdict   | assessment.verdict | of the series that answers, or null
    """,
    rule=lambda result: result.rules[0].name if len(result.rules) == 1 else None,
    rules=lambda result: [rule.name for rule in result.rules],
    answers=_CHECK,
    figures=_FIGURE,
)

ACCEPTANCE = shape(
    """
    defects[]     | |
    items[]       | |
    could_not_see | | names of items that could not be seen
    not_answered  | | names of items that nobody answered
    """,
    defects=_DEFECT,
    items=_ITEM,
    could_not_see=lambda form: [r.item.name for r in form.unseen_items],
    not_answered=lambda form: [r.item.name for r in form.open_items],
)

SEAL = shape(
    """
    sealed  | | when, with zone
    rule    | | of the record, in words
    missing | | files that the record names and that were not there
    sha256  | | checksum of the seal
    claim   | | what a seal proves
    """,
    claim=lambda _: CLAIM,
)

_CORRECTION = shape(
    """
    date     | | when, with zone
    by       | | who
    reason   | | why
    text     | | what is put right, in words
    files    | | paths that changed
    removed  | | paths that no longer belong to the record
    missing  | | paths that were not there
    previous | | checksum of what it is tied to
    sha256   | | checksum up to this correction
    """,
    files=lambda correction: [file.path for file in correction.files],
)

CORRECTION = shape(
    "correction | |", correction=(_CORRECTION, lambda correction: correction)
)

VERIFY = shape(
    """
    same          | is_same | whether everything is as sealed and corrected
    changes[]     | |
    sealed        | seal.sealed | when, with zone
    rules[]       | |
    corrections[] | | as in seal
    sha256        | | checksum of the last correction or of the seal
    claim         | | what a seal proves
    """,
    changes=shape(
        """
        kind  | | seal changed, corrections changed, changed, missing, not sealed
        path  | | which file
        text  | | what was found
        lines | | of the record, taken out ("- ") and put in ("+ ")
        """
    ),
    rules=shape(
        """
        from | | from when on
        rule | | which rule, in words
        """,
        **{"from": lambda pair: pair[0], "rule": lambda pair: pair[1]},
    ),
    corrections=_CORRECTION,
    claim=lambda _: CLAIM,
)


class _Trimmed(NamedTuple):
    """What was trimmed, what was left whole and why, and what it does not promise."""

    trims: Sequence[Trim]
    whole: Sequence[tuple[str, str]]
    claim: str


TRIM = shape(
    """
    trimmed[]    | trims |
    left_whole[] | whole |
    claim        | | what trimming does not promise
    """,
    trimmed=shape(
        """
        recording | | as the readings name it
        trimmed   | | the file that is read in its place
        kept      | | windows kept
        original  | | kept or deleted
        """
    ),
    left_whole=shape(
        """
        recording | | as the readings name it
        reason    | | why
        """,
        recording=lambda pair: pair[0],
        reason=lambda pair: pair[1],
    ),
)


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
    return envelope("trim", inputs) | TRIM.of(_Trimmed(trims, whole, claim))
