"""From evidence to a report as typed parts, before any layout.

The words stand in ``telling/pages``; here is what their places are filled with.
"""

from collections.abc import Iterable, Sequence
from math import isfinite

from tension.adjustment.comparison import RopeChange
from tension.assessment.outcome import Assessment, RopeShare
from tension.condition.findings import Finding
from tension.files.corrections import Correction
from tension.files.seal import CLAIM
from tension.files.trim import TRIM_CLAIM
from tension.files.visit import NoteAnswer, Visit
from tension.installation import Rope, Side
from tension.measurement.outcome import RopeMeasurement
from tension.measurement.readings import PluckReading, PullReading, Reading
from tension.measurement.readings import ReturnsReading as Returns
from tension.notes import Note
from tension.quantity.units import Dimension, Quantity, UnitSystem
from tension.report.evidence import Evidence
from tension.report.first_page import changed_lines, first_page
from tension.report.pictures import runby_picture, shares_picture
from tension.report.visible import shortened
from tension.sound.hearing import Pluck
from tension.telling import cautions, condition, results
from tension.telling.acceptance import acceptance_words, named, remarks
from tension.telling.comparisons import SPRING_HEADERS, spring_lines, spring_rows
from tension.telling.lines import with_next_act, word
from tension.telling.numbers import count_text, typed_and_si, written
from tension.telling.page import Block, Document, Manner, Photo, joined, written_page
from tension.wording import percent_text, rope_list

_NORMAL_95 = 1.96
_NO_SHARE = ("–",) * 4


def build_report(evidence: Evidence, manner: Manner | None = None) -> Document:
    """Build the report of a record; European words and SI if no others are asked."""
    manner = manner or Manner()
    given = dict(evidence.visit.particulars)
    name = evidence.visit.lift.name or manner.say("[[lift]] not named")
    date = given.get("date") or "date not recorded"
    measured_by = given.get("measured_by") or "not recorded"
    pictures = _pictures(evidence)
    words = _words(evidence, manner, pictures)
    _, sections = written_page("report", manner.terms, words, handed=pictures)
    return Document(
        title="Record of rope tension",
        subject=(
            f"{shortened(name, 60)}, {shortened(date, 40)}; "
            f"measured by: {shortened(measured_by, 40)}"
        ),
        first_page=first_page(evidence, manner),
        sections=sections,
        footer=_footer(evidence),
    )


def _footer(evidence: Evidence) -> str:
    """Which record this is, and what in this print is not the record's."""
    words = f"Record SHA-256 {evidence.record_sha256 or 'none: no record file'}"
    if evidence.foreign_rule is not None:
        rule = shortened(results.rule_in_short(evidence.foreign_rule), 90, " …")
        words += f" · NOT THE RECORD'S RULE, printed with {rule}"
    return words


def _pictures(evidence: Evidence) -> dict[str, Block]:
    """Pictures and photos by the names that the page has for them."""
    named_so: list[tuple[str, Block | None]] = [
        (f"shares-{place}", shares_picture(one))
        for place, one in enumerate(evidence.assessments)
        if place != evidence.main
    ]
    named_so += [
        (
            f"photo-{number}",
            Photo(jpeg=one.jpeg, alt=one.caption or one.file, caption=""),
        )
        for number, one in enumerate(evidence.photos, start=1)
    ]
    if evidence.acceptance is not None:
        named_so.append(("runby", runby_picture(evidence.acceptance)))
    return {name: block for name, block in named_so if block is not None}


def _words(
    evidence: Evidence, manner: Manner, pictures: dict[str, Block]
) -> dict[str, object]:
    """What the page of a report names: values, and functions that write them."""
    visit = evidence.visit
    form = {}
    if evidence.acceptance is not None:
        has_picture = "runby" in pictures
        form = acceptance_words(evidence.acceptance, manner, has_picture=has_picture)
    notes = [note for _, note in evidence.notes]
    used = visit.rope_set.uncertainties
    return form | {
        "evidence": evidence,
        "manner": manner,
        "visit": visit,
        "ropes": visit.rope_set,
        "given": dict(visit.particulars),
        "times": dict(evidence.times),
        "pictures": pictures,
        "sides": Side,
        "other_answers": [
            a for a in visit.answers if not any(_belongs(a, note) for note in notes)
        ],
        "uncertainties": (
            ("free_length", used.free_length, Dimension.LENGTH),
            ("linear_density", used.linear_density, Dimension.FRACTION),
            ("scale", used.scale, Dimension.FRACTION),
            ("stopwatch", used.stopwatch, Dimension.TIME),
            ("spring_length", used.spring_length, Dimension.LENGTH),
            ("spring_rate", used.spring_rate, Dimension.FRACTION),
        ),
        "goal_dimension": Dimension.FRACTION,
        "spring_headers": [f"{one} :>" if one else "" for one in SPRING_HEADERS],
        "not_recorded": results.NOT_RECORDED,
        "closing": condition.CLOSING,
        "shown_on": cautions.SHOWN_ON_MADE_RECORDINGS,
        "cautions": (
            *cautions.TURNING_NUTS,
            *cautions.WHAT_THE_RESULT_IS,
            cautions.ATTACHES,
        ),
        "seal_claim": CLAIM,
        "trim_claim": TRIM_CLAIM,
        **_FUNCTIONS,
    }


