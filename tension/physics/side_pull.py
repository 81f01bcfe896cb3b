"""Side pull: a known lateral force, a measured deflection, the tension before it.

The same inverse serves both protocols, equal deflection and equal force on every rope.
Pulling stretches the rope, so what the deflection shows is the tension during the pull.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from tension.errors import InvalidValueError
from tension.physics import FloatArray, require_not_negative, require_positive
from tension.physics.taut_rope import EndCondition

_STEPS = 60  # most steps of the solution
_LOG_STEP = 1e-4  # of the differences that give sensitivities, in ln [1]

_LEAST_HELD = 1e-2
"""H L^2/EI from which it is the tension that holds a rope at all. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class PulledSpan:
    """The span that is pulled, and where."""

    free_length: float  # free length [m]
    pull_point: float  # from the first end, the clamped one if only one is [m]
    flexural_rigidity: float  # flexural rigidity; 0 if it is neglected [N m2]
    ends: EndCondition  # how the ends are held

    def __post_init__(self) -> None:
        require_positive("free length [m]", self.free_length)
        require_not_negative("flexural rigidity [N m2]", self.flexural_rigidity)
        if not 0 < self.pull_point < self.free_length:
            message = (
                f"pull point must lie between the ends, 0 to {self.free_length:g} m, "
                f"got {self.pull_point:g} m; measure it from the lower node"
            )
            raise InvalidValueError(message)


@dataclass(frozen=True, kw_only=True, slots=True)
class PullOutcome:
    """What a side pull tells, arrays of the broadcast shape of the readings."""

    # tension before the pull; nan where the axial stiffness is not known, or where the
    # rope bends less than its stiffness alone would let it [N]
    tension: FloatArray
    pulled_tension: FloatArray  # mean tension along the span during the pull [N]
    # how much longer the deflected rope is than the straight one [m]
    elongation: FloatArray


def _coth(x: FloatArray) -> FloatArray:
    return (1.0 + np.exp(-2.0 * x)) / -np.expm1(-2.0 * x)


def _ratio_of_sinh(part: FloatArray, whole: FloatArray) -> FloatArray:
    # sinh(part)/sinh(whole) without overflow, part <= whole
    return np.exp(part - whole) * np.expm1(-2.0 * part) / np.expm1(-2.0 * whole)


def lateral_compliance(*, span: PulledSpan, horizontal: ArrayLike) -> FloatArray:
    """Compute the deflection of the pulled point per unit of lateral force [m/N].

    For small slopes, by the tension along the chord [N].

    Raises
    ------
    InvalidValueError
        If a tension is not above zero.

    Notes
    -----
    Pinned: a b/(H L) - sinh(k a) sinh(k b)/(H k sinh(k L)), k = sqrt(H/EI), b = L - a.
    A clamped end adds the moment that holds its slope at zero: with p the slope there
    per unit force and r, s the slopes at this and the other end per unit moment, one
    clamp takes p^2/r off, two take the quadratic form of the inverse of (r s; s r).

    Examples
    --------
    Half-way along 4 m under 1000 N: L/(4 T) = 1 mm/N.

    >>> span = PulledSpan(free_length=4.0, pull_point=2.0, flexural_rigidity=0.0,
    ...     ends=EndCondition.PINNED_PINNED)
    >>> float(lateral_compliance(span=span, horizontal=1000.0))
    0.001
    """
    tension = require_positive("tension [N]", horizontal)
    length, near = span.free_length, span.pull_point
    far = length - near
    flexible = near * far / (tension * length)
    if span.flexural_rigidity == 0:
        return flexible[()]
    bending = np.sqrt(span.flexural_rigidity / tension)
    whole = length / bending
    near_part = _ratio_of_sinh(near / bending, whole)
    far_part = _ratio_of_sinh(far / bending, whole)
    # sinh(ka) sinh(kb)/sinh(kL) with the growing part taken out
    corner = (
        0.5
        * np.expm1(-2.0 * near / bending)
        * np.expm1(-2.0 * far / bending)
        / -np.expm1(-2.0 * whole)
    )
    compliance = flexible - bending * corner / tension
    if span.ends.n_clamped == 0:
        return compliance[()]
    first = (far / length - far_part) / tension
    last = (near / length - near_part) / tension
    own = (_coth(whole) / bending - 1.0 / length) / tension
    other = (1.0 / length - 1.0 / (bending * np.sinh(np.minimum(whole, 700)))) / tension
    if span.ends.n_clamped == 1:
        return (compliance - first**2 / own)[()]
    form = own * (first**2 + last**2) - 2.0 * other * first * last
    return (compliance - form / (own**2 - other**2))[()]


def _slackness(*, span: PulledSpan, horizontal: FloatArray) -> FloatArray:
    # -d ln C/d ln H: 1 for a flexible rope, less for a stiff one
    step = np.exp(_LOG_STEP)
    more = lateral_compliance(span=span, horizontal=horizontal * step)
    less = lateral_compliance(span=span, horizontal=horizontal / step)
    return -(np.log(more) - np.log(less)) / (2.0 * _LOG_STEP)


