"""What the formulas of the package are the inverse of: force, deflection, time.

Forward models of a rope of known tension; they share the compliance of the package,
which has oracles of its own.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.physics import (
    FloatArray,
    require_not_negative,
    require_positive,
    side_pull,
)
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.physics.taut_rope import EndCondition


def side_pull_force(
    *,
    tension: ArrayLike,
    deflection: ArrayLike,
    span: side_pull.PulledSpan,
    axial_stiffness: ArrayLike,
) -> FloatArray:
    """Compute the force that pulls a rope of known tension aside by a deflection."""
    before = require_not_negative("tension [N]", tension)
    aside = require_positive("deflection [m]", deflection)
    stiffness = require_not_negative("axial stiffness [N/m]", axial_stiffness)
    before, aside, stiffness = np.broadcast_arrays(before, aside, stiffness)
    mean, corner = side_pull._geometry(
        span=replace(span, flexural_rigidity=0.0),
        deflection=aside,
        horizontal=np.ones_like(aside),
    )
    horizontal = (before + stiffness * corner) / mean
    if span.flexural_rigidity > 0:
        # The rounding of the corner depends on the tension: a few passes settle it.
        for _ in range(side_pull._STEPS):
            _, elongation = side_pull._geometry(
                span=span, deflection=aside, horizontal=horizontal
            )
            following = (before + stiffness * elongation) / mean
            settled = np.abs(following - horizontal) <= 1e-14 * following
            horizontal = following
            if np.all(settled):
                break
    return (aside / side_pull.lateral_compliance(span=span, horizontal=horizontal))[()]


def side_pull_deflection(
    *,
    tension: ArrayLike,
    force: ArrayLike,
    span: side_pull.PulledSpan,
    axial_stiffness: ArrayLike,
) -> FloatArray:
    """Compute the deflection of a rope of known tension under a force."""
    before = require_positive("tension [N]", tension)
    pulled = require_positive("force [N]", force)
    stiffness = require_not_negative("axial stiffness [N/m]", axial_stiffness)
    before, pulled, stiffness = np.broadcast_arrays(before, pulled, stiffness)
    # Newton steps on logarithms, where force rises with a slope between 1 (tension) and
    # 3 (stretch), kept inside what earlier steps have bounded.
    aside = pulled * side_pull.lateral_compliance(span=span, horizontal=before)
    low, high = np.zeros(before.shape), np.full(before.shape, np.inf)

    def force_at(deflection: FloatArray) -> FloatArray:
        return side_pull_force(
            tension=before,
            deflection=deflection,
            span=span,
            axial_stiffness=stiffness,
        )

    excess = np.full(before.shape, np.inf)
    for _ in range(2 * side_pull._STEPS):
        here = force_at(aside)
        excess = np.log(here / pulled)
        if np.all(np.abs(excess) < 1e-13):
            break
        low, high = np.where(excess < 0, aside, low), np.where(excess > 0, aside, high)
        slope = np.log(force_at(aside * (1 + side_pull._LOG_STEP)) / here) / np.log1p(
            side_pull._LOG_STEP
        )
        proposed = aside * np.exp(np.clip(-excess / np.maximum(slope, 1e-3), -5.0, 5.0))
        middle = np.where(np.isinf(high), 2.0 * aside, 0.5 * (low + high))
        inside: NDArray[np.bool_] = (proposed > low) & (proposed < high)
        aside = np.minimum(np.where(inside, proposed, middle), 1e6 * span.free_length)
    return np.where(np.abs(excess) < 1e-9, aside, np.nan)[()]


def travel_time(
    *,
    squared_wave_speed: ArrayLike,
    free_length: ArrayLike,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the time a wave takes once along a vertical rope, exact.

    The integral of dx/c(x) with c^2 linear in x is 2 L/(c_lower + c_upper), the stable
    form of 2 (sqrt(T_upper) - sqrt(T_lower))/(g sqrt(m)).
    """
    length = require_positive("free length [m]", free_length)
    speed = require_positive("squared wave speed [m2/s2]", squared_wave_speed)
    half = 0.5 * gravity * length
    lower = np.sqrt(np.where(speed >= half, speed - half, np.nan))
    once: FloatArray = 2.0 * length / (lower + np.sqrt(speed + half))
    return once[()]


def return_time(
    *,
    tension: ArrayLike,
    free_length: ArrayLike,
    flexural_rigidity: ArrayLike,
    ends: EndCondition,
    linear_density: ArrayLike = 1.0,
    gravity: float = STANDARD_GRAVITY,
) -> FloatArray:
    """Compute the time of one wave return, the inverse of the function above."""
    density = require_positive("linear density [kg/m]", linear_density)
    length = require_positive("free length [m]", free_length)
    bending = require_not_negative("flexural rigidity [N m2]", flexural_rigidity)
    once = travel_time(
        squared_wave_speed=np.asarray(tension) / density,
        free_length=length,
        gravity=gravity,
    )
    mean_speed = length / once
    shortened = length - ends.n_clamped * np.sqrt(bending / density) / mean_speed
    return (2.0 * shortened / mean_speed)[()]
