"""The list of a fleet as a document."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from tension.documents.envelope import SCHEMA_VERSION, envelope
from tension.documents.shape import shape, to_json

LIFT = shape(
    """
    schema_version | | 1, so that a line of a JSON lines file stands by itself
    record     | | path of the record from the folder searched; of a folder
                              where a record is missing, the folder
    lift       | | name of the lift, as typed
    address    | | as typed
    car_number | | as typed
    date       | | day of the visit; empty if not recorded
    series     | | the series assessed: the last of the record
    side       | | car or counterweight
    position   | | car position, as typed
    verdict    | | as in assess; also `unusable` and `fault`
    reason     | | why; of what could not be used every reason, a line each
    next_act   | | what to do
    rule       | | the rule that decided
    metric     | | its metric
    limit_percent  | | its limit
    spread_percent | | as `spread.percent` in assess
    lower_percent  | | lower end of the 95 % interval
    upper_percent  | | upper end
    probability_over_limit | | between 0 and 1
    n_ropes        | | ropes of the set
    lowest_rope    | | the rope with the least share
    highest_rope   | | the rope with the greatest share
    measure_again  | | rope numbers, the most useful first
    shares_percent | | of all ropes in order of number; null for a
                                          rope without a number
    share_standard_uncertainties_percent | |
        likewise
    tensions_n     | | likewise
    notes          | | codes of the notes, each once
    record_sha256  | | checksum of the record; empty if it could not
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
