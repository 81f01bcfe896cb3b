"""Causes and histories as documents."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tension.diagnosis.conditions import MANY_TRIPS, Condition
from tension.diagnosis.outcome import Cause, Diagnosis
from tension.documents.envelope import REASON, envelope
from tension.documents.shape import Document, shape
from tension.files.evidence import FileEvidence
from tension.history import History
from tension.notes import Note, Refusal

_UNIT_OF_TELLTALE = {
    Cause.STIFFNESS: "1",
    Cause.BOUND_SPRING: "1",
    Cause.MASS: "1",
    Cause.STAGGER: "m",
}

_HYPOTHESIS = shape(
    """
    causes | | none, one or two names of [causes](causes.md)
    weight | weight x1 | they sum to 1; the heaviest first
    ropes  | | singled out
    """,
    causes=lambda suspect: list(suspect.causes),
)

_TELLTALE = shape(
    """
    cause     | | the cause that the number tells for
    rope      | | rope number
    value     | value x1 | what is seen
    standard_uncertainty | uncertainty x1 | of that value
    against   | against x1 | the same elsewhere, before, or of an even share
    unit      | | of these three: N, m or 1
    where     | | condition it was read in
    elsewhere | | likewise, of `against`
    """,
    unit=lambda told: _UNIT_OF_TELLTALE.get(told.cause, "N"),
)

_NEXT = shape(
    """
    step          | | what is to be done
    side          | condition.side | car or counterweight
    rope_passed_m | condition.rope_passed x1 | rope on the car side beyond that at its
                                               highest place
    arrived       | condition.arrived | direction to come from
    expected_gain_bit | gain x1 | expected gain of information on the causes
    open_bit      | open_now x1 | what is open now
    """
)

_SERIES = shape(
    """
    name          | condition.name | name of the series
    side          | condition.side | car or counterweight
    rope_passed_m | condition.rope_passed x1 | rope on the car side beyond that at its
                                               highest place
    arrived       | condition.arrived | direction the car came from
    weeks         | condition.weeks x1 | since the first series
    epoch         | condition.epoch | counts up each time nuts were turned
    round_trips   | | run since nuts were turned last; null: run in
    mean_tension_n | condition.mean_tension x1 | of the ropes
    deviations_n  | | of each rope from the mean
    deviation_standard_uncertainties_n | | of those
    """
)


class _Series(NamedTuple):
    """A series with its condition and the deviations of its ropes. [N]."""

    condition: Condition
    deviations_n: Sequence[float]
    deviation_standard_uncertainties_n: Sequence[float]

    @property
    def round_trips(self) -> int | None:
        """Since nuts were turned; None for many."""
        trips = self.condition.round_trips
        return None if trips >= MANY_TRIPS else trips


def _series(outcome: Diagnosis) -> Iterator[_Series]:
    """Every series of a pattern."""
    pattern = outcome.pattern
    rows = (pattern.deviations.tolist(), pattern.uncertainties.tolist())
    return map(_Series, pattern.conditions, *rows)


CAUSES = shape(
    """
    conclusion       | | suggests, two-causes, nothing-to-explain, unknown-pattern,
                         nothing-can-be-concluded; no-result with `refusal` and no other
                         key
    hypotheses[]     | suspects |
    telltales[]      | |
    next_measurement | |
    ropes            | pattern.numbers | numbers, in the order of the deviations
    newtons_known    | pattern.is_absolute | false: the newtons are on a scale common to
                                             all series, near the true one
    series[]         | |
    """,
    hypotheses=_HYPOTHESIS,
    telltales=_TELLTALE,
    next_measurement=_NEXT,
    series=(_SERIES, _series),
)


def causes_document(
    outcome: Diagnosis | Refusal, notes: Sequence[Note], inputs: Sequence[FileEvidence]
) -> Document:
    """Turn what a pattern suggests into its document."""
    document = envelope("causes", inputs, notes)
    if isinstance(outcome, Refusal):
        return document | {"conclusion": "no-result", "refusal": REASON.of(outcome)}
    return document | CAUSES.of(outcome)


_POINT = shape(
    """
    date    | day | of the visit
    record  | | which record
    series  | | which series
    role    | | as found, as left, between, measured
    epoch   | | counts up each time nuts were turned
    verdict | | by the rule above
    spread_percent       | spread.observed x100 | from the readings
    spread_lower_percent | spread.lower x100 | lower end of the 95 % interval
    spread_upper_percent | spread.upper x100 | upper end
    ropes[] | shares |
    """,
    ropes=shape(
        """
        number        | | rope number
        share_percent | share x100 | of the mean of the ropes given
        share_standard_uncertainty_percent | share_uncertainty x100 | its uncertainty
        """
    ),
)

_TREND = shape(
    """
    number | | rope number
    slope_percent_per_week | slope x100 | of its share
    slope_standard_uncertainty_percent_per_week | uncertainty x100 | of that slope
    seen   | is_seen | whether it stands out of its uncertainty
    """
)

_RETURNED = shape(
    """
    left  | | day on which the set was left equal
    found | | day on which it was first found unequal after it
    weeks | weeks x1 | between them
    still_equal_weeks | still_equal_weeks x1 | after which it was last found not unequal
    """
)

_CHECK = shape(
    """
    over_now | is_over_now | whether the limit is exceeded now
    earliest | | day on which it may be: 5 %; null beyond two years
    likely   | | likewise, 50 %
    latest   | | likewise, 95 %
    """
)

_TRACK = shape(
    """
    life     | life.number | of which ropes
    side     | | car or counterweight
    position | | car position
    load     | | in the car
    points[] | |
    trends[] | |
    returned[] | |
    next_check | |
    """,
    points=_POINT,
    trends=_TREND,
    returned=_RETURNED,
    next_check=_CHECK,
)

HISTORY = shape(
    """
    lift     | | name of the lift
    rule     | |
    lives[]  | |
    tracks[] | |
    """,
    rule=shape(
        """
        name          | | the rule by which all visits are judged
        metric        | | as in assess
        limit_percent | limit x100 | its limit
        """
    ),
    lives=shape(
        """
        number | | of a set of ropes, counted from 1
        begun  | | day or first of the month; null if not known
        """
    ),
    tracks=_TRACK,
)


def history_document(history: History, inputs: Sequence[FileEvidence]) -> Document:
    """Turn the history of a lift into its document."""
    return envelope("history", inputs, history.notes) | HISTORY.of(history)
