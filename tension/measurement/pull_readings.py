"""Readings of side pulls as pairs: which force goes with which deflection."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from tension.measurement.readings import Hold, PullReading, names_of


@dataclass(frozen=True, kw_only=True, slots=True)
class PulledPair:
    """One force with its deflection."""

    force: float  # above what the scale reads without load [N]
    deflection: float  # of the pulled point [m]
    at: float  # distance of the pull from the lower node [m]
    deflection_uncertainty: float  # standard uncertainty of the deflection [m]
    group: int  # pairs of one group share one deflection and its error
    text: str  # as typed


def pairs_of(
    readings: list[PullReading],
    *,
    free_length: float,
    uncertainty: float,
) -> tuple[PulledPair, ...]:
    """Pair the forces and deflections of one rope.

    Parameters
    ----------
    readings : list of PullReading
        Of one rope in one series.
    free_length : float
        Its free length; pulled in the middle where no place is told. [m]
    uncertainty : float
        Standard uncertainty of one deflection read. [m]

    Returns
    -------
    tuple of PulledPair
        As many forces as deflections are pairs, each with an error of its own. One
        deflection for several forces, or the mean of several, is one error in all.
    """
    pairs: list[PulledPair] = []
    for reading in readings:
        at = reading.at.value if reading.at else free_length / 2
        pairs += _of_one(reading, at, uncertainty, len(pairs))
    return tuple(pairs)


def _of_one(
    reading: PullReading, at: float, uncertainty: float, first: int
) -> list[PulledPair]:
    """Pairs of one entry of the record, with groups from a number on."""
    zero = reading.scale_zero.value if reading.scale_zero else 0.0
    forces = [force.value - zero for force in reading.forces]
    deflections = [one.value for one in reading.deflections]
    names = names_of(reading)
    if len(forces) == len(deflections):
        return [
            PulledPair(
                force=force,
                deflection=deflection,
                at=at,
                deflection_uncertainty=uncertainty,
                group=first + i,
                text=names[i],
            )
            for i, (force, deflection) in enumerate(
                zip(forces, deflections, strict=True)
            )
        ]
    if reading.hold is Hold.DEFLECTION or len(deflections) == 1:
        middle = float(np.mean(deflections))
        return [
            PulledPair(
                force=force,
                deflection=middle,
                at=at,
                deflection_uncertainty=uncertainty / sqrt(len(deflections)),
                group=first,
                text=name,
            )
            for force, name in zip(forces, names, strict=True)
        ]
    middle = float(np.mean(forces))
    return [
        PulledPair(
            force=middle,
            deflection=deflection,
            at=at,
            deflection_uncertainty=uncertainty,
            group=first + i,
            text=names[i],
        )
        for i, deflection in enumerate(deflections)
    ]


def shared_deflection(pairs: list[PulledPair], relative: list[float]) -> float:
    """Relative uncertainty of the mean of one rope by deflections that pairs share.

    Parameters
    ----------
    pairs : list of PulledPair
        The pairs that count.
    relative : list of float
        Relative uncertainty of the tension of each by its deflection. [1]

    Returns
    -------
    float
        Repeats do not lessen an error that is in all of them. [1]
    """
    total = 0.0
    for group in {pair.group for pair in pairs}:
        inside = [u for p, u in zip(pairs, relative, strict=True) if p.group == group]
        if len(inside) > 1:
            total = hypot(total, sum(inside) / len(pairs))
    return total
