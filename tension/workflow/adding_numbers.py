"""Numbers added to a record: springs, side pulls, lengths, thread left, a hitch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tension.errors import FileFormatError
from tension.files.additions import Maker
from tension.files.new_record import NewHitch, hitch_table
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.installation import Hitch
from tension.measurement.readings import Hold
from tension.quantity.units import Quantity
from tension.workflow.adding import (
    Where,
    chosen_hitch,
    chosen_series,
    one_per_rope,
    require_ropes,
)
from tension.workflow.adding_recordings import length_tables

MOST_APART = 2.0
"""Repeats of one rope further apart than this factor are a slip of the pen. [1]"""

ByRope = Mapping[int, tuple[Quantity, ...]]
"""What was read on some ropes, by their numbers."""


def springs(typed: Sequence[Quantity] | ByRope, where: Where) -> Maker:
    """Add lengths of the springs under load.

    Parameters
    ----------
    typed : sequence of Quantity or mapping of int to tuple of Quantity
        One per rope from rope 1 up, or by rope. [m]
    where : Where
        Series and hitch.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        series, hitch = chosen_series(visit, where.series), chosen_hitch(visit, where)
        lengths = _by_rope(visit, typed, "spring lengths")
        for rope, values in lengths.items():
            for value in values:
                _require_possible(rope, value, hitch)
        return [
            _reading(
                series.name,
                "spring",
                rope,
                ("hitch", hitch.at.value),
                ("length", _one_or_more(values)),
            )
            for rope, values in lengths.items()
        ]

    return make


@dataclass(frozen=True, kw_only=True, slots=True)
class SidePulls:
    """A sheet of side pulls.

    Attributes
    ----------
    read : mapping of int to tuple of Quantity
        What was read on each rope: forces if the deflection was held, else
        deflections. [N or m]
    held : Quantity
        What was held the same on all ropes. [m or N]
    hold : Hold
        Which of the two it is.
    at : str
        Where it was pulled, from the lower node; mid-span if empty.
    scale_zero : str
        Scale without load; nought if empty.
    """

    read: ByRope
    held: Quantity
    hold: Hold
    at: str = ""
    scale_zero: str = ""


def side_pulls(sheet: SidePulls, series: str = "") -> Maker:
    """Add a sheet of side pulls, a reading for each rope.

    Parameters
    ----------
    sheet : SidePulls
        The sheet.
    series : str, optional
        Which series; the last if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        named = chosen_series(visit, series).name
        require_ropes(visit, list(sheet.read))
        is_force = sheet.hold is Hold.DEFLECTION
        tables = []
        for rope, values in sheet.read.items():
            _require_alike(rope, values)
            read, held = _one_or_more(values), sheet.held.text
            tables.append(
                _reading(
                    named,
                    "pull",
                    rope,
                    ("force", read if is_force else held),
                    ("deflection", held if is_force else read),
                    ("hold", sheet.hold.value),
                    ("at", sheet.at),
                    ("scale_zero", sheet.scale_zero),
                )
            )
        return tables

    return make


def returns(rope: int, count: int, elapsed: Sequence[Quantity], series: str) -> Maker:
    """Add timed wave returns of one rope.

    Parameters
    ----------
    rope : int
        Rope number.
    count : int
        Round trips of the wave that were counted. [1]
    elapsed : sequence of Quantity
        Time of each count. [s]
    series : str
        Which series; the last if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        require_ropes(visit, [rope])
        _require_alike(rope, elapsed)
        named = chosen_series(visit, series).name
        times = ("elapsed", _one_or_more(elapsed))
        return [_reading(named, "returns", rope, ("count", count), times)]

    return make


def free_lengths(typed: Sequence[Quantity] | ByRope, span: str = "") -> Maker:
    """Add free lengths that the record lacks.

    Parameters
    ----------
    typed : sequence of Quantity or mapping of int to tuple of Quantity
        One per rope from rope 1 up, or by rope. [m]
    span : str, optional
        Which span; that of the last series if empty.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        name = span or chosen_series(visit, "").span
        lengths = _by_rope(visit, typed, "free lengths")
        every = length_tables(name, [""] * visit.rope_set.n_ropes)
        return [
            NewTable(
                name=every[rope - 1].name,
                keys=(("number", rope), ("free_lengths", {name: values[0].text})),
            )
            for rope, values in lengths.items()
        ]

    return make


def thread_left(typed: Mapping[int, tuple[Quantity, Quantity]]) -> Maker:
    """Add the thread left on the rods.

    Parameters
    ----------
    typed : mapping of int to tuple of (Quantity, Quantity)
        By rope: towards the plate and away from it. [m]
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        require_ropes(visit, list(typed))
        return [
            NewTable(
                name="rope",
                keys=(
                    ("number", rope),
                    ("take_up_left", towards.text),
                    ("ease_left", away.text),
                ),
            )
            for rope, (towards, away) in typed.items()
        ]

    return make


def hitch(new: NewHitch) -> Maker:
    """Add a hitch, or what is not known of one yet."""

    def make(visit: Visit) -> Sequence[NewTable]:
        del visit
        return [hitch_table(new)]

    return make


def _by_rope(visit: Visit, typed: Sequence[Quantity] | ByRope, what: str) -> ByRope:
    """Values by rope, however they were typed."""
    if isinstance(typed, Mapping):
        require_ropes(visit, list(typed))
        return typed
    return {rope: (one,) for rope, one in one_per_rope(visit, typed, what).items()}


def _reading(
    series: str, kind: str, rope: int, *keys: tuple[str, Value | None]
) -> NewTable:
    """Write one reading of one rope."""
    return NewTable(
        name="reading",
        keys=(("series", series), ("kind", kind), ("rope", rope), *keys),
    )


def _one_or_more(values: Sequence[Quantity]) -> Value:
    """One text, or a list of them."""
    texts = tuple(value.text for value in values)
    return texts[0] if len(texts) == 1 else texts


def _require_alike(rope: int, values: Sequence[Quantity]) -> None:
    """Refuse repeats that can only be a slip of the pen."""
    sizes = [abs(value.value) for value in values]
    if max(sizes) > MOST_APART * min(sizes):
        texts = ", ".join(value.text for value in values)
        raise FileFormatError(
            f"rope {rope}: {texts} are too far apart for repeats of one reading; check "
            "the numbers"
        )


def _require_possible(rope: int, length: Quantity, hitch: Hitch) -> None:
    """Refuse a spring longer than without load, or shorter than solid."""
    free, solid = hitch.spring_free_length, hitch.spring_solid_length
    if free and length.value > free.value:
        raise FileFormatError(
            f"rope {rope}: {length.text} is longer than the spring without load "
            f"({free.text}); check both"
        )
    if solid and length.value < solid.value:
        raise FileFormatError(
            f"rope {rope}: {length.text} is shorter than the spring with its coils "
            f"touching ({solid.text}); check both"
        )
