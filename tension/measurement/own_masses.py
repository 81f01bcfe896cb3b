"""Ropes of another mass per length than the set's, such as one from another reel."""

from dataclasses import replace
from math import sqrt

import numpy as np

from tension.installation import RopeSet
from tension.measurement.evidence import Evidence, read_only
from tension.measurement.readings import Method
from tension.measurement.rope_figures import RopeFigures
from tension.quantity.estimate import Source

BY_PITCH = frozenset({Method.PLUCK, Method.RETURNS})
"""Kinds that weigh a rope by its pitch or its waves: tension goes with its mass."""


def with_own_masses(
    kind: Evidence, rope_set: RopeSet, figures: RopeFigures
) -> Evidence:
    """Give each rope that has one its own mass per length.

    Tension is mass per length times the square of the wave's speed, so its ratio to the
    set's is that of the masses. What is not known of both masses no longer cancels.

    Parameters
    ----------
    kind : Evidence
        One kind of evidence, by the mass of the set.
    rope_set : RopeSet
        The set with its ropes.
    figures : RopeFigures
        Mass of the set, typed or from the table.

    Returns
    -------
    Evidence
        The same where no rope has a mass of its own, or pitch does not tell.
    """
    own = {
        rope.number: rope.linear_density.value
        for rope in rope_set.ropes
        if rope.linear_density is not None and rope.number in kind.numbers
    }
    density = figures.linear_density
    if not own or density is None or kind.method not in BY_PITCH:
        return kind
    ratios = np.array([own.get(n, density.value) / density.value for n in kind.numbers])
    relative = sqrt(2.0) * rope_set.uncertainties.linear_density
    source = Source(name="mass of this rope", relative=relative)
    is_own = np.array([number in own for number in kind.numbers], dtype=float)
    return replace(
        kind,
        hypotheses=tuple(
            replace(h, tensions=read_only(h.tensions * ratios)) for h in kind.hypotheses
        ),
        covariance=read_only(kind.covariance + np.diag(relative**2 * is_own)),
        own_sources=tuple(
            (*sources, source) if number in own else sources
            for number, sources in zip(kind.numbers, kind.own_sources, strict=True)
        ),
    )
