"""Beginning a record and adding to it: what a person says becomes tables at its end.

What makes tables is a function of the visit, called while the record is held: it
refuses what the reader of the record would let pass, and gives them.
"""

import os
import secrets
import shutil
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from tension.adjustment.outcome import TypedTurn
from tension.adjustment.stiffness import opposite_hitch
from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import settle_folder
from tension.files.record import Addition, Maker, append_tables, write_new_record
from tension.files.seal import Correction
from tension.files.toml_text import NewTable, Value
from tension.files.visit import RECORD_NAME, Visit
from tension.installation import Buffer, Hitch, HitchEnd, HitchPlace, Side
from tension.notes import NoteKind
from tension.workflow import inputs
from tension.workflow.inputs import choose_series, require
from tension.workflow.integrity import add_correction

FIRST_SERIES = "as found"
_BEGUN = ("lift", "visit", "rule", "set", "span", "hitch", "rope", "series")
MOST_TURNS = 60.0  # more of one nut between two rounds are a slip of the pen [turns]

Tables = Sequence[NewTable]


# a record is begun


def require_new(folder: Path) -> None:
    """Refuse a folder that is not there or holds a record, before anything is asked."""
    record = folder / RECORD_NAME
    require(
        not record.exists(),
        f"{record}: this record exists and is never replaced; add readings to it, or "
        "name another folder",
        ExistingFileError,
    )
    require(folder.is_dir(), f"{folder}: there is no such folder; make it first")


def begin_record(
    folder: Path,
    said: Mapping[str, Any],
    recordings: Sequence[str],
    order: Sequence[int] = (),
    plucks_each: int | None = None,
    *,
    dry_run: bool = False,
) -> Visit:
    """Begin a record in a folder with what is said, or see whether it can be begun.

    It is said by table and key, such as "lift.travel"; of keys of a rope for each rope,
    but for one free length of all. "hitch.far" says "same" or "none" of the springs at
    the other end. An order of ropes is that of the recordings, or that in one memo.
    """
    told: dict[str, Any] = {of: {} for of in _BEGUN}
    for place, value in said.items():
        of, _, key = place.partition(".")
        if value:
            told[of][key] = value
    span, ropes, n_ropes = told["span"], told["rope"], told["set"]["ropes"]
    span["name"] = span_name(span.get("position", ""), span.get("side", Side.CAR))
    told["series"] |= {"name": FIRST_SERIES, "span": span["name"]}
    lengths = ropes.pop("free_lengths", ())
    if len(lengths) == 1:
        span["free_length"] = lengths[0]
    elif lengths:
        ropes["free_lengths"] = [one and {span["name"]: one} for one in lengths]
    if told["hitch"]:
        told["hitches"] = _hitches(**told["hitch"])
        is_dead_end = told["hitches"][0]["at"].startswith("dead-end")
        span["hitch_end"] = HitchEnd.UPPER if is_dead_end else HitchEnd.LOWER
    if ropes:
        told["ropes"] = [
            {"number": n, **{key: own[n - 1] for key, own in ropes.items()}}
            for n in range(1, n_ropes + 1)
        ]
    plucked = ropes_of_files(len(recordings), n_ropes, order)
    told["readings"] = [
        pluck(FIRST_SERIES, file, own, plucks_each if own[1:] else None).keys
        for file, own in zip(recordings, plucked, strict=True)
    ]
    return write_new_record(told, folder, dry_run=dry_run)


def _hitches(
    *,
    at: HitchPlace = HitchPlace.CAR,
    far: str = "",
    **keys: Any,  # noqa: ANN401 - any key of a hitch
) -> list[dict[str, Any]]:
    """The hitch that is worked at, and that at the other end where it is known."""
    hitches = [{"at": at, **keys}]
    if far == "same":
        hitches.append({**keys, "at": opposite_hitch(at), "rod_free": ""})
    elif far == "none":
        hitches.append({"at": opposite_hitch(at), "buffer": Buffer.NONE})
    return hitches


def ropes_of_files(
    n_files: int, n_ropes: int, order: Sequence[int]
) -> list[tuple[int, ...]]:
    """Tell which ropes were plucked in each file of a round, refused if unknown."""
    require(
        not order or n_files in {0, 1, len(order)},
        f"{n_files} files and an order of {len(order)} ropes; give one rope for each "
        "file",
    )
    example = " ".join(str(1 + i % n_ropes) for i in range(max(n_files, n_ropes)))
    require(
        order or n_files in {0, n_ropes},
        f"{n_files} sound file{'s' * (n_files != 1)} for {n_ropes} ropes; say which "
        f'rope each is of, or the order plucked in a memo: --order "{example}"',
    )
    return inputs.ropes_of_files(n_files, order)


