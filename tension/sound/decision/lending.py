"""Strings and ends that some ropes of a set show, looked for in the others."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.sound.decision.posterior import rigidity_of
from tension.sound.hearing import RopeSpan
from tension.sound.lines.spectra import Lines, below
from tension.sound.strings.candidate import Candidate
from tension.sound.strings.candidates import RopeCandidates, distinct, in_order
from tension.sound.strings.comb import Combs
from tension.sound.strings.mode_assignment import weigh_combs
from tension.sound.strings.string_fit import StringFit, combs_of, fit_strings
from tension.sound.strings.swing_search import search_told
from tension.sound.strings.swinging import Swing

Array = NDArray[np.float64]

STRONG = 35.0
"""Evidence from which the string of a rope is beyond doubt. [1]"""
AHEAD = 10.0
"""By which it is likelier than any other pitch. [1]"""
ANOTHER_PITCH = 0.012
"""Relative distance of another pitch. [1]"""
LEAST_LENDERS = 2
"""Ropes beyond doubt whose stiffness is lent: one may be of another kind."""
MOST_ENDS = 4
"""Ends lent."""
RANGE, STEP = 0.2, 0.001
"""How far beyond the wave speeds of the others a rope is looked for, and how densely,
of its log. [1]"""
STIFFNESS_SLACK = 0.04
"""How well the bending of others is that of a rope, relative: hitch, planes. [1]"""
LEAST_LINES = 3
"""Fewer lines agree with any string. [1]"""
FIRST_PLACES = 25
"""Partials looked at while the wave speed is looked for: many more only cost time."""
MOST_STRINGS, APART = 8, 4
"""Strings fitted of those looked at, and how many steps they lie apart."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lent:
    """What the ropes of a set that are heard beyond doubt have in common.

    Attributes
    ----------
    speeds : ndarray, shape (n_ropes,)
        Wave speeds. [m/s]
    rigidity : float
        EI/m, the median. [m^4/s^2]
    swings : tuple of Swing
        Ends that swing.
    """

    speeds: Array
    rigidity: float
    swings: tuple[Swing, ...]

    @classmethod
    def of(cls, fits: Sequence[tuple[StringFit, float]]) -> Self:
        """Collect from strings and their free lengths [m].

        Parameters
        ----------
        fits : sequence of tuple of StringFit and float
            At least one. [-, m]
        """
        speeds = np.array([2.0 * length * fit.spacing for fit, length in fits])
        rigidities = [rigidity_of(fit, length) for fit, length in fits]
        swings = [fit.swing for fit, _ in fits if fit.swing is not None]
        return cls(
            speeds=speeds,
            rigidity=float(np.median(rigidities)),
            swings=tuple(swings[:MOST_ENDS]),
        )


def lend(
    heard: Sequence[RopeCandidates], spans: Sequence[RopeSpan]
) -> list[RopeCandidates]:
    """Look in each rope for the stiffness, wave speeds and ends of the others.

    Returns
    -------
    list of RopeCandidates
        The same, some with more candidates, or no longer refused as too weak.

    Notes
    -----
    Ropes of one set are of one type and their sockets alike: a string as stiff as the
    others is likelier than any other, and so is an end that one of them has shown.
    """
    strong = [
        (one.candidates[0].fit, span.free_length)
        for one, span in zip(heard, spans, strict=True)
        if span.free_length is not None and _is_strong(one)
    ]
    if not strong:
        return list(heard)
    lent = Lent.of(strong)
    return [_with(one, span, lent) for one, span in zip(heard, spans, strict=True)]


def _is_strong(one: RopeCandidates) -> bool:
    """Whether one pitch of a rope is beyond doubt."""
    if one.refusal is not None or not one.candidates:
        return False
    first = one.candidates[0]
    return first.log_likelihood > STRONG and all(
        other.log_likelihood < first.log_likelihood - AHEAD
        for other in one.candidates[1:]
        if abs(np.log(other.fit.spacing / first.fit.spacing)) > ANOTHER_PITCH
    )


def _with(one: RopeCandidates, span: RopeSpan, lent: Lent) -> RopeCandidates:
    """Add what a rope shows if it is as the others."""
    if one.lines is None or span.free_length is None:
        return one
    is_strong = _is_strong(one)
    candidates = one.candidates
    if not is_strong and lent.speeds.size >= LEAST_LENDERS:
        candidates = in_order((*candidates, *_strings(one.lines, span, lent)))
        candidates = distinct(one.lines, candidates)
    beside = bool(lent.swings)
    if beside and not (is_strong and candidates[0].fit.swing is not None):
        speed = float(np.median(lent.speeds))
        told = search_told(one.lines, span, speed, lent.rigidity, lent.swings)
        candidates = in_order((*candidates, *told))
    return replace(one, candidates=candidates, beside_swings=beside)


def _strings(lines: Lines, span: RopeSpan, lent: Lent) -> tuple[Candidate, ...]:
    """Strings as stiff as the others, the socket at rest, that lines agree with."""
    assert span.free_length is not None  # noqa: S101  (asked by the caller)
    twice = 2.0 * span.free_length
    low, high = np.log(lent.speeds.min()) - RANGE, np.log(lent.speeds.max()) + RANGE
    speeds = np.exp(np.arange(low, high, STEP))
    spacings = speeds / twice
    bendings = 2.0 * np.pi * np.sqrt(lent.rigidity) / speeds**2
    combs = Combs(spacings=spacings, dispersions=bendings**2)
    low_lines = below(lines, FIRST_PLACES * float(np.median(spacings)))
    if low_lines.frequencies.size < LEAST_LINES:
        return ()
    score = weigh_combs(low_lines, combs, span.n_clamped_ends).log_likelihoods
    best: list[int] = []
    for k in np.argsort(-score).tolist():
        if all(abs(k - other) > APART for other in best):
            best.append(k)
        if len(best) == MOST_STRINGS:
            break
    starts = Combs(spacings=spacings[best], dispersions=bendings[best] ** 2)
    slacks = STIFFNESS_SLACK * bendings[best]
    fits = fit_strings(lines, starts, span.n_clamped_ends, slacks)
    known = [fit for fit in fits if fit is not None]
    if not known:
        return ()
    weighed = weigh_combs(lines, combs_of(known), span.n_clamped_ends)
    return tuple(
        Candidate(fit=fit, log_likelihood=log, node_order=order)
        for fit, log, order in zip(
            known,
            weighed.log_likelihoods.tolist(),
            weighed.node_orders.tolist(),
            strict=True,
        )
    )
