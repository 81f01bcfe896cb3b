"""Recordings added to a record: a repeat of a rope, a round, another series or side."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import RECORDING_SUFFIXES, hash_file
from tension.files.toml_text import NewTable
from tension.files.visit import Visit
from tension.installation import Side
from tension.measurement.readings import PluckReading
from tension.workflow import inputs
from tension.workflow.adding import (
    Tables,
    chosen_series,
    free_length,
    maker,
    reading,
    require_ropes,
    table,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Conditions:
    """Under what a series was read, as typed; empty if not said.

    All that is not said may be as in the series before.
    """

    is_same: bool = False
    arrived: str = ""
    taken: str = ""
    load: str = ""
    people: str = ""
    fall: str = ""
    neighbours: str = ""

    @property
    def is_said(self) -> bool:
        """Whether anything is said of load, people or arrival."""
        return self.is_same or bool(self.arrived or self.load or self.people)


@dataclass(frozen=True, kw_only=True, slots=True)
class NewSpan:
    """Another stretch of rope; free lengths none, one for all ropes, or one each."""

    name: str
    side: Side
    position: str = ""
    free_lengths: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundFiles:
    """Recordings of a round over the set.

    A folder, or files in rope order, or one memo; the new ones if there are none. The
    order of the ropes, if told, and how many plucks of each [1].
    """

    paths: Sequence[Path]
    order: Sequence[int] = ()
    plucks_each: int | None = None


@maker
def repeat_of_rope(
    visit: Visit, rope: int, files: Sequence[Path], series: str = ""
) -> Tables:
    """Add recordings of one rope; if none are named, the only new one."""
    require_ropes(visit, [rope])
    named = chosen_series(visit, series).name
    taken = files or [_only_new(visit)]
    return _plucks(visit, named, taken, [(rope,)] * len(taken))


@maker
def round_of_ropes(visit: Visit, files: RoundFiles, series: str = "") -> Tables:
    """Add a round over the set to a series that is there."""
    named = chosen_series(visit, series).name
    return _plucks(visit, named, *_round(visit, files), files.plucks_each)


@maker
def new_series(
    visit: Visit,
    name: str,
    files: RoundFiles,
    conditions: Conditions,
    span: NewSpan | None = None,
) -> Tables:
    """Add a series with its recordings, such as the set as left or the other side.

    The span is that of the last series if no other is described.

    Raises
    ------
    FileFormatError
        If there is a series of that name, or anything does not fit the record.
    """
    if any(one.name.casefold() == name.casefold() for one in visit.series):
        raise FileFormatError(
            f'there is a series "{name}" already; for one more round of it: '
            f"tension add round FOLDER --series '{name}', else give --name"
        )
    before = visit.series[-1] if visit.series else None
    like = before if conditions.is_same else None
    keys = ("arrived", "load", "people", "fall", "neighbours")
    told = {key: getattr(conditions, key) or getattr(like, key, "") for key in keys}
    found, ropes = _round(visit, files)
    place = span.name if span else before.span if before else ""
    return [
        *(_span_tables(visit, span) if span else ()),
        table("series", name=name, span=place, **told, taken=conditions.taken),
        *_plucks(visit, name, found, ropes, files.plucks_each),
    ]


def _span_tables(visit: Visit, span: NewSpan) -> Iterator[NewTable]:
    """Another stretch of rope; and a table for each rope if the lengths differ."""
    if any(one.name == span.name for one in visit.rope_set.spans):
        raise FileFormatError(
            f'there is a span "{span.name}" already; give another --position'
        )
    n_ropes, lengths = visit.rope_set.n_ropes, span.free_lengths
    if len(lengths) not in {0, 1, n_ropes}:
        raise FileFormatError(
            f"{len(lengths)} free lengths for {n_ropes} ropes; give one, or one each"
        )
    yield table(
        "span",
        name=span.name,
        side=span.side.value,
        position=span.position,
        free_length=lengths[0] if len(lengths) == 1 else "",
    )
    for rope, length in enumerate(lengths if len(lengths) > 1 else (), start=1):
        yield free_length(rope, span.name, length)


def _round(
    visit: Visit, given: RoundFiles
) -> tuple[tuple[Path, ...], list[tuple[int, ...]]]:
    """The files of a round and which ropes were plucked in each, if that is known."""
    files, order = _files_meant(visit, given.paths), given.order
    n_files, n_ropes = len(files), visit.rope_set.n_ropes
    if order and n_files not in {1, len(order)}:
        raise FileFormatError(
            f"{n_files} files and an order of {len(order)} ropes; give one rope for "
            "each file"
        )
    if not order and n_files != n_ropes:
        example = " ".join(str(1 + i % n_ropes) for i in range(max(n_files, n_ropes)))
        raise FileFormatError(
            f"{n_files} sound file{'s' * (n_files != 1)} for {n_ropes} ropes; say "
            "which rope each is of, or the order plucked in a memo: "
            f'--order "{example}"'
        )
    return files, inputs.ropes_of_files(n_files, order)


def _plucks(
    visit: Visit,
    series: str,
    files: Sequence[Path],
    ropes: Sequence[tuple[int, ...]],
    plucks_each: int | None = None,
) -> list[NewTable]:
    """A reading for each file, none of them twice."""
    folder = inputs.folder_of(visit)
    tables = []
    known = {one.recording: one for one in inputs.plucks_of(visit)}
    for file, plucked in zip(files, ropes, strict=True):
        require_ropes(visit, sorted(set(plucked)))
        name = inputs.name_in_record(inputs.place_of(folder, file), folder)
        _require_new(name, known, folder)
        known[name] = PluckReading(series=series, recording=name, ropes=plucked)
        is_one = len(plucked) == 1
        tables.append(
            reading(
                series,
                "pluck",
                plucked[0] if is_one else None,
                recording=name,
                ropes=() if is_one else plucked,
                plucks_each=plucks_each,
            )
        )
    return tables


def _require_new(name: str, known: Mapping[str, PluckReading], folder: Path) -> None:
    """Refuse a file that a reading names already, or the same bytes under a name."""
    if name in known:
        raise FileFormatError(
            f"{name} is in the record already, {_whose(known[name])}; nothing was added"
        )
    _require_sound(folder / name, name)
    try:
        content = hash_file(folder / name)
    except OSError:
        return
    for other, one in known.items():
        if inputs.has_same_bytes(folder / other, content):
            raise FileFormatError(
                f"{name} is the same file as {other}, which is {_whose(one)}; nothing "
                "was added, copy the right one"
            )


def _whose(one: PluckReading) -> str:
    """Of which ropes and series a recording is."""
    ropes = ", ".join(map(str, dict.fromkeys(one.ropes)))
    return f'of rope {ropes} in "{one.series}"'


def _require_sound(path: Path, name: str) -> None:
    """Refuse a file that neither its name nor what it holds shows to be sound."""
    if path.suffix.lower() in {*RECORDING_SUFFIXES, ".csv"}:
        return
    from tension.files.sound import read_recording

    refusal = read_recording(path, name=name).refusal
    if refusal is not None:
        raise FileFormatError(f"nothing was added: {refusal.text} {refusal.next_act}")


def _files_meant(visit: Visit, paths: Sequence[Path]) -> tuple[Path, ...]:
    """Files as given, or the new ones if they can be meant."""
    folder, n_ropes = inputs.folder_of(visit), visit.rope_set.n_ropes
    if paths:
        return inputs.in_rope_order([inputs.place_of(folder, path) for path in paths])
    found = inputs.find_new_sound(visit)
    new = [sound for sound in found if len(sound.names) == n_ropes]
    if len(new) == 1:
        return tuple(folder / name for name in new[0].names)
    if new:
        shown = ", ".join(sound.folder or "this one" for sound in new)
        raise FileFormatError(f"which folder? New recordings are in {shown}; name one")
    raise FileFormatError(
        f"there are no {n_ropes} new sound files in a folder; name the folder or files"
    )


def _only_new(visit: Visit) -> Path:
    """The only sound file that no reading names."""
    new = inputs.unnamed_files(visit)
    if len(new) == 1:
        return inputs.folder_of(visit) / new[0]
    if new:
        shown = ", ".join(new[:6])
        raise FileFormatError(f"which recording? New are {shown}; name one")
    raise FileFormatError("there is no new sound file beside the record; name one")
