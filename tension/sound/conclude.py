"""A rope concluded: a number with its uncertainty, or a refusal with its rivals."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind
from tension.sound.choosing import choose
from tension.sound.hearing import (
    Partial,
    Pluck,
    RopeHearing,
    RopeSpan,
)
from tension.sound.joint import Reading
from tension.sound.partials import StringFit
from tension.sound.phases import PhaseFit, fit_phases
from tension.sound.rocking import find_waver
from tension.sound.rope import HeardRope
from tension.sound.shared import Measured
from tension.sound.spectra import Lines, noise_at
from tension.sound.stiffstring import mode_frequencies
from tension.sound.touching import comes_free
from tension.sound.tracks import Track, follow_phases
from tension.sound.tworopes import find_second

FLOOR = 1.7e-4
"""Relative uncertainty that nothing heard takes away: grid of planes, end model. With
it the surest third of made recordings was as often off as the others. [1]"""
GLIDE_SHARE = 0.1
"""What is taken off for glide is known to a tenth: a swing that whirls raises the pitch
by a third more than one in a plane, and turns from one into the other. [1]"""
LARGEST_CHANGE = 8e-3
"""Phases that run off by more follow something else than the partials. [1]"""
UNFOLLOWED = 1e-3
"""Relative uncertainty where no phase could be followed: planes and glide. [1]"""
SWINGING = 1.5e-3
"""Relative uncertainty where the socket swings: what two resonances leave of the rod,
planes, and glide that is not followed. [1]"""
MOST_FOLLOWED = 14
"""Partials followed in phase, the highest over noise; more only cost time."""
GLIDE_TOLD = 0.002
"""Rise of pitch worth telling, three times its uncertainty at least. [1]"""
NEIGHBOUR_TOLD = 25.0
"""Evidence from which a neighbour that rings along is told. [1]"""


def conclude(
    span: RopeSpan,
    heard: HeardRope,
    weights: NDArray[np.float64],
) -> tuple[RopeHearing, Measured | None]:
    """Choose a numbering and measure it, or refuse.

    Parameters
    ----------
    span : RopeSpan
        Of the rope.
    heard : HeardRope
        What its recordings say.
    weights : ndarray, shape (n_readings,)
        Probabilities of its readings after the set was heard.

    Returns
    -------
    hearing : RopeHearing
        The conclusion.
    measured : Measured or None
        What the set may share; None if refused.
    """
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
        return nothing, None
    choice = choose(span, heard, weights)
    if choice.refusal is not None:
        refused = replace(nothing, rivals=choice.rivals, refusal=choice.refusal)
        return refused, None
    best = choice.best
    # phases run with the string alone: partials of a swinging end do not
    tracks = _tracks(heard, best.fit) if best.fit.swing is None else []
    phases = fit_phases(tracks, best.fit)
    if phases is not None and abs(phases.change) > LARGEST_CHANGE:
        phases = None
    measured = _measured(span, best.fit, phases, choice.spread)
    level = 10.0 * np.log10(heard.lines.levels[best.fit.lines])
    notes = [*heard.notes, *_notes(span, heard, best.fit, best.node_order, phases)]
    notes += _neighbours(span, heard.lines, best)
    notes += _wavers(span, tracks)
    hearing = replace(
        nothing,
        fundamental_frequency=measured.fundamental_frequency,
        relative_uncertainty=float(np.sqrt(measured.covariance[0, 0])),
        inharmonicity=best.fit.inharmonicity,
        signal_to_noise=float(np.max(level)),
        partials=_partials(best.fit, heard.lines, tracks),
        plucks=_plucks(heard, tracks, best.fit.fundamental_frequency),
        rivals=choice.rivals[1:],
        notes=tuple(notes),
    )
    return hearing, measured


def _neighbours(span: RopeSpan, lines: Lines, best: Reading) -> list[Note]:
    """Tell of a neighbour that rings along."""
    second = find_second(lines, best.fit)
    least = max(NEIGHBOUR_TOLD, 0.5 * best.log_likelihood)
    if second is None or second.evidence < least:
        return []
    return [
        NoteKind.NEIGHBOUR_SOUNDS.note(
            ropes=(span.number,),
            rope=span.number,
            second=second.fit.fundamental_frequency,
        )
    ]


def _wavers(span: RopeSpan, tracks: Sequence[Track]) -> list[Note]:
    """Tell of a car that still moves."""
    waver = find_waver(tracks)
    if waver is None:
        return []
    return [
        NoteKind.CAR_ROCKS.note(
            ropes=(span.number,),
            rope=span.number,
            rate=waver.rate,
            percent=100.0 * waver.depth,
        )
    ]


def _tracks(heard: HeardRope, fit: StringFit) -> list[Track]:
    """Follow the partials of a fit through all rings."""
    assert heard.lines is not None  # noqa: S101  (narrowed by the caller)
    good = np.abs(fit.residuals) < 4.0 * fit.scatter
    good &= heard.lines.weights[fit.lines] > 0.5
    level = np.where(good, heard.lines.levels[fit.lines], 0.0)
    strongest = np.sort(np.argsort(-level)[:MOST_FOLLOWED])
    modes = fit.modes[strongest[level[strongest] > 0.0]]
    if not modes.size:
        return []
    frequencies = mode_frequencies(
        modes.astype(np.float64), fit.spacing, fit.dispersion, fit.n_clamped_ends
    )
    tracks = []
    for index, one in enumerate(heard.rings):
        ring = one.ring
        noise = noise_at(ring.samples, ring.before, ring.sampling_rate, frequencies)
        tracks += follow_phases(
            ring.samples, ring.sampling_rate, index, fit, modes, noise
        )
    return tracks


def _measured(
    span: RopeSpan, fit: StringFit, phases: PhaseFit | None, spread: float
) -> Measured:
    """Fundamental and bending with their covariance."""
    change, bend, glide = 0.0, 0.0, 0.0
    covariance = fit.covariance.copy()
    if phases is None:
        least = UNFOLLOWED if fit.swing is None else SWINGING
        covariance[0, 0] = max(covariance[0, 0], least**2)
    else:
        change, bend, glide = phases.change, phases.bending_change, phases.glide
        covariance = phases.covariance.copy()
    covariance[0, 0] += spread + FLOOR**2 + (GLIDE_SHARE * glide) ** 2
    return Measured(
        number=span.number,
        length=span.free_length,
        fundamental_frequency=fit.fundamental_frequency * float(np.exp(change)),
        spacing=fit.spacing * float(np.exp(change)),
        bending=max(fit.bending + bend, 0.0),
        covariance=covariance,
    )


def _notes(
    span: RopeSpan,
    heard: HeardRope,
    fit: StringFit,
    node_order: int,
    phases: PhaseFit | None,
) -> list[Note]:
    """What was doubtful about a rope that is given."""
    assert heard.lines is not None  # noqa: S101  (narrowed by the caller)
    ropes = (span.number,)
    notes = []
    loud = [line for line in heard.hum if line.level > 20.0]
    if loud:
        told = ", ".join(f"{line.frequency:.0f} Hz" for line in loud[:6])
        notes.append(NoteKind.HUM_FOUND.note(ropes=ropes, rope=span.number, lines=told))
    modes = np.arange(1.0, float(fit.modes.max()) + 1.0)
    comb = mode_frequencies(modes, fit.spacing, fit.dispersion, fit.n_clamped_ends)
    lost = sum(bool(np.min(np.abs(comb - line.frequency)) < 1.0) for line in heard.hum)
    if lost > max(1, fit.modes.size // 3):
        notes.append(
            NoteKind.HUM_COINCIDES.note(ropes=ropes, rope=span.number, count=lost)
        )
    if fit.swing is not None:
        notes.append(
            NoteKind.HITCH_SWINGS.note(
                ropes=ropes, rope=span.number, frequency=fit.swing.resonances[0]
            )
        )
    if comes_free(heard.rings, heard.lines, fit):
        notes.append(NoteKind.TOUCHING.note(ropes=ropes, rope=span.number))
    if node_order:
        notes.append(
            NoteKind.NODE_PLUCK.note(ropes=ropes, rope=span.number, order=node_order)
        )
    if phases is not None and phases.glide > max(
        GLIDE_TOLD, 3.0 * phases.glide_uncertainty
    ):
        notes.append(
            NoteKind.GLIDE.note(
                ropes=ropes, rope=span.number, percent=100.0 * phases.glide
            )
        )
    return notes


def _partials(
    fit: StringFit, lines: Lines, tracks: Sequence[Track]
) -> tuple[Partial, ...]:
    """Partials of a fit."""
    decay: dict[int, float] = {}
    for track in tracks:
        rate = 2.0 * np.pi * track.frequency * track.damping
        if rate > 0.0:
            decay.setdefault(track.mode, float(1.0 / rate))
    return tuple(
        Partial(
            mode_number=int(mode),
            frequency=float(lines.frequencies[k]),
            level=float(10.0 * np.log10(lines.levels[k])),
            decay_time=decay.get(int(mode), float("nan")),
            is_used=bool(abs(residual) < 4.0 * fit.scatter),
        )
        for mode, k, residual in zip(fit.modes, fit.lines, fit.residuals, strict=True)
    )


def _plucks(
    heard: HeardRope, tracks: Sequence[Track], frequency: float
) -> tuple[Pluck, ...]:
    """Plucks, each with the fundamental its own partials show."""
    own: dict[tuple[str, int], float] = {}
    for index, one in enumerate(heard.rings):
        slopes = [
            float(np.polyfit(t.times, t.phases, 1)[0]) / t.frequency
            for t in tracks
            if t.ring == index
        ]
        if slopes:
            own[one.pluck.recording, one.pluck.index] = frequency * (
                1.0 + float(np.median(slopes))
            )
    return tuple(
        replace(
            pluck,
            fundamental_frequency=own.get(
                (pluck.recording, pluck.index), pluck.fundamental_frequency
            ),
        )
        for pluck in heard.plucks
    )
