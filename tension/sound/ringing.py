"""Ringing: whether what was taken for partials rings as a free rope does."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind, Refusal
from tension.sound.beating import beats
from tension.sound.hearing import RopeSpan
from tension.sound.hum import amplitudes, near_mains
from tension.sound.partials import StringFit, explained_share
from tension.sound.rings import RingOf
from tension.sound.spectra import Lines
from tension.sound.touching import comes_free, pitch_changes

Array = NDArray[np.float64]

LONGEST = 3.0
"""Looked at of a ring: what is left later is the lowest partials. [s]"""
LEAST_FALL = 0.1
"""ln of amplitude early over late of the partials that fall fastest. A partial at
60 Hz whose damping ratio is 7e-4 falls by 0.26 from one second to the next; gain
control holds the loudest partial up, and those above it fall all the same. [1]"""
FASTEST = 0.8
"""Quantile of the falls that is asked. [1]"""
UNCHANGED = 0.03
"""ln of amplitude that a tone of a machine keeps to, and that a partial which falls by
chance meets seldom: half of all partials never. [1]"""
GROWTH = -0.15
"""Median of the falls of a sound that swells. [1]"""
BLOCK, HELD = 0.05, 5
"""Blocks in which the level is looked at, and how many a signal is held. [s, 1]"""
HOLDS, STOPS = 3.0, 15.0
"""Level that a held signal keeps to, and by which it falls as it stops: a rope left to
itself falls fastest at first. [dB]"""
LEAST_RIGIDITY = 1.0
"""EI/m of the thinnest hoist rope, 6 mm, at a hundredth of the rigidity of a solid rod
of its diameter. [m^4/s^2]"""
FASTEST_WAVE = 200.0
"""No hoist rope is above: three times a twelfth of its breaking force. [m/s]"""
MARGIN = 3.0
"""Standard uncertainties by which the least dispersion must be missed ... [1]"""
SLACK = 0.03
"""... and the share of it that the hitch and a second plane leave. [1]"""
LOUD = 20.0
"""Level over noise of lines that chance and a neighbour's echo do not make. [dB]"""
LOWEST_PARTIALS = 20
"""Partials among which strangers are looked for: ropes plucked together sound there,
machines above. [1]"""
BESIDE = 0.07
"""Distance from the comb, in spacings, from which a line is no partial: an end or a
hitch moves a partial by less. [1]"""
AS_LOUD = -4.0
"""Power of the strangers against that of the partials, from which more than one rope
sounds. Of 626 made ropes heard alone one was over it, and none over -2 dB. [dB]"""
MOST_STRONGEST, OWN = 12, 0.7
"""Lines looked at, the strongest, and the share of them that are partials of a rope
that sounds alone: one loud stranger is no rope. [1]"""
SWING_EXPLAINS = 0.5
"""Least share of what is heard that a string on a swinging end explains: its end has
enough freedom to be fitted between two ropes, and then leaves half of each. [1]"""
LEAST_LOUD = 6
"""Fewer loud lines tell no share. [1]"""
STOOD = 4
"""Partials that sounded before the pluck as after it, at least ... [1]"""
STOOD_SHARE = 0.5
"""... and their number over that of the partials used. [1]"""
EXACTLY, LOWEST, STOOD_EXACTLY = 0.04, 3, 2
"""Distance from the comb, in spacings, of lines that are the partials themselves; the
lowest of them, and how many of these are no chance: of 626 made ropes none has more
than one. [1]"""
NEAR = 0.15
"""Distance of such a line from the comb, which was fitted without it, in spacings."""
CLEAR = 20.0
"""Power over noise of a line that is none of noise's own. [1]"""
MANY_STOOD = 5
"""Steady lines, off the comb too, more than a fan has ... [1]"""
DROWNED = 4.0
"""... and their power over that of the partials used. [1]"""
HIGHEST_STOOD = 600.0
"""Of partials that are loud. [Hz]"""
STEADY = 0.3
"""Belief under which a line stood before the pluck. [1]"""
USUAL_SCATTER = 5e-4
"""Multiples that scatter by more about a string are less sure to be exact, with the
fourth power of it: hitch and neighbours pull partials of ropes. [1]"""
LEAST_PARTIALS = 6
"""Fewer do not tell exact multiples from a stiff string. [1]"""


