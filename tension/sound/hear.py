"""The front of this room: recordings and spans in, what was heard of the set out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind, Refusal
from tension.sound.comb import Combs, find_combs
from tension.sound.hearing import (
    HearingPrior,
    HumLine,
    Hypothesis,
    Partial,
    Pluck,
    Rival,
    RopeHearing,
    RopeSpan,
    SetHearing,
)
from tension.sound.hum import Ring, ring_belief
from tension.sound.joint import Reading, weigh_readings
from tension.sound.numbering import Numbering, find_numberings, weigh_combs
from tension.sound.partials import StringFit, fit_string
from tension.sound.plucks import Event, find_events
from tension.sound.recording import Take
from tension.sound.spectra import Lines, believed, find_lines, noise_at
from tension.sound.stiffstring import places

SURE = 0.98
"""Probability from which a numbering is given; the rest stays in the hypotheses."""
SKIP = 0.03
"""The release itself is no free ring. [s]"""
SHORTEST_RING = 0.7
"""A shorter ring does not resolve the partials of a usual rope. [s]"""
LEAST_EVIDENCE = 17.0
"""ln of 1 in 100 by chance, over ln f_0 known to 1e-4 of its range and a stiffness. [1]"""
LOWEST_LINE = 8.0
"""[Hz]"""
LARGEST_DISPERSION = 1e-3
"""EI/m of 200 at a wave speed of 53 m/s: thick ropes at half their load. [s^2]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Heard:
    """One rope before the set decides."""

    plucks: tuple[Pluck, ...] = ()
    lines: Lines | None = None
    hum: tuple[HumLine, ...] = ()
    readings: tuple[Reading, ...] = ()
    refusal: Refusal | None = None
    notes: tuple[Note, ...] = ()


def hear_set(
    takes: Sequence[Take],
    spans: Sequence[RopeSpan],
    prior: HearingPrior | None = None,
) -> SetHearing:
    """Hear the ropes of a set.

    Parameters
    ----------
    takes : sequence of Take
        Recordings and which ropes were plucked in them.
    spans : sequence of RopeSpan
        One per rope.
    prior : HearingPrior, optional
        What is expected before listening.

    Returns
    -------
    SetHearing
        One `RopeHearing` per span, in the same order.
    """
    expected = prior or HearingPrior()
    heard = [_hear_rope(takes, span, expected) for span in spans]
    probabilities = weigh_readings(
        [one.readings for one in heard],
        [span.free_length for span in spans],
        expected,
    )
    ropes = tuple(
        _conclude(span, one, weights)
        for span, one, weights in zip(spans, heard, probabilities, strict=True)
    )
    given = [k for k, rope in enumerate(ropes) if rope.refusal is None]
    return SetHearing(
        ropes=ropes,
        given=tuple(ropes[k].number for k in given),
        hypotheses=_hypotheses([ropes[k] for k in given]),
        covariance=np.diag([ropes[k].relative_uncertainty ** 2 for k in given]),
    )


def _rings_of(
    take: Take, events: tuple[Event, ...]
) -> tuple[list[Ring], tuple[Pluck, ...]]:
    """Cut the rings of a recording of one rope."""
    recording = take.recording
    samples = np.asarray(recording.samples, dtype=np.float64)
    rate = recording.sampling_rate
    rings, plucks = [], []
    first = events[0].start if events else 0.0
    before = samples[: max(0, int((first - 0.1) * rate))]
    for index, event in enumerate(events, start=1):
        excluded = index in take.excluded_plucks
        short = event.end - event.start < SHORTEST_RING
        reason = ""
        if excluded:
            reason = "left out by the record"
        elif short:
            reason = "too short to tell the partials apart"
        pluck = Pluck(
            recording=recording.name,
            index=index,
            start=event.start,
            end=event.end,
            is_used=not reason,
            reason=reason,
            signal_to_noise=10.0 * np.log10(np.e) * event.rise,
        )
        plucks.append(pluck)
        if not reason:
            cut = samples[
                int((event.start + SKIP) * rate) : int((event.end - 0.02) * rate)
            ]
            rings.append(Ring(samples=cut, before=before, sampling_rate=rate))
    return rings, tuple(plucks)


def _hear_rope(takes: Sequence[Take], span: RopeSpan, prior: HearingPrior) -> _Heard:
    """Hear one rope in all recordings of it."""
    rings: list[Ring] = []
    plucks: tuple[Pluck, ...] = ()
    names = []
    rate = 0.0
    for take in takes:
        if span.number not in take.ropes:
            continue
        names.append(take.recording.name)
        if take.recording.refusal is not None:
            return _Heard(refusal=take.recording.refusal)
        rate = take.recording.sampling_rate
        samples = np.asarray(take.recording.samples, dtype=np.float64)
        new, found = _rings_of(take, find_events(samples, rate))
        rings += new
        plucks += found
    if not rings:
        name = names[0] if names else f"rope {span.number}"
        return _Heard(plucks=plucks, refusal=NoteKind.NO_PLUCK.refusal(recording=name))
    lines = find_lines(
        [ring.samples for ring in rings],
        [ring.before for ring in rings],
        rate,
        LOWEST_LINE,
    )
    longest = max(rings, key=lambda ring: ring.samples.size)
    density = noise_at(longest.samples, longest.before, rate, lines.frequencies)
    belief = ring_belief(lines, longest, density)
    lines = believed(lines, belief)
    hum = tuple(
        HumLine(frequency=float(f), level=float(10.0 * np.log10(level)))
        for f, level, weight in zip(
            lines.frequencies, lines.levels, belief, strict=True
        )
        if weight < 0.5 and level > 10.0
    )
    combs = find_combs(
        lines,
        prior.lowest_frequency,
        prior.highest_frequency,
        LARGEST_DISPERSION,
        span.n_clamped_ends,
    )
    numberings = find_numberings(
        lines,
        combs,
        prior.lowest_frequency,
        prior.highest_frequency,
        span.n_clamped_ends,
    )
    readings = _readings(lines, numberings, span.n_clamped_ends)
    refusal = None
    if not readings or readings[0].log_likelihood < LEAST_EVIDENCE:
        refusal = NoteKind.TOO_NOISY.refusal(rope=span.number)
    return _Heard(
        plucks=plucks,
        lines=lines,
        hum=hum,
        readings=tuple(readings),
        refusal=refusal,
    )


