"""One rope heard by itself: lines, rival numberings, the reason if there is none."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tension.notes import Note, NoteKind, Refusal
from tension.sound.comb import Combs, find_combs
from tension.sound.hearing import HearingPrior, HumLine, Pluck, RopeSpan
from tension.sound.hum import MAINS, ring_belief
from tension.sound.joint import Reading
from tension.sound.numbering import Numbering, find_numberings, weigh_combs
from tension.sound.partials import StringFit, explained_share, fit_string
from tension.sound.rings import RingOf, RopeRings, samples_of
from tension.sound.spectra import Lines, believed, find_lines, noise_at
from tension.sound.swingsearch import search_swings

LEAST_EVIDENCE = 17.0
"""ln of 1 in 100 by chance, over f_0 known to 1e-4 of its range and a stiffness. [1]"""
LARGEST_SCATTER = 0.01
"""Partials that scatter by more about a string are no partials of one. [1]"""
LOWEST_LINE = 8.0
"""Recorders and floors rumble below it. [Hz]"""
LARGEST_DISPERSION = 1e-3
"""EI/m of 200 at a wave speed of 53 m/s: thick ropes at half their load. [s^2]"""
WAVE_SPEEDS = (20.0, 200.0)
"""No hoist rope is outside: a twentieth of the least usual load, and three times a
twelfth of the breaking force. Used only with a length. [m/s]"""
SHORTEST_ROD = 0.02
"""A socket on a shorter rod stands still. [m]"""
FEW_PARTIALS = 25.0
"""Evidence of a string that leaves open whether its end swings. [1]"""
STANDS_OUT, LEAST_LINES = 16.0, 8
"""Power over noise of lines that stand out, and how many a string with its end needs:
both have six unknowns. [1]"""
EXPLAINED = 0.78
"""Share of the strength of the lines that a socket at rest leaves unexplained at most:
of made ropes clamped in their sockets nine in ten are over it, on rods one in ten."""
LESS = 0.1
"""So much less than with the socket at rest an end may leave, but no more: it is looked
for where strings leave too much. [1]"""
MOST_STRINGS = 10
"""Strings with the socket at rest from which swinging ends are looked for."""
HOLLOW_ORDERS = (2, 3)
HOLLOW = -10.0
"""Mean level of partials between multiples, against these, that no rope has: of 493
right counts of made ropes none was under -9, of half of the wrong ones it is. [dB]"""
LEAST_MULTIPLES = 4
"""Fewer tell no level."""
LEAST_MAINS = 4
"""Partials from which a row at mains multiples is no chance."""
MAINS_SHARE = 0.7
"""Share of partials at multiples of one mains frequency that no rope has: its own would
have to be one, and stiffness carries its upper partials away from them. [1]"""
MAINS_DRIFT = 3.5e-3
"""Mains are off by, in a small building grid; relative. [1]"""
STRONGEST_WITHIN, LEAST_STRONGEST, SPARSE_ORDER = 8.0, 5, 4
"""Of a rope's strongest partials, so near in level and so many, not all are multiples
of the fourth or a higher one: nothing hides all the others. [dB, 1, 1]"""
HUM_LEVEL = 10.0
"""Hum worth telling. [dB]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class HeardRope:
    """What one rope's own recordings say.

    Attributes
    ----------
    plucks : tuple of Pluck
        All found.
    rings : tuple of RingOf
        Those listened to.
    lines : Lines or None
        Of the rings.
    hum : tuple of HumLine
        Told apart.
    readings : tuple of Reading
        Rival numberings, likeliest first.
    refusal : Refusal or None
        Why there is nothing.
    notes : tuple of Note
        What was doubtful.
    names : tuple of str
        Of the recordings.
    is_weak : bool
        Refused only because too few partials stand out.
    beside_swings : bool
        Other sockets of the set swing; this one may, unseen.
    is_usual : bool
        Its likeliest pitch is as those of the set.
    others : tuple of float or None
        Pitches of all other ropes of the set, from their own recordings; None if not
        all of them are known. [Hz]
    """

    plucks: tuple[Pluck, ...] = ()
    rings: tuple[RingOf, ...] = ()
    lines: Lines | None = None
    hum: tuple[HumLine, ...] = ()
    readings: tuple[Reading, ...] = ()
    refusal: Refusal | None = None
    notes: tuple[Note, ...] = ()
    names: tuple[str, ...] = ()
    is_weak: bool = False
    beside_swings: bool = False
    is_usual: bool = False
    others: tuple[float, ...] | None = None

    @property
    def is_open(self) -> bool:
        """Whether its readings may still be chosen among.

        Returns
        -------
        bool
            False if it is refused for good.
        """
        return self.refusal is None or self.is_weak


