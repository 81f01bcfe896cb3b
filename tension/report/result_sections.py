"""Results series by series: shares, newtons, every metric, second method, changes."""

from tension.adjustment.comparison import Comparison
from tension.assessment.outcome import Assessment, RopeShare
from tension.files.visit import Visit
from tension.measurement.outcome import RopeMeasurement
from tension.measurement.readings import Method
from tension.notes import Refusal
from tension.quantity.units import Dimension
from tension.report.document import (
    Block,
    Grid,
    Paragraph,
    Section,
    Weight,
)
from tension.report.evidence import Evidence, Manner
from tension.report.evidence_sections import plucks_grid, thread_grid
from tension.report.pictures import shares_picture
from tension.telling.numbers import typed_and_si, written
from tension.telling.results import (
    METRIC_PHRASES,
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
        plucks = plucks_grid(dict(enumerate(evidence.hearings)).get(place))
        if plucks is not None:
            blocks.append(plucks)
    if not blocks:
        blocks.append(Paragraph(text="No series could be assessed."))
    return Section(heading="Results", blocks=tuple(blocks))


def _series(
    assessment: Assessment, manner: Manner, *, with_picture: bool
) -> list[Block]:
    """One series."""
    blocks: list[Block] = [
        Paragraph(
            text=f'Series "{assessment.measurement.series.name}": '
            f"{assessment.verdict.banner}",
            weight=Weight.STRONG,
        ),
        Paragraph(text=manner.say(reason_text(assessment))),
        Paragraph(text=f"Holds for: {condition_words(assessment)}."),
        Paragraph(text=f"Rule: {rule_text(assessment.rule)}"),
    ]
    picture = shares_picture(assessment) if with_picture else None
    if picture is not None:
        blocks.append(picture)
    blocks += [
        _ropes_grid(assessment, manner),
        _metrics_grid(assessment),
        Paragraph(text=_method_words(assessment)),
    ]
    if assessment.measure_again:
        again = rope_list(assessment.measure_again, ", ")
        blocks.append(Paragraph(text=f"Most useful to measure again: {again}."))
    return blocks


def _ropes_grid(assessment: Assessment, manner: Manner) -> Grid:
    """One row per rope."""
    pairs = zip(assessment.measurement.ropes, assessment.shares, strict=True)
    return Grid(
        caption="Ropes: share of the mean, tension at the hitch",
        headers=(
            "Rope",
            "Share",
            "±",
            "At 95 %",
            "Tension, about",
            "±",
            "Heard",
            "By",
        ),
        rows=tuple(_rope_row(measured, share, manner) for measured, share in pairs),
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
        return (_number(measured.number), "–", "–", why, "–", "–", "–", "–")
    width = COVERAGE_FACTOR * (share.share_uncertainty or 0.0)
    heard = measured.fundamental
    return (
        _number(measured.number),
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


def _metrics_grid(assessment: Assessment) -> Grid:
    """Every metric; the rule's decides."""
    spreads = (assessment.spread, *assessment.other_spreads)
    return Grid(
        caption="Spread by every metric",
        headers=("Metric", "What it compares", "Best estimate", "At 95 %", ""),
        rows=tuple(
            (
                spread.metric.value,
                METRIC_PHRASES[spread.metric],
                percent_text(spread.observed),
                interval_words(spread),
                "decides" if spread is assessment.spread else "printed only",
            )
            for spread in spreads
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
    return (
        f"Methods: {', '.join(methods)}, taken together; where they disagree, a note "
        "says so. Each spring by itself stands under Spring lengths."
        if Method.SPRING.value in methods
        else f"Methods: {', '.join(methods)}, taken together; where they disagree, a "
        "note says so."
    )


def changes_section(evidence: Evidence, manner: Manner) -> Section | None:
    """As found and as left, the turns between them, spring lengths.

    Returns
    -------
    Section or None
        None without turns and with fewer than two series.
    """
    visit, comparison = evidence.visit, evidence.comparison
    blocks: list[Block] = []
    if isinstance(comparison, Comparison):
        blocks += _comparison(comparison)
    elif isinstance(comparison, Refusal):
        text = f"{comparison.text} {comparison.next_act}".strip()
        blocks.append(Paragraph(text=f"Not compared: {manner.say(text)}"))
    if visit.turns:
        blocks.append(_turns_grid(visit))
    thread = thread_grid(visit)
    if thread is not None and visit.turns:
        blocks.append(thread)
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
        Grid(
            caption="Shares of the mean",
            headers=("Rope", "As found", "As left", "Turns", "Change", "Predicted"),
            rows=tuple(
                (
                    _number(change.number),
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


def _turns_grid(visit: Visit) -> Grid:
    """Turns as written down."""
    return Grid(
        caption="Turns made (positive: nut towards the plate, tension up)",
        headers=("After", "Hitch", "Rope", "Turns", "Round trips after"),
        rows=tuple(
            (
                turn.after,
                turn.hitch.value,
                _number(turn.rope),
                typed_and_si(turn.turns),
                "not recorded"
                if turn.round_trips_after is None
                else written(float(turn.round_trips_after)),
            )
            for turn in visit.turns
        ),
    )


def _number(rope: int) -> str:
    """A rope number."""
    return written(float(rope))


def _percent(fraction: float | None, uncertainty: float | None) -> str:
    """A share or a change of one."""
    return written(fraction, Dimension.FRACTION, uncertainty=uncertainty)


def _force(value: float | None, uncertainty: float | None, manner: Manner) -> str:
    """A tension."""
    return written(value, Dimension.FORCE, uncertainty=uncertainty, units=manner.units)
