"""Notes and refusals: what was found doubtful, in one plain sentence, with the next act.

Every kind of note has a number, so that it can be quoted, and a code, so that programs
can read it. Texts may hold ``{name}`` places filled when the note is made, and
``[[word]]`` places filled by `tension.wording` when it is shown.
"""

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """Something a reader of the result must know.

    Attributes
    ----------
    code : str
        Stable name of the kind of note.
    text : str
        What was found, one sentence.
    next_act : str
        What to do about it; empty if nothing.
    ropes : tuple of int
        Rope numbers concerned; empty if the whole set.
    """

    code: str
    text: str
    next_act: str
    ropes: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Refusal:
    """Why there is no number, as a value: the other ropes stay.

    Attributes
    ----------
    code : str
        Stable name of the reason.
    text : str
        The reason, one sentence.
    next_act : str
        What to do next.
    """

    code: str
    text: str
    next_act: str


class NoteKind(Enum):
    """Every kind of note: number, code, text, next act.

    Numbers by room: 100 sound, 200 files, 300 measurement, 400 assessment,
    500 adjustment, 600 condition, 700 record.
    """

    # --- 100 sound ---
    NO_PLUCK = (
        101,
        "no-pluck",
        "No pluck was found in {recording}.",
        "Pull the rope aside by hand, let go, and let it ring for five seconds.",
    )
    # --- 200 files ---
    # --- 300 measurement ---
    # --- 400 assessment ---
    # --- 500 adjustment ---
    # --- 600 condition ---
    # --- 700 record ---

    @property
    def number(self) -> int:
        """Number by which a note can be quoted."""
        return self.value[0]

    @property
    def code(self) -> str:
        """Stable name for programs."""
        return self.value[1]

    def note(self, *, ropes: tuple[int, ...] = (), **places: object) -> Note:
        """Make a note of this kind.

        Parameters
        ----------
        ropes : tuple of int
            Rope numbers concerned.
        **places : object
            What fills the places of the text.

        Returns
        -------
        Note
            The note, its sentences filled in.
        """
        _, code, text, next_act = self.value
        return Note(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
            ropes=ropes,
        )

    def refusal(self, **places: object) -> Refusal:
        """Make a refusal of this kind.

        Parameters
        ----------
        **places : object
            What fills the places of the text.

        Returns
        -------
        Refusal
            The reason, its sentences filled in.
        """
        _, code, text, next_act = self.value
        return Refusal(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
        )
