"""From evidence to a report as typed parts, before any layout.

The words stand in ``telling/pages``; here is what their places are filled with.
"""

from collections.abc import Sequence
from math import isfinite

from tension.figures.shares import shares_picture
from tension.files.evidence import CLAIM
from tension.files.seal import Correction
from tension.files.visit import NoteAnswer
from tension.files.wav import TRIM_CLAIM
from tension.installation import Side
from tension.notes import Note
from tension.report.evidence import Evidence
from tension.report.first_page import changed_lines, first_page
from tension.report.visible import shortened
from tension.telling import condition, lines, plans, results
from tension.telling.acceptance import acceptance_words, runby_picture
from tension.telling.page import Block, Document, Manner, Photo, written_page


def build_report(evidence: Evidence, manner: Manner | None = None) -> Document:
    """Build the report of a record; European words and SI if no others are asked."""
    manner = manner or Manner()
    given = dict(evidence.visit.particulars)
    name = evidence.visit.lift.name or manner.say("[[lift]] not named")
    date = given.get("date") or "date not recorded"
    measured_by = given.get("measured_by") or "not recorded"
    pictures = _pictures(evidence)
    words = _words(evidence, manner, pictures)
    files = evidence.files
    footer = f"Record SHA-256 {files[0].sha256 if files else 'none: no record file'}"
    if evidence.foreign_rule is not None:
        rule = shortened(results.rule_in_short(evidence.foreign_rule), 90, " …")
        footer += f" · NOT THE RECORD'S RULE, printed with {rule}"
    _, sections = written_page("report", manner.terms, words, handed=pictures)
    return Document(
        title="Record of rope tension",
        subject=(
            f"{shortened(name, 60)}, {shortened(date, 40)}; "
            f"measured by: {shortened(measured_by, 40)}"
        ),
        first_page=first_page(evidence, manner),
        sections=sections,
        footer=footer,
    )


def _pictures(evidence: Evidence) -> dict[str, Block]:
    """Pictures and photos by the names that the page has for them."""
    form = evidence.acceptance
    shown: dict[str, Block | None] = {
        f"shares-{place}": shares_picture(one)
        for place, one in enumerate(evidence.assessments)
        if place != evidence.main
    }
    shown |= {
        f"photo-{i}": Photo(jpeg=one.jpeg, alt=one.caption or one.file, caption="")
        for i, one in enumerate(evidence.photos, start=1)
    }
    shown["runby"] = runby_picture(form) if form else None
    return {name: block for name, block in shown.items() if block is not None}


def _words(
    evidence: Evidence, manner: Manner, pictures: dict[str, Block]
) -> dict[str, object]:
    """What the page of a report names: values, and what writes them."""
    visit = evidence.visit
    notes = [note for _, note in evidence.notes]
    form = evidence.acceptance
    return (acceptance_words(form) if form else {}) | {
        "evidence": evidence,
        "manner": manner,
        "visit": visit,
        "ropes": visit.rope_set,
        "pictures": pictures,
        "sides": Side,
        "other_answers": [
            a for a in visit.answers if not any(_belongs(a, note) for note in notes)
        ],
        "spring_headers": [f"{one} :>" if one else "" for one in plans.SPRING_HEADERS],
        "seal_claim": CLAIM,
        "trim_claim": TRIM_CLAIM,
        "answer_words": _answer_words,
        "answers_to": _answers_to,
        "corrected_in_full": _corrected_in_full,
        "plans": plans,
        "condition": condition,
        "results": results,
        "finite": lambda value: value if isfinite(value) else None,
    }


def _belongs(answer: NoteAnswer, note: Note) -> bool:
    """Whether an answer is to a note, by number or code, and to its ropes."""
    is_same = answer.note in {str(note.kind.number), note.code}
    return is_same and (not answer.ropes or bool(set(answer.ropes) & set(note.ropes)))


def _answers_to(note: Note, answers: Sequence[NoteAnswer]) -> str:
    """What was answered to a note."""
    return lines.joined(
        *(_answer_words(a) for a in answers if _belongs(a, note)), by="\n"
    )


def _answer_words(answer: NoteAnswer) -> str:
    """An answer with who gave it."""
    who = ", ".join(part for part in (answer.by, answer.date) if part)
    return f"{answer.answer} ({who})" if who else answer.answer


def _corrected_in_full(one: Correction) -> str:
    """What a correction changed, line by line."""
    words = (one.text,) if one.text else ()
    files = (f"file {file.path}" for file in one.files)
    return "\n".join((*words, *files, *map(str.rstrip, changed_lines(one))))
