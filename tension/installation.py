"""What hangs in the hoistway: ropes, spans, hitches and the set they make."""

import re
from dataclasses import dataclass, field
from enum import StrEnum

from tension.catalogue.threads import find_thread_pitch
from tension.errors import InvalidValueError
from tension.quantity.units import Quantity


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Lift:
    """The lift and what hangs on its ropes.

    Attributes
    ----------
    name : str
        Free text.
    drive : Drive
        What moves the car.
    roping : Roping
        Roping ratio.
    car_mass, counterweight_mass : Quantity or None
        All that hangs on that side. [kg]
    travel : Quantity or None
        Of the car, lowest to highest landing. [m]
    """

    name: str = ""
    drive: Drive = Drive.TRACTION
    roping: Roping = Roping.ONE_TO_ONE
    car_mass: Quantity | None = None
    counterweight_mass: Quantity | None = None
    travel: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Thread:
    """Thread of a shackle rod.

    Attributes
    ----------
    name : str
        As typed, such as "M16" or "5/8-11".
    pitch : float
        Travel of the nut in one turn. [m]
    is_left_handed : bool
        Whether it is a left-hand thread.
    """

    name: str
    pitch: float
    is_left_handed: bool = False


_METRIC_THREAD = re.compile(
    r"(?P<size>M[0-9]{1,2})(?:X(?P<pitch>[0-9](?:[.,][0-9]+)?))?"
)
_INCH_THREAD = re.compile(
    r"(?P<size>1|[1-9][0-9]?/[1-9][0-9]?)(?:IN|\")?"
    r"(?:-(?P<count>[1-9][0-9]?)(?:-?UN[CFS]?)?|-?(?P<coarse>UNC))"
)
_LEFT_HANDED = re.compile(r"[ -]*(?:left(?:[- ]hand(?:ed)?)?|lh)$")


def parse_thread(text: str) -> Thread:
    """Read the thread of a rod.

    Parameters
    ----------
    text : str
        Such as "M16", "M16 left", "M16x1.5", "5/8-11".

    Returns
    -------
    Thread
        With the pitch typed, or the coarse pitch of that size.

    Raises
    ------
    InvalidValueError
        If it is no thread, or its pitch is neither typed nor in the catalogue.

    Examples
    --------
    >>> parse_thread("M16 left")
    Thread(name='M16 left', pitch=0.002, is_left_handed=True)
    """
    plain = " ".join(text[:40].lower().replace("×", "x").split())
    right = _LEFT_HANDED.sub("", plain)
    size = right.replace(" ", "").upper()
    found = _METRIC_THREAD.fullmatch(size) or _INCH_THREAD.fullmatch(size)
    if found is None or len(text) > 40:
        raise InvalidValueError(
            f'"{text[:40]}" is no thread that is read; write it like M16, M16x1.5, '
            '5/8-11, or "M16 left" for a left-hand thread'
        )
    groups = found.groupdict()
    pitch = _typed_pitch(groups)
    if pitch is None:
        pitch = _coarse_pitch(groups["size"], text)
    if not 0.0 < pitch < 0.3 * _thread_diameter(groups["size"]):
        raise InvalidValueError(
            f'"{text}": a pitch of {1e3 * pitch:.3g} mm does not go with that size; '
            "check both numbers"
        )
    return Thread(name=text, pitch=pitch, is_left_handed=right != plain)


def _typed_pitch(groups: dict[str, str | None]) -> float | None:
    """The pitch, where it is part of the name. [m]."""
    if groups.get("pitch"):
        return 1e-3 * float(str(groups["pitch"]).replace(",", "."))
    if groups.get("count"):
        return 0.0254 / int(str(groups["count"]))
    return None


def _coarse_pitch(size: str | None, text: str) -> float:
    """The coarse pitch of a size. [m]."""
    row = find_thread_pitch(size or "")
    if row is None:
        raise InvalidValueError(
            f'"{text}": the coarse pitch of this size is not known; write the pitch '
            "too, like M16x1.5 or 5/8-11"
        )
    return row.pitch