def _label(key: str) -> str:
    """A key of the record as a label."""
    return key.replace("_", " ").capitalize()


def _reading_cells(reading: Reading) -> tuple[str, ...]:
    """One reading: rope, kind, as typed, in SI."""
    if isinstance(reading, PluckReading):
        n_each = reading.plucks_each
        each = f", {count_text(n_each)} plucks each" if n_each else ""
        ropes = " ".join(map(str, reading.ropes))
        return (ropes, "pluck", f"{reading.recording}{each}", "–")
    rope = count_text(reading.rope)
    if isinstance(reading, PullReading):
        told = {"force": reading.forces, "deflection": reading.deflections}
        single = {"at": reading.at, "scale zero": reading.scale_zero}
        told |= {name: (one,) for name, one in single.items() if one is not None}
        typed = [f"{name} {_typed(many)}" for name, many in told.items()]
        read = [f"{name} {_in_si(many)}" for name, many in told.items()]
        typed.insert(2, f"same {reading.hold.value} on all ropes")
        return (rope, "side pull", joined(*typed), joined(*read))
    if isinstance(reading, Returns):
        typed_text = f"{reading.count} returns in {_typed(reading.elapsed)}"
        return (rope, "returns", typed_text, _in_si(reading.elapsed))
    kind = f"spring, {reading.hitch.value}"
    return (rope, kind, _typed(reading.lengths), _in_si(reading.lengths))


def _typed(readings: Iterable[Quantity]) -> str:
    """Readings as typed."""
    return ", ".join(one.text for one in readings)


def _in_si(readings: Iterable[Quantity]) -> str:
    """Readings in SI."""
    return ", ".join(written(one.value, one.dimension) for one in readings)


def _share_cells(
    measured: RopeMeasurement, share: RopeShare, units: UnitSystem
) -> tuple[str, ...]:
    """One rope of a series; ± is one standard uncertainty."""
    number, heard = count_text(measured.number), measured.fundamental
    if share.share is None:
        refusal = measured.refusal
        why = f"no number: {refusal.code if refusal else 'not measured'}"
        return (number, "–", "–", why, *_NO_SHARE)
    spread = share.share_uncertainty
    width = _NORMAL_95 * (spread or 0.0)
    width_of_force = share.tension_uncertainty
    return (
        number,
        _percent(share.share, spread),
        _percent(spread, spread),
        f"{_percent(share.share - width, spread)} to "
        f"{_percent(share.share + width, spread)}",
        _force(share.tension, width_of_force, units),
        _force(width_of_force, width_of_force, units),
        written(
            heard.value if heard else None,
            Dimension.FREQUENCY,
            uncertainty=max(heard.standard_uncertainty, 0.003) if heard else None,
        ),
        joined(*(method.value for method in measured.methods), by=", "),
    )


def _percent(fraction: float | None, uncertainty: float | None) -> str:
    """A share or a change of one."""
    return written(fraction, Dimension.FRACTION, uncertainty=uncertainty)


def _force(value: float | None, uncertainty: float | None, units: UnitSystem) -> str:
    """A tension."""
    return written(value, Dimension.FORCE, uncertainty=uncertainty, units=units)


def _methods_of(assessment: Assessment) -> list[str]:
    """Methods that the numbers of a series rest on."""
    ropes = assessment.measurement.ropes
    return sorted({method.value for rope in ropes for method in rope.methods})


def _pluck_cells(rope: int, pluck: Pluck) -> tuple[str, ...]:
    """One pluck; what was not determined is a dash."""
    pitch, noise = pluck.fundamental_frequency, pluck.signal_to_noise
    return (
        count_text(rope),
        pluck.recording,
        count_text(pluck.index),
        written(pluck.start, Dimension.TIME, uncertainty=0.05),
        written(
            pitch if isfinite(pitch) else None, Dimension.FREQUENCY, uncertainty=0.003
        ),
        written(noise if isfinite(noise) else None, uncertainty=0.5, unit="dB"),
        "yes" if pluck.is_used else f"no: {pluck.reason or 'not told'}",
    )


