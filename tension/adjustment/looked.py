"""What a person looked at where the program asked to look first."""

from dataclasses import dataclass

from tension.notes import NoteKind

ANSWERABLE = frozenset(
    kind.code
    for kind in (
        NoteKind.FAR_BELOW,
        NoteKind.SIGNS_REVERSED,
        NoteKind.TURNS_EXCHANGED,
        NoteKind.ANSWERS_FAR_OFF,
        NoteKind.STAGGER_PATTERN,
    )
)
"""Doubts that a person settles by looking, not by measuring."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Looked:
    """An answer to a doubt that only eyes can settle.

    Attributes
    ----------
    code : str
        Code of the note that was answered.
    ropes : tuple of int
        Ropes it is of; empty for every rope.
    words : str
        What was found, and by whom, as typed.
    """

    code: str
    ropes: tuple[int, ...]
    words: str

    def settles(self, code: str, rope: int | None = None) -> bool:
        """Tell whether the answer settles a doubt.

        Parameters
        ----------
        code : str
            Code of the doubt.
        rope : int, optional
            The rope it is of.

        Returns
        -------
        bool
            True if it is of this doubt and this rope.
        """
        is_of_rope = rope is None or not self.ropes or rope in self.ropes
        return code == self.code and is_of_rope
