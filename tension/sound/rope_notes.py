"""What is doubtful about a rope that is given: hum, a guard, a car that rocks."""

from collections.abc import Sequence

import numpy as np

from tension.notes import Note, NoteKind
from tension.sound.candidates import RopeCandidates
from tension.sound.decays import Decay
from tension.sound.decision import Decision
from tension.sound.hum import amplitudes
from tension.sound.phases import FRAME_SCATTER, PhaseFit, Track
from tension.sound.recording import Array
from tension.sound.set_prior import Measured
from tension.sound.spectra import Lines
from tension.sound.string_fit import Candidate, StringFit

LOUD_HUM, MOST_HUM = 20.0, 6
"""Level over noise of hum that is told, and how many lines of it. [dB, 1]"""
COINCIDES = 1.0
"""Hum so near a partial took it along. [Hz]"""
GLIDE_TOLD = 0.002
"""Rise of pitch worth telling, three times its uncertainty at least. [1]"""


_Told = list[tuple[NoteKind, dict[str, object]]]


def notes_of(
    heard: RopeCandidates,
    decision: Decision,
    phases: PhaseFit | None,
    tracks: Sequence[Track],
    measured: Measured,
) -> list[Note]:
    """Tell what was doubtful about a rope that is given."""
    told = _of_sound(heard, decision.best)
    if phases is not None:
        least = max(GLIDE_TOLD, 3.0 * phases.glide_uncertainty)
        if phases.glide > least:
            told.append((NoteKind.GLIDE, {"percent": 100.0 * phases.glide}))
    waver = find_waver(tracks)
    if waver is not None:
        rate, depth = waver
        told.append((NoteKind.CAR_ROCKS, {"rate": rate, "percent": 100.0 * depth}))
    if decision.confirmed:
        told.append((NoteKind.SET_CONFIRMS, {}))
    if np.isfinite(decision.passed_over):
        own = measured.fundamental_frequency
        told.append((NoteKind.SET_RANKED, {"own": own, "other": decision.passed_over}))
    number = measured.number
    return [
        *heard.found.notes,
        *(kind.note(ropes=(number,), rope=number, **places) for kind, places in told),
    ]