def hear_rope(found: RopeRings, span: RopeSpan, prior: HearingPrior) -> HeardRope:
    """Hear one rope by itself.

    Parameters
    ----------
    found : RopeRings
        Its rings.
    span : RopeSpan
        Its span.
    prior : HearingPrior
        What is expected.

    Returns
    -------
    HeardRope
        Rival numberings, or the reason why there are none.
    """
    plucks, names = tuple(found.plucks), tuple(found.names)
    notes = tuple(found.notes)
    refusal = found.refusal
    if not found.names:
        refusal = NoteKind.NOT_RECORDED.refusal(rope=span.number)
    elif refusal is None and not found.rings:
        refusal = NoteKind.NO_PLUCK.refusal(recording=names[0])
    if refusal is not None and not found.rings:
        return HeardRope(plucks=plucks, refusal=refusal, notes=notes, names=names)
    lines = ring_lines(found.rings)
    readings = read_lines(lines, span, prior)
    refusal = None
    if not readings or readings[0].log_likelihood < LEAST_EVIDENCE:
        refusal = why_nothing(lines, found, span)
    return HeardRope(
        plucks=plucks,
        rings=tuple(found.rings),
        lines=lines,
        hum=_hum(lines),
        readings=readings,
        refusal=refusal,
        notes=notes,
        names=names,
        is_weak=refusal is not None,
    )


def ring_lines(rings: Sequence[RingOf]) -> Lines:
    """Lines of rings, each with the belief that it is no hum.

    Parameters
    ----------
    rings : sequence of RingOf
        Of one rope.

    Returns
    -------
    Lines
        In order of frequency.
    """
    rate = rings[0].ring.sampling_rate
    lines = find_lines(
        samples_of(rings), [one.ring.before for one in rings], rate, LOWEST_LINE
    )
    longest = max((one.ring for one in rings), key=lambda ring: ring.samples.size)
    density = noise_at(longest.samples, longest.before, rate, lines.frequencies)
    return believed(lines, ring_belief(lines, longest, density))


def read_lines(
    lines: Lines, span: RopeSpan, prior: HearingPrior
) -> tuple[Reading, ...]:
    """Find the rival numberings of lines.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    span : RopeSpan
        Of the rope.
    prior : HearingPrior
        What is expected.

    Returns
    -------
    tuple of Reading
        Likeliest first, no two that number the lines alike.
    """
    if lines.frequencies.size < 2:
        return ()
    low, high = prior.lowest_frequency, prior.highest_frequency
    ends = span.n_clamped_ends
    combs = find_combs(lines, low, high, LARGEST_DISPERSION, ends)
    if not combs.spacings.size:
        return ()
    numberings = find_numberings(lines, combs, low, high, ends)
    readings = _readings(lines, numberings, span)
    if swing_in_doubt(lines, readings, span):
        known = [one.fit for one in readings[:MOST_STRINGS]]
        swinging = search_swings(lines, span, prior, known)
        readings = in_order((*readings, *_explaining(lines, readings, swinging)))
    return tuple(
        one
        for one in readings
        if _can_be(one.fit.spacing, span)
        and not _is_mains(lines, one)
        and not _is_sparse(lines, one)
    )


