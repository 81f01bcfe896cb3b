"""What hangs in the hoistway: ropes, spans, hitches and the set they make."""

import re
from dataclasses import dataclass, field
from enum import StrEnum

from tension.catalogue.threads import Thread
from tension.errors import InvalidValueError
from tension.quantity.units import Quantity

MOST_ROPES = 12  # ropes that share one car at most [1]


class Drive(StrEnum):
    """What moves the car."""

    TRACTION = "traction"
    DRUM = "drum"
    HYDRAULIC = "hydraulic"


class Roping(StrEnum):
    """Roping ratio."""

    ONE_TO_ONE = "1:1"
    TWO_TO_ONE = "2:1"
    FOUR_TO_ONE = "4:1"
    ONE_TO_TWO = "1:2"

    @property
    def n_falls(self) -> int:
        """Falls of each rope that share the load; a roped jack's car hangs on one."""
        return 1 if self is Roping.ONE_TO_TWO else int(self.value[0])


class Side(StrEnum):
    """Side of the drive sheave."""

    CAR = "car"
    COUNTERWEIGHT = "counterweight"


class HitchPlace(StrEnum):
    """Where a hitch is."""

    CAR = "car"
    COUNTERWEIGHT = "counterweight"
    DEAD_END_CAR = "dead-end-car"
    DEAD_END_COUNTERWEIGHT = "dead-end-counterweight"

    @property
    def side(self) -> Side:
        """Side of the drive sheave on which its ropes hang."""
        is_car = self in (HitchPlace.CAR, HitchPlace.DEAD_END_CAR)
        return Side.CAR if is_car else Side.COUNTERWEIGHT


class Ends(StrEnum):
    """What holds the two ends of a span."""

    SOCKET_SHEAVE = "socket-sheave"
    SOCKET_SOCKET = "socket-socket"
    SHEAVE_SHEAVE = "sheave-sheave"


class HitchEnd(StrEnum):
    """Which end of a span the hitch is at."""

    LOWER = "lower"
    UPPER = "upper"


class LengthFrom(StrEnum):
    """What the free length was measured from at the hitch end."""

    SOCKET = "socket"
    CLIP = "clip"


class Buffer(StrEnum):
    """What sits between hitch plate and nut."""

    SPRING = "spring"
    RUBBER = "rubber"
    NONE = "none"
    BEAM = "beam"


class Arrived(StrEnum):
    """Direction the car came from."""

    UP = "up"
    DOWN = "down"


class Fall(StrEnum):
    """Fall of a rope that is reeved 2:1."""

    LIVE = "live"
    DEAD = "dead"


class Neighbours(StrEnum):
    """What the other ropes do while one rings."""

    FREE = "free"
    DAMPED = "damped"


@dataclass(frozen=True, kw_only=True, slots=True)
class Lift:
    """The lift and what hangs on its ropes.

    Masses are of all that hangs on that side [kg]; the car's travel is from the lowest
    to the highest landing. [m]
    """

    name: str = ""
    drive: Drive = Drive.TRACTION
    roping: Roping = Roping.ONE_TO_ONE
    car_mass: Quantity | None = None
    counterweight_mass: Quantity | None = None
    travel: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """A stretch of rope that is plucked or pulled.

    Its free length is from the lower node to the upper one, of a rope without stagger
    [m]; ``length_from`` is the node at the hitch end, ``position`` that of the car.
    """

    name: str
    side: Side = Side.CAR
    position: str = ""
    free_length: Quantity | None = None
    length_from: LengthFrom = LengthFrom.SOCKET
    ends: Ends = Ends.SOCKET_SHEAVE
    hitch_end: HitchEnd = HitchEnd.LOWER


