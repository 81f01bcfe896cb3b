"""Plucks and timed wave returns: from the speed of waves to tension or share.

Both tell the square of the wave's speed, T/m, in the middle of the span; what hangs
between there and the hitch is taken off, and the mass per length makes newtons of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, log, sqrt

import numpy as np

from tension.measurement.combine import SetEvidence, TensionHypothesis, read_only
from tension.measurement.readings import Method, ReturnsReading
from tension.measurement.repeats import (
    rope_by_rope,
    settle_repeats,
    uncertainty_of_means,
)
from tension.measurement.rope_figures import RigidityRange, Site
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray as Array
from tension.physics.own_weight import (
    mid_length_squared_wave_speed,
    tension_from_returns,
)
from tension.physics.taut_rope import tension_from_frequency
from tension.quantity.estimate import Estimate, Sharing, Source, budget
from tension.sound.hearing import SetHearing

_STEP = 1e-4  # of the differences that give sensitivities, relative [1]

_MOST_BY_REACTION = 0.10
"""Relative uncertainty of a tension by reaction time from which it is refused. [1]"""

_MOST_OF_ONE = 0.20
"""The same for one timing, however often it is repeated. [1]"""


def evidence_from_plucks(hearing: SetHearing, site: Site) -> SetEvidence:
    """Turn what was heard into tension or T/m at the hitch of each rope.

    Ropes without a length where others have one are refused, and those whose pitch no
    tension explains.
    """
    refusals = {rope.number: rope.refusal for rope in hearing.ropes if rope.refusal}
    given, lengths = hearing.given, site.lengths.lengths
    if any(number in lengths for number in given):
        unknown = [number for number in given if number not in lengths]
        refusals |= {n: NoteKind.NO_FREE_LENGTH.refusal(rope=n) for n in unknown}
    kept = [i for i, number in enumerate(given) if number not in refusals]
    heard = _Heard(hearing=hearing, kept=kept, site=site)
    slack = np.isnan(heard.squared_speeds(heard.fundamentals)) if kept else np.array([])
    for number, is_slack in zip(heard.numbers, slack, strict=True):
        if is_slack:
            refusals[number] = NoteKind.TOO_SLACK.refusal(rope=number)
    heard = replace(heard, kept=[i for i in kept if given[i] not in refusals])
    nothing = SetEvidence(
        method=Method.PLUCK, label="the plucks", refusals=refusals, notes=hearing.notes
    )
    told = heard.evidence(nothing) if heard.kept else nothing
    return _with_own_masses(told, site)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Heard:
    """Some of the ropes heard, and all that turns their fundamentals into tensions."""

    hearing: SetHearing
    kept: list[int]  # places among the ropes given
    site: Site

    @property
    def numbers(self) -> tuple[int, ...]:
        """Rope numbers."""
        return tuple(self.hearing.given[i] for i in self.kept)

    @property
    def fundamentals(self) -> Array:
        """Under the heaviest hypothesis. [Hz]."""
        return self.hearing.hypotheses[0].fundamental_frequencies[self.kept]

    @property
    def lengths(self) -> Array:
        """Free lengths; all nan where none is known. [m]."""
        known = self.site.lengths.lengths
        return np.array([known.get(number, np.nan) for number in self.numbers])

    def squared_speeds(
        self, fundamentals: Array, rigidity: float | None = None, longer: float = 1.0
    ) -> Array:
        """T/m at the hitch of each rope, from its first natural frequency.

        Under the likely EI/m and the lengths known, or another and `longer` times as
        long; nan where no tension explains the frequency. Without lengths the frequency
        squared: T/m up to a common factor.
        """
        lengths = self.lengths * longer
        if np.isnan(lengths).any():
            return np.asarray(fundamentals**2)
        effective = tension_from_frequency(
            frequency=fundamentals,
            mode_number=1,
            free_length=lengths,
            flexural_rigidity=self.rigidity.likely if rigidity is None else rigidity,
            ends=self.site.ends,
        )
        is_taut = effective > 0
        middle = mid_length_squared_wave_speed(
            squared_wave_speed=np.where(is_taut, effective, 1.0),
            mode_number=1,
            free_length=lengths,
        )
        return np.where(is_taut, self.site.at_hitch(middle, lengths), np.nan)

    @property
    def rigidity(self) -> RigidityRange:
        """EI/m heard from the partials of the set, if there is one, else its bounds."""
        known, heard = self.site.rigidity_per_density, self.hearing
        relative = heard.rigidity_per_density_uncertainty
        if not heard.rigidity_per_density >= 0 or not relative < 1:
            return known
        likely, relative = heard.rigidity_per_density, max(relative, 1e-3)
        return replace(known, likely=likely, relative_uncertainty=relative)

    def evidence(self, nothing: SetEvidence) -> SetEvidence:
        """Map hypotheses, covariance and budget."""
        site, lengths = self.site, self.lengths
        heard = self.hearing.covariance[np.ix_(self.kept, self.kept)]
        own = np.sqrt(np.diag(heard))
        by_frequency, by_length = self._sensitivities()
        own_length = np.nan_to_num(
            np.abs(by_length) * site.lengths.own_uncertainty / lengths
        )
        bending = self._by_bending()
        # what bending does to one rope more than to another stays in the shares
        unlike = bending - bending.mean()
        covariance = heard * np.outer(by_frequency, by_frequency)
        covariance += np.diag(own_length**2) + np.outer(unlike, unlike)
        by_kind = {
            "plucks": np.abs(by_frequency) * own,
            "free length": own_length,
            "bending unlike the others": np.abs(unlike),
        }
        density = site.density_of_newtons(lengths.min())
        level = density or Estimate(value=1.0)
        of_set = site.lengths.shared_source(float(np.mean(np.abs(by_length) / lengths)))
        shared = budget({"bending stiffness": np.abs(bending).mean()}, Sharing.KIND)
        shared += (of_set,) if of_set.relative > 0 else ()
        has_lengths = not np.isnan(lengths).any()
        notes = self._notes() if has_lengths else self.hearing.notes
        rivals = {rope.number: rope.rivals for rope in self.hearing.ropes}
        return replace(
            nothing,
            numbers=self.numbers,
            hypotheses=self._hypotheses(level.value),
            covariance=read_only(covariance),
            own_sources=tuple(
                budget({name: parts[i] for name, parts in by_kind.items()})
                for i in range(len(self.kept))
            ),
            shared_sources=(*(shared if has_lengths else ()), *level.sources),
            is_absolute=density is not None,
            notes=notes,
            fundamentals=tuple(
                Estimate(value=float(f), sources=budget({"plucks": u}))
                for f, u in zip(self.fundamentals, own, strict=True)
            ),
            rivals={number: rivals[number] for number in self.numbers},
        )

    def _sensitivities(self) -> tuple[Array, Array]:
        """Relative change of tension by that of frequency and of length, about 2."""
        f, steps = self.fundamentals, (1 + _STEP, 1 - _STEP)
        up, down = (np.log(self.squared_speeds(f * step)) for step in steps)
        long, short = (np.log(self.squared_speeds(f, longer=step)) for step in steps)
        return (up - down) / (2 * _STEP), (long - short) / (2 * _STEP)

    def _by_bending(self) -> Array:
        """What one standard deviation of EI/m does to each tension, relative."""
        low, high, width = self.rigidity.ends
        limp, stiff = (self.squared_speeds(self.fundamentals, q) for q in (low, high))
        if np.isnan(stiff).any() or np.isnan(limp).any():
            # so stiff would explain no tension at all: half of it is open
            return np.full(len(limp), 0.5)
        return np.asarray(np.log(limp / stiff) / width)

    def _hypotheses(self, scale: float) -> tuple[TensionHypothesis, ...]:
        """Map every joint numbering; those that no tension explains are dropped."""
        found = [
            (one.weight, self.squared_speeds(one.fundamental_frequencies[self.kept]))
            for one in self.hearing.hypotheses
        ]
        found = [one for one in found if np.isfinite(one[1]).all()]
        total = sum(weight for weight, _ in found)
        return tuple(
            TensionHypothesis(weight=weight / total, tensions=read_only(scale * speeds))
            for weight, speeds in found
        )

    def _notes(self) -> tuple[Note, ...]:
        """Of the hearing and of the figures, where lengths are known."""
        shortest = float(self.lengths.min())
        notes = (*self.hearing.notes, *self.site.notes)
        if not self.site.linear_density or self.site.density_of_newtons(shortest):
            return notes
        return (*notes, NoteKind.TOO_SHORT_FOR_NEWTONS.note(length=shortest))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Timed:
    """One rope timed."""

    number: int
    length: float  # free length [m]
    logarithms: list[float]  # of T/m at the hitch, by each timing that counts
    declared: float  # relative uncertainty of one timing, of the square [1]
    by_bending: float  # what one standard deviation of EI/m does to the first one [1]


def evidence_from_returns(
    readings: Sequence[ReturnsReading], site: Site
) -> SetEvidence:
    """Turn timed wave returns of one series into tension or T/m at the hitch.

    Several of one rope are repeats; ropes on which reaction time hides the tension are
    refused.
    """
    timed, refusals, notes = rope_by_rope(
        readings, lambda number, own: _time_rope(number, own, site)
    )
    nothing = SetEvidence(
        method=Method.RETURNS,
        label="the wave returns",
        refusals=refusals,
        notes=(*site.notes, *notes),
    )
    if not timed:
        return nothing
    timing = uncertainty_of_means(
        [one.logarithms for one in timed], [one.declared for one in timed]
    )
    density = site.density_of_newtons(min(one.length for one in timed))
    level = density or Estimate(value=1.0)
    by_length = 2 * site.lengths.own_uncertainty
    each = {
        one.number: Estimate(
            value=level.value * float(np.exp(np.mean(one.logarithms))),
            sources=budget({"stopwatch": u, "free length": by_length / one.length}),
        )
        for u, one in zip(timing, timed, strict=True)
    }
    middle = float(np.median([one.length for one in timed]))
    told = replace(
        nothing.of_ropes(each),
        shared_sources=(
            *budget({"bending stiffness": timed[0].by_bending}, Sharing.KIND),
            site.lengths.shared_source(2 / middle),
            *level.sources,
        ),
        is_absolute=density is not None,
    )
    return _with_own_masses(told, site)


def _time_rope(
    number: int, own: Sequence[ReturnsReading], site: Site
) -> tuple[_Timed, Sequence[Note]] | Refusal:
    """What the returns of one rope say, or why they say nothing."""
    stopwatch = site.rope_set.uncertainties.stopwatch
    length = site.lengths.lengths.get(number)
    if length is None:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    times = [one.value for reading in own for one in reading.elapsed]
    if not times or min(times) <= 0 or any(reading.count < 1 for reading in own):
        return NoteKind.RETURNS_NOT_POSITIVE.refusal(rope=number)
    mean = float(np.mean(times))
    one = 2 * stopwatch / mean
    if one > _MOST_OF_ONE or one / sqrt(len(times)) > _MOST_BY_REACTION:
        return NoteKind.TOO_SHORT_FOR_STOPWATCH.refusal(
            rope=number, elapsed=f"{mean:.3g}", relative=f"{100 * one:.0f}"
        )
    each = [e.value / reading.count for reading in own for e in reading.elapsed]
    rigidity = site.rigidity_per_density
    low, high, width = rigidity.ends
    speeds, limp, stiff = (
        site.at_hitch(
            tension_from_returns(
                return_time=np.array(each),
                free_length=length,
                flexural_rigidity=taken,
                ends=site.ends,
            ),
            length,
        )
        for taken in (rigidity.likely, low, high)
    )
    if not np.isfinite(speeds).all():
        return NoteKind.TOO_SLACK.refusal(rope=number)
    uncertainties = [2 * stopwatch / time for time in times]
    settled = settle_repeats(own, [log(speed) for speed in speeds], uncertainties)
    if settled.refusal is not None:
        return settled.refusal
    by_bending = abs(log(limp[0] / stiff[0])) / width
    timed = _Timed(
        number=number,
        length=length,
        logarithms=[log(speeds[i]) for i in settled.used],
        declared=2 * stopwatch / float(np.mean([times[i] for i in settled.used])),
        by_bending=by_bending if isfinite(by_bending) else 0.1,
    )
    return timed, settled.notes


def _with_own_masses(kind: SetEvidence, site: Site) -> SetEvidence:
    """Give each rope that has one its own mass per length.

    Tension is mass per length times the square of the wave's speed, so its ratio to the
    set's is that of the masses. What is not known of both masses no longer cancels.
    """
    own = {
        rope.number: rope.linear_density.value
        for rope in site.rope_set.ropes
        if rope.linear_density is not None and rope.number in kind.numbers
    }
    density = site.linear_density
    if not own or density is None:
        return kind
    ratios = np.array([own.get(n, density.value) / density.value for n in kind.numbers])
    relative = sqrt(2.0) * site.rope_set.uncertainties.linear_density
    source = Source(name="mass of this rope", relative=relative)
    is_own = np.array([number in own for number in kind.numbers], dtype=float)
    return replace(
        kind,
        hypotheses=tuple(
            replace(h, tensions=read_only(h.tensions * ratios)) for h in kind.hypotheses
        ),
        covariance=read_only(kind.covariance + np.diag(relative**2 * is_own)),
        own_sources=tuple(
            (*sources, source) if number in own else sources
            for number, sources in zip(kind.numbers, kind.own_sources, strict=True)
        ),
    )
