"""Recordings added to a record: a repeat of a rope, a round, another series or side."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.additions import Maker
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Side
from tension.measurement.readings import PluckReading, Series
from tension.workflow.adding import chosen_series, require_ropes
from tension.workflow.inputs import in_rope_order, ropes_of_files
from tension.workflow.new_sound import find_new_sound
from tension.workflow.record_files import (
    fingerprint,
    folder_of,
    name_in_record,
    place_of,
    places_of,
)
from tension.workflow.unnamed import unnamed_files

AS_LEFT = "as left"


@dataclass(frozen=True, kw_only=True, slots=True)
class Conditions:
    """Under what a series was read.

    Attributes
    ----------
    is_same : bool
        Whether all that is not said here is as in the series before.
    arrived, taken, load, people, fall, neighbours : str
        As typed; empty if not said.
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
    """Another stretch of rope.

    Attributes
    ----------
    name : str
        Its name.
    side : Side
        Side of the drive sheave.
    position : str
        Where the car stands.
    free_lengths : tuple of str
        None, one for all ropes, or one per rope, as typed with the unit.
    """

    name: str
    side: Side
    position: str = ""
    free_lengths: tuple[str, ...] = ()


def repeat_of_rope(rope: int, files: Sequence[Path], series: str = "") -> Maker:
    """Add recordings of one rope.

    Parameters
    ----------
    rope : int
        Rope number.
    files : sequence of Path
        The recordings; if none, the only new one beside the record is taken.
    series : str, optional
        Which series; the last if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        require_ropes(visit, [rope])
        named = chosen_series(visit, series).name
        taken = files or [_only_new(visit)]
        ropes = [(rope,) for _ in taken]
        return _plucks(visit, named, taken, ropes, plucks_each=None)

    return make


def round_of_ropes(
    paths: Sequence[Path],
    *,
    order: Sequence[int] = (),
    plucks_each: int | None = None,
    series: str = "",
) -> Maker:
    """Add a round over the set to a series that is there.

    Parameters
    ----------
    paths : sequence of Path
        A folder, or the files in rope order, or one memo; the new ones if there are
        none.
    order : sequence of int, optional
        Ropes in the order plucked.
    plucks_each : int, optional
        Plucks of each rope in a memo. [1]
    series : str, optional
        Which series; the last if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        named = chosen_series(visit, series).name
        files = _round_files(visit, paths)
        ropes = ropes_of_round(len(files), visit.rope_set.n_ropes, order)
        return _plucks(visit, named, files, ropes, plucks_each)

    return make


