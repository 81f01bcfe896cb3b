"""Beginning a record and adding to it: what a person says becomes tables at its end.

A maker is a function of the visit, called while the record is held: it refuses what
contradicts the record and gives the tables.
"""

import os
import secrets
import shutil
from collections.abc import Callable, Mapping, Sequence
from functools import partial, wraps
from pathlib import Path
from typing import Concatenate, Literal, ParamSpec

from tension.adjustment.turns import TypedTurn
from tension.errors import ExistingFileError, FileFormatError
from tension.files import new_record
from tension.files.atomic import settle_folder
from tension.files.record import Addition, Maker, append_tables
from tension.files.seal import Correction
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Hitch, HitchPlace
from tension.measurement.readings import PluckReading
from tension.notes import NoteKind
from tension.workflow import inputs
from tension.workflow.inputs import choose_series, require
from tension.workflow.integrity import correct_held

MOST_TURNS = 60.0  # more of one nut between two rounds are a slip of the pen [turns]

Given = ParamSpec("Given")
Tables = Sequence[NewTable]


# a record is begun


def require_no_record(folder: Path) -> None:
    """Refuse a folder that holds a record, before anybody is asked anything."""
    record = folder / new_record.RECORD_NAME
    require(
        not record.exists(),
        f"{record}: this record exists and is never replaced; add readings to it, or "
        "name another folder",
        ExistingFileError,
    )


def names_below(recordings: Sequence[Path], folder: Path) -> tuple[str, ...]:
    """Name recordings as the record of a folder will, before anything is asked."""
    require(folder.is_dir(), f"{folder}: there is no such folder; make it first")
    return tuple(inputs.name_in_record(path, folder) for path in recordings)