def _can_be(spacing: float, span: RopeSpan) -> bool:
    """Whether a rope of this length can have the pitch."""
    if span.free_length is None:
        return True
    slowest, fastest = WAVE_SPEEDS
    return slowest < 2.0 * span.free_length * spacing < fastest


def _explaining(
    lines: Lines, still: tuple[Reading, ...], swinging: tuple[Reading, ...]
) -> tuple[Reading, ...]:
    """Those whose socket swings that explain as much as one at rest."""
    least = explained_share(lines, still[0].fit) - LESS if still else 0.0
    return tuple(one for one in swinging if explained_share(lines, one.fit) > least)


def swing_in_doubt(lines: Lines, readings: tuple[Reading, ...], span: RopeSpan) -> bool:
    """Whether the socket may swing: its rod is free, or partials stand beside the comb.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    readings : tuple of Reading
        With the socket at rest, likeliest first.
    span : RopeSpan
        Of the rope.

    Returns
    -------
    bool
        Whether it is worth looking for the end; without a length and a rod too many
        ends agree with anything.
    """
    if span.rod_free is not None:
        return span.rod_free > SHORTEST_ROD
    stands_out = (lines.weights > 0.5) & (lines.levels > STANDS_OUT)
    if span.free_length is None or np.count_nonzero(stands_out) < LEAST_LINES:
        return False
    if not readings or readings[0].log_likelihood < FEW_PARTIALS:
        return True
    return explained_share(lines, readings[0].fit) < EXPLAINED


