"""What was not done or left out, notes and answers, files, seal, versions, cautions."""

from tension.cautions import (
    SHOWN_ON_MADE_RECORDINGS,
    TURNING_NUTS,
    WHAT_THE_RESULT_IS,
)
from tension.condition.checks import CheckAnswer
from tension.condition.findings import Seen
from tension.files.corrections import Correction
from tension.files.seal import CLAIM
from tension.files.trim import TRIM_CLAIM
from tension.files.verification import Verification
from tension.files.visit import NoteAnswer
from tension.installation import Side
from tension.notes import Note, NoteKind
from tension.quantity.units import Dimension
from tension.report.comparison_words import KIND_WORDS
from tension.report.document import (
    Block,
    Bullets,
    Grid,
    Pairs,
    Paragraph,
    Section,
    Weight,
)
from tension.report.evidence import Evidence, Manner
from tension.report.first_page import ATTACHES
from tension.report.numbers import written
from tension.report.record_sections import settings_rows
from tension.report.words import NOT_RECORDED, rope_words

_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}


def not_done_section(evidence: Evidence) -> Section:
    """What was not done, what could not be seen, what was left out and by whom."""
    visit = evidence.visit
    blocks: list[Block] = [
        Bullets(items=(*_not_measured(evidence), *_not_seen(evidence)))
    ]
    if visit.exclusions:
        blocks.append(
            Grid(
                caption="Left out of the result",
                headers=("Series", "What", "Reason", "By"),
                rows=tuple(
                    (
                        one.series,
                        ", ".join(
                            part
                            for part in (
                                f"rope {written(float(one.rope))}" if one.rope else "",
                                one.recording,
                                one.reading,
                                f"pluck {written(float(one.pluck))}"
                                if one.pluck
                                else "",
                            )
                            if part
                        )
                        or "–",
                        one.reason,
                        one.by or "not recorded",
                    )
                    for one in visit.exclusions
                ),
            )
        )
    else:
        blocks.append(Paragraph(text="Left out of the result: nothing."))
    return Section(
        heading="What was not done and what was left out", blocks=tuple(blocks)
    )


def _not_measured(evidence: Evidence) -> list[str]:
    """Sides, positions, methods and conditions without a measurement."""
    spans = [a.measurement.span for a in evidence.assessments if a.measurement.span]
    sides = {span.side for span in spans}
    lines = [
        f"{side.value.capitalize()} side not measured."
        for side in Side
        if side not in sides
    ]
    if len({span.position for span in spans}) < 2:
        lines.append("Not measured at a second car position.")
    methods = {
        method
        for a in evidence.assessments
        for rope in a.measurement.ropes
        for method in rope.methods
    }
    if len(methods) < 2:
        lines.append("No second method.")
    if len(evidence.assessments) < 2:
        lines.append("No second series: nothing as left.")
    lines += [
        f'Series "{series.name}": {name} not recorded.'
        for series in evidence.visit.series
        for name, value in (
            ("time", series.taken),
            ("direction of arrival", series.arrived),
            ("load", series.load),
            ("people", series.people),
        )
        if not value
    ]
    lines += [
        f'Series "{a.measurement.series.name}": rope {written(float(rope.number))} has '
        f"no number ({rope.refusal.text if rope.refusal else 'not measured'})"
        for a in evidence.assessments
        for rope in a.measurement.ropes
        if rope.tension is None
    ]
    assessed = {a.measurement.series.name for a in evidence.assessments}
    lines += [
        f'Series "{series.name}": not assessed.'
        for series in evidence.visit.series
        if series.name not in assessed
    ]
    return lines


def _not_seen(evidence: Evidence) -> list[str]:
    """Findings and checks that could not be seen, files that are not there."""
    visit = evidence.visit
    lines = [
        f"{KIND_WORDS[finding.kind].capitalize()}, "
        f"{'the set' if finding.rope is None else f'rope {finding.rope}'}"
        f"{f', {finding.at}' if finding.at else ''}: could not be seen."
        for finding in visit.findings
        if finding.seen is Seen.COULD_NOT_SEE
    ]
    lines += [
        f"Acceptance, {check.item.value.replace('-', ' ')}: could not be seen."
        for check in visit.checks
        if check.answer is CheckAnswer.COULD_NOT_SEE
    ]
    if not visit.findings:
        lines.append("Condition of the ropes not recorded.")
    if not evidence.photos:
        lines.append("No photos.")
    lines += [f"File named but not there: {name}" for name in evidence.missing]
    return lines


def notes_section(evidence: Evidence, manner: Manner) -> Section:
    """Every note with its number, and what a person answered to it."""
    answers = evidence.visit.answers
    rows = [
        (
            str(_NUMBER_OF.get(note.code, "–")),
            series,
            rope_words(note.ropes),
            manner.say(f"{note.text} {note.next_act}".strip()),
            "\n".join(_answer_words(a) for a in answers if _belongs(a, note)) or "–",
        )
        for series, note in _notes(evidence)
    ]
    blocks: list[Block] = []
    if evidence.date_doubts:
        blocks.append(Bullets(items=tuple(f"Dates: {d}" for d in evidence.date_doubts)))
    if rows:
        blocks.append(
            Grid(
                caption="Notes shown, and answers",
                headers=("No.", "Series", "Rope", "Note", "Answer"),
                rows=tuple(rows),
                widths=(0.5, 0.9, 0.7, 3.2, 1.4),
            )
        )
    else:
        blocks.append(Paragraph(text="No notes."))
    shown = [note for _, note in _notes(evidence)]
    other = [a for a in answers if not any(_belongs(a, note) for note in shown)]
    if other:
        blocks.append(
            Bullets(items=tuple(f"To {a.note}: {_answer_words(a)}" for a in other))
        )
    return Section(heading="Notes and answers", blocks=tuple(blocks))