def _of_sound(heard: RopeCandidates, best: Candidate) -> _Told:
    """Hum, a hitch that swings, a guard, and a node."""
    assert heard.lines is not None  # noqa: S101  (a decision has lines)
    fit, hum = best.fit, heard.found.hum
    told: _Told = []
    loud = [f"{line.frequency:.0f} Hz" for line in hum if line.level > LOUD_HUM]
    if loud:
        told.append((NoteKind.HUM_FOUND, {"lines": ", ".join(loud[:MOST_HUM])}))
    partials = fit.frequencies(np.arange(1, int(fit.modes.max()) + 1))
    away = [np.min(np.abs(partials - line.frequency)) for line in hum]
    lost = int(np.sum(np.array(away) < COINCIDES))
    if lost > max(1, fit.modes.size // 3):
        told.append((NoteKind.HUM_COINCIDES, {"count": lost}))
    if fit.hitch is not None:
        told.append((NoteKind.HITCH_SWINGS, {"frequency": fit.hitch.resonances[0]}))
    if comes_free(heard.found.decays, heard.lines, fit):
        told.append((NoteKind.TOUCHING, {}))
    if best.node_order:
        told.append((NoteKind.NODE_PLUCK, {"order": best.node_order}))
    return told


RATES = np.arange(0.7, 3.55, 0.05)
"""A car bounces on its ropes two or three times a second, its guide shoes slower:
common practice, no source. [Hz]"""
WAVER_FRAMES, WAVER_PERIODS = 3.0, 1.5
"""Frames that a period takes up at least, and periods that a track holds. [1]"""
LEAST_TRACKS = 4
"""Partials of one ring that are asked. [1]"""
EXPLAINED = 0.5
"""Share of what a smooth glide leaves of the phases that one waver must explain of half
of the partials; planes and neighbours beat at each in its own time. [1]"""
LEAST_DEPTH = 4e-4
"""Relative waver of the pitch worth telling. [1]"""


def find_waver(tracks: Sequence[Track]) -> tuple[float, float] | None:
    """Find the deepest waver that the partials of a ring share.

    Gives its rate [Hz] and the largest change of the pitch, relative [1].

    Notes
    -----
    A tension that changes by 2 m sin(2 pi r t) changes every f_n by m f_n of that: the
    phases of all partials, over their frequencies, go to and fro by m/(2 pi r). Each
    track keeps its own parabola, which takes offset and glide.
    """
    rings = {track.ring for track in tracks}
    found = [
        _waver_of([track for track in tracks if track.ring == ring]) for ring in rings
    ]
    return max(filter(None, found), key=lambda waver: waver[1], default=None)


def _waver_of(tracks: Sequence[Track]) -> tuple[float, float] | None:
    """The waver of one ring."""
    usable = [track for track in tracks if track.times.size >= 6]
    if len(usable) < LEAST_TRACKS:
        return None
    hop = float(usable[0].times[1] - usable[0].times[0])
    longest = max(float(np.ptp(track.times)) for track in usable)
    slowest, fastest = WAVER_PERIODS / longest, 1.0 / (WAVER_FRAMES * hop)
    rates = RATES[np.logical_and(slowest < RATES, fastest > RATES)]
    if not rates.size:
        return None
    parts = [_left(track, rates) for track in usable]
    square = sum(np.einsum("tri,trj->rij", waves, waves) for _, waves in parts)
    cross = sum(np.einsum("tri,t->ri", waves, rest) for rest, waves in parts)
    shares = (np.linalg.pinv(square) @ np.asarray(cross)[..., None])[..., 0]
    explained = np.median([_explained(*part, shares) for part in parts], axis=0)
    # a frame, two hops under a Hann window, averages the waver
    x = 2.0 * hop * rates
    depths = 2.0 * np.pi * rates * np.hypot(*shares.T) * (1.0 - x**2) / np.sinc(x)
    best = int(np.argmax(np.where(depths > LEAST_DEPTH, explained, -np.inf)))
    if explained[best] < EXPLAINED or depths[best] < LEAST_DEPTH:
        return None
    return float(rates[best]), float(depths[best])


def _explained(rest: Array, waves: Array, shares: Array) -> Array:
    """Share of what is left of a track that the waver of each rate explains."""
    after = rest[:, None] - np.einsum("tri,ri->tr", waves, shares)
    left: Array = np.sum(after**2, axis=0) / max(float(rest @ rest), 1e-30)
    return 1.0 - left


def _left(track: Track, rates: Array) -> tuple[Array, Array]:
    """Phases over frequency, and sine and cosine of each rate, without parabolas."""
    weight = track.frequency / np.sqrt(track.variances + FRAME_SCATTER**2)
    own = np.vander(track.times - track.times.mean(), 3) * weight[:, None]
    basis = np.linalg.qr(own)[0]
    angle = 2.0 * np.pi * np.outer(track.times, rates)
    waves = np.stack([np.sin(angle), np.cos(angle)], axis=2).reshape(angle.shape[0], -1)
    both = np.column_stack([track.phases / track.frequency, waves]) * weight[:, None]
    both -= basis @ (basis.T @ both)
    return both[:, 0], both[:, 1:].reshape(*angle.shape, 2)


FREE = (1.1, 4.0)
"""Part of a ring in which the swing has grown small. [s]"""
LOUDEST = 14
"""Partials followed into it, the loudest. [1]"""
RELEASE = 0.25
"""Shortest stretch at the release in which partials are told apart. [s]"""
RELEASE_PERIODS = 2.5
"""That stretch in periods of the spacing. [1]"""
GROWS = -0.3
"""ln of amplitude at the release over that a second later, of partials that grow: those
of the free rope appear when it comes free. [1]"""
GROWING = 0.2
"""Share of the partials that must grow so. [1]"""


def comes_free(rings: Sequence[Decay], lines: Lines, fit: StringFit) -> bool:
    """Tell whether partials are louder a second after the release than at it."""
    loudest = np.argsort(-lines.levels[fit.lines])[:LOUDEST]
    frequencies = lines.frequencies[fit.lines[loudest]]
    stretch = max(RELEASE, RELEASE_PERIODS / fit.string_fundamental)
    grows = []
    for one in rings:
        rate = one.sampling_rate
        length, later = round(stretch * rate), round(FREE[0] * rate)
        if one.samples.size < later + length:
            continue
        early, late = (
            amplitudes(one.samples[first : first + length], rate, frequencies)
            for first in (0, later)
        )
        falls = np.log((early + 1e-30) / (late + 1e-30))
        grows.append(float(np.quantile(falls, GROWING)) < GROWS)
    return bool(grows) and all(grows)