def _change_cells(change: RopeChange) -> tuple[str, ...]:
    """Shares of one rope before and after."""
    return (
        count_text(change.number),
        _percent(change.share_before, change.uncertainty_before),
        _percent(change.share_after, change.uncertainty_after),
        written(change.turns, Dimension.TURNS),
        _percent(change.achieved, change.achieved_uncertainty),
        _percent(change.predicted, change.achieved_uncertainty),
    )


def _thread_cells(rope: Rope, visit: Visit) -> tuple[str, ...]:
    """Thread left on the rods of one rope, as read and after the turns made."""
    pitches = {h.at: h.thread.pitch for h in visit.rope_set.hitches if h.thread}
    turned = [t for t in visit.turns if t.rope == rope.number and t.hitch in pitches]
    drawn = sum(t.turns.value * pitches[t.hitch] for t in turned)
    left = [
        None if read is None else read.value + sign * drawn
        for read, sign in ((rope.take_up_left, -1.0), (rope.ease_left, 1.0))
    ]
    return (
        count_text(rope.number),
        typed_and_si(rope.take_up_left),
        typed_and_si(rope.ease_left),
        written(sum(t.turns.value for t in turned), Dimension.TURNS),
        *(written(one, Dimension.LENGTH, uncertainty=0.5e-3) for one in left),
    )


def _finding_read(finding: Finding) -> str:
    """What was read or counted."""
    lays = f" over {count_text(finding.lays)} lays" if finding.lays else ""
    how = finding.distribution
    return joined(
        f"{count_text(finding.broken)} broken" if finding.broken is not None else "",
        word(how) if how is not None else "",
        f"lay {typed_and_si(finding.lay)}{lays}" if finding.lay else "",
        f"baseline {typed_and_si(finding.baseline)}" if finding.baseline else "",
        *(typed_and_si(reading) for reading in finding.diameters),
        *(f"gauge {entry.value}" for entry in finding.gauge),
        f"gauge marked {finding.gauge_size}" if finding.gauge_size else "",
        f"groove {count_text(finding.groove)}" if finding.groove else "",
        f"lower by {typed_and_si(finding.seating)}" if finding.seating else "",
        f"crosses rope {count_text(finding.other_rope)}" if finding.other_rope else "",
        f'series "{finding.series}"' if finding.series else "",
    )


def _belongs(answer: NoteAnswer, note: Note) -> bool:
    """Whether an answer is to a note, by number or code, and to its ropes."""
    is_same = answer.note in {str(note.kind.number), note.code}
    return is_same and (not answer.ropes or bool(set(answer.ropes) & set(note.ropes)))


def _answers_to(note: Note, answers: Sequence[NoteAnswer]) -> str:
    """What was answered to a note."""
    return joined(*(_answer_words(a) for a in answers if _belongs(a, note)), by="\n")


def _answer_words(answer: NoteAnswer) -> str:
    """An answer with who gave it."""
    who = ", ".join(part for part in (answer.by, answer.date) if part)
    return f"{answer.answer} ({who})" if who else answer.answer


def _corrected_in_full(one: Correction) -> str:
    """What a correction changed, line by line."""
    words = (one.text,) if one.text else ()
    files = (f"file {file.path}" for file in one.files)
    return "\n".join((*words, *files, *map(str.rstrip, changed_lines(one))))


_FUNCTIONS: dict[str, object] = {
    "answer_words": _answer_words,
    "answers_to": _answers_to,
    "chain_lines": condition.chain_lines,
    "change_cells": _change_cells,
    "condition_words": results.condition_words,
    "corrected_in_full": _corrected_in_full,
    "count": count_text,
    "finding_read": _finding_read,
    "interval_words": results.interval_words,
    "joined": joined,
    "label": _label,
    "methods_of": _methods_of,
    "named": named,
    "percent_text": percent_text,
    "pluck_cells": _pluck_cells,
    "reading_cells": _reading_cells,
    "reason_text": results.reason_text,
    "remarks": remarks,
    "rope_list": rope_list,
    "rule_text": results.rule_text,
    "series_words": results.series_words,
    "share_cells": _share_cells,
    "spot": condition.spot,
    "spring_lines": spring_lines,
    "spring_rows": spring_rows,
    "thread_cells": _thread_cells,
    "typed": typed_and_si,
    "with_next_act": with_next_act,
    "word": word,
    "written": written,
    "zip": zip,
}
