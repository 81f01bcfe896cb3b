"""What several readings or records tell: causes, histories and fleets as documents."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from tension.diagnosis.conditions import MANY_TRIPS, Condition
from tension.diagnosis.outcome import Cause, Diagnosis
from tension.documents.shape import (
    REASON,
    SCHEMA_VERSION,
    Document,
    envelope,
    shape,
    to_json,
)
from tension.files.evidence import FileEvidence
from tension.history.outcome import History
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


LIFT = shape(
    """
    schema_version | | 1, so that a line of a JSON lines file stands by itself
    record     | row.record | path of the record from the folder searched; of a folder
                              where a record is missing, the folder
    lift       | row.lift | name of the lift, as typed
    address    | row.address | as typed
    car_number | row.car_number | as typed
    date       | row.date | day of the visit; empty if not recorded
    series     | row.series | the series assessed: the last of the record
    side       | row.side | car or counterweight
    position   | row.position | car position, as typed
    verdict    | row.verdict | as in assess; also `unusable` and `fault`
    reason     | row.reason | why; of what could not be used every reason, a line each
    next_act   | row.next_act | what to do
    rule       | row.rule | the rule that decided
    metric     | row.metric | its metric
    limit_percent  | row.limit_percent | its limit
    spread_percent | row.spread_percent | as `spread.percent` in assess
    lower_percent  | row.lower_percent | lower end of the 95 % interval
    upper_percent  | row.upper_percent | upper end
    probability_over_limit | row.probability_over_limit | between 0 and 1
    n_ropes        | row.n_ropes | ropes of the set
    lowest_rope    | row.lowest_rope | the rope with the least share
    highest_rope   | row.highest_rope | the rope with the greatest share
    measure_again  | row.measure_again | rope numbers, the most useful first
    shares_percent | row.shares_percent | of all ropes in order of number; null for a
                                          rope without a number
    share_standard_uncertainties_percent | row.share_standard_uncertainties_percent |
        likewise
    tensions_n     | row.tensions_n | likewise
    notes          | row.notes | codes of the notes, each once
    record_sha256  | row.record_sha256 | checksum of the record; empty if it could not
                                         be used
    days_since     | | days from the visit to `as_of`, or null
    n_records      | | records of this lift in the tree; the newest answers
    """,
    schema_version=lambda _: SCHEMA_VERSION,
)

FLEET = shape(
    """
    searched | top | the folder or address, as given
    as_of    | day | the day from which days are counted
    order    | | `spread`, `cannot-tell`, `days-since`, `record`
    counts   | |
    """,
    counts=shape(
        """
        unequal     | | lines with this result
        cannot-tell | | as above
        no-result   | | as above
        equal       | | as above
        unusable    | | records and folders that could not be used
        fault       | | records over which the program failed, which is a bug
        """
    ),
)
"""All but the lines, which may be too many to hold."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FleetHead:
    """What the list of a fleet says before its lines: keys of the document."""

    top: str
    day: date
    order: StrEnum
    counts: Mapping[str, int]


def fleet_pieces(head: FleetHead, lifts: Iterable[str]) -> Iterator[str]:
    """Write the list of a fleet piece by piece; each lift comes as JSON on a line."""
    text = to_json(envelope("fleet") | FLEET.of(head))
    yield text.removesuffix("\n}\n") + ',\n  "lifts": ['
    between = "\n    "
    for line in lifts:
        yield between + line.rstrip("\n")
        between = ",\n    "
    yield "\n  ]\n}\n"
