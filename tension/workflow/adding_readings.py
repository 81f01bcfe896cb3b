"""Readings added to a record: numbers, and recordings of a rope, a round or a side."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.files.evidence import RECORDING_SUFFIXES, hash_file
from tension.files.toml_text import NewTable
from tension.files.visit import Visit
from tension.installation import Hitch, Side
from tension.measurement.readings import Method, PluckReading, Series
from tension.quantity.units import Quantity
from tension.workflow import adding, inputs
from tension.workflow.adding import Tables, maker, reading
from tension.workflow.inputs import choose_series, require
from tension.workflow.typed_sheets import Sheet

MOST_APART = 2.0  # further apart, repeats of one rope are a slip of the pen [1]

# numbers


@maker
def readings(
    visit: Visit,
    kind: str,
    what: str,
    sheet: Sheet,
    keys: Mapping[str, Any],
    series: str | None = None,
) -> Tables:
    """Add readings by hand of one kind, a table for each rope with what was read.

    The keys are those that all of them share; springs are at the hitch named there, or
    at the one that can be meant.
    """
    named, hitch = choose_series(visit, series).name, None
    if kind == Method.SPRING:
        hitch = adding.choose_hitch(visit, keys["hitch"], series)
        keys = {"hitch": hitch.at.value}
    tables = []
    for rope, values in sheet.of(visit).items():
        _require_alike(rope, values)
        if hitch:
            _require_possible(rope, values, hitch)
        texts = tuple(value.text for value in values)
        typed = {what: texts if len(texts) > 1 else texts[0]}
        tables.append(reading(named, kind, rope, **{**keys, **typed}))
    return tables


@maker
def free_lengths(visit: Visit, sheet: Sheet, span: str = "") -> Tables:
    """Add free lengths that the record lacks, of the last span if none is named."""
    name = span or choose_series(visit).span
    return [
        adding.free_length(rope, name, values[0].text)
        for rope, values in sheet.of(visit).items()
    ]


def _require_alike(rope: int, values: Sequence[Quantity]) -> None:
    """Refuse repeats that can only be a slip of the pen."""
    sizes = [abs(value.value) for value in values]
    texts = ", ".join(value.text for value in values)
    require(
        max(sizes) <= MOST_APART * min(sizes),
        f"rope {rope}: {texts} are too far apart for repeats of one reading; check the "
        "numbers",
    )


def _require_possible(rope: int, lengths: Sequence[Quantity], hitch: Hitch) -> None:
    """Refuse a spring longer than without load, or shorter than solid."""
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    for length in lengths:
        told = f"rope {rope}: {length.text} is"
        if free and length.value > free.value:
            raise FileFormatError(
                f"{told} longer than the spring without load ({free.text}); check both"
            )
        if solid and length.value < solid.value:
            raise FileFormatError(
                f"{told} shorter than the spring with its coils touching "
                f"({solid.text}); check both"
            )


# recordings


@dataclass(frozen=True, kw_only=True, slots=True)
class NewSpan:
    """Another stretch of rope."""

    side: Side
    position: str
    free_lengths: Sequence[str]  # none, one for all ropes, or one each

    @property
    def name(self) -> str:
        """Its name in the record."""
        return adding.span_name(self.position, self.side)


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundFiles:
    """A round over the set: a folder, files in rope order, or one memo."""

    paths: Sequence[Path]  # files or a folder; the new ones if there are none
    order: Sequence[int] = ()
    plucks_each: int | None = None


@maker
def repeat_of_rope(
    visit: Visit, rope: int, files: Sequence[Path], series: str | None = None
) -> Tables:
    """Add recordings of one rope; if none are named, the only new one."""
    adding.require_rope(visit, rope)
    named = choose_series(visit, series).name
    taken = files or [_only_new(visit)]
    return _plucks(visit, named, RoundFiles(paths=taken, order=[rope] * len(taken)))


@maker
def round_of_ropes(
    visit: Visit, files: RoundFiles, series: str | None = None
) -> Tables:
    """Add a round over the set to a series that is there."""
    named = choose_series(visit, series).name
    return _plucks(visit, named, files)


@maker
def new_series(
    visit: Visit,
    new: Series,
    files: RoundFiles,
    *,
    is_same: bool,
    span: NewSpan | None = None,
) -> Tables:
    """Add a series with its recordings, such as the set as left or the other side.

    What is not said of it is as in the series before if it is the same. The span is
    that of the last series if no other is described.
    """
    name = new.name
    require(
        all(one.name.casefold() != name.casefold() for one in visit.series),
        f'there is a series "{name}" already; for one more round of it: '
        f"tension add round FOLDER --series '{name}', else give --name",
    )
    before = visit.series[-1] if visit.series else None
    like = before if is_same else None
    keys = ("arrived", "load", "people", "fall", "neighbours")
    told = {key: getattr(new, key) or getattr(like, key, "") for key in keys}
    place = span.name if span else before.span if before else ""
    return [
        *(_span_tables(visit, span) if span else ()),
        adding.table("series", name=name, span=place, **told, taken=new.taken),
        *_plucks(visit, name, files),
    ]


def _span_tables(visit: Visit, span: NewSpan) -> Iterator[NewTable]:
    """Another stretch of rope; and a table for each rope if the lengths differ."""
    require(
        all(one.name != span.name for one in visit.rope_set.spans),
        f'there is a span "{span.name}" already; give another --position',
    )
    n_ropes, lengths = visit.rope_set.n_ropes, span.free_lengths
    require(
        len(lengths) in {0, 1, n_ropes},
        f"{len(lengths)} free lengths for {n_ropes} ropes; give one, or one each",
    )
    yield adding.table(
        "span",
        name=span.name,
        side=span.side.value,
        position=span.position,
        free_length=lengths[0] if len(lengths) == 1 else "",
    )
    for rope, length in enumerate(lengths if len(lengths) > 1 else (), start=1):
        yield adding.free_length(rope, span.name, length)


def _plucks(visit: Visit, series: str, given: RoundFiles) -> list[NewTable]:
    """A reading for each file, none of them twice."""
    folder, n_ropes = inputs.folder_of(visit), visit.rope_set.n_ropes
    files = _files_meant(visit, given.paths)
    ropes = adding.ropes_of_files(len(files), n_ropes, given.order)
    tables = []
    known = {one.recording: one for one in inputs.plucks_of(visit)}
    for file, plucked in zip(files, ropes, strict=True):
        name = inputs.name_in_record(inputs.place_of(folder, file), folder)
        _require_new(name, known, folder)
        known[name] = PluckReading(series=series, recording=name, ropes=plucked)
        tables.append(adding.pluck(series, name, plucked, given.plucks_each))
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
        require(
            not inputs.has_same_bytes(folder / other, content),
            f"{name} is the same file as {other}, which is {_whose(one)}; nothing was "
            "added, copy the right one",
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
    require(
        new,
        f"there are no {n_ropes} new sound files in a folder; name the folder or files",
    )
    shown = ", ".join(sound.folder or "this one" for sound in new)
    require(len(new) == 1, f"which folder? New recordings are in {shown}; name one")
    return tuple(folder / name for name in new[0].names)


def _only_new(visit: Visit) -> Path:
    """The only sound file that no reading names."""
    new = inputs.unnamed_files(visit)
    require(new, "there is no new sound file beside the record; name one")
    several = f"which recording? New are {', '.join(new[:6])}; name one"
    require(len(new) == 1, several)
    return inputs.folder_of(visit) / new[0]
