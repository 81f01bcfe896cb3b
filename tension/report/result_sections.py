"""Results series by series: shares, newtons, every metric, plucks, changes, springs."""

from collections.abc import Mapping
from itertools import groupby
from math import isfinite

from tension.adjustment.comparison import Comparison
from tension.adjustment.springs import SpringCheck
from tension.assessment.outcome import Assessment, RopeShare
from tension.files.visit import Visit
from tension.installation import HitchPlace, Rope
from tension.measurement.outcome import RopeMeasurement
from tension.measurement.readings import Method
from tension.notes import Refusal
from tension.quantity.units import Dimension
from tension.report.document import (
    Block,
    Bullets,
    Paragraph,
    Section,
    listed,
    strong,
)
from tension.report.evidence import Evidence, Manner
from tension.report.pictures import shares_picture
from tension.sound.hearing import Pluck, SetHearing
from tension.telling.comparisons import SPRING_HEADERS, spring_lines, spring_rows
from tension.telling.lines import TextKind, with_next_act
from tension.telling.numbers import count_text, typed_and_si, written
from tension.telling.results import (
    METRIC_PHRASES,
    NOT_RECORDED,
    condition_words,
    interval_words,
    reason_text,
    rule_text,
)
from tension.wording import percent_text, rope_list

COVERAGE_FACTOR = 1.96  # 95 % of a normal distribution


def results_section(evidence: Evidence, manner: Manner) -> Section:
    """Every series with its numbers."""
    blocks: list[Block] = []
    for place, assessment in enumerate(evidence.assessments):
        blocks += _series(assessment, manner, with_picture=place != evidence.main)
        blocks += plucks_table(dict(enumerate(evidence.hearings)).get(place))
    if not blocks:
        blocks.append(Paragraph(text="No series could be assessed."))
    return Section(heading="Results", blocks=tuple(blocks))


def _series(
    assessment: Assessment, manner: Manner, *, with_picture: bool
) -> list[Block]:
    """One series."""
    blocks: list[Block] = [
        strong(
            f'Series "{assessment.measurement.series.name}": '
            f"{assessment.verdict.banner}"
        ),
        Paragraph(text=manner.say(reason_text(assessment))),
        Paragraph(text=f"Holds for: {condition_words(assessment)}."),
        Paragraph(text=f"Rule: {rule_text(assessment.rule)}"),
    ]
    picture = shares_picture(assessment) if with_picture else None
    if picture is not None:
        blocks.append(picture)
    blocks += _ropes_table(assessment, manner)
    blocks += _metrics_table(assessment)
    blocks.append(Paragraph(text=_method_words(assessment)))
    if assessment.measure_again:
        again = rope_list(assessment.measure_again, ", ")
        blocks.append(Paragraph(text=f"Most useful to measure again: {again}."))
    return blocks


def _ropes_table(assessment: Assessment, manner: Manner) -> list[Block]:
    """One row per rope."""
    pairs = zip(assessment.measurement.ropes, assessment.shares, strict=True)
    return listed(
        "Ropes: share of the mean, tension at the hitch",
        ("Rope", "Share", "±", "At 95 %", "Tension, about", "±", "Heard", "By"),
        (_rope_row(measured, share, manner) for measured, share in pairs),
        widths=(0.5, 0.8, 0.6, 1.5, 1.0, 0.8, 0.9, 1.2),
        right=(1, 2, 4, 5, 6),
    )


def _rope_row(
    measured: RopeMeasurement, share: RopeShare, manner: Manner
) -> tuple[str, ...]:
    """One rope; ± is one standard uncertainty."""
    if share.share is None:
        refusal = measured.refusal
        why = f"no number: {refusal.code}" if refusal else "no number: not measured"
        return (count_text(measured.number), "–", "–", why, "–", "–", "–", "–")
    width = COVERAGE_FACTOR * (share.share_uncertainty or 0.0)
    heard = measured.fundamental
    return (
        count_text(measured.number),
        _percent(share.share, share.share_uncertainty),
        _percent(share.share_uncertainty, share.share_uncertainty),
        f"{_percent(share.share - width, share.share_uncertainty)} to "
        f"{_percent(share.share + width, share.share_uncertainty)}",
        _force(share.tension, share.tension_uncertainty, manner),
        _force(share.tension_uncertainty, share.tension_uncertainty, manner),
        written(
            heard.value if heard else None,
            Dimension.FREQUENCY,
            uncertainty=max(heard.standard_uncertainty, 0.003) if heard else None,
        ),
        ", ".join(method.value for method in measured.methods) or "–",
    )


def _metrics_table(assessment: Assessment) -> list[Block]:
    """Every metric; the rule's decides."""
    return listed(
        "Spread by every metric",
        ("Metric", "What it compares", "Best estimate", "At 95 %", ""),
        (
            (
                spread.metric.value,
                METRIC_PHRASES[spread.metric],
                percent_text(spread.observed),
                interval_words(spread),
                "decides" if spread is assessment.spread else "printed only",
            )
            for spread in (assessment.spread, *assessment.other_spreads)
        ),
        widths=(1.0, 1.5, 0.8, 1.7, 0.7),
        right=(2,),
    )


def _method_words(assessment: Assessment) -> str:
    """Which methods the numbers rest on."""
    methods = sorted(
        {m.value for rope in assessment.measurement.ropes for m in rope.methods}
    )
    if not methods:
        return "Method: none gave a number."
    if len(methods) == 1:
        return f"Method: {methods[0]}. Second method: none."
    springs = " Each spring by itself stands under Spring lengths."
    return (
        f"Methods: {', '.join(methods)}, taken together; where they disagree, a note "
        f"says so.{springs if Method.SPRING.value in methods else ''}"
    )