def _notes(evidence: Evidence) -> list[tuple[str, Note]]:
    """Every note with the series it belongs to."""
    return [
        (assessment.measurement.series.name, note)
        for assessment in evidence.assessments
        for note in assessment.notes
    ]


def _belongs(answer: NoteAnswer, note: Note) -> bool:
    """Whether an answer is to a note, by number or code, and to its ropes."""
    number = str(_NUMBER_OF.get(note.code, ""))
    is_same = answer.note in {number, note.code}
    return is_same and (not answer.ropes or bool(set(answer.ropes) & set(note.ropes)))


def _answer_words(answer: NoteAnswer) -> str:
    """An answer with who gave it."""
    who = ", ".join(part for part in (answer.by, answer.date) if part)
    return f"{answer.answer} ({who})" if who else answer.answer


def files_section(evidence: Evidence) -> Section:
    """Every file with size and checksum, what was trimmed, and the seal."""
    blocks: list[Block] = []
    if evidence.files:
        blocks.append(
            Grid(
                caption="Files and their SHA-256",
                headers=("File", "Bytes", "Last written, by the disk", "SHA-256"),
                rows=tuple(
                    (
                        file.path,
                        written(float(file.n_bytes)),
                        dict(evidence.times).get(file.path, NOT_RECORDED),
                        file.sha256,
                    )
                    for file in evidence.files
                ),
                widths=(1.0, 0.45, 0.85, 3.3),
                right=(1,),
            )
        )
    trims = evidence.visit.trims
    if trims:
        blocks.append(
            Grid(
                caption="Trimmed recordings",
                headers=("Original", "Read instead", "Kept", "Original's SHA-256"),
                rows=tuple(
                    (
                        f"{trim.recording} ({trim.original})",
                        trim.trimmed,
                        f"{trim.kept}. {trim.silenced}".strip(". "),
                        trim.sha256,
                    )
                    for trim in trims
                ),
                widths=(1.2, 1.2, 1.6, 2.0),
            )
        )
        blocks.append(Paragraph(text=TRIM_CLAIM))
    blocks += _seal_blocks(evidence.verification)
    return Section(heading="Files, seal and corrections", blocks=tuple(blocks))


def _seal_blocks(verification: Verification | None) -> list[Block]:
    """Seal, changes and corrections."""
    if verification is None:
        return [Paragraph(text="This record is not sealed.")]
    blocks: list[Block] = []
    seal = verification.seal
    if seal is not None:
        blocks.append(
            Pairs(
                rows=(
                    ("Sealed", f"{seal.sealed}, {seal.software}"),
                    ("Rule when sealed", seal.rule),
                    ("SHA-256 of the seal", seal.sha256),
                )
            )
        )
    state = (
        "Everything is as it was sealed and corrected."
        if verification.is_same
        else "CHANGED since it was sealed:"
    )
    blocks.append(Paragraph(text=state, weight=Weight.STRONG))
    if verification.changes:
        blocks.append(Bullets(items=tuple(c.text for c in verification.changes)))
    if len(verification.rules) > 1:
        blocks.append(
            Bullets(items=tuple(f"Rule from {w}: {r}" for w, r in verification.rules))
        )
    if verification.corrections:
        blocks.append(_corrections_grid(verification.corrections))
    else:
        blocks.append(Paragraph(text="No corrections."))
    blocks.append(Paragraph(text=CLAIM))
    return blocks


def _corrections_grid(corrections: tuple[Correction, ...]) -> Grid:
    """Corrections in order."""
    return Grid(
        caption="Corrections, in order",
        headers=("Date", "By", "Reason", "What"),
        rows=tuple(
            (
                one.date,
                one.by,
                one.reason,
                "\n".join(
                    (
                        *((one.text,) if one.text else ()),
                        *(f"file {file.path}" for file in one.files),
                        *(
                            line.rstrip()
                            for line in one.lines
                            if line.startswith(("- ", "+ "))
                        ),
                    )
                ),
            )
            for one in corrections
        ),
        widths=(0.9, 0.8, 1.3, 3.0),
    )


def program_section(evidence: Evidence, manner: Manner) -> Section:
    """Versions, settings, what accuracy rests on, cautions."""
    rule = evidence.visit.rule
    goal = written(rule.goal, Dimension.FRACTION)
    return Section(
        heading="Program, settings, cautions",
        is_whole=True,
        blocks=(
            Paragraph(text=manner.say(SHOWN_ON_MADE_RECORDINGS), weight=Weight.STRONG),
            Pairs(
                rows=(
                    *evidence.versions,
                    *settings_rows(evidence.visit),
                    ("Goal of a plan of turns", goal),
                )
            ),
            Paragraph(
                text="The same record, files and versions give this same document "
                "again; a later print is a reprint."
            ),
            Paragraph(
                text=" ".join(
                    manner.say(text)
                    for text in (*TURNING_NUTS, *WHAT_THE_RESULT_IS, ATTACHES)
                ),
                weight=Weight.SMALL,
            ),
        ),
    )
