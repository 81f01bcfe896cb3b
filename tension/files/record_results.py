"""Acceptance, seal, verification and trims as machines read them."""

from collections.abc import Sequence

from tension.condition.acceptance import Acceptance, Defect
from tension.condition.acceptance_items import Figure
from tension.files.attachments import Trim
from tension.files.corrections import Correction
from tension.files.evidence import FileEvidence
from tension.files.results import Document, envelope, number
from tension.files.seal import CLAIM, Seal
from tension.files.verification import Verification


def acceptance_document(
    acceptance: Acceptance, inputs: Sequence[FileEvidence]
) -> Document:
    """Turn an acceptance form into its JSON document."""
    document = envelope("acceptance", inputs, [])
    document["defects"] = [_defect(defect) for defect in acceptance.defects]
    document["items"] = [
        {
            "number": result.item.number,
            "name": result.item.name,
            "rule": result.rules[0].name if len(result.rules) == 1 else None,
            "rules": [rule.name for rule in result.rules],
            "answers": [
                {
                    "rope": check.rope,
                    "answer": check.answer.value if check.answer else None,
                    "note": check.note,
                    "by": check.by,
                    "photos": list(check.photos),
                }
                for check in result.checks
            ],
            "figures": [_figure(figure) for figure in result.figures],
            "verdict": result.assessment.verdict.value if result.assessment else None,
        }
        for result in acceptance.items
    ]
    document["could_not_see"] = [r.item.name for r in acceptance.unseen_items]
    document["not_answered"] = [r.item.name for r in acceptance.open_items]
    return document


def seal_document(seal: Seal) -> Document:
    """Turn a seal into its JSON document."""
    document = envelope("seal", seal.files, [])
    return document | {
        "sealed": seal.sealed,
        "rule": seal.rule,
        "missing": list(seal.missing),
        "sha256": seal.sha256,
        "claim": CLAIM,
    }


def correction_document(correction: Correction) -> Document:
    """Turn a correction into its JSON document."""
    document = envelope("seal", correction.files, [])
    return document | {"correction": _correction(correction)}


def verify_document(verification: Verification) -> Document:
    """Turn a verification into its JSON document."""
    seal = verification.seal
    document = envelope("verify", seal.files if seal else (), [])
    return document | {
        "same": verification.is_same,
        "changes": [
            {
                "kind": change.kind.value,
                "path": change.path,
                "text": change.text,
                "lines": list(change.lines),
            }
            for change in verification.changes
        ],
        "sealed": seal.sealed if seal else None,
        "rules": [{"from": when, "rule": rule} for when, rule in verification.rules],
        "corrections": [_correction(one) for one in verification.corrections],
        "sha256": verification.sha256,
        "claim": CLAIM,
    }


def trim_document(
    trims: Sequence[Trim], whole: Sequence[tuple[str, str]], claim: str
) -> Document:
    """Turn what was trimmed into its JSON document."""
    inputs = [
        FileEvidence(path=t.recording, n_bytes=t.n_bytes, sha256=t.sha256)
        for t in trims
    ]
    return envelope("trim", inputs, []) | {
        "trimmed": [
            {
                "recording": trim.recording,
                "trimmed": trim.trimmed,
                "kept": trim.kept,
                "original": trim.original,
            }
            for trim in trims
        ],
        "left_whole": [{"recording": name, "reason": why} for name, why in whole],
        "claim": claim,
    }


def _defect(defect: Defect) -> Document:
    """One defect."""
    return {
        "item": defect.item.name,
        "rope": defect.rope,
        "answer": "no" if defect.check else None,
        "figure": _figure(defect.figure) if defect.figure else None,
        "verdict": defect.assessment.verdict.value if defect.assessment else None,
    }


def _figure(figure: Figure) -> Document:
    """One computed figure."""
    return {
        "label": figure.label,
        "rope": figure.rope,
        "value": number(float(figure.value)),
        "unit": figure.dimension.value if figure.dimension else figure.unit,
        "least": None if figure.least is None else number(float(figure.least)),
        "most": None if figure.most is None else number(float(figure.most)),
        "met": figure.is_met,
        "rule": figure.rule or None,
    }


def _correction(correction: Correction) -> Document:
    """One correction."""
    return {
        "date": correction.date,
        "by": correction.by,
        "reason": correction.reason,
        "text": correction.text,
        "files": [file.path for file in correction.files],
        "removed": list(correction.removed),
        "missing": list(correction.missing),
        "previous": correction.previous,
        "sha256": correction.sha256,
    }
