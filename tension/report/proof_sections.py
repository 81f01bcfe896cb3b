"""Notes and answers, files, seal and corrections, versions and cautions."""

from tension.files.corrections import Correction
from tension.files.seal import CLAIM
from tension.files.trim import TRIM_CLAIM
from tension.files.verification import Verification
from tension.files.visit import NoteAnswer
from tension.notes import Note
from tension.quantity.units import Dimension
from tension.report.document import (
    Block,
    Pairs,
    Paragraph,
    Section,
    bulleted,
    joined,
    listed,
    small,
    strong,
)
from tension.report.evidence import Evidence, Manner
from tension.report.record_sections import settings_rows
from tension.telling.cautions import (
    ATTACHES,
    SHOWN_ON_MADE_RECORDINGS,
    TURNING_NUTS,
    WHAT_THE_RESULT_IS,
)
from tension.telling.lines import with_next_act
from tension.telling.numbers import count_text, written
from tension.telling.results import NOT_RECORDED
from tension.wording import rope_list


def notes_section(evidence: Evidence, manner: Manner) -> Section:
    """Every note with its number, and what a person answered to it."""
    answers, notes = evidence.visit.answers, _notes(evidence)
    other = [a for a in answers if not any(_belongs(a, note) for _, note in notes)]
    return Section(
        heading="Notes and answers",
        blocks=(
            *bulleted(f"Dates: {doubt}" for doubt in evidence.date_doubts),
            *listed(
                "Notes shown, and answers",
                ("No.", "Series", "Rope", "Note", "Answer"),
                (
                    (
                        str(note.kind.number),
                        series,
                        rope_list(note.ropes, ", "),
                        manner.say(with_next_act(note)),
                        joined(
                            *(_answer_words(a) for a in answers if _belongs(a, note)),
                            by="\n",
                        ),
                    )
                    for series, note in notes
                ),
                widths=(0.5, 0.9, 0.7, 3.2, 1.4),
                otherwise="No notes.",
            ),
            *bulleted(f"To {a.note}: {_answer_words(a)}" for a in other),
        ),
    )


def _notes(evidence: Evidence) -> list[tuple[str, Note]]:
    """Every note with the series it belongs to."""
    return [
        (assessment.measurement.series.name, note)
        for assessment in evidence.assessments
        for note in assessment.notes
    ]


def _belongs(answer: NoteAnswer, note: Note) -> bool:
    """Whether an answer is to a note, by number or code, and to its ropes."""
    is_same = answer.note in {str(note.kind.number), note.code}
    return is_same and (not answer.ropes or bool(set(answer.ropes) & set(note.ropes)))


def _answer_words(answer: NoteAnswer) -> str:
    """An answer with who gave it."""
    who = ", ".join(part for part in (answer.by, answer.date) if part)
    return f"{answer.answer} ({who})" if who else answer.answer


def files_section(evidence: Evidence) -> Section:
    """Every file with size and checksum, what was trimmed, and the seal."""
    times, trims = dict(evidence.times), evidence.visit.trims
    return Section(
        heading="Files, seal and corrections",
        blocks=(
            *listed(
                "Files and their SHA-256",
                ("File", "Bytes", "Last written, by the disk", "SHA-256"),
                (
                    (
                        file.path,
                        count_text(file.n_bytes),
                        times.get(file.path, NOT_RECORDED),
                        file.sha256,
                    )
                    for file in evidence.files
                ),
                widths=(1.0, 0.45, 0.85, 3.3),
                right=(1,),
            ),
            *listed(
                "Trimmed recordings",
                ("Original", "Read instead", "Kept", "Original's SHA-256"),
                (
                    (
                        f"{trim.recording} ({trim.original})",
                        trim.trimmed,
                        f"{trim.kept}. {trim.silenced}".strip(". "),
                        trim.sha256,
                    )
                    for trim in trims
                ),
                widths=(1.2, 1.2, 1.6, 2.0),
            ),
            *([Paragraph(text=TRIM_CLAIM)] if trims else []),
            *_seal_blocks(evidence.verification),
        ),
    )


def _seal_blocks(verification: Verification | None) -> list[Block]:
    """Seal, changes and corrections."""
    if verification is None:
        return [Paragraph(text="This record is not sealed.")]
    blocks: list[Block] = []
    seal, rules = verification.seal, verification.rules
    if seal is not None:
        rows = (
            ("Sealed", f"{seal.sealed}, {seal.software}"),
            ("Rule when sealed", seal.rule),
            ("SHA-256 of the seal", seal.sha256),
        )
        blocks.append(Pairs(rows=rows))
    state = (
        "Everything is as it was sealed and corrected."
        if verification.is_same
        else "CHANGED since it was sealed:"
    )
    return [
        *blocks,
        strong(state),
        *bulleted(change.text for change in verification.changes),
        *bulleted(f"Rule from {w}: {r}" for w, r in rules if len(rules) > 1),
        *listed(
            "Corrections, in order",
            ("Date", "By", "Reason", "What"),
            (
                (one.date, one.by, one.reason, _in_full(one))
                for one in verification.corrections
            ),
            widths=(0.9, 0.8, 1.3, 3.0),
            otherwise="No corrections.",
        ),
        Paragraph(text=CLAIM),
    ]


def _in_full(one: Correction) -> str:
    """What a correction changed, line by line."""
    words = (one.text,) if one.text else ()
    files = (f"file {file.path}" for file in one.files)
    return "\n".join((*words, *files, *map(str.rstrip, _changed_lines(one))))


def _changed_lines(one: Correction) -> list[str]:
    """Lines of the record that a correction took out or put in."""
    return [line for line in one.lines if line.startswith(("- ", "+ "))]


def seal_words(verification: Verification | None) -> str:
    """Say whether a record is sealed, and whether it is still the same."""
    if verification is None:
        return "NOT SEALED: nothing shows whether it was changed"
    seal = verification.seal
    when = f"sealed {seal.sealed}" if seal else "sealed"
    if verification.is_same:
        return f"{when}; the same since, SHA-256 {verification.sha256}"
    first = verification.changes[0]
    many = len(verification.changes)
    differ = "1 differs" if many == 1 else f"{many} differ, first"
    return f"CHANGED since it was {when}: {differ}: {first.path}"


def correction_words(verification: Verification | None) -> str:
    """Say what was corrected since the seal and by whom, the newest first."""
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
    if changed := _changed_lines(correction):
        return f"{len(changed)} lines of the record"
    if correction.files:
        return f"file {correction.files[0].path}"
    if correction.text:
        return "words"
    return "files taken out" if correction.removed else "files that are not there"


def program_section(evidence: Evidence, manner: Manner) -> Section:
    """Versions, settings, what accuracy rests on, cautions."""
    settings, rule = settings_rows(evidence.visit), evidence.visit.rule
    goal = ("Goal of a plan of turns", written(rule.goal, Dimension.FRACTION))
    cautions = (*TURNING_NUTS, *WHAT_THE_RESULT_IS, ATTACHES)
    return Section(
        heading="Program, settings, cautions",
        is_whole=True,
        blocks=(
            strong(manner.say(SHOWN_ON_MADE_RECORDINGS)),
            Pairs(rows=(*evidence.versions, *settings, goal)),
            Paragraph(
                text="The same record, files and versions give this same document "
                "again; a later print is a reprint."
            ),
            small(*map(manner.say, cautions)),
        ),
    )
