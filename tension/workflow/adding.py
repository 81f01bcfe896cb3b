"""Adding to a record: what a person says becomes tables at its end, or is refused."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.additions import Addition, Maker, append_held, append_tables
from tension.files.atomic import held_alone
from tension.files.seal import has_seal
from tension.files.visit import Visit
from tension.installation import Hitch, HitchPlace
from tension.measurement.readings import Series
from tension.quantity.units import Quantity
from tension.workflow.inputs import find_record
from tension.workflow.integrity import CorrectionWords, correct_held


@dataclass(frozen=True, kw_only=True, slots=True)
class Where:
    """To which series and hitch something is added.

    Attributes
    ----------
    series : str
        Its name; empty for the last of the record.
    hitch : HitchPlace or None
        Where it is; None for the only one, or the one at the span of the series.
    """

    series: str = ""
    hitch: HitchPlace | None = None


def add_to_record(
    path: Path | str,
    make: Maker,
    *,
    dry_run: bool = False,
    words: CorrectionWords | None = None,
) -> Addition:
    """Add tables to a record; to a sealed one as a correction.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    make : callable
        Makes the tables from what the record says.
    dry_run : bool, optional
        Whether nothing is written.
    words : CorrectionWords, optional
        Who and why, for a sealed record.

    Raises
    ------
    FileFormatError
        If the addition is refused or the record cannot be used.
    """
    record = find_record(Path(path))
    if words is None or not has_seal(record):
        return append_tables(record, make, dry_run=dry_run)
    with held_alone(record):
        addition = append_held(record, make, dry_run=dry_run)
        if addition.is_written:
            correct_held(record, words)
    return addition


def chosen_series(visit: Visit, name: str) -> Series:
    """Find the series that something is added to.

    Parameters
    ----------
    visit : Visit
        The record.
    name : str
        Its name, in any case; empty for the last.

    Raises
    ------
    FileFormatError
        If there is none.
    """
    if not visit.series:
        raise FileFormatError(
            f"{visit.path}: has no series yet; add one with its recordings: "
            "tension add round FOLDER"
        )
    if not name:
        return visit.series[-1]
    for series in visit.series:
        if series.name.casefold() == name.casefold():
            return series
    there = ", ".join(f'"{series.name}"' for series in visit.series)
    raise FileFormatError(f'there is no series "{name}"; there are {there}')


def chosen_hitch(visit: Visit, where: Where) -> Hitch:
    """Find the hitch that something is added to.

    Returns
    -------
    Hitch
        The one asked for, or the only one, or the one beside the span of the series.

    Raises
    ------
    FileFormatError
        If it is not described.
    """
    hitches = visit.rope_set.hitches
    if where.hitch is not None:
        for hitch in hitches:
            if hitch.at is where.hitch:
                return hitch
        raise FileFormatError(
            f"no hitch at {where.hitch} is described; "
            f"tension add hitch {where.hitch} describes it"
        )
    if not hitches:
        raise FileFormatError(
            "no hitch is described; say where the nuts are: tension add hitch car"
        )
    if len(hitches) > 1 and visit.series:
        span_name = chosen_series(visit, where.series).span
        sides = [s.side.value for s in visit.rope_set.spans if s.name == span_name]
        near = [h for h in hitches if sides and h.at.value.endswith(sides[0])]
        if len(near) == 1:
            return near[0]
    if len(hitches) > 1:
        there = " or ".join(hitch.at.value for hitch in hitches)
        raise FileFormatError(f"which hitch? Give --hitch {there}")
    return hitches[0]


def require_ropes(visit: Visit, ropes: Sequence[int]) -> None:
    """Refuse ropes that the set has not, or that stand twice.

    Raises
    ------
    FileFormatError
        With the numbers there are.
    """
    n_ropes = visit.rope_set.n_ropes
    for rope in ropes:
        if not 1 <= rope <= n_ropes:
            raise FileFormatError(
                f"there is no rope {rope}; the set has ropes 1 to {n_ropes}"
            )
    for rope in ropes:
        if list(ropes).count(rope) > 1:
            raise FileFormatError(f"rope {rope} is named twice; name it once")


def one_per_rope(
    visit: Visit, typed: Sequence[Quantity], what: str
) -> Mapping[int, Quantity]:
    """Give values typed in the order of the ropes their rope numbers.

    Parameters
    ----------
    visit : Visit
        The record.
    typed : sequence of Quantity
        One per rope, from rope 1 up.
    what : str
        What they are, for the message.

    Raises
    ------
    FileFormatError
        If there are more or fewer than ropes.
    """
    n_ropes = visit.rope_set.n_ropes
    if len(typed) != n_ropes:
        raise FileFormatError(
            f"{len(typed)} {what} for {n_ropes} ropes; give one for each in the order "
            f'of the ropes, or say which: "2: ..."'
        )
    return dict(enumerate(typed, start=1))