def _thread_diameter(size: str | None) -> float:
    """Nominal diameter from the name of a size. [m]."""
    name = size or ""
    if name.startswith("M"):
        return 1e-3 * int(name[1:])
    over, _, under = name.partition("/")
    return 0.0254 * int(over) / int(under or 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """A stretch of rope that is plucked or pulled.

    Attributes
    ----------
    name : str
        Name in the record.
    side : Side
        Side of the drive sheave.
    position : str
        Car position, free text.
    free_length : Quantity or None
        Lower node to upper node, of a rope without stagger. [m]
    length_from : LengthFrom
        Node at the hitch end.
    ends : Ends
        What holds the two ends.
    hitch_end : HitchEnd
        End at which the hitch is.
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
    """Where the ropes are fastened, with nuts and, usually, springs.

    Attributes
    ----------
    at : HitchPlace
        Which hitch.
    rows : tuple of tuple of int
        Rope numbers as seen facing the nuts, row by row.
    thread : Thread or None
        Thread of the rods.
    buffer : Buffer
        What sits between plate and nut.
    spring_rate : Quantity or None
        Rate of one spring. [N/m]
    spring_wire, spring_coil : Quantity or None
        Wire diameter and mean coil diameter. [m]
    spring_active_coils : float or None
        Number of active coils. [1]
    spring_material : str
        Material, a key of the catalogue.
    spring_free_length, spring_solid_length : Quantity or None
        Length without load and with the coils touching. [m]
    spring_preload : Quantity or None
        Load under which the spring begins to give way; until then its length is the
        free one. [N]
    spring_loads, spring_lengths : tuple of Quantity
        Two loads laid on a spring and its length under each; empty if not done.
        [N], [m]
    rod_free : Quantity or None
        Length of the rod that is free to swing. [m]
    """

    at: HitchPlace
    rows: tuple[tuple[int, ...], ...] = ()
    thread: Thread | None = None
    buffer: Buffer = Buffer.SPRING
    spring_rate: Quantity | None = None
    spring_wire: Quantity | None = None
    spring_coil: Quantity | None = None
    spring_active_coils: float | None = None
    spring_material: str = ""
    spring_free_length: Quantity | None = None
    spring_solid_length: Quantity | None = None
    spring_preload: Quantity | None = None
    spring_loads: tuple[Quantity, ...] = ()
    spring_lengths: tuple[Quantity, ...] = ()
    rod_free: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Rope:
    """One rope of the set, by the number painted on it.

    Attributes
    ----------
    number : int
        1 and up.
    stagger : Quantity or None
        How much longer its free length is than the span's. [m]
    free_lengths : tuple of (str, Quantity)
        Span name and free length read on this rope. [m]
    take_up_left, ease_left : Quantity or None
        Thread left towards the plate and away from it. [m]
    groove : int or None
        Groove of the sheave it runs in.
    linear_density : Quantity or None
        Mass per length, where it differs from the set's. [kg/m]
    """

    number: int
    stagger: Quantity | None = None
    free_lengths: tuple[tuple[str, Quantity], ...] = ()
    take_up_left: Quantity | None = None
    ease_left: Quantity | None = None
    groove: int | None = None
    linear_density: Quantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Uncertainties:
    """Standard uncertainties of what a person reads; SI.

    Attributes
    ----------
    free_length : float
        Of a free length, read per rope, not shared. [m]
    linear_density : float
        Relative, shared by the set. [1]
    scale : float
        Spring scale, relative, of one reading. [1]
    deflection : float
        Of one deflection read in a side pull. [m]
    deflection_common : float
        Of all deflections of a set alike: zero of the ruler, seat of the hook. [m]
    placement : float
        Height and direction of a side pull, relative, of one rope. [1]
    stopwatch : float
        Of one start-stop. [s]
    spring_length : float
        Of a spring length. [m]
    spring_rate : float
        Relative, between springs. [1]
    typed : tuple of str
        Names of those that the record gave; the others are the program's defaults.
    """

    free_length: float = 0.005
    linear_density: float = 0.05
    scale: float = 0.02
    deflection: float = 0.0005
    deflection_common: float = 0.0005
    placement: float = 0.01
    stopwatch: float = 0.12
    spring_length: float = 0.0005
    spring_rate: float = 0.05
    typed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeSet:
    """All ropes that share one car.

    Attributes
    ----------
    n_ropes : int
        Number of ropes.
    ropes : tuple of Rope
        One per rope, in order of number.
    spans : tuple of Span
        Where the ropes are measured.
    hitches : tuple of Hitch
        Where the nuts are.
    diameter : Quantity or None
        Nominal diameter. [m]
    construction : str
        Such as "8x19 FC"; "coated" for coated ropes.
    linear_density : Quantity or None
        As typed. [kg/m]
    rope_length : Quantity or None
        Hitch to hitch. [m]
    axial_rigidity : Quantity or None
        EA of one rope. [N]
    has_sockets_at_one_height : bool
        Whether the record says the sockets stand at one height.
    uncertainties : Uncertainties
        Of what a person reads.
    """

    n_ropes: int
    ropes: tuple[Rope, ...] = ()
    spans: tuple[Span, ...] = ()
    hitches: tuple[Hitch, ...] = ()
    diameter: Quantity | None = None
    construction: str = ""
    linear_density: Quantity | None = None
    rope_length: Quantity | None = None
    axial_rigidity: Quantity | None = None
    has_sockets_at_one_height: bool = False
    uncertainties: Uncertainties = field(default_factory=Uncertainties)
