"""A hitch as a person describes it, before it stands in a record."""

from dataclasses import dataclass

from tension.files.additions import NewTable
from tension.installation import Buffer, HitchPlace


@dataclass(frozen=True, kw_only=True, slots=True)
class NewHitch:
    """What a person says of a hitch; all texts as typed.

    Attributes
    ----------
    at : HitchPlace
        Which hitch.
    rows : tuple of tuple of int
        Rope numbers row by row as seen facing the nuts.
    thread : str
        Of the rods.
    buffer : Buffer or None
        What sits between plate and nut.
    spring_rate, spring_free_length, spring_solid_length, rod_free : str
        As typed with the unit.
    """

    at: HitchPlace
    rows: tuple[tuple[int, ...], ...] = ()
    thread: str = ""
    buffer: Buffer | None = None
    spring_rate: str = ""
    spring_free_length: str = ""
    spring_solid_length: str = ""
    rod_free: str = ""


def hitch_table(new: NewHitch) -> NewTable:
    """Write a hitch."""
    return NewTable(
        name="hitch",
        keys=(
            ("at", new.at.value),
            ("rows", new.rows),
            ("thread", new.thread),
            ("buffer", new.buffer.value if new.buffer else ""),
            ("spring_rate", new.spring_rate),
            ("spring_free_length", new.spring_free_length),
            ("spring_solid_length", new.spring_solid_length),
            ("rod_free", new.rod_free),
        ),
    )