@dataclass(frozen=True, kw_only=True, slots=True)
class Hitch:
    """Where the ropes are fastened, with nuts and, usually, springs."""

    at: HitchPlace
    # rope numbers as seen facing the nuts, row by row
    rows: tuple[tuple[int, ...], ...] = ()
    thread: Thread | None = None  # of the rods
    buffer: Buffer = Buffer.SPRING  # what sits between plate and nut
    spring_rate: Quantity | None = None  # of one spring [N/m]
    # wire diameter and mean coil diameter [m]
    spring_wire: Quantity | None = None
    spring_coil: Quantity | None = None
    spring_active_coils: float | None = None
    spring_material: str = ""  # a key of the catalogue
    # length without load and with the coils touching [m]
    spring_free_length: Quantity | None = None
    spring_solid_length: Quantity | None = None
    # load under which it begins to give way; until then its length is the free one [N]
    spring_preload: Quantity | None = None
    # two loads laid on a spring [N] and its length under each [m]; empty if not done
    spring_loads: tuple[Quantity, ...] = ()
    spring_lengths: tuple[Quantity, ...] = ()
    rod_free: Quantity | None = None  # length of the rod that is free to swing [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class Rope:
    """One rope of the set, by the number painted on it, from 1."""

    number: int
    stagger: Quantity | None = None  # how much longer it is than the span [m]
    # span name and free length read on this rope [m]
    free_lengths: tuple[tuple[str, Quantity], ...] = ()
    # thread left towards the plate and away from it [m]
    take_up_left: Quantity | None = None
    ease_left: Quantity | None = None
    groove: int | None = None  # of the sheave it runs in
    linear_density: Quantity | None = None  # where it differs from the set's [kg/m]


@dataclass(frozen=True, kw_only=True, slots=True)
class Uncertainties:
    """Standard uncertainties of what a person reads; SI."""

    free_length: float = 0.005  # read per rope, not shared [m]
    linear_density: float = 0.05  # relative, shared by the set [1]
    scale: float = 0.02  # spring scale, relative, of one reading [1]
    deflection: float = 0.0005  # of one deflection read in a side pull [m]
    # of all deflections of a set alike: zero of the ruler, seat of the hook [m]
    deflection_common: float = 0.0005
    # height and direction of a side pull, relative, of one rope [1]
    placement: float = 0.01
    stopwatch: float = 0.12  # of one start-stop [s]
    spring_length: float = 0.0005  # of one reading [m]
    spring_rate: float = 0.05  # relative, between springs [1]
    # names of those that the record gave; the others are the program's defaults
    typed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeSet:
    """All ropes that share one car, in order of number."""

    n_ropes: int
    ropes: tuple[Rope, ...] = ()
    spans: tuple[Span, ...] = ()  # where the ropes are measured
    hitches: tuple[Hitch, ...] = ()  # where the nuts are
    diameter: Quantity | None = None  # nominal [m]
    construction: str = ""  # such as "8x19 FC"; "coated" for coated ropes
    linear_density: Quantity | None = None  # as typed [kg/m]
    rope_length: Quantity | None = None  # hitch to hitch [m]
    axial_rigidity: Quantity | None = None  # EA of one rope [N]
    has_sockets_at_one_height: bool = False  # whether the record says so
    uncertainties: Uncertainties = field(default_factory=Uncertainties)


def rope_order(text: str) -> tuple[int, ...]:
    """Read rope numbers parted by spaces or commas.

    Raises
    ------
    InvalidValueError
        If something else stands there.
    """
    numbers = text.replace(",", " ").split()
    if not all(number.isdecimal() and int(number) for number in numbers):
        raise InvalidValueError(
            f'write rope numbers parted by spaces, like "1 2 3 3 2 1", got "{text}"'
        )
    return tuple(map(int, numbers))


def rope_rows(text: str) -> tuple[tuple[int, ...], ...]:
    """Read rows of rope numbers, such as "1 3 5 / 2 4 6"."""
    rows = [rope_order(row) for row in re.sub(r"[\[\]]", " ", text).split("/")]
    return tuple(row for row in rows if row)


def split_rope_type(text: str) -> tuple[str, str]:
    """Split "13 mm 8x19 FC" or "1/2 in 8x19 FC" into size and construction.

    Raises
    ------
    InvalidValueError
        If there is no size with a unit before the construction.
    """
    found = re.match(r'\s*(.+?\s*(?:mm|cm|in|inch|"|″))\s+(\S.*)$', text)
    if found is None:
        raise InvalidValueError(
            f'write diameter and construction, like "13 mm 8x19 FC", got "{text}"'
        )
    return found.group(1), found.group(2).strip()