def _readings(
    lines: Lines, numberings: tuple[Numbering, ...], n_clamped_ends: int
) -> tuple[Reading, ...]:
    """Fit each numbering well, weigh it again, and drop those that are alike."""
    fits = [
        fit_string(lines, one.spacing, one.dispersion, n_clamped_ends)
        for one in numberings
    ]
    good = [fit for fit in fits if fit is not None]
    if not good:
        return ()
    combs = Combs(
        spacings=np.array([fit.spacing for fit in good]),
        dispersions=np.array([fit.dispersion for fit in good]),
    )
    weighed = weigh_combs(lines, combs, n_clamped_ends)
    pairs = sorted(
        zip(weighed, good, strict=True), key=lambda pair: -pair[0].log_likelihood
    )
    kept: list[Reading] = []
    for one, fit in pairs:
        if all(not _alike(lines, fit, other.fit) for other in kept):
            kept.append(Reading(fit=fit, log_likelihood=one.log_likelihood))
    return tuple(kept)


def _alike(lines: Lines, one: StringFit, other: StringFit) -> bool:
    """Whether two fits give the same numbers to the lines of the first."""
    f = lines.frequencies[one.lines]
    first = places(f, one.spacing, one.dispersion, one.n_clamped_ends)
    second = places(f, other.spacing, other.dispersion, other.n_clamped_ends)
    return bool(np.median(np.abs(first - second)) < 0.3)


def _conclude(
    span: RopeSpan, heard: _Heard, weights: NDArray[np.float64]
) -> RopeHearing:
    """Choose a numbering or refuse."""
    nothing = RopeHearing(
        number=span.number,
        fundamental_frequency=float("nan"),
        relative_uncertainty=float("nan"),
        inharmonicity=float("nan"),
        signal_to_noise=float("nan"),
        plucks=heard.plucks,
        hum=heard.hum,
        refusal=heard.refusal,
        notes=heard.notes,
    )
    if heard.refusal is not None or heard.lines is None or not weights.size:
        return nothing
    best = int(np.argmax(weights))
    order = [int(k) for k in np.argsort(-weights)]
    rivals = tuple(
        Rival(
            fundamental_frequency=heard.readings[k].fit.fundamental_frequency,
            probability=float(weights[k]),
        )
        for k in order
        if weights[k] > 1e-4
    )
    if weights[best] < SURE:
        refusal = NoteKind.AMBIGUOUS.refusal(
            rope=span.number,
            rivals=" or ".join(f"{r.fundamental_frequency:.2f} Hz" for r in rivals[:3]),
        )
        return replace(nothing, rivals=rivals, refusal=refusal)
    fit = heard.readings[best].fit
    used = [pluck for pluck in heard.plucks if pluck.is_used]
    return replace(
        nothing,
        fundamental_frequency=fit.fundamental_frequency,
        relative_uncertainty=fit.relative_uncertainty,
        inharmonicity=fit.inharmonicity,
        signal_to_noise=max(pluck.signal_to_noise for pluck in used),
        partials=_partials(fit, heard.lines),
        rivals=rivals[1:],
    )


def _partials(fit: StringFit, lines: Lines) -> tuple[Partial, ...]:
    """Partials of a fit."""
    return tuple(
        Partial(
            mode_number=int(mode),
            frequency=float(lines.frequencies[k]),
            level=float(10.0 * np.log10(lines.levels[k])),
            decay_time=float("nan"),
            is_used=bool(abs(residual) < 4.0 * fit.scatter),
        )
        for mode, k, residual in zip(fit.modes, fit.lines, fit.residuals, strict=True)
    )


def _hypotheses(ropes: Sequence[RopeHearing]) -> tuple[Hypothesis, ...]:
    """Joint numberings of the ropes given, heaviest first."""
    if not ropes:
        return ()
    joint: list[tuple[float, tuple[float, ...]]] = [(1.0, ())]
    for rope in ropes:
        rest = sum(rival.probability for rival in rope.rivals)
        choices = [(1.0 - rest, rope.fundamental_frequency)]
        choices += [(r.probability, r.fundamental_frequency) for r in rope.rivals]
        joint = [
            (weight * share, (*values, value))
            for weight, values in joint
            for share, value in choices
            if weight * share > 1e-4
        ]
    total = sum(weight for weight, _ in joint)
    joint.sort(key=lambda one: -one[0])
    return tuple(
        Hypothesis(weight=weight / total, fundamental_frequencies=np.array(values))
        for weight, values in joint
    )