def changes_section(evidence: Evidence, manner: Manner) -> Section | None:
    """As found and as left, the turns between them, spring lengths.

    None without turns and with fewer than two series.
    """
    visit, comparison = evidence.visit, evidence.comparison
    blocks: list[Block] = []
    if isinstance(comparison, Comparison):
        blocks += _comparison(comparison)
    elif isinstance(comparison, Refusal):
        text = manner.say(with_next_act(comparison))
        blocks.append(Paragraph(text=f"Not compared: {text}"))
    blocks += _turns_table(visit)
    blocks += thread_table(visit) if visit.turns else []
    if not blocks:
        return None
    return Section(heading="As found and as left", blocks=tuple(blocks))


def _comparison(comparison: Comparison) -> list[Block]:
    """Shares before and after, rope by rope."""
    found = comparison.as_found.measurement.series.name
    left = comparison.as_left.measurement.series.name
    trips = comparison.round_trips
    ran = (
        "round trips after the turns not recorded"
        if trips is None
        else f"{written(float(trips))} round trips after the turns"
    )
    return [
        Paragraph(text=f'"{found}" against "{left}"; {ran}.'),
        *listed(
            "Shares of the mean",
            ("Rope", "As found", "As left", "Turns", "Change", "Predicted"),
            (
                (
                    count_text(change.number),
                    _percent(change.share_before, change.uncertainty_before),
                    _percent(change.share_after, change.uncertainty_after),
                    written(change.turns, Dimension.TURNS),
                    _percent(change.achieved, change.achieved_uncertainty),
                    _percent(change.predicted, change.achieved_uncertainty),
                )
                for change in comparison.changes
            ),
            right=(1, 2, 3, 4, 5),
        ),
    ]


def _turns_table(visit: Visit) -> list[Block]:
    """Turns as written down."""
    return listed(
        "Turns made (positive: nut towards the plate, tension up)",
        ("After", "Hitch", "Rope", "Turns", "Round trips after"),
        (
            (
                turn.after,
                turn.hitch.value,
                count_text(turn.rope),
                typed_and_si(turn.turns),
                NOT_RECORDED
                if turn.round_trips_after is None
                else count_text(turn.round_trips_after),
            )
            for turn in visit.turns
        ),
    )


def _percent(fraction: float | None, uncertainty: float | None) -> str:
    """A share or a change of one."""
    return written(fraction, Dimension.FRACTION, uncertainty=uncertainty)


def _force(value: float | None, uncertainty: float | None, manner: Manner) -> str:
    """A tension."""
    return written(value, Dimension.FORCE, uncertainty=uncertainty, units=manner.units)


def plucks_table(hearing: SetHearing | None) -> list[Block]:
    """Every pluck of a series with what was heard of it alone, if there are any."""
    return listed(
        "Plucks, each heard by itself",
        ("Rope", "Recording", "No.", "At", "Pitch", "Over the noise", "Used"),
        (
            _pluck_row(number, pluck)
            for number, rope in enumerate(hearing.ropes if hearing else (), start=1)
            for pluck in dict.fromkeys(rope.plucks)
        ),
        widths=(0.5, 1.9, 0.4, 0.8, 1.0, 0.9, 1.8),
        right=(2, 3, 4, 5),
    )


def _pluck_row(rope: int, pluck: Pluck) -> tuple[str, ...]:
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


def thread_table(visit: Visit) -> list[Block]:
    """Thread left on each rod, as written and after the turns made, where read."""
    threads = {h.at: h.thread.pitch for h in visit.rope_set.hitches if h.thread}
    return listed(
        "Thread left: as read, and as left by the turns written and the pitch",
        ("Rope", "Take up", "Ease", "Turns", "Take up, as left", "Ease, as left"),
        (
            _thread_row(rope, visit, threads)
            for rope in visit.rope_set.ropes
            if rope.take_up_left is not None or rope.ease_left is not None
        ),
        right=(1, 2, 3, 4, 5),
    )


def _thread_row(
    rope: Rope, visit: Visit, threads: Mapping[HitchPlace, float]
) -> tuple[str, ...]:
    """Thread left on the rods of one rope."""
    turned = [t for t in visit.turns if t.rope == rope.number and t.hitch in threads]
    drawn = sum(t.turns.value * threads[t.hitch] for t in turned)
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


def springs_section(evidence: Evidence, manner: Manner) -> Section | None:
    """Spring lengths against the other evidence; None without any."""
    if evidence.springs is None:
        return None
    return Section(
        heading="Spring lengths",
        blocks=(
            Paragraph(
                text="What the springs say by their lengths, beside what the other "
                "evidence says without them."
            ),
            *listed(
                "",
                SPRING_HEADERS,
                spring_rows(evidence.springs, manner.units),
                right=(0, 1, 2, 3, 4),
            ),
            *_said_of_springs(evidence.springs, manner),
        ),
    )


def _said_of_springs(springs: SpringCheck, manner: Manner) -> list[Block]:
    """What the check says, each part under its heading."""
    blocks: list[Block] = []
    lines = spring_lines(springs, manner.units)
    for is_heading, part in groupby(lines, lambda one: one.kind is TextKind.HEADING):
        said = tuple(manner.say(line.text) for line in part if line.text.strip())
        blocks += map(strong, said) if is_heading else [Bullets(items=said)]
    return blocks