def _geometry(
    *, span: PulledSpan, deflection: FloatArray, horizontal: FloatArray
) -> tuple[FloatArray, FloatArray]:
    # Mean tension over chord tension, and elongation, of the deflected rope.
    near = span.pull_point
    far = span.free_length - near
    near_side, far_side = np.hypot(near, deflection), np.hypot(far, deflection)
    mean = (near_side + far_side) / span.free_length
    # hypot - near loses digits for small deflections: this form does not
    corner = deflection**2 * (1.0 / (near_side + near) + 1.0 / (far_side + far))
    if span.flexural_rigidity == 0:
        return mean, corner
    # Half the integral of slope squared is -(F^2/2) dC/dH: rounding the corner saves.
    compliance = lateral_compliance(span=span, horizontal=horizontal)
    flexible = near * far / (horizontal * span.free_length)
    rounding = flexible / compliance * _slackness(span=span, horizontal=horizontal)
    return mean, corner * rounding


def tension_from_side_pull(
    *,
    force: ArrayLike,
    deflection: ArrayLike,
    span: PulledSpan,
    axial_stiffness: ArrayLike | None = None,
) -> PullOutcome:
    """Compute the tension before the pull from force and deflection.

    Parameters
    ----------
    force : array_like
        Force across the rope, perpendicular to its chord. [N]
    deflection : array_like
        Deflection of the pulled point. [m]
    span : PulledSpan
        The span and the pulled point.
    axial_stiffness : array_like, optional
        Stiffness of the whole rope with its springs in series, hitch to hitch; if it is
        left out, the tension before is nan, and the caller bounds it. [N/m]

    Returns
    -------
    PullOutcome
        Tension before and during the pull, and the elongation that the pull made.

    Raises
    ------
    InvalidValueError
        If a force or a deflection is not above zero.

    Notes
    -----
    The chord tension H solves deflection = force C(H), C of `lateral_compliance`; for a
    flexible rope H = F a b/(d L) at any angle. The sides carry H sqrt(1 + (d/a)^2) and
    H sqrt(1 + (d/b)^2), their mean over the length is the pulled tension, and the
    tension before is that less axial stiffness times elongation, exact for a flexible
    rope; bending is added for small slopes. Own weight: the tension is that at the
    pulled point, to first order. A rope held by two clamps errs by 4/xi if its bending
    is neglected, xi = L sqrt(T/EI): as much as a frequency does.

    References
    ----------
    .. [1] SDP/SI, Designer's handbook D790, section T-3, eq. 1-4 and 1-5: the same
       relation for belts.

    Examples
    --------
    50 N move the middle of 4 m by 50 mm: 50 x 4/(4 x 0.05) = 1000 N.

    >>> span = PulledSpan(free_length=4.0, pull_point=2.0, flexural_rigidity=0.0,
    ...     ends=EndCondition.PINNED_PINNED)
    >>> outcome = tension_from_side_pull(force=50.0, deflection=0.05, span=span,
    ...     axial_stiffness=40_000.0)
    >>> round(float(outcome.pulled_tension), 1), round(float(outcome.tension), 1)
    (1000.3, 950.3)
    """
    pulled = require_positive("force [N]", force)
    aside = require_positive("deflection [m]", deflection)
    pulled, aside = np.broadcast_arrays(pulled, aside)
    horizontal = _chord_tension(span=span, compliance=aside / pulled)
    mean, elongation = _geometry(span=span, deflection=aside, horizontal=horizontal)
    pulled_tension = mean * horizontal
    stiffness = np.asarray(np.nan if axial_stiffness is None else axial_stiffness)
    made = require_not_negative("axial stiffness [N/m]", stiffness) * elongation
    return PullOutcome(
        tension=(pulled_tension - made)[()],
        pulled_tension=pulled_tension[()],
        elongation=elongation[()],
    )


def _chord_tension(*, span: PulledSpan, compliance: FloatArray) -> FloatArray:
    # C falls with H and lies below the flexible one: the flexible H bounds from above.
    # ln C falls ever faster with ln H, so that Newton steps from there never pass it.
    length, near = span.free_length, span.pull_point
    high = near * (length - near) / (length * compliance)
    if span.flexural_rigidity == 0:
        return high
    least = np.full_like(high, _LEAST_HELD * span.flexural_rigidity / length**2)
    is_taut = lateral_compliance(span=span, horizontal=least) > compliance
    logarithm = np.log(np.where(is_taut, high, least))
    for _ in range(_STEPS):
        horizontal = np.exp(logarithm)
        slope = _slackness(span=span, horizontal=horizontal)
        ratio = lateral_compliance(span=span, horizontal=horizontal) / compliance
        step = np.where(is_taut, np.log(ratio) / slope, 0.0)
        logarithm = logarithm + step
        if np.all(np.abs(step) <= 1e-14):
            break
    return np.where(is_taut, np.exp(logarithm), np.nan)