def span_name(position: str, side: Side) -> str:
    """Name a span by where the car stands and the side."""
    return f"{position}, {side} side" if position else f"{side} side"


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
    correct = partial(add_correction, words=words) if words else None
    return append_tables(record, make, dry_run=dry_run, correct=correct)


def table(of: str, /, **keys: Value | None) -> NewTable:
    """Make a table; keys that are empty or None are left out when it is written."""
    return NewTable(name=of, keys=keys)


def pluck(
    series: str, recording: str, ropes: Sequence[int], plucks_each: int | None = None
) -> NewTable:
    """Make the table of a recording of one rope, or of several in the order plucked."""
    is_one = len(ropes) == 1
    return table(
        "reading",
        series=series,
        kind="pluck",
        rope=ropes[0] if is_one else None,
        recording=recording,
        ropes=() if is_one else tuple(ropes),
        plucks_each=plucks_each,
    )


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
    left = {
        rope.number: rope.take_up_left if turn.turns > 0 else rope.ease_left
        for rope in visit.rope_set.ropes
    }.get(turn.rope)
    if left is None or hitch.thread is None:
        return
    nut = (turn.rope, hitch.at)
    before = [t.turns.value for t in visit.turns if (t.rope, t.hitch) == nut]
    travel = (sum(before) + turn.turns) * hitch.thread.pitch
    way = "towards the plate" if turn.turns > 0 else "away from the plate"
    require(
        abs(travel) <= left.value or travel * turn.turns <= 0,
        f"rope {turn.rope}: {abs(travel) * 1e3:.3g} mm {way} in all, and "
        f"{left.text} of thread were left; check the turns and the way",
    )


def run(visit: Visit, round_trips: int, series: str | None = None) -> Tables:
    """Add round trips of the car after the turns that followed a series."""
    after = choose_series(visit, series).name
    require(
        any(turn.after == after for turn in visit.turns),
        f'no nut was turned after "{after}"; first: tension add turns '
        '"2 in 4 1/2, 5 out 4"',
    )
    return [table("run", after=after, round_trips=round_trips)]


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
    recording, named = "", series
    if rope is None:
        there = {one.recording: one.series for one in inputs.plucks_of(visit)}
        recording = what
        if what not in there and Path(what).is_file():
            recording = inputs.name_in_record(Path(what), inputs.folder_of(visit))
        such = f" such as {', '.join(list(there)[:6])}" if there else ""
        require(
            recording in there,
            f'no reading names "{what}"; give a rope number, or a recording{such}',
        )
        named = there[recording]
    named = choose_series(visit, named).name
    told = {"series": named, "rope": rope, "recording": recording, "pluck": pluck}
    for one in visit.exclusions:
        require(
            told != {key: getattr(one, key) for key in told},
            f"{recording or f'rope {rope}'} is left out already: {one.reason}",
        )
    return [table("exclusion", **told, reason=reason, by=by)]


def looked(
    visit: Visit,
    note: str,
    answer: str,
    ropes: Sequence[int] = (),
    *,
    by: str = "",
    date: str = "",
) -> Tables:
    """Answer a note by its number or code; of the whole set if no ropes are named."""
    n_ropes = visit.rope_set.n_ropes
    none = f"there is no rope {max(ropes, default=0)}; the set has ropes 1 to {n_ropes}"
    require(max(ropes, default=0) <= n_ropes, none)
    require(
        any(note in {str(kind.number), kind.code} for kind in NoteKind),
        f'there is no note "{note}"; give the number that stands before the note, '
        "such as 320",
    )
    each = tuple(dict.fromkeys(ropes))
    return [table("answer", note=note, answer=answer, by=by, date=date, ropes=each)]


def facts(
    visit: Visit, of: str, said: Mapping[str, Value], flags: Sequence[str]
) -> Tables:
    """Add what lift, set or a hitch is, as far as the record lacks it.

    A key that stands there already is refused when the record is read with both. What
    can be said are the flags.
    """
    is_new = "at" in said and all(h.at != said["at"] for h in visit.rope_set.hitches)
    nothing = f"nothing was said of the {of}, so nothing is added; say "
    require(is_new or said.keys() - {"at"}, nothing + ", ".join(flags))
    return [table(of, **said)]
