"""Work added to a record: turns, runs, what is left out, what was seen."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from tension.adjustment.turns import TypedTurn
from tension.errors import FileFormatError
from tension.files.additions import Maker
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Hitch
from tension.measurement.readings import PluckReading
from tension.notes import NoteKind
from tension.workflow.adding import Where, chosen_hitch, chosen_series, require_ropes
from tension.workflow.record_files import folder_of, name_in_record

MOST_TURNS = 60.0
"""More turns of one nut between two rounds are a slip of the pen. [turns]"""


def turns(
    typed: Sequence[TypedTurn],
    where: Where,
    *,
    round_trips: int | None = None,
    is_again: bool = False,
) -> Maker:
    """Add turns of nuts.

    Parameters
    ----------
    typed : sequence of TypedTurn
        What was done at each nut.
    where : Where
        After which series, at which hitch.
    round_trips : int, optional
        Round trips the car ran since; to be told later if left out. [1]
    is_again : bool, optional
        Whether the same turns as those that stand there were made once more.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        series, hitch = chosen_series(visit, where.series), chosen_hitch(visit, where)
        require_ropes(visit, [turn.rope for turn in typed])
        earlier = [t for t in visit.turns if t.after == series.name]
        if round_trips is None and any(t.round_trips_after for t in earlier):
            raise FileFormatError(
                f'the car ran after turns that followed "{series.name}"; measure first '
                "(tension add left FOLDER), or say how many round trips came after "
                "these turns: --run 6"
            )
        there = {(t.rope, t.hitch, t.turns.value) for t in earlier}
        if {(t.rope, hitch.at, t.turns) for t in typed} <= there and not is_again:
            raise FileFormatError(
                f'the same turns after "{series.name}" are in the record already; if '
                "they were made once more, give --again"
            )
        for turn in typed:
            _require_room(turn, visit, hitch)
        return [
            NewTable(
                name="turn",
                keys=(
                    ("after", series.name),
                    ("hitch", hitch.at.value),
                    ("rope", turn.rope),
                    ("turns", turn.text),
                    ("round_trips_after", round_trips),
                ),
            )
            for turn in typed
        ]

    return make


def _require_room(turn: TypedTurn, visit: Visit, hitch: Hitch) -> None:
    """Refuse more turns than the thread that was left allows."""
    if abs(turn.turns) > MOST_TURNS:
        raise FileFormatError(
            f"rope {turn.rope}: {abs(turn.turns):g} turns of one nut; check the number"
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
    if abs(travel) > left.value and travel * turn.turns > 0:
        way = "towards the plate" if turn.turns > 0 else "away from the plate"
        raise FileFormatError(
            f"rope {turn.rope}: {abs(travel) * 1e3:.3g} mm {way} in all, and "
            f"{left.text} of thread were left; check the turns and the way"
        )


def run(round_trips: int, series: str = "") -> Maker:
    """Add round trips of the car after turns.

    Parameters
    ----------
    round_trips : int
        How many. [1]
    series : str, optional
        After which series the nuts were turned; the last if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        after = chosen_series(visit, series).name
        if not any(turn.after == after for turn in visit.turns):
            raise FileFormatError(
                f'no nut was turned after "{after}"; first: tension add turns '
                '"2 in 4 1/2, 5 out 4"'
            )
        keys = (("after", after), ("round_trips", round_trips))
        return [NewTable(name="run", keys=keys)]

    return make


def exclusion(
    what: str, reason: str, *, pluck: int | None = None, by: str = "", series: str = ""
) -> Maker:
    """Leave readings out, and say why.

    Parameters
    ----------
    what : str
        A rope number, or a recording that the record names.
    reason : str
        Why.
    pluck : int, optional
        Which pluck of the recording, from 1 up; all if left out.
    by : str, optional
        Who decided.
    series : str, optional
        Which series; of a rope the last if empty, of a recording its own.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        number = what.lower().removeprefix("rope").strip()
        rope = int(number) if number.isdigit() else None
        if rope is not None:
            require_ropes(visit, [rope])
            named, recording = chosen_series(visit, series).name, ""
        else:
            reading = _reading_of(visit, what)
            named, recording = reading.series, reading.recording
        keys: tuple[tuple[str, Value | None], ...] = (
            ("series", named),
            ("rope", rope),
            ("recording", recording),
            ("pluck", pluck),
            ("reason", reason),
            ("by", by),
        )
        _require_not_out(visit, named, rope, recording, pluck)
        return [NewTable(name="exclusion", keys=keys)]

    return make


def _reading_of(visit: Visit, what: str) -> PluckReading:
    """The reading of a recording, named as in the record or from here."""
    folder = folder_of(visit)
    names = {what}
    if Path(what).exists():
        names.add(name_in_record(Path(what), folder))
    plucks = [r for r in visit.readings if isinstance(r, PluckReading)]
    for reading in plucks:
        if reading.recording in names:
            return reading
    there = ", ".join(reading.recording for reading in plucks[:6])
    raise FileFormatError(
        f'no reading names "{what}"; give a rope number, or a recording'
        + (f" such as {there}" if there else "")
    )


def _require_not_out(
    visit: Visit, series: str, rope: int | None, recording: str, pluck: int | None
) -> None:
    """Refuse to leave out again what is left out."""
    for one in visit.exclusions:
        same = (one.series, one.rope, one.recording, one.pluck)
        if same == (series, rope, recording, pluck):
            raise FileFormatError(
                f"{recording or f'rope {rope}'} is left out already: {one.reason}"
            )


def looked(
    note: str, answer: str, ropes: Sequence[int], *, by: str = "", date: str = ""
) -> Maker:
    """Answer a note of the program, such as one that asks to look.

    Parameters
    ----------
    note : str
        Number or code of the note.
    answer : str
        What was seen.
    ropes : sequence of int
        Ropes concerned; the whole set if empty.
    by, date : str, optional
        Who looked, and when.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        require_ropes(visit, ropes)
        kinds = {str(kind.number): kind.code for kind in NoteKind}
        if note not in kinds and note not in kinds.values():
            raise FileFormatError(
                f'there is no note "{note}"; give the number that stands before the '
                "note, such as 320"
            )
        keys = (("note", note), ("answer", answer), ("by", by), ("date", date))
        return [NewTable(name="answer", keys=(*keys, ("ropes", tuple(ropes))))]

    return make


def finding(rope: int | None, kind: str, keys: Mapping[str, Value]) -> Maker:
    """Add a finding on the condition of a rope.

    Parameters
    ----------
    rope : int or None
        Rope number; None for the whole set.
    kind : str
        What was looked for.
    keys : mapping of str to Value
        Further keys of a finding, as a record has them.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        if rope is not None:
            require_ropes(visit, [rope])
        first = (("rope", rope), ("kind", kind))
        return [NewTable(name="finding", keys=(*first, *keys.items()))]

    return make
