"""One line of a fleet: what a record answers, and why one could not be used."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tension.workflow.assess import Assessed

UNUSABLE = "unusable"
"""Stands where a verdict would, if a record or a folder could not be used."""

FAULT = "fault"
"""The same, if the program itself failed over the record, which is a bug."""

Number = float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftRow:
    """What one record answers, in the numbers of ``tension assess --json``.

    Attributes
    ----------
    record : str
        Path from the folder that was searched, with forward slashes.
    lift, address, car_number, date : str
        As the record has them; the date year-month-day.
    series, side, position : str
        What was assessed, and where.
    verdict : str
        One of the four results, "unusable" or "fault".
    next_act : str
        What to do next; empty if the result speaks for itself.
    rule, metric, limit_percent : str, str, float or None
        The rule that decides, what its percentage is of, its limit. [percent]
    spread_percent, lower_percent, upper_percent : float or None
        Best estimate of the spread, and between what the true one lies at 95 %.
        [percent]
    probability_over_limit : float or None
        That the true spread is over the limit. [1]
    lowest_rope, highest_rope : int or None
        Numbers of the ropes with the least and the greatest share.
    measure_again : tuple of int
        Rope numbers, the most useful first.
    shares_percent, share_standard_uncertainties_percent : tuple, shape (n_ropes,)
        In order of rope number. [percent]
    tensions_n : tuple of (float or None), shape (n_ropes,)
        At the hitch, in order of rope number. [N]
    notes : tuple of str
        Codes of what a reader must know, each once.
    record_sha256 : str
        Checksum of the record; empty if it could not be used.
    """

    record: str = ""
    lift: str = ""
    address: str = ""
    car_number: str = ""
    date: str = ""
    series: str = ""
    side: str = ""
    position: str = ""
    verdict: str
    reason: str = ""
    next_act: str = ""
    rule: str = ""
    metric: str = ""
    limit_percent: Number = None
    spread_percent: Number = None
    lower_percent: Number = None
    upper_percent: Number = None
    probability_over_limit: Number = None
    n_ropes: int | None = None
    lowest_rope: int | None = None
    highest_rope: int | None = None
    measure_again: tuple[int, ...] = ()
    shares_percent: tuple[Number, ...] = ()
    share_standard_uncertainties_percent: tuple[Number, ...] = ()
    tensions_n: tuple[Number, ...] = ()
    notes: tuple[str, ...] = ()
    record_sha256: str = ""

    @property
    def is_usable(self) -> bool:
        """Whether there is an answer, be it that there is no result."""
        return self.verdict not in {UNUSABLE, FAULT}


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedRow:
    """A line as it is listed: what depends on the day and on the other records.

    Attributes
    ----------
    row : LiftRow
        What the record answers.
    days_since : int or None
        Days from the visit to the day of the list. [d]
    n_records : int
        Records of this lift in the tree; the newest one answers. [1]
    place : int
        Its place in the order of the tree, from 1 up. [1]
    """

    row: LiftRow
    days_since: int | None
    n_records: int
    place: int

    def document(self) -> dict[str, Any]:
        """Give the line as machines read it."""
        from tension.documents.kept import LIFT

        return LIFT.of(self)


def row_of(assessed: "Assessed") -> LiftRow:
    """Take the line of a lift from its assessment, without the path of the record."""
    from tension.documents.assessed import assessment_document

    assessment, visit = assessed.assessment, assessed.visit
    document = assessment_document("assess", assessment, ())
    particulars = dict(visit.particulars)
    note = assessment.reason_note
    lowest, highest = _extremes(document["ropes"])
    return LiftRow(
        lift=visit.lift.name,
        address=particulars.get("address", ""),
        car_number=particulars.get("car_number", ""),
        date=particulars.get("date", ""),
        series=document["series"],
        side=document["condition"]["side"] or "",
        position=document["condition"]["position"] or "",
        verdict=document["verdict"],
        reason=document["reason"],
        next_act=note.next_act if note else "",
        rule=document["rule"]["name"],
        metric=document["rule"]["metric"],
        limit_percent=document["rule"]["limit_percent"],
        spread_percent=document["spread"]["percent"],
        lower_percent=document["spread"]["lower_percent"],
        upper_percent=document["spread"]["upper_percent"],
        probability_over_limit=document["spread"]["probability_over_limit"],
        n_ropes=len(document["ropes"]),
        lowest_rope=lowest,
        highest_rope=highest,
        measure_again=tuple(document["measure_again"]),
        shares_percent=_column(document, "share_percent"),
        share_standard_uncertainties_percent=_column(
            document, "share_standard_uncertainty_percent"
        ),
        tensions_n=_column(document, "tension_n"),
        notes=tuple(dict.fromkeys(one["code"] for one in document["notes"])),
        record_sha256=assessed.inputs[0].sha256 if assessed.inputs else "",
    )


def unusable(record: str, lines: Sequence[str], verdict: str = UNUSABLE) -> LiftRow:
    """Make the line of a record or a folder that could not be used."""
    return LiftRow(
        record=record,
        verdict=verdict,
        reason="\n".join(_naming(record, line) for line in lines),
    )


def row_to_text(row: LiftRow) -> str:
    """Write a line as JSON on one line; the same line gives the same text."""
    return json.dumps(asdict(row), ensure_ascii=True, allow_nan=False)


def row_from_text(text: str) -> LiftRow:
    """Read a line that `row_to_text` wrote.

    Raises
    ------
    ValueError
        If it is no such text.
    """
    try:
        kept = json.loads(text).items()
        fields: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in kept
        }
        return LiftRow(**fields)
    except (TypeError, AttributeError) as error:
        raise ValueError("no line of a fleet") from error


def _naming(record: str, line: str) -> str:
    """A reason that names its record or folder."""
    folder, _, name = record.rpartition("/")
    if (folder or name) in line:
        return line
    return f"{record}: {line.removeprefix(f'{name}: ')}"


def _column(document: Mapping[str, Any], key: str) -> tuple[Number, ...]:
    """One number of every rope."""
    return tuple(rope[key] for rope in document["ropes"])


def _extremes(ropes: Sequence[Mapping[str, Any]]) -> tuple[int | None, int | None]:
    """The ropes with the least and the greatest share."""
    given = [r for r in ropes if r["share_percent"] is not None]
    if not given:
        return None, None
    ordered = sorted(given, key=lambda rope: (rope["share_percent"], rope["number"]))
    return ordered[0]["number"], ordered[-1]["number"]
