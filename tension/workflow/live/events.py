"""What a visit by ear shows to a person, as types: words belong to the surface."""

from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from tension.capture.blocks import LossKind
from tension.capture.levels import Hum
from tension.workflow.assess import Assessed


class Act(Enum):
    """What a person asks for with a key."""

    UNDO = "undo"
    REPEAT = "repeat"
    SKIP = "skip"
    PAUSE = "pause"
    END = "end"


class Reason(Enum):
    """Why a pluck does not count, where the ear has no words of its own."""

    NO_PLUCK = "no pluck"
    INPUT_LOST = "input lost"
    UNDONE = "undone"
    REPEATED = "repeated"


@dataclass(frozen=True, kw_only=True, slots=True)
class Began:
    """The microphone is open, at its own rate [Hz]; ropes are taken in this order."""

    device: str
    sampling_rate: int
    order: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class TakenUp:
    """A recording that an earlier, broken-off visit left behind."""

    recording: str
    rope: int
    n_plucks: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Prompt:
    """Which rope is to be plucked, and whether it is another than before."""

    rope: int
    n_good: int
    n_wanted: int
    is_new: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Meter:
    """Level and hum, some times a second.

    Attributes
    ----------
    peak : float
        Below full scale. [dB]
    hum : Hum or None
        While nothing rings; None if not known.
    is_ringing : bool
        Whether a ring is listened to.
    """

    peak: float
    hum: Hum | None
    is_ringing: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What was heard of one pluck.

    Attributes
    ----------
    rope : int
        Rope number.
    is_good : bool
        Whether it counts.
    fundamental_frequency : float
        Of the rope by the plucks so far; nan if it got no number. [Hz]
    reason : Reason or str
        Why not; a text is of the ear. Empty if good.
    next_act : str
        What to do about it, in the words of the ear; may be empty.
    """

    rope: int
    is_good: bool
    fundamental_frequency: float = float("nan")
    reason: Reason | str = ""
    next_act: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lost:
    """Input was lost, so much [s], 0 if it is not known; and how it showed."""

    seconds: float
    kind: LossKind


@dataclass(frozen=True, kw_only=True, slots=True)
class SilentInput:
    """The input is exactly zero, so long by now [s]."""

    seconds: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Paused:
    """Nothing is recorded, or it is again.

    By itself where nobody plucked for long; the next sound ends it.
    """

    is_paused: bool
    by_itself: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class TakenBack:
    """The last good pluck, of this rope, does not count; None if there was none."""

    rope: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Left:
    """A rope is left for now; by itself where too many plucks were not heard well."""

    rope: int
    by_itself: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeDone:
    """A rope has the plucks that were wanted."""

    rope: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """The result of what the record holds now, as ``assess`` gives it.

    Attributes
    ----------
    assessed : Assessed
        The result.
    again : tuple of int
        Ropes that are asked for again, the most useful first.
    """

    assessed: Assessed
    again: tuple[int, ...]


Event = (
    Began
    | TakenUp
    | Prompt
    | Meter
    | Answer
    | Lost
    | SilentInput
    | Paused
    | TakenBack
    | Left
    | RopeDone
    | Result
)


class Surface(Protocol):
    """Where a visit by ear is shown, and where keys come from."""

    @property
    def has_keys(self) -> bool:
        """Whether a person can press keys."""

    def show(self, event: Event) -> None:
        """Show what happened."""

    def acts(self) -> tuple[Act, ...]:
        """Tell what was asked for since the last time; never waits."""