def in_order(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Give readings likeliest first.

    Parameters
    ----------
    readings : tuple of Reading
        Of one rope.

    Returns
    -------
    tuple of Reading
        The same.
    """
    return tuple(sorted(readings, key=lambda one: -one.log_likelihood))


def _readings(
    lines: Lines, numberings: tuple[Numbering, ...], span: RopeSpan
) -> tuple[Reading, ...]:
    """Fit each numbering well, weigh it again, and drop those that are alike."""
    ends = span.n_clamped_ends
    fits = [fit_string(lines, one.spacing, one.dispersion, ends) for one in numberings]
    pairs = [
        (one, fit)
        for one, fit in zip(numberings, fits, strict=True)
        if fit is not None and fit.scatter < LARGEST_SCATTER
    ]
    if not pairs:
        return ()
    combs = Combs(
        spacings=np.array([fit.spacing for _, fit in pairs]),
        dispersions=np.array([fit.dispersion for _, fit in pairs]),
    )
    weighed = weigh_combs(lines, combs, ends)
    # the robust fit need not be the likeliest comb of its numbering: the better counts
    pairs = [
        (max(one, again, key=lambda each: each.log_likelihood), fit)
        for (one, fit), again in zip(pairs, weighed, strict=True)
    ]
    pairs = [(_without_strays(lines, one, fit, span), fit) for one, fit in pairs]
    pairs.sort(key=lambda pair: -pair[0].log_likelihood)
    return distinct(
        lines,
        tuple(
            Reading(
                fit=fit, log_likelihood=one.log_likelihood, node_order=one.node_order
            )
            for one, fit in pairs
        ),
    )


def distinct(lines: Lines, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Drop readings that number the lines as a likelier one does.

    Parameters
    ----------
    lines : Lines
        Of the rings.
    readings : tuple of Reading
        Likeliest first.

    Returns
    -------
    tuple of Reading
        Those that are left, in the same order.
    """
    kept: list[Reading] = []
    for one in readings:
        if all(not _alike(lines, one.fit, other.fit) for other in kept):
            kept.append(one)
    return tuple(kept)


def _without_strays(
    lines: Lines, one: Numbering, fit: StringFit, span: RopeSpan
) -> Numbering:
    """Weigh a numbering without lines between multiples that are no partials."""
    # A place of pluck or sensor can hide every k-th partial; none hides all but every
    # k-th. Where those between are all far weaker, products of a distorting recorder or
    # another rope fill the gaps, and the rope sounds k times as high.
    level = 10.0 * np.log10(lines.levels[fit.lines])
    for order in HOLLOW_ORDERS:
        if not _can_be(order * fit.spacing, span):
            continue
        is_multiple = fit.modes % order == 0
        # only beside multiples that are heard: what lies far above tells nothing
        last = order * (fit.modes // order)
        beside = np.isin(last + order, fit.modes) & (
            (last == 0) | np.isin(last, fit.modes)
        )
        between = np.flatnonzero(~is_multiple & beside)
        if min(int(np.sum(is_multiple)), between.size) < LEAST_MULTIPLES:
            continue
        usual = np.interp(
            fit.modes[between], fit.modes[is_multiple], level[is_multiple]
        )
        if np.mean(level[between] - usual) < HOLLOW:
            weights = lines.weights.copy()
            weights[fit.lines[between]] = 0.0
            combs = Combs(
                spacings=np.array([one.spacing]), dispersions=np.array([one.dispersion])
            )
            return weigh_combs(believed(lines, weights), combs, fit.n_clamped_ends)[0]
    return one


def _is_mains(lines: Lines, reading: Reading) -> bool:
    """Whether a numbering is a row of mains multiples, kept as ring by mistake."""
    f = lines.frequencies[reading.fit.lines]
    f = f[lines.levels[reading.fit.lines] > STANDS_OUT]
    if f.size < LEAST_MAINS:
        return False
    for mains in MAINS:
        away = np.abs(f - mains * np.maximum(np.rint(f / mains), 1.0))
        if np.mean(away < 0.1 + MAINS_DRIFT * f) > MAINS_SHARE:
            return True
    return False


def _is_sparse(lines: Lines, reading: Reading) -> bool:
    """Whether the strongest partials are all multiples of one: a comb too fine."""
    level = 10.0 * np.log10(lines.levels[reading.fit.lines])
    strongest = reading.fit.modes[level > level.max() - STRONGEST_WITHIN]
    if strongest.size < LEAST_STRONGEST:
        return False
    return int(np.gcd.reduce(strongest)) >= SPARSE_ORDER


def _alike(lines: Lines, one: StringFit, other: StringFit) -> bool:
    """Whether two fits give the same numbers to the lines of the first."""
    f = lines.frequencies[one.lines]
    return bool(np.median(np.abs(one.places(f) - other.places(f))) < 0.3)


def _hum(lines: Lines) -> tuple[HumLine, ...]:
    """Lines that are hum."""
    level = 10.0 * np.log10(lines.levels)
    return tuple(
        HumLine(frequency=float(lines.frequencies[k]), level=float(level[k]))
        for k in np.flatnonzero((lines.weights < 0.3) & (level > HUM_LEVEL))
    )


def why_nothing(lines: Lines, found: RopeRings, span: RopeSpan) -> Refusal:
    """Choose the reason why a recording says nothing about its rope.

    Parameters
    ----------
    lines : Lines
        Of its rings.
    found : RopeRings
        Its rings.
    span : RopeSpan
        Of the rope.

    Returns
    -------
    Refusal
        Hum, talk, knocks, or noise.
    """
    name = found.names[0]
    level = 10.0 * np.log10(lines.levels)
    high = level > 15.0
    rings_on = high & (lines.weights > 0.5) & (lines.durations >= 0.5)
    hum = high & (lines.weights < 0.3) & (lines.durations >= 1.0)
    short = high & (lines.weights > 0.5) & (lines.durations < 0.5)
    if np.count_nonzero(rings_on) >= 2:
        return NoteKind.TOO_NOISY.refusal(rope=span.number)
    if np.count_nonzero(hum) >= 2 and not np.count_nonzero(short) > 4:
        told = ", ".join(f"{f:.0f} Hz" for f in lines.frequencies[hum][:4])
        return NoteKind.ONLY_HUM.refusal(recording=name, lines=told)
    if len(found.plucks) >= 3 and np.count_nonzero(short):
        return NoteKind.ONLY_SPEECH.refusal(recording=name)
    if np.count_nonzero(short):
        return NoteKind.ONLY_KNOCKS.refusal(recording=name)
    return NoteKind.TOO_NOISY.refusal(rope=span.number)