def new_series(
    name: str,
    paths: Sequence[Path],
    conditions: Conditions,
    *,
    order: Sequence[int] = (),
    plucks_each: int | None = None,
    span: NewSpan | None = None,
) -> Maker:
    """Add a series with its recordings, such as the set as left or the other side.

    Parameters
    ----------
    name : str
        Its name.
    paths : sequence of Path
        A folder, or the files in rope order, or one memo; the new ones if there are
        none.
    conditions : Conditions
        Under what it was read.
    order : sequence of int, optional
        Ropes in the order plucked.
    plucks_each : int, optional
        Plucks of each rope in a memo. [1]
    span : NewSpan, optional
        Another stretch of rope; that of the last series if left out.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        if any(one.name.casefold() == name.casefold() for one in visit.series):
            raise FileFormatError(
                f'there is a series "{name}" already; for one more round of it: '
                f"tension add round FOLDER --series '{name}', else give --name"
            )
        before = visit.series[-1] if visit.series else None
        files = _round_files(visit, paths)
        ropes = ropes_of_round(len(files), visit.rope_set.n_ropes, order)
        span_name = span.name if span else before.span if before else ""
        return [
            *(span_tables(visit, span) if span else ()),
            _series_table(name, span_name, before, conditions),
            *_plucks(visit, name, files, ropes, plucks_each),
        ]

    return make


def span_tables(visit: Visit, span: NewSpan) -> list[NewTable]:
    """Write another stretch of rope, and the length of each rope on it.

    Returns
    -------
    list of NewTable
        A span; and one table for each rope if the lengths differ.

    Raises
    ------
    FileFormatError
        If it is there already, or the number of lengths does not fit.
    """
    if any(one.name == span.name for one in visit.rope_set.spans):
        raise FileFormatError(
            f'there is a span "{span.name}" already; give another --position'
        )
    n_ropes, lengths = visit.rope_set.n_ropes, span.free_lengths
    if len(lengths) not in {0, 1, n_ropes}:
        raise FileFormatError(
            f"{len(lengths)} free lengths for {n_ropes} ropes; give one, or one each"
        )
    one = lengths[0] if len(lengths) == 1 else ""
    keys = (("name", span.name), ("side", span.side.value), ("position", span.position))
    tables = [NewTable(name="span", keys=(*keys, ("free_length", one)))]
    return tables + length_tables(span.name, lengths if len(lengths) > 1 else ())


def length_tables(span_name: str, lengths: Sequence[str]) -> list[NewTable]:
    """Write a free length for each rope.

    Parameters
    ----------
    span_name : str
        The span they belong to.
    lengths : sequence of str
        From rope 1 up.
    """
    return [
        NewTable(
            name="rope",
            keys=(("number", number), ("free_lengths", {span_name: length})),
        )
        for number, length in enumerate(lengths, start=1)
    ]


def ropes_of_round(
    n_files: int, n_ropes: int, order: Sequence[int]
) -> list[tuple[int, ...]]:
    """Tell which ropes were plucked in each file of a round.

    Parameters
    ----------
    n_files, n_ropes : int
        Files there are, ropes of the set. [1]
    order : sequence of int
        Ropes in the order plucked, if told.

    Raises
    ------
    FileFormatError
        If it cannot be known which file is of which rope.
    """
    if order:
        if n_files not in {1, len(order)}:
            raise FileFormatError(
                f"{n_files} files and an order of {len(order)} ropes; give one rope "
                "for each file"
            )
        return ropes_of_files(n_files, order)
    if n_files == n_ropes:
        return ropes_of_files(n_files, ())
    example = " ".join(str(1 + i % n_ropes) for i in range(max(n_files, n_ropes)))
    raise FileFormatError(
        f"{n_files} sound file{'s' * (n_files != 1)} for {n_ropes} ropes; say which "
        f'rope each is of, or the order plucked in a memo: --order "{example}"'
    )


def _series_table(
    name: str, span_name: str, before: Series | None, said: Conditions
) -> NewTable:
    """Write a series; what is not said is as before if that was said."""
    keys: list[tuple[str, Value | None]] = [("name", name), ("span", span_name)]
    for key in ("arrived", "load", "people", "fall", "neighbours"):
        as_before = getattr(before, key) if before and said.is_same else ""
        keys.append((key, getattr(said, key) or as_before))
    return NewTable(name="series", keys=(*keys, ("taken", said.taken)))


def _plucks(
    visit: Visit,
    series: str,
    files: Sequence[Path],
    ropes: Sequence[tuple[int, ...]],
    plucks_each: int | None,
) -> list[NewTable]:
    """Write a reading for each file, none of them twice."""
    folder = folder_of(visit)
    tables = []
    known = {r.recording: r for r in visit.readings if isinstance(r, PluckReading)}
    for file, plucked in zip(files, ropes, strict=True):
        require_ropes(visit, sorted(set(plucked)))
        name = name_in_record(place_of(folder, file), folder)
        _require_new(name, known, folder)
        reading = PluckReading(series=series, recording=name, ropes=plucked)
        known[name] = reading
        one = plucked[0] if len(plucked) == 1 else None
        tables.append(
            NewTable(
                name="reading",
                keys=(
                    ("series", series),
                    ("kind", "pluck"),
                    ("rope", one),
                    ("recording", name),
                    ("ropes", plucked if one is None else ()),
                    ("plucks_each", plucks_each),
                ),
            )
        )
    return tables


def _require_new(name: str, known: dict[str, PluckReading], folder: Path) -> None:
    """Refuse a file that a reading names already, or the same bytes under a name."""
    if name in known:
        ropes = ", ".join(map(str, dict.fromkeys(known[name].ropes)))
        raise FileFormatError(
            f'{name} is in the record already, of rope {ropes} in "'
            f'{known[name].series}"; nothing was added'
        )
    content = fingerprint(folder / name)
    for other, reading in known.items():
        if content is not None and content == fingerprint(folder / other):
            ropes = ", ".join(map(str, dict.fromkeys(reading.ropes)))
            raise FileFormatError(
                f"{name} is the same file as {other}, which is of rope {ropes} in "
                f'"{reading.series}"; nothing was added, copy the right one'
            )


def _round_files(visit: Visit, paths: Sequence[Path]) -> tuple[Path, ...]:
    """The files of a round: as given, or the new ones if they can be meant."""
    if paths:
        return in_rope_order(places_of(visit, paths))
    n_ropes = visit.rope_set.n_ropes
    new = [sound for sound in find_new_sound(visit) if len(sound.names) == n_ropes]
    if len(new) == 1:
        return tuple(folder_of(visit) / name for name in new[0].names)
    if new:
        shown = ", ".join(sound.folder or "this one" for sound in new)
        raise FileFormatError(f"which folder? New recordings are in {shown}; name one")
    raise FileFormatError(
        f"there are no {n_ropes} new sound files in a folder; name the folder or files"
    )


def _only_new(visit: Visit) -> Path:
    """The only sound file that no reading names."""
    new = unnamed_files(visit)
    if len(new) == 1:
        return folder_of(visit) / new[0]
    if new:
        shown = ", ".join(new[:6])
        raise FileFormatError(f"which recording? New are {shown}; name one")
    raise FileFormatError("there is no new sound file beside the record; name one")
