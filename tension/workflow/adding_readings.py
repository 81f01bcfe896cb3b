"""Readings added to a record: numbers off a sheet, recordings of a rope or a round."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError, InvalidValueError
from tension.files.evidence import RECORDING_SUFFIXES, hash_file
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Hitch
from tension.measurement.readings import Method, PluckReading
from tension.quantity.units import Dimension, Quantity, parse_quantity, read_typed_list
from tension.workflow import adding, inputs
from tension.workflow.adding import Tables
from tension.workflow.inputs import choose_series, require

MOST_APART = 2.0  # further apart, repeats of one rope are a slip of the pen [1]

Sheet = Mapping[int, tuple[Quantity, ...]]
"""What was read on some ropes, by their numbers; of all in order it is that of 0."""

_LINE = re.compile(
    r"\s*(?:(?:rope\s*)?(?P<number>[0-9]+)\s*[:=)]|rope\s+(?P<named>[0-9]+)\s)\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_PAIR = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*/\s*([0-9]+(?:[.,][0-9]+)?)")


class UnitMissingError(InvalidValueError):
    """Numbers without any unit: which one is meant is to be asked.

    Attributes
    ----------
    first : str
        The first of the numbers.
    dimension : Dimension
        What they measure.
    """

    def __init__(self, text: str, first: str, dimension: Dimension) -> None:
        units = dimension.offered
        super().__init__(
            f'"{text[:40]}" has no unit; write it once, at the end of the line: {units}'
        )
        self.first, self.dimension = first, dimension


def read_sheet(text: str, dimension: Dimension) -> Sheet:
    """Read lines such as "2: 38, 37.5 lbf", or one line for all ropes in order.

    Empty lines and those that begin with "#" count for nothing; a unit that stands in
    one line only serves the others too.

    Raises
    ------
    InvalidValueError
        If a line cannot be read, or one names its rope and another does not.
    UnitMissingError
        If no number has a unit.
    """
    parts = [part.strip() for part in re.split(r"[;\n]", text)]
    parts = [part for part in parts if part[:1] not in {"", "#"}]
    nothing = "nothing was typed; write a line such as 2: 38 lbf"
    require(parts, nothing, InvalidValueError)
    found = [_LINE.fullmatch(part) for part in parts]
    texts = [
        one["rest"] if one else part for part, one in zip(parts, found, strict=True)
    ]
    unit = _last_unit(texts, dimension)
    sheet: dict[int, tuple[Quantity, ...]] = {}
    for written, one in zip(texts, found, strict=True):
        if one is None and any(found):
            raise InvalidValueError(
                f'"{written[:40]}" names no rope; begin each line with it, like 2: 38'
            )
        rope = int(one["number"] or one["named"]) if one else 0
        twice = f"rope {rope} has two lines; write its repeats into one"
        require(not rope or rope not in sheet, twice, InvalidValueError)
        sheet[rope] = sheet.get(rope, ()) + read_values(written, dimension, unit)
    return sheet


def read_values(
    text: str, dimension: Dimension, unit: str = ""
) -> tuple[Quantity, ...]:
    """Read the quantities of one line; the unit is that of numbers that have none.

    Raises
    ------
    InvalidValueError
        If it holds something else, or no number.
    UnitMissingError
        If no number but nought has a unit and none is given.
    """
    texts, lacks_unit = read_typed_list(text, dimension, unit)
    none = "a line has no number; write it like 2: 38 lbf"
    require(texts, none, InvalidValueError)
    is_nought = not any(one.strip(" +-0.,") for one in texts)
    if lacks_unit and not unit and not is_nought:
        raise UnitMissingError(text, texts[0], dimension)
    return tuple(parse_quantity(one, dimension) for one in texts)


def _last_unit(texts: Sequence[str], dimension: Dimension) -> str:
    """The last unit that stands in lines."""
    for text in reversed(texts):
        typed, lacks_unit = read_typed_list(text, dimension)
        if typed and not lacks_unit:
            unit = re.search(r"([A-Za-z/\"'′″%]+)$", typed[-1])
            return unit[1] if unit else ""
    return ""


def read_pairs(text: str) -> list[tuple[Quantity, ...]]:
    """Read pairs of lengths in rope order, such as "22/14 26/11 mm".

    Raises
    ------
    InvalidValueError
        If they are no pairs.
    UnitMissingError
        If there is no unit; one serves for all.
    """
    pairs = _PAIR.findall(text)
    units = [word for word in re.split(r"[\s,;]+", _PAIR.sub(" ", text)) if word]
    require(
        pairs and len(set(units)) <= 1,
        f'"{text[:40]}" is no list of pairs; write towards the plate / away for each '
        "rope, like 22/14 26/11 mm",
        InvalidValueError,
    )
    if not units:
        raise UnitMissingError(text, pairs[0][0], Dimension.LENGTH)
    return [read_values(" ".join(pair), Dimension.LENGTH, units[0]) for pair in pairs]


def _of_ropes(sheet: Sheet, visit: Visit) -> Sheet:
    """What was read, by rope, however it was typed."""
    if 0 not in sheet:
        return sheet
    n_ropes, in_order = visit.rope_set.n_ropes, sheet[0]
    require(
        len(in_order) == n_ropes,
        f"{len(in_order)} numbers for {n_ropes} ropes; give one for each in the order "
        'of the ropes, or say which: "2: ..."',
    )
    return {rope: (one,) for rope, one in enumerate(in_order, start=1)}


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
    for rope, values in _of_ropes(sheet, visit).items():
        texts = tuple(value.text for value in values)
        sizes = [abs(value.value) for value in values]
        require(
            max(sizes) <= MOST_APART * min(sizes),
            f"rope {rope}: {', '.join(texts)} are too far apart for repeats of one "
            "reading; check the numbers",
        )
        if hitch:
            _require_possible(rope, values, hitch)
        typed = {what: texts if len(texts) > 1 else texts[0]}
        own = {"series": named, "kind": kind, "rope": rope, **keys, **typed}
        tables.append(NewTable(name="reading", keys=own))
    return tables


def free_lengths(visit: Visit, sheet: Sheet, span: str = "") -> Tables:
    """Add free lengths that the record lacks, of the last span if none is named."""
    name = span or choose_series(visit).span
    return [
        adding.table("rope", number=rope, free_lengths={name: values[0].text})
        for rope, values in _of_ropes(sheet, visit).items()
    ]


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
class RoundFiles:
    """A round over the set: a folder, files in rope order, or one memo."""

    paths: Sequence[Path]  # files or a folder; the new ones if there are none
    order: Sequence[int] = ()
    plucks_each: int | None = None


def repeat_of_rope(
    visit: Visit, rope: int, files: Sequence[Path], series: str | None = None
) -> Tables:
    """Add recordings of one rope; if none are named, the only new one."""
    named = choose_series(visit, series).name
    taken = list(files)
    if not taken:
        new = inputs.unnamed_files(visit)
        require(new, "there is no new sound file beside the record; name one")
        several = f"which recording? New are {', '.join(new[:6])}; name one"
        require(len(new) == 1, several)
        taken = [inputs.folder_of(visit) / new[0]]
    return _plucks(visit, named, RoundFiles(paths=taken, order=[rope] * len(taken)))


def round_of_ropes(
    visit: Visit, files: RoundFiles, series: str | None = None
) -> Tables:
    """Add a round over the set to a series that is there."""
    return _plucks(visit, choose_series(visit, series).name, files)


def new_series(
    visit: Visit, name: str, said: Mapping[str, Value], files: RoundFiles
) -> Tables:
    """Add a series with its recordings, such as the set as left or the other side.

    It is on the span of the last one, if no other is said.
    """
    require(
        all(one.name.casefold() != name.casefold() for one in visit.series),
        f'there is a series "{name}" already; for one more round of it: '
        f"tension add round FOLDER --series '{name}', else give --name",
    )
    like = {"span": visit.series[-1].span} if visit.series else {}
    series = adding.table("series", name=name, **{**like, **said})
    return [series, *_plucks(visit, name, files)]


def new_span(
    visit: Visit, keys: Mapping[str, Value], lengths: Sheet
) -> Iterator[NewTable]:
    """Add a stretch of rope; free lengths are none, one for all ropes, or one each."""
    one, *others = lengths.get(0, (None,))
    n_ropes = visit.rope_set.n_ropes
    require(
        len(others) in {0, n_ropes - 1},
        f"{len(others) + 1} free lengths for {n_ropes} ropes; give one, or one each",
    )
    length = one.text if one and not others else ""
    yield adding.table("span", **keys, free_length=length)
    if others:
        yield from free_lengths(visit, lengths, str(keys["name"]))


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
