"""How a turn of a nut spreads along a rope while the ropes roll over the sheaves.

A rope that does not slip leaves a fall at the strain it has there. So a fall that pays
rope out keeps its tensions, and the fall that takes rope in is brought towards them.
"""

from dataclasses import dataclass

import numpy as np

from tension.errors import InvalidValueError
from tension.physics.domain import FloatArray

_PIECES = 100
"""Pieces of one journey where a fall both takes rope in and pays it out."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeLine:
    """The falls of one rope from hitch to hitch, all ropes alike."""

    # stretch of each fall for unit tension where the car stands, the spring of a hitch
    # with the fall next to it; the car side first [m/N], shape (n_falls,)
    compliances: tuple[float, ...]
    # rope that passes each sheave on the way out, from the fall after it to the fall
    # before it; negative the other way [m], shape (n_falls - 1,)
    passed: tuple[float, ...]
    axial_rigidity: float  # EA of one rope [N]

    def __post_init__(self) -> None:
        if min(*self.compliances, self.axial_rigidity) <= 0.0:
            raise InvalidValueError(
                "every fall must give and the rigidity be above 0, got "
                f"{self.compliances} m/N and {self.axial_rigidity} N"
            )
        if len(self.passed) != len(self.compliances) - 1:
            raise InvalidValueError(
                f"{len(self.compliances)} falls have {len(self.compliances) - 1} "
                f"sheaves between them, got {len(self.passed)}"
            )
        gains = np.diff([0.0, *self.passed, 0.0]) / self.axial_rigidity
        if np.any(np.array(self.compliances) + gains <= 0.0):
            raise InvalidValueError(
                f"more rope passes ({self.passed} m) than a fall has; check the travel"
            )


def lift_line(
    *,
    car_fall: float,
    counterweight_fall: float,
    travel: float,
    n_falls: int,
    axial_rigidity: float,
    spring_compliances: tuple[float, float] = (0.0, 0.0),
) -> RopeLine:
    """Put the falls of a traction lift in a line from the car hitch on.

    Parameters
    ----------
    car_fall, counterweight_fall : float
        Free rope of one fall on each side where the car stands. [m]
    travel : float
        Of the car, away from where it stands; positive down, negative up. [m]
    n_falls : int
        Falls on each side: 1 for 1:1 roping, 2 for 2:1. [1]
    axial_rigidity : float
        EA of one rope. [N]
    spring_compliances : tuple of float
        Reciprocal of the spring rate at the car side's hitch and at the other; 0
        without a spring. [m/N]

    Returns
    -------
    RopeLine
        The falls.

    Raises
    ------
    InvalidValueError
        If a fall has no rope or the travel is longer than the fall that gives it.

    Notes
    -----
    Every fall of the car side gets as long as the car travels. So the first sheave from
    the car hitch passes one travel, the next two, the drive sheave ``n_falls``; on the
    other side they fall again.
    """
    near, far = car_fall / axial_rigidity, counterweight_fall / axial_rigidity
    compliances = [near] * n_falls + [far] * n_falls
    compliances[0] += spring_compliances[0]
    compliances[-1] += spring_compliances[1]
    numbers = [*range(1, n_falls + 1), *range(n_falls - 1, 0, -1)]
    return RopeLine(
        compliances=tuple(compliances),
        passed=tuple(travel * number for number in numbers),
        axial_rigidity=axial_rigidity,
    )


def round_trip_matrix(line: RopeLine) -> FloatArray:
    """Find what a journey there and back makes of the tensions of a rope.

    Parameters
    ----------
    line : RopeLine
        The falls where the car stands, and what passes the sheaves on the way out.

    Returns
    -------
    ndarray, shape (n_falls, n_falls)
        On deviations from the mean of each fall, back at the start; rows sum to one.
        [1]

    Notes
    -----
    With c the compliance of a fall, ``c d(tau)/ds = sum(tau_in - tau)/EA`` over the
    sheaves that pass rope into it, and ``dc/ds`` the rope gained over EA; a fall that
    only pays out keeps its tensions, for its stretch and its compliance fall together.
    Each piece is stepped so that ``sum(c tau)`` stays exactly what it was; between two
    falls that is the closed form, in which their difference shrinks by the ratio of the
    compliance before to that after each leg, whatever the number of pieces. All falls
    end at the same deviation. The wraps on the sheaves, usually under a metre each, are
    left out, and so are slip and the creep of elastic rope on a loaded sheave, both of
    which even out sooner. (Derived; held against rope rolled piece by piece.)
    """
    n = len(line.compliances)
    pieces = 1 if n == 2 else _PIECES
    step = np.array(line.passed) / line.axial_rigidity / pieces
    compliance = np.array(line.compliances)
    made = np.eye(n)
    for sign in (1.0, -1.0):
        for _ in range(pieces):
            made = _piece(compliance, sign * step) @ made
            compliance = compliance + np.diff([0.0, *(sign * step), 0.0])
    return made


def _piece(compliance: FloatArray, step: FloatArray) -> FloatArray:
    """What one piece of a journey makes of the tensions."""
    flow = np.diag(compliance)
    for sheave, passed in enumerate(step):
        source = sheave + 1 if passed > 0.0 else sheave
        flow[sheave, source] += passed
        flow[sheave + 1, source] -= passed
    gained = compliance + np.diff([0.0, *step, 0.0])
    return np.asarray(flow / gained[:, None])
