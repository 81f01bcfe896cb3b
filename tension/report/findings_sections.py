"""Findings and the chain in full, photos, and what was not done or was left out."""

from tension.condition.chain import Chain
from tension.condition.checks import Check, CheckAnswer
from tension.condition.findings import Finding, Seen
from tension.installation import Side
from tension.measurement.readings import Exclusion
from tension.report.document import (
    Block,
    Bullets,
    Paragraph,
    Photo,
    Section,
    bulleted,
    joined,
    listed,
)
from tension.report.evidence import Evidence, Manner, ShownPhoto
from tension.telling.condition import (
    CLOSING,
    DISTRIBUTION_WORDS,
    KIND_WORDS,
    chain_lines,
    spot,
)
from tension.telling.numbers import count_text, typed_and_si
from tension.telling.results import NOT_RECORDED


def condition_section(evidence: Evidence, manner: Manner) -> Section:
    """Findings as written and the chain in full."""
    chain = evidence.chain
    blocks = bulleted(
        (manner.say(line.text) for line in chain_lines(chain)),
        otherwise="No finding in this record.",
    )
    if isinstance(blocks[0], Bullets):
        blocks.append(Paragraph(text=CLOSING))
    table, allowance = chain.table, chain.allowance
    if table is not None and allowance.is_confirmed and table.note:
        blocks.append(Paragraph(text=f"The table also says: {table.note}"))
    blocks += _findings_table(chain)
    return Section(heading="Condition of the ropes", blocks=tuple(blocks))


def _findings_table(chain: Chain) -> list[Block]:
    """Every finding as written."""
    return listed(
        "Findings as written",
        ("Rope", "What", "Where", "Seen", "Read", "Note, by, photo"),
        (
            (
                "set" if finding.rope is None else count_text(finding.rope),
                KIND_WORDS[finding.kind],
                finding.at or "–",
                finding.seen.value + (", counts" if finding.counts else ""),
                _read(finding),
                remarks(finding),
            )
            for finding in chain.findings
        ),
        widths=(0.5, 1.0, 1.2, 0.9, 1.9, 1.8),
    )


def _read(finding: Finding) -> str:
    """What was read or counted."""
    lays = f" over {count_text(finding.lays)} lays" if finding.lays else ""
    how = finding.distribution
    return joined(
        f"{count_text(finding.broken)} broken" if finding.broken is not None else "",
        DISTRIBUTION_WORDS[how] if how is not None else "",
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


def remarks(entry: Finding | Check) -> str:
    """Note, name and photos of a finding or a check; a dash without any."""
    return joined(entry.note, f"by {entry.by}" if entry.by else "", *entry.photos)


def photos_section(evidence: Evidence) -> Section | None:
    """Every photo as a picture with caption and checksum; None without photos."""
    if not evidence.photos:
        return None
    return Section(
        heading="Photos",
        blocks=(
            Paragraph(
                text="Made smaller to be printed, without place and time of the "
                "camera; the checksum is of the file as it was received."
            ),
            *(_photo(number, one) for number, one in enumerate(evidence.photos, 1)),
        ),
    )


def _photo(number: int, photo: ShownPhoto) -> Block:
    """One photo, or why it is not shown."""
    caption = (
        f"{count_text(number)}: {photo.caption or 'not said what it shows'}. "
        f"{photo.file}, SHA-256 {photo.sha256 or 'none'}"
    )
    if not photo.jpeg:
        return Paragraph(text=f"{caption}. Not shown: {photo.why_not}.")
    return Photo(jpeg=photo.jpeg, alt=photo.caption or photo.file, caption=caption)


def not_done_section(evidence: Evidence) -> Section:
    """What was not done, what could not be seen, what was left out and by whom."""
    return Section(
        heading="What was not done and what was left out",
        blocks=(
            Bullets(items=(*_not_measured(evidence), *_not_seen(evidence))),
            *listed(
                "Left out of the result",
                ("Series", "What", "Reason", "By"),
                (
                    (one.series, _left_out(one), one.reason, one.by or NOT_RECORDED)
                    for one in evidence.visit.exclusions
                ),
                otherwise="Left out of the result: nothing.",
            ),
        ),
    )


def _left_out(one: Exclusion) -> str:
    """Which rope, recording, reading or pluck was left out."""
    return joined(
        f"rope {count_text(one.rope)}" if one.rope else "",
        one.recording,
        one.reading,
        f"pluck {count_text(one.pluck)}" if one.pluck else "",
        by=", ",
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
        f'Series "{a.measurement.series.name}": rope {count_text(rope.number)} has '
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
        f"{spot(finding)}: could not be seen."
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
