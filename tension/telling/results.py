"""A result in words: reason, rule, spreads, and for what condition it holds."""

from collections.abc import Sequence

from tension.assessment.decide import Assessment, Reason, RopeShare, Verdict
from tension.assessment.interval import Spread
from tension.catalogue.rules import Rule
from tension.measurement.readings import Series
from tension.notes import Note
from tension.telling.lines import word
from tension.wording import limit_text, percent_text, rope_list

NOT_RECORDED = "not recorded"


def rule_text(rule: Rule) -> str:
    """Say which rule decides: metric, limit, source, edition, standing, any change."""
    limit = f"at most {limit_text(rule.limit)}"
    if rule.changed_from is not None:
        limit += (
            f" ({limit_text(rule.changed_from)} of the rule, changed to "
            f"{limit_text(rule.limit)} by the user)"
        )
    source = ", ".join(part for part in (rule.source, rule.edition) if part)
    is_said = rule.standing.value in f"{rule.name} {rule.source}"
    standing = "" if is_said else f" ({rule.standing.value})"
    measure = f"{rule.metric.value} ({word(rule.metric)})"
    return f"{measure} {limit}. {rule.name}: {source}{standing}."


def rule_in_short(rule: Rule) -> str:
    """Say which rule decides in a few words, a limit changed by the user included."""
    was = "" if rule.changed_from is None else f"{limit_text(rule.changed_from)} "
    limit = f"{was}{'changed to ' if was else ''}{limit_text(rule.limit)}"
    return f"{rule.name}, {limit} {rule.metric.value}"


def share_of(shares: Sequence[RopeShare]) -> str:
    """Say what shares are of: the mean, or that of the ropes read."""
    missing = [share.number for share in shares if share.share is None]
    if not missing:
        return "% of the mean"
    return f"% of the mean of the ropes read, without {rope_list(missing)}"


def reason_text(assessment: Assessment) -> str:
    """Say why the answer is what it is, in one sentence.

    Parameters
    ----------
    assessment : Assessment
        The result.

    Examples
    --------
    >>> from tension.workflow.assess import assess_record
    >>> found = assess_record("recordings_demo/side-pulls").assessment
    >>> reason_text(found)[-30:]
    'lowest rope 2, at least 8.1 %.'
    """
    reason, spread, rule = assessment.reason, assessment.spread, assessment.rule
    note, again = assessment.reason_note, assessment.measure_again
    missing = [s.number for s in assessment.shares if s.share is None]
    apart = "" if reason is Reason.REFUSED else _apart_text(assessment)
    return word(reason).format(
        note="" if note is None else note.text,
        apart=apart[:1].upper() + apart[1:] if reason is Reason.APART else apart,
        limit=limit_text(rule.limit),
        phrase=word(rule.metric),
        lower=percent_text(spread.lower),
        upper=percent_text(spread.upper),
        could_be=_could_be(spread),
        missing=f"{rope_list(missing)} {'has' if len(missing) == 1 else 'have'}",
        again=again[0] if again else "",
    )


def _apart_text(assessment: Assessment) -> str:
    """How far the ropes are apart, by the metric of the rule."""
    given = assessment.measurement.given
    tensions = assessment.measurement.hypotheses[0].tensions
    return word(assessment.rule.metric, "apart").format(
        highest=given[int(tensions.argmax())],
        lowest=given[len(given) - 1 - int(tensions[::-1].argmin())],
        observed=percent_text(assessment.spread.observed),
    )


def _could_be(spread: Spread) -> str:
    """Between what the true spread may lie."""
    if spread.lower is None or (spread.upper is None and spread.lower < 5e-4):
        return "it could be anything"
    if spread.upper is None:
        return f"it could be {percent_text(spread.lower)} or any more"
    return f"it could be {100 * spread.lower:.1f} to {percent_text(spread.upper)}"


def told_notes(assessment: Assessment) -> list[Note]:
    """Give every note but the reason: those of ropes without a number first.

    Where there is no result at all, each refused rope is told with the reason.
    """
    refused = [
        rope.refusal.as_note(rope.number)
        for rope in assessment.measurement.ropes
        if rope.refusal is not None and assessment.verdict is not Verdict.NO_RESULT
    ]
    notes = dict.fromkeys([*refused, *assessment.notes])
    return [note for note in notes if note != assessment.reason_note]


def spread_words(spread: Spread) -> str:
    """Write a spread with its interval."""
    bounded = spread.lower is not None or spread.upper is not None
    return (
        f"{spread.metric.value} {percent_text(spread.observed)}, "
        f"{interval_words(spread)}{' at 95 %' if bounded else ''}"
    )


def interval_words(spread: Spread) -> str:
    """Write between what a true spread lies: "between 14.2 % and 21.9 %"."""
    lower, upper = percent_text(spread.lower), percent_text(spread.upper)
    if spread.lower is not None and spread.upper is not None:
        return f"between {lower} and {upper}"
    if spread.lower is not None:
        return f"at least {lower}"
    return "not bounded" if spread.upper is None else f"at most {upper}"


def condition_words(assessment: Assessment, *, is_place_known: bool = True) -> str:
    """Say for what condition a result holds; what was not recorded is said so.

    Nobody may have said where the span is, as with sound files alone.
    """
    span = assessment.measurement.span
    if span is None:
        place = "springs at the hitch"
    elif is_place_known:
        place = f"{span.side.value} side, {span.position or 'position not recorded'}"
    else:
        place = "side and position not recorded"
    return f"{place}, {series_words(assessment.measurement.series)}"


def series_words(series: Series) -> str:
    """Say under what condition a series was taken."""
    parts = [
        f"arrived {series.arrived}" if series.arrived else "arrival not recorded",
        f"load {series.load}" if series.load else "load not recorded",
        f"people {series.people}" if series.people else "people not recorded",
        f"{series.fall} fall" if series.fall else "",
        f"neighbours {series.neighbours}"
        if series.neighbours
        else "neighbours not recorded",
    ]
    return ", ".join(part for part in parts if part)