def why_no_rope(
    rings: Sequence[RingOf], lines: Lines, fit: StringFit, span: RopeSpan
) -> Refusal | None:
    """Tell machines, ratchets, strummed and backward plucks from one rope.

    Parameters
    ----------
    rings : sequence of RingOf
        Those listened to.
    lines : Lines
        Of the rings.
    fit : StringFit
        The numbering chosen.
    span : RopeSpan
        Of the rope.

    Returns
    -------
    Refusal or None
        None if it rings as a rope.

    Notes
    -----
    Two things hold for every rope left to itself. Its partials fall from the moment of
    release, the upper ones fastest. And its bending stiffness stretches the series:
    f_n/n rises by kappa f_n^2 / 2 with kappa = 4 pi^2 (EI/m) / c^4, where c is the
    wave speed, 2 L f_1. What repeats itself evenly has exact multiples instead.
    """
    name = rings[0].pluck.recording
    used = lines.frequencies[fit.lines]
    falls = _falls(rings, used)
    is_level = np.mean(np.abs(falls) < UNCHANGED) >= 0.5
    if is_level or float(np.quantile(falls, FASTEST)) < LEAST_FALL:
        if float(np.median(falls)) < GROWTH:
            return NoteKind.SWELLS.refusal(recording=name)
        told = ", ".join(f"{f:.0f} Hz" for f in used[:4])
        return NoteKind.STEADY_TONES.refusal(recording=name, lines=told)
    if all(_stops(one) for one in rings):
        return NoteKind.ONLY_MUSIC.refusal(recording=name)
    other = _why_not_alone(rings, lines, fit, span)
    if other is not None:
        return other
    speed = FASTEST_WAVE
    if span.free_length is not None:
        speed = min(speed, 2.0 * span.free_length * fit.fundamental_frequency)
    least = SLACK * 4.0 * np.pi**2 * LEAST_RIGIDITY / speed**4
    stretch, uncertainty = _stretch(used, fit.modes)
    # what repeats evenly has no resonance among its tones
    if fit.swing is None and stretch + MARGIN * uncertainty < least:
        return NoteKind.EXACT_MULTIPLES.refusal(recording=name, spacing=fit.spacing)
    return None


def _why_not_alone(
    rings: Sequence[RingOf], lines: Lines, fit: StringFit, span: RopeSpan
) -> Refusal | None:
    """Refuse what stood before, a rope that touches, and several ropes at once."""
    if _stood_before(lines, fit):
        return NoteKind.STOOD_BEFORE.refusal(rope=span.number)
    if pitch_changes(rings, lines, fit):
        return NoteKind.TOUCHING.refusal(rope=span.number)
    share = explained_share(lines, fit)
    is_between = fit.swing is not None and share < SWING_EXPLAINS
    if is_between or beats(rings, lines, fit):
        return NoteKind.SEVERAL_SOUND.refusal(rope=span.number)
    if _is_outsung(lines, fit):
        is_touching = comes_free(rings, lines, fit)
        kind = NoteKind.TOUCHING if is_touching else NoteKind.SEVERAL_SOUND
        return kind.refusal(rope=span.number)
    return None


def _falls(rings: Sequence[RingOf], frequencies: Array) -> Array:
    """Fall of each partial from one half of a ring to the other, mean of the rings."""
    falls = []
    for one in rings:
        ring = one.ring
        half = min(ring.samples.size, round(LONGEST * ring.sampling_rate)) // 2
        early, late = (
            amplitudes(part, ring.sampling_rate, frequencies)[0]
            for part in (ring.samples[:half], ring.samples[half : 2 * half])
        )
        falls.append(np.log((early + 1e-30) / (late + 1e-30)))
    return np.asarray(np.mean(falls, axis=0), dtype=np.float64)


def _stops(one: RingOf) -> bool:
    """Whether what sounds is held at one level and then stops at once."""
    length = round(BLOCK * one.ring.sampling_rate)
    n_blocks = one.ring.samples.size // length
    blocks = one.ring.samples[: n_blocks * length].reshape(n_blocks, length)
    level = 10.0 * np.log10(np.mean(blocks**2, axis=1) + 1e-30)
    return any(
        float(np.ptp(level[k - HELD : k])) < HOLDS
        and float(np.max(level[k + 1 :])) < level[k - 1] - STOPS
        for k in range(HELD, n_blocks - 1)
    )


