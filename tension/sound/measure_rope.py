"""The string that was decided on, measured: pitch, uncertainty, partials, plucks."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from tension.sound.candidates import RopeCandidates
from tension.sound.decision import Decision
from tension.sound.hearing import Partial, Pluck, RopeHearing, RopeSpan
from tension.sound.phases import PhaseFit, Track, fit_phases, follow_phases
from tension.sound.rope_notes import notes_of
from tension.sound.set_prior import Measured
from tension.sound.spectra import Lines, noise_at
from tension.sound.string_fit import StringFit

FLOOR = 1.7e-4
"""Relative uncertainty that nothing heard takes away: grid of planes, end model. With
it the surest third of made recordings was as often off as the others. [1]"""
GLIDE_SHARE = 0.4
"""Of what is taken off for glide, its uncertainty: what a ring still holds when it
ends, a recording cannot tell. Strings that others plucked (building half, seeds 9000 to
9011, 797 recordings) were above what is given by 0.3 to 0.5 of it. With a tenth, 70 %
lay within two standard uncertainties; with this and `PLUCK_SCATTER`, 90 %. [1]"""
PLUCK_SCATTER, PLUCKS_WORTH = 5e-4, 2.0
"""Scatter of ln pitch between plucks of one rope (strength, planes, what a hand left)
before any is heard, and how many degrees of freedom it is worth: of the same strings;
made ropes lie within two standard uncertainties in 95 to 99 %. [1]"""
LARGEST_CHANGE = 8e-3
"""Phases that run off by more follow something else than the partials. [1]"""
UNFOLLOWED = 1e-3
"""Relative uncertainty where no phase could be followed: planes and glide. [1]"""
SWINGING = 1.5e-3
"""Relative uncertainty where the socket swings: what two resonances leave of the rod,
planes, and glide that is not followed. [1]"""
MOST_FOLLOWED = 14
"""Partials followed in phase, the highest over noise; more only cost time."""


def measure_rope(
    span: RopeSpan, heard: RopeCandidates, decision: Decision
) -> tuple[RopeHearing, Measured]:
    """Measure the string that was decided on."""
    assert heard.lines is not None  # noqa: S101  (a decision has lines)
    fit = decision.best.fit
    # phases run with the string alone: partials of a swinging end do not
    tracks = _tracks(heard, heard.lines, fit) if fit.hitch is None else []
    phases = fit_phases(tracks, fit)
    if phases is not None and abs(phases.change) > LARGEST_CHANGE:
        phases = None
    changes = _changes(tracks)
    measured = _measured(span, fit, phases, decision.spread + _scatter(changes))
    notes = notes_of(heard, decision, phases, tracks, measured)
    hearing = RopeHearing(
        number=span.number,
        fundamental_frequency=measured.fundamental_frequency,
        relative_uncertainty=float(np.sqrt(measured.covariance[0, 0])),
        inharmonicity=fit.inharmonicity,
        signal_to_noise=float(np.max(10.0 * np.log10(heard.lines.levels[fit.lines]))),
        partials=_partials(fit, heard.lines, tracks),
        plucks=_plucks(heard, changes, fit.fundamental_frequency),
        hum=tuple(heard.found.hum),
        rivals=decision.rivals[1:],
        checks=decision.checks,
        notes=tuple(notes),
    )
    return hearing, measured


def _tracks(heard: RopeCandidates, lines: Lines, fit: StringFit) -> list[Track]:
    """Follow the partials of a fit through all decays."""
    good = np.abs(fit.residuals) < 4.0 * fit.scatter
    good &= lines.weights[fit.lines] > 0.5
    level = np.where(good, lines.levels[fit.lines], 0.0)
    strongest = np.sort(np.argsort(-level)[:MOST_FOLLOWED])
    modes = fit.modes[strongest[level[strongest] > 0.0]]
    tracks: list[Track] = []
    for index, one in enumerate(heard.found.decays if modes.size else ()):
        noise = noise_at(one.samples, one.sampling_rate, fit.frequencies(modes))
        tracks += follow_phases(
            one.samples, one.sampling_rate, index, fit, modes, noise
        )
    return tracks


def _measured(
    span: RopeSpan, fit: StringFit, phases: PhaseFit | None, spread: float
) -> Measured:
    """Fundamental and bending with their covariance."""
    change, bend, glide = 0.0, 0.0, 0.0
    covariance = fit.covariance.copy()
    if phases is None:
        least = UNFOLLOWED if fit.hitch is None else SWINGING
        covariance[0, 0] = max(covariance[0, 0], least**2)
    else:
        change, bend, glide = phases.change, phases.sqrt_dispersion_change, phases.glide
        covariance = phases.covariance.copy()
    covariance[0, 0] += spread + FLOOR**2 + (GLIDE_SHARE * glide) ** 2
    return Measured(
        number=span.number,
        length=span.free_length,
        fundamental_frequency=fit.fundamental_frequency * float(np.exp(change)),
        string_fundamental=fit.string_fundamental * float(np.exp(change)),
        sqrt_dispersion=max(fit.sqrt_dispersion + bend, 0.0),
        covariance=covariance,
    )


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


def _scatter(changes: Mapping[int, float]) -> float:
    """Variance of ln pitch between the plucks, as far as they and usual ones tell."""
    # no pluck knows which of them shows the rope: it is not divided by their number
    found = np.array(list(changes.values()))
    freedom = max(found.size - 1, 0)
    square = float(np.sum((found - found.mean()) ** 2)) if freedom else 0.0
    usual = PLUCKS_WORTH * PLUCK_SCATTER**2
    return (usual + square) / (PLUCKS_WORTH + freedom)


def _changes(tracks: Sequence[Track]) -> dict[int, float]:
    """Ln of the pitch that the partials of each ring show, against the fit."""
    slopes: dict[int, list[float]] = {}
    for track in tracks:
        slope = float(np.polyfit(track.times, track.phases, 1)[0])
        slopes.setdefault(track.ring, []).append(slope / track.frequency)
    return {ring: float(np.median(of)) for ring, of in slopes.items()}


def _plucks(
    heard: RopeCandidates, changes: Mapping[int, float], frequency: float
) -> tuple[Pluck, ...]:
    """Plucks, each with the fundamental its own partials show."""
    own = {
        (one.pluck.recording, one.pluck.index): frequency * (1.0 + changes[index])
        for index, one in enumerate(heard.found.decays)
        if index in changes
    }
    return tuple(
        replace(
            pluck,
            fundamental_frequency=own.get(
                (pluck.recording, pluck.index), pluck.fundamental_frequency
            ),
        )
        for pluck in heard.found.plucks
    )