def copy_demo(place: Path, folder: Path) -> None:
    """Copy the demo to a folder that does not exist yet, whole or not at all.

    Raises
    ------
    FileFormatError
        If the folder cannot be made or filled.
    """
    there = f"{folder}: this exists already; name a folder that does not"
    require(not os.path.lexists(folder), there, ExistingFileError)
    part = folder.with_name(f".{folder.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(place, part)
        part.rename(folder)
        settle_folder(folder.parent)
    except OSError as error:
        reason = (error.strerror or "the system refuses").lower()
        raise FileFormatError(
            f"{folder}: the demo cannot be copied there ({reason}); nothing was left "
            "half copied; name another folder"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


# and added to


def add_to_record(
    path: Path | str,
    make: Maker,
    *,
    dry_run: bool = False,
    words: Correction | None = None,
) -> Addition:
    """Add tables to a record; to a sealed one as a correction, with who and why."""
    record = inputs.find_record(Path(path))
    correct = partial(correct_held, words=words) if words else None
    return append_tables(record, make, dry_run=dry_run, correct=correct)


def maker(act: Callable[Concatenate[Visit, Given], Tables]) -> Callable[Given, Maker]:
    """Let a function of a visit wait for it, until the record is held."""

    @wraps(act)
    def given(*args: Given.args, **words: Given.kwargs) -> Maker:
        return lambda visit: act(visit, *args, **words)

    return given


def table(of: str, /, **keys: Value | None) -> NewTable:
    """Make a table; keys that are empty or None are left out when it is written."""
    return NewTable(name=of, keys=tuple(keys.items()))


def reading(series: str, kind: str, rope: int | None, **keys: Value | None) -> NewTable:
    """Make the table of one reading."""
    return table("reading", series=series, kind=kind, rope=rope, **keys)


def free_length(rope: int, span: str, length: str) -> NewTable:
    """Make the table of the free length of one rope on one span."""
    return table("rope", number=rope, free_lengths={span: length})


def choose_hitch(
    visit: Visit, at: HitchPlace | None, series: str | None = None
) -> Hitch:
    """Choose the hitch asked for, or the only one, or that at the span of a series."""
    hitches = visit.rope_set.hitches
    if at is not None:
        found = [one for one in hitches if one.at is at]
        none = f"no hitch at {at} is described; tension add hitch {at} describes it"
        require(found, none)
        return found[0]
    none = "no hitch is described; say where the nuts are: tension add hitch car"
    require(hitches, none)
    if len(hitches) > 1 and visit.series:
        span_name = choose_series(visit, series).span
        sides = [s.side.value for s in visit.rope_set.spans if s.name == span_name]
        near = [h for h in hitches if sides and h.at.value.endswith(sides[0])]
        if len(near) == 1:
            return near[0]
    there = " or ".join(hitch.at.value for hitch in hitches)
    require(len(hitches) == 1, f"which hitch? Give --hitch {there}")
    return hitches[0]


def require_ropes(visit: Visit, ropes: Sequence[int]) -> None:
    """Refuse ropes that the set has not, or that stand twice."""
    n_ropes = visit.rope_set.n_ropes
    for rope in ropes:
        none = f"there is no rope {rope}; the set has ropes 1 to {n_ropes}"
        require(1 <= rope <= n_ropes, none)
    for rope in ropes:
        twice = f"rope {rope} is named twice; name it once"
        require(list(ropes).count(rope) == 1, twice)


@maker
def turns(
    visit: Visit,
    typed: Sequence[TypedTurn],
    *,
    series: str | None = None,
    at: HitchPlace | None = None,
    round_trips: int | None = None,
    is_again: bool = False,
) -> Tables:
    """Add turns of nuts, and the round trips since, if the car ran."""
    after, hitch = choose_series(visit, series).name, choose_hitch(visit, at, series)
    require_ropes(visit, [turn.rope for turn in typed])
    earlier = [t for t in visit.turns if t.after == after]
    require(
        round_trips is not None or not any(t.round_trips_after for t in earlier),
        f'the car ran after turns that followed "{after}"; measure first (tension add '
        "left FOLDER), or say how many round trips came after these turns: --run 6",
    )
    there = {(t.rope, t.hitch, t.turns.value) for t in earlier}
    require(
        is_again or not {(t.rope, hitch.at, t.turns) for t in typed} <= there,
        f'the same turns after "{after}" are in the record already; if they were made '
        "once more, give --again",
    )
    for turn in typed:
        _require_room(turn, visit, hitch)
    return [
        table(
            "turn",
            after=after,
            hitch=hitch.at.value,
            rope=turn.rope,
            turns=turn.text,
            round_trips_after=round_trips,
        )
        for turn in typed
    ]


def _require_room(turn: TypedTurn, visit: Visit, hitch: Hitch) -> None:
    """Refuse more turns than the thread that was left allows."""
    require(
        abs(turn.turns) <= MOST_TURNS,
        f"rope {turn.rope}: {abs(turn.turns):g} turns of one nut; check the number",
    )
    rope = visit.rope_set.ropes[turn.rope - 1]
    left = rope.take_up_left if turn.turns > 0 else rope.ease_left
    if left is None or hitch.thread is None:
        return
    before = [
        t.turns.value
        for t in visit.turns
        if t.rope == turn.rope and t.hitch is hitch.at
    ]
    travel = (sum(before) + turn.turns) * hitch.thread.pitch
    way = "towards the plate" if turn.turns > 0 else "away from the plate"
    require(
        abs(travel) <= left.value or travel * turn.turns <= 0,
        f"rope {turn.rope}: {abs(travel) * 1e3:.3g} mm {way} in all, and "
        f"{left.text} of thread were left; check the turns and the way",
    )


@maker
def run(visit: Visit, round_trips: int, series: str | None = None) -> Tables:
    """Add round trips of the car after the turns that followed a series."""
    after = choose_series(visit, series).name
    require(
        any(turn.after == after for turn in visit.turns),
        f'no nut was turned after "{after}"; first: tension add turns '
        '"2 in 4 1/2, 5 out 4"',
    )
    return [table("run", after=after, round_trips=round_trips)]


@maker
def exclusion(
    visit: Visit,
    what: str,
    reason: str,
    *,
    pluck: int | None = None,
    by: str = "",
    series: str | None = None,
) -> Tables:
    """Leave out a rope or a recording, or one pluck of it counted from 1; say why.

    Of a rope the series is the last if none is named, of a recording its own.
    """
    number = what.lower().removeprefix("rope").strip()
    rope = int(number) if number.isdigit() else None
    if rope is not None:
        require_ropes(visit, [rope])
        named, recording = choose_series(visit, series).name, ""
    else:
        reading = _reading_of(visit, what)
        named, recording = reading.series, reading.recording
    told = {"series": named, "rope": rope, "recording": recording, "pluck": pluck}
    for one in visit.exclusions:
        require(
            told != {key: getattr(one, key) for key in told},
            f"{recording or f'rope {rope}'} is left out already: {one.reason}",
        )
    return [table("exclusion", **told, reason=reason, by=by)]


def _reading_of(visit: Visit, what: str) -> PluckReading:
    """The reading of a recording, named as in the record or from here."""
    names = {what}
    if Path(what).exists():
        names.add(inputs.name_in_record(Path(what), inputs.folder_of(visit)))
    for reading in inputs.plucks_of(visit):
        if reading.recording in names:
            return reading
    there = ", ".join(inputs.recordings_of(visit)[:6])
    raise FileFormatError(
        f'no reading names "{what}"; give a rope number, or a recording'
        + (f" such as {there}" if there else "")
    )


@maker
def looked(
    visit: Visit,
    note: str,
    answer: str,
    ropes: Sequence[int],
    *,
    by: str = "",
    date: str = "",
) -> Tables:
    """Answer a note by its number or code; of the whole set if no ropes are named."""
    require_ropes(visit, ropes)
    kinds = {str(kind.number): kind.code for kind in NoteKind}
    require(
        note in kinds or note in kinds.values(),
        f'there is no note "{note}"; give the number that stands before the note, '
        "such as 320",
    )
    return [
        table("answer", note=note, answer=answer, by=by, date=date, ropes=tuple(ropes))
    ]


@maker
def finding(
    visit: Visit, rope: int | None, kind: str, keys: Mapping[str, Value]
) -> Tables:
    """Add a finding on the condition of a rope, or of the whole set."""
    if rope is not None:
        require_ropes(visit, [rope])
    return [table("finding", rope=rope, kind=kind, **keys)]


@maker
def facts(
    visit: Visit, of: Literal["lift", "set"], keys: Sequence[tuple[str, Value | None]]
) -> Tables:
    """Add what lift or set are, as far as something was said and the record lacks it.

    A key that stands there already is refused when the record is read with both.
    """
    del visit
    said = {key: value for key, value in keys if value}
    names = ", ".join(f"--{key.replace('_', '-')}" for key, _ in keys)
    require(said, f"nothing was said of the {of}, so nothing is added; say {names}")
    return [table(of, **said)]


@maker
def hitch(visit: Visit, new: new_record.NewHitch) -> Tables:
    """Add a hitch, or what is not known of one yet."""
    described = new_record.hitch_table(new)
    is_said = any(value for key, value in described.keys if key != "at")
    require(
        is_said or all(one.at is not new.at for one in visit.rope_set.hitches),
        f"the hitch {new.at.value} is described already; say more of it: --rows, "
        "--thread, --buffer, --rate, --free, --solid, --rod",
    )
    return [described]