def _orders(lines: Lines, fit: StringFit) -> tuple[NDArray[np.int64], Array]:
    """Partial nearest to each line, and the distance to it, relative."""
    f = lines.frequencies
    place = fit.places(f)
    nearest = np.maximum(np.rint(place), 1.0)
    return nearest.astype(np.int64), np.abs(place - nearest) * fit.spacing / f


def _is_outsung(lines: Lines, fit: StringFit) -> bool:
    """Whether other tones are about as loud as the partials, mains left aside."""
    place = fit.places(lines.frequencies)
    loud = (10.0 * np.log10(lines.levels) > LOUD) & (lines.weights > 0.5)
    loud &= (place < LOWEST_PARTIALS + 0.5) & ~near_mains(lines.frequencies)
    if np.count_nonzero(loud) < LEAST_LOUD:
        return False
    is_own = np.abs(place - np.maximum(np.rint(place), 1.0)) < BESIDE
    own, strange = lines.levels[loud & is_own], lines.levels[loud & ~is_own]
    if 10.0 * np.log10((np.sum(strange) + 1e-9) / (np.sum(own) + 1e-9)) < AS_LOUD:
        return False
    strongest = np.argsort(-np.where(loud, lines.levels, 0.0))[:MOST_STRONGEST]
    return bool(np.mean(is_own[strongest[loud[strongest]]]) < OWN)


def _stood_before(lines: Lines, fit: StringFit) -> bool:
    """Whether many of the partials sounded before the pluck, mains left aside."""
    order, distance = _orders(lines, fit)
    stood = (lines.weights < STEADY) & (lines.levels > CLEAR)
    stood &= ~near_mains(lines.frequencies) & (lines.frequencies < HIGHEST_STOOD)
    near = distance * lines.frequencies < NEAR * fit.spacing
    near &= stood & (order <= fit.modes.max())
    used = lines.levels[fit.lines]
    least = STOOD_SHARE * np.count_nonzero(used > CLEAR)
    own = float(np.median(used))
    for those, number, over in ((near, STOOD, 1.0), (stood, MANY_STOOD, DROWNED)):
        if np.count_nonzero(those) >= max(number, least):
            return bool(np.median(lines.levels[those]) > over * own)
    return False


def lowest_stood(lines: Lines, fit: StringFit) -> bool:
    """Tell whether the lowest partials sounded before the pluck, mains left aside.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    fit : StringFit
        The numbering chosen.

    Returns
    -------
    bool
        True of a pluck played backwards, or while another rope of the same pitch still
        rang, which only the others of a set can tell.
    """
    order, distance = _orders(lines, fit)
    stood = (lines.weights < STEADY) & (lines.levels > CLEAR) & (order <= LOWEST)
    stood &= ~near_mains(lines.frequencies)
    stood &= distance * lines.frequencies < EXACTLY * fit.spacing
    return bool(np.count_nonzero(stood) >= STOOD_EXACTLY)


def _stretch(frequencies: Array, modes: NDArray[np.int64]) -> tuple[float, float]:
    """Slope of ln(f_n/n) over f_n^2/2, robust, and its standard uncertainty. [s^2]."""
    if modes.size < LEAST_PARTIALS:
        return 0.0, float("inf")
    values = np.log(frequencies / modes)
    squares = 0.5 * frequencies**2
    weights = np.ones(modes.size)
    scatter2 = 0.0
    slope, uncertainty = 0.0, float("inf")
    for _ in range(8):
        mean = np.average(squares, weights=weights)
        offsets = squares - mean
        spread = float(np.sum(weights * offsets**2))
        slope = float(np.sum(weights * offsets * values)) / spread
        left = values - np.average(values, weights=weights) - slope * offsets
        # scatter of the residuals, the robust weights taken as counts
        scatter2 = float(np.sum(weights * left**2) / (modes.size - 2.0)) + 2.5e-9
        uncertainty = float(np.sqrt(scatter2 / spread))
        weights = 5.0 / (4.0 + left**2 / scatter2)
    return slope, uncertainty * max(scatter2 / USUAL_SCATTER**2, 1.0) ** 2
