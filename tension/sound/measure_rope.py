"""The string that was decided on, measured; and what is doubtful about it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from tension.notes import NoteKind
from tension.sound.decays import FoundRope
from tension.sound.decision import Decision
from tension.sound.hearing import (
    Array,
    HearingPrior,
    Partial,
    Pluck,
    RopeHearing,
    SetHearing,
    joint_hypotheses,
)
from tension.sound.phases import (
    FRAME_SCATTER,
    PhaseFit,
    Track,
    fit_phases,
    follow_phases,
)
from tension.sound.spectra import Lines, amplitudes
from tension.sound.string_fit import Candidate, StringFit

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
UNFOLLOWED = 1e-3
"""Relative uncertainty where no phase could be followed: planes and glide. [1]"""
SWINGING = 1.5e-3
"""Relative uncertainty where the socket swings: what two resonances leave of the rod,
planes, and glide that is not followed. [1]"""
MOST_FOLLOWED = 14
"""Partials followed in phase, the highest over noise; more only cost time."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """One rope measured by itself; its uncertainty is told with those of its set."""

    rope: RopeHearing
    length: float | None  # free length, if known [m]
    string_fundamental: float  # spacing of the partials without stiffness [Hz]
    sqrt_dispersion: float  # 2 pi sqrt(EI/m) / c^2: the bending [s]
    covariance: Array  # of ln of the fundamental and the bending, shape (2, 2)


def measure_rope(found: FoundRope, decision: Decision) -> Measured:
    """Measure the string that was decided on."""
    lines, fit = found.lines, decision.best.fit
    assert lines is not None  # noqa: S101  (a decision has lines)
    # phases run with the string alone: partials of a swinging end do not
    tracks = _tracks(found, lines, fit) if fit.hitch is None else []
    slopes: dict[int, list[float]] = {}
    for track in tracks:
        slope = float(np.polyfit(track.times, track.phases, 1)[0])
        slopes.setdefault(track.ring, []).append(slope / track.frequency)
    # ln of the pitch that the partials of each ring show, against the fit
    changes = {ring: float(np.median(of)) for ring, of in slopes.items()}
    phases = fit_phases(tracks, fit)
    if phases is None:
        least = UNFOLLOWED if fit.hitch is None else SWINGING
        covariance = fit.covariance.copy()
        covariance[0, 0] = max(covariance[0, 0], least**2)
        phases = PhaseFit(covariance=covariance)
    covariance, glide = phases.covariance.copy(), phases.glide
    scatter = decision.spread + _scatter(changes)
    covariance[0, 0] += scatter + FLOOR**2 + (GLIDE_SHARE * glide) ** 2
    number = found.span.number
    own = fit.fundamental_frequency * float(np.exp(phases.change))
    told = chain(
        _of_sound(found, lines, decision.best),
        _of_string(decision, phases, tracks, own),
    )
    notes = [kind.note(ropes=(number,), rope=number, **given) for kind, given in told]
    rope = RopeHearing(
        number=number,
        fundamental_frequency=own,
        inharmonicity=fit.inharmonicity,
        signal_to_noise=float(np.max(10.0 * np.log10(lines.levels[fit.lines]))),
        partials=_partials(fit, lines, tracks),
        plucks=_plucks(found, changes, fit.fundamental_frequency),
        hum=tuple(found.hum),
        rivals=decision.rivals[1:],
        checks=decision.checks,
        notes=(*found.notes, *notes),
    )
    return Measured(
        rope=rope,
        length=found.span.free_length,
        string_fundamental=fit.string_fundamental * float(np.exp(phases.change)),
        sqrt_dispersion=max(fit.sqrt_dispersion + phases.sqrt_dispersion_change, 0.0),
        covariance=covariance,
    )


def _tracks(found: FoundRope, lines: Lines, fit: StringFit) -> list[Track]:
    """Follow the partials of a fit through all decays."""
    good = np.abs(fit.residuals) < 4.0 * fit.scatter
    good &= lines.weights[fit.lines] > 0.5
    level = np.where(good, lines.levels[fit.lines], 0.0)
    strongest = np.sort(np.argsort(-level)[:MOST_FOLLOWED])
    modes = fit.modes[strongest[level[strongest] > 0.0]]
    return [
        track
        for index, one in enumerate(found.decays if modes.size else ())
        for track in follow_phases(one.samples, one.sampling_rate, index, fit, modes)
    ]


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


def _plucks(
    found: FoundRope, changes: Mapping[int, float], frequency: float
) -> tuple[Pluck, ...]:
    """Plucks, each with the fundamental its own partials show."""
    changed = {
        (found.decays[index].pluck.recording, found.decays[index].pluck.index): change
        for index, change in changes.items()
    }
    heard = [changed.get((one.recording, one.index), np.nan) for one in found.plucks]
    return tuple(
        replace(one, fundamental_frequency=frequency * (1.0 + change))
        for one, change in zip(found.plucks, heard, strict=True)
    )


LOUD_HUM, MOST_HUM = 20.0, 6
"""Level over noise of hum that is told, and how many lines of it. [dB, 1]"""
COINCIDES = 1.0  # hum so near a partial took it along [Hz]
GLIDE_TOLD = 0.002
"""Rise of pitch worth telling, three times its uncertainty at least. [1]"""

_Told = Iterator[tuple[NoteKind, dict[str, object]]]


def _of_string(
    decision: Decision, phases: PhaseFit, tracks: Sequence[Track], own: float
) -> _Told:
    """Tell a glide, a car that rocks, and what the set did; `own` pitch [Hz]."""
    if phases.glide > max(GLIDE_TOLD, 3.0 * phases.glide_uncertainty):
        yield NoteKind.GLIDE, {"percent": 100.0 * phases.glide}
    rings = {track.ring for track in tracks}
    found = [_waver_of([one for one in tracks if one.ring == ring]) for ring in rings]
    waver = max(filter(None, found), key=lambda one: one[1], default=None)
    if waver:
        yield NoteKind.CAR_ROCKS, {"rate": waver[0], "percent": 100.0 * waver[1]}
    if decision.confirmed:
        yield NoteKind.SET_CONFIRMS, {}
    if np.isfinite(decision.passed_over):
        yield NoteKind.SET_RANKED, {"own": own, "other": decision.passed_over}


def _of_sound(found: FoundRope, lines: Lines, best: Candidate) -> _Told:
    """Tell hum, a hitch that swings, a guard, and a node."""
    fit, hum = best.fit, found.hum
    loud = [f"{line.frequency:.0f} Hz" for line in hum if line.level > LOUD_HUM]
    if loud:
        yield NoteKind.HUM_FOUND, {"lines": ", ".join(loud[:MOST_HUM])}
    partials = fit.frequencies(np.arange(1, int(fit.modes.max()) + 1))
    away = [np.min(np.abs(partials - line.frequency)) for line in hum]
    lost = int(np.sum(np.array(away) < COINCIDES))
    if lost > max(1, fit.modes.size // 3):
        yield NoteKind.HUM_COINCIDES, {"count": lost}
    if fit.hitch is not None:
        yield NoteKind.HITCH_SWINGS, {"frequency": fit.hitch.resonances[0]}
    if _comes_free(found, lines, fit):
        yield NoteKind.TOUCHING, {}
    if best.node_order:
        yield NoteKind.NODE_PLUCK, {"order": best.node_order}


RATES = np.arange(0.7, 3.55, 0.05)
"""A car bounces on its ropes two or three times a second, its guide shoes slower:
common practice, no source. [Hz]"""
WAVER_FRAMES, WAVER_PERIODS = 3.0, 1.5
"""Frames that a period takes up at least, and periods that a track holds. [1]"""
LEAST_TRACKS = 4  # partials of one ring that are asked [1]
EXPLAINED = 0.5
"""Share of what a smooth glide leaves of the phases that one waver must explain of half
of the partials; planes and neighbours beat at each in its own time. [1]"""
LEAST_DEPTH = 4e-4  # relative waver of the pitch worth telling [1]


def _waver_of(tracks: Sequence[Track]) -> tuple[float, float] | None:
    """Rate [Hz] and largest change of pitch [1] of what the partials of a ring share.

    A tension that changes by 2 m sin(2 pi r t) changes every f_n by m f_n of that: the
    phases of all partials, over their frequencies, go to and fro by m/(2 pi r). Each
    track keeps its own parabola, which takes offset and glide.
    """
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
    left = [
        np.sum((rest[:, None] - np.einsum("tri,ri->tr", waves, shares)) ** 2, axis=0)
        / max(float(rest @ rest), 1e-30)
        for rest, waves in parts
    ]
    explained = np.median(1.0 - np.array(left), axis=0)
    # a frame, two hops under a Hann window, averages the waver
    x = 2.0 * hop * rates
    depths = 2.0 * np.pi * rates * np.hypot(*shares.T) * (1.0 - x**2) / np.sinc(x)
    best = int(np.argmax(np.where(depths > LEAST_DEPTH, explained, -np.inf)))
    if explained[best] < EXPLAINED or depths[best] < LEAST_DEPTH:
        return None
    return float(rates[best]), float(depths[best])


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


FREE = 1.1  # after the release the swing has grown small [s]
LOUDEST = 14  # partials followed into it, the loudest [1]
RELEASE = 0.25  # shortest stretch at the release in which partials are told apart [s]
RELEASE_PERIODS = 2.5  # that stretch in periods of the spacing [1]
GROWS = -0.3
"""ln of amplitude at the release over that a second later, of partials that grow: those
of the free rope appear when it comes free. [1]"""
GROWING = 0.2  # share of the partials that must grow so [1]


def _comes_free(found: FoundRope, lines: Lines, fit: StringFit) -> bool:
    """Whether partials are louder a second after the release than at it."""
    loudest = np.argsort(-lines.levels[fit.lines])[:LOUDEST]
    frequencies = lines.frequencies[fit.lines[loudest]]
    stretch = max(RELEASE, RELEASE_PERIODS / fit.string_fundamental)
    grows = []
    for one in found.decays:
        rate = one.sampling_rate
        length, later = round(stretch * rate), round(FREE * rate)
        if one.samples.size < later + length:
            continue
        early = amplitudes(one.samples[:length], rate, frequencies)
        late = amplitudes(one.samples[later : later + length], rate, frequencies)
        falls = np.log((early + 1e-30) / (late + 1e-30))
        grows.append(float(np.quantile(falls, GROWING)) < GROWS)
    return bool(grows) and all(grows)


TYPE_SCATTER = 0.02  # relative scatter of sqrt(EI/m) between ropes of one reel [1]
OUTLYING = 3.0
"""A rope whose bending is off by so many standard deviations keeps its own. [1]"""
NEIGHBOUR_SHARE = 0.1
"""Amplitude at which a rope is set going by the one plucked beside it. [1]"""
RING_CYCLES = 80.0  # cycles in which a partial dies, 1/(2 pi 0.002) [1]


def share_stiffness(measured: Sequence[Measured], prior: HearingPrior) -> SetHearing:
    """Let the ropes of one type lend each other their stiffness.

    Notes
    -----
    bending = 2 pi g / c^2 with g = sqrt(EI/m) common to a rope type and c = 2 L
    spacing. Where the fundamental is not in the file it is extrapolated from above, and
    its error goes with that of the bending; a bending known from the other ropes takes
    it away. Each rope is told by the others only, so that nothing counts twice.
    """
    alone = [one.rope for one in measured]
    variances = np.array([one.covariance[0, 0] for one in measured])
    # ropes beside a rope ring unresolved at almost its pitch: share r at distance d
    # shifts by r d while a ring of Q cycles does not resolve it
    numbers = np.array([rope.number for rope in alone])
    pitches = np.log([rope.fundamental_frequency for rope in alone])
    is_beside = np.abs(numbers[:, None] - numbers) == 1
    distance = pitches - pitches[:, None]
    unresolved = 1.0 / (1.0 + (RING_CYCLES * distance) ** 2) ** 2
    added = (NEIGHBOUR_SHARE * distance * unresolved) ** 2
    variances += np.sum(added * is_beside, axis=1)
    changes, taken, rigidity, uncertainty = _stiffness(measured, prior)
    variances -= taken
    ropes = tuple(
        replace(
            rope,
            fundamental_frequency=float(rope.fundamental_frequency * np.exp(change)),
            relative_uncertainty=float(spread),
        )
        for rope, change, spread in zip(alone, changes, np.sqrt(variances), strict=True)
    )
    return SetHearing(
        ropes=ropes,
        given=tuple(rope.number for rope in ropes),
        hypotheses=joint_hypotheses(ropes),
        covariance=np.diag(variances),
        rigidity_per_density=rigidity,
        rigidity_per_density_uncertainty=uncertainty,
    )


def _stiffness(
    measured: Sequence[Measured], prior: HearingPrior
) -> tuple[Array, Array, float, float]:
    """Changes of ln of the fundamentals by a stiffness in common, and of variances.

    And EI/m [m^4/s^2] and its relative uncertainty, nan where a length is not known.
    """
    changes, taken = np.zeros((2, len(measured)))
    lengths = np.array([one.length or np.nan for one in measured])
    if np.isnan(lengths).any() or not measured:
        return changes, taken, np.nan, np.nan
    spacings = np.array([one.string_fundamental for one in measured])
    factor = (2.0 * lengths * spacings) ** 2 / (2.0 * np.pi)
    own = np.array([one.sqrt_dispersion for one in measured]) * factor
    covariances = np.array([one.covariance for one in measured])
    variance, cross = covariances[:, 1, 1] * factor**2, covariances[:, 0, 1] * factor
    centre = np.sqrt(prior.rigidity_per_density)
    wide = (0.5 * prior.rigidity_width * centre) ** 2
    keep = np.ones(own.size, dtype=bool)
    for _ in range(3):
        mean, spread = _combine(own[keep], variance[keep], centre, wide)
        scatter = (TYPE_SCATTER * mean) ** 2
        keep = np.abs(own - mean) / np.sqrt(variance + spread + scatter) < OUTLYING
    mean, spread = _combine(own[keep], variance[keep], centre, wide)
    for k in np.flatnonzero(keep).tolist():
        others = keep & (np.arange(own.size) != k)
        told, trust = _combine(own[others], variance[others], centre, wide)
        trust += (TYPE_SCATTER * told) ** 2
        gain = cross[k] / (variance[k] + trust)
        changes[k] = gain * (told - own[k])
        taken[k] = gain * cross[k]
    return changes, taken, float(mean**2), float(2.0 * np.sqrt(spread) / mean)


def _combine(
    own: Array, variance: Array, centre: float, wide: float
) -> tuple[float, float]:
    """Weighted mean of sqrt(EI/m), its prior included, and its variance."""
    scatter = (TYPE_SCATTER * centre) ** 2
    weight = np.concatenate([1.0 / (variance + scatter), [1.0 / wide]])
    mean = float(np.sum(weight * np.concatenate([own, [centre]])) / weight.sum())
    return mean, float(1.0 / weight.sum())
