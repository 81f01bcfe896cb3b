"""What is computed at acceptance after re-roping, on plain numbers in SI.

Runby: the space between the striker of the counterweight and its buffer while the car
stands level at the top landing. It is negative when the counterweight would land before
the car is level. Shortening the ropes lifts the counterweight, so it adds to the runby;
stretch takes from it. Each rope has `n_falls` falls: 1 for 1:1, 2 for 2:1.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, TypeVar

from tension.errors import InvalidValueError

Real = TypeVar("Real", float, Fraction)
"""Plain numbers, or what was typed, exactly."""


def runby_shortening(now: Real, wanted: Real, n_falls: int) -> Real:
    """Work out how much is taken out of each rope to reach a runby. [m].

    The counterweight rises by 1/n_falls of what is taken out, so the shortening is
    n_falls (wanted - now); negative: to let in.

    Examples
    --------
    Landing 4 below level, 18 wanted: 22 are taken out, whatever the unit.

    >>> runby_shortening(-4.0, 18.0, 1)
    22.0
    """
    return n_falls * (wanted - now)


def runby_after_stretch(
    now: Real, stretch: Real, rope_length: Real, n_falls: int
) -> Real:
    """Work out the runby that is left once the ropes have stretched. [m].

    The stretch is a part of the rope length from hitch to hitch. [1]

    Examples
    --------
    >>> round(runby_after_stretch(0.45, 0.005, 40.0, 1), 3)
    0.25
    """
    return now - stretch * rope_length / n_falls


def stretch_until(now: Real, least: Real, rope_length: Real, n_falls: int) -> Real:
    """Work out the stretch, of the rope length, that leaves the least runby. [1].

    Negative when the runby is below the least already. [m]

    Raises
    ------
    InvalidValueError
        If there is no length.
    """
    if not rope_length > 0:
        raise InvalidValueError(
            f"rope length must be above 0 m, got {float(rope_length):g} m"
        )
    return (now - least) * n_falls / rope_length


def spring_margin(length: Real, free_length: Real, solid_length: Real) -> Real:
    """Work out how much of a spring's travel is left: 1 without load, 0 at solid.

    Lengths under the load asked about, without load, with the coils touching. [m]

    Raises
    ------
    InvalidValueError
        If the free length is not above the solid length.

    Examples
    --------
    >>> round(spring_margin(0.112, 0.160, 0.096), 3)
    0.25
    """
    if not free_length > solid_length:
        raise InvalidValueError(
            "the free length of a spring must be above its solid length, got "
            f"{float(free_length):g} m and {float(solid_length):g} m"
        )
    return (length - solid_length) / (free_length - solid_length)


@dataclass(frozen=True, kw_only=True, slots=True)
class ClipPlace(Generic[Real]):
    """Where a clip sits, in diameters; the first is counted from the socket. [1]."""

    from_socket: Real
    from_previous: Real


def clip_places(
    distances: Sequence[Real], diameter: Real
) -> tuple[ClipPlace[Real], ...]:
    """Turn distances of clips into multiples of the diameter, nearest first.

    Parameters
    ----------
    distances : sequence of float, shape (n_clips,)
        From the mouth of the socket to each clip, in any order. [m]
    diameter : float
        Nominal diameter. [m]

    Raises
    ------
    InvalidValueError
        If the diameter is not above zero.

    Examples
    --------
    >>> [c.from_socket for c in clip_places([0.048, 0.096], 0.012)]
    [4.0, 8.0]
    """
    if not diameter > 0:
        raise InvalidValueError(
            f"diameter must be above 0 m, got {float(diameter):g} m"
        )
    ordered: list[Real] = sorted(distances)
    return tuple(
        ClipPlace(
            from_socket=distance / diameter,
            from_previous=(distance - ordered[i - 1] if i else distance) / diameter,
        )
        for i, distance in enumerate(ordered)
    )


def n_crossings(grooves: Sequence[int]) -> int:
    """Count the pairs of ropes that cross between hitch and sheave.

    Grooves are in the order of the ropes from left to right at the hitch; counted from
    the side that gives the fewer.

    Examples
    --------
    >>> n_crossings([1, 2, 3, 4]), n_crossings([4, 3, 2, 1]), n_crossings([1, 3, 2, 4])
    (0, 0, 1)
    """
    n_ropes = len(grooves)
    pairs = [(i, j) for i in range(n_ropes) for j in range(i + 1, n_ropes)]
    falling = sum(grooves[i] > grooves[j] for i, j in pairs)
    return min(falling, len(pairs) - falling)
