"""What the nuts may not do: thread left, springs solid, ropes unloaded on the way."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.hitch_parts import find_solid_length, spring_rate_of
from tension.adjustment.origins import KnownFrom, Origin
from tension.installation import Buffer, Hitch, RopeSet
from tension.notes import Note, NoteKind
from tension.quantity.units import Dimension, Quantity

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LOWEST_SHARE = 0.60
HIGHEST_SHARE = 1.40
"""No rope leaves these shares of the mean on the way. [1]"""

LARGEST_TRAVEL = 0.010
"""No nut goes further before the car has run. [m]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Limits of one set at one hitch."""

    # whole steps that the thread allows, shape (n_ropes,)
    lowest_steps: IntArray
    highest_steps: IntArray
    # thread left towards the plate and away from it; infinity if not told [m],
    # of shape (n_ropes,)
    take_up_left: FloatArray
    ease_left: FloatArray
    # tensions not to be passed on the way, with room for the uncertainty of what
    # was read [N], shape (n_ropes,)
    lowest: FloatArray
    highest: FloatArray
    # load at which a spring goes solid; infinity if not known or none [N]
    solid_load: float
    # places of the ropes of which a person has not told the thread left: no nut of
    # theirs goes further than `LARGEST_TRAVEL` until it is
    unknown: tuple[int, ...]
    origins: tuple[Origin, ...]  # where they come from
    notes: tuple[Note, ...]  # what is not known


def find_limits(
    rope_set: RopeSet,
    *,
    hitch: Hitch,
    tensions: FloatArray,
    step: float,
    reading_uncertainty: float,
) -> Limits:
    """Find the limits of a set at one hitch.

    Parameters
    ----------
    rope_set : RopeSet
        Thread left per rope.
    hitch : Hitch
        Springs.
    tensions : ndarray, shape (n_ropes,)
        As measured. [N]
    step : float
        Travel of the nut in one step. [m]
    reading_uncertainty : float
        Largest relative standard uncertainty of a tension against the others. [1]

    Returns
    -------
    Limits
        The limits. A rope that is outside already may stay where it is, not go
        further.
    """
    n = len(tensions)
    take_up, ease = np.full(n, np.inf), np.full(n, np.inf)
    for rope in rope_set.ropes:
        if 1 <= rope.number <= n:
            take_up[rope.number - 1] = _left(rope.take_up_left)
            ease[rope.number - 1] = _left(rope.ease_left)
    solid, origins, notes = _solid_load(rope_set, hitch)
    places = tuple(i for i in range(n) if np.isinf(take_up[i]) or np.isinf(ease[i]))
    if places:
        every = tuple(i + 1 for i in places) if len(places) < n else ()
        notes = (*notes, NoteKind.THREAD_NOT_TYPED.note(ropes=every))
    mean = float(tensions.mean())
    room = 2.0 * reading_uncertainty * mean
    return Limits(
        lowest_steps=-_whole_steps(_safe(ease), step),
        highest_steps=_whole_steps(_safe(take_up), step),
        take_up_left=take_up,
        ease_left=ease,
        lowest=np.minimum(LOWEST_SHARE * mean + room, tensions - 1e-6 * mean),
        highest=np.minimum(
            np.maximum(HIGHEST_SHARE * mean - room, tensions + 1e-6 * mean),
            max(solid, float(tensions.max()) * (1.0 + 1e-6)),
        ),
        solid_load=solid,
        unknown=places,
        origins=origins,
        notes=notes,
    )


def _left(quantity: Quantity | None) -> float:
    """Thread left; without limit where the record does not tell."""
    return np.inf if quantity is None else max(0.0, quantity.value)


def _safe(left: FloatArray) -> FloatArray:
    """Thread left; where it is not told, what is safe without asking [m]."""
    return np.where(np.isinf(left), LARGEST_TRAVEL, left)


def _whole_steps(left: FloatArray, step: float) -> IntArray:
    """Whole steps that fit in the thread left."""
    return np.asarray(np.floor(left / step + 1e-9), dtype=np.int64)


def _solid_load(
    rope_set: RopeSet, hitch: Hitch
) -> tuple[float, tuple[Origin, ...], tuple[Note, ...]]:
    """Load at which the springs go solid, and where it comes from."""
    if hitch.buffer is not Buffer.SPRING:
        return np.inf, (), ()
    rate = spring_rate_of(hitch, rope_set)
    free, solid = hitch.spring_free_length, find_solid_length(hitch)
    if rate is None or free is None or solid is None or free.value <= solid.value:
        return np.inf, (), (NoteKind.SOLID_NOT_KNOWN.note(),)
    load = rate.value * (free.value - solid.value)
    free_origin = Origin(
        name="spring free length",
        value=free.value,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source=free.text,
    )
    return load, (free_origin, solid), ()
