"""Plucks: from the fundamentals heard to tension or share at the hitch."""

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from tension.installation import Span
from tension.measurement.evidence import Array, Evidence, read_only
from tension.measurement.outcome import (
    LengthKnowledge,
    TensionHypothesis,
)
from tension.measurement.readings import Method
from tension.measurement.rope_figures import (
    SHORTEST_FOR_NEWTONS,
    TRIANGULAR,
    RigidityRange,
    Site,
    rigidity_from_partials,
)
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import (
    hitch_squared_wave_speed,
    mid_length_squared_wave_speed,
)
from tension.physics.taut_rope import EndCondition, squared_wave_speed_from_frequency
from tension.quantity.estimate import Estimate, Sharing, Source
from tension.sound.hearing import SetHearing

_LABEL = "the plucks"
_STEP = 1e-4


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchModel:
    """From the first natural frequency of each rope to T/m at its hitch."""

    span: Span  # where the ropes are plucked
    lengths: Array  # free lengths; nan where none is known [m], shape (n_given,)

    def squared_speeds(
        self, fundamentals: Array, rigidity: float, lengths: Array | None = None
    ) -> Array:
        """T/m at the hitch [m^2/s^2], shape (n_given,), of frequencies [Hz].

        Of first natural frequencies under EI/m [m^4/s^2], with lengths [m] in place of
        the model's; nan where no tension explains the frequency. Without a length, the
        frequency squared [Hz^2]: T/m up to a common factor.
        """
        used = self.lengths if lengths is None else lengths
        if np.isnan(used).any():
            return np.asarray(fundamentals**2)
        effective = squared_wave_speed_from_frequency(
            frequency=fundamentals,
            mode_number=1,
            free_length=used,
            rigidity_per_density=rigidity,
            ends=EndCondition.from_ends(self.span.ends),
        )
        is_taut = effective > 0
        middle = mid_length_squared_wave_speed(
            squared_wave_speed=np.where(is_taut, effective, 1.0),
            mode_number=1,
            free_length=used,
        )
        hitch = hitch_squared_wave_speed(
            squared_wave_speed=middle,
            distance=used / 2,
            hitch_end=self.span.hitch_end,
        )
        return np.where(is_taut & (hitch > 0), hitch, np.nan)


def evidence_from_plucks(hearing: SetHearing, site: Site) -> Evidence:
    """Turn what was heard into tension or T/m at the hitch of each rope.

    Ropes without a length where others have one are refused.
    """
    refusals: dict[int, Refusal] = {
        rope.number: rope.refusal for rope in hearing.ropes if rope.refusal is not None
    }
    lengths = site.lengths.lengths
    has_lengths = any(number in lengths for number in hearing.given)
    kept = []
    for index, number in enumerate(hearing.given):
        if has_lengths and number not in lengths:
            refusals[number] = NoteKind.NO_FREE_LENGTH.refusal(rope=number)
        else:
            kept.append(index)
    numbers = tuple(hearing.given[index] for index in kept)
    return _Mapping(
        hearing=hearing,
        kept=tuple(kept),
        numbers=numbers,
        model=HitchModel(
            span=site.span,
            lengths=np.array([lengths.get(n, np.nan) for n in numbers]),
        ),
        bounds=rigidity_from_partials(
            hearing.rigidity_per_density,
            hearing.rigidity_per_density_uncertainty,
            site.figures.rigidity_per_density,
        ),
        site=site,
    ).evidence(refusals)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Mapping:
    """The ropes kept, and all that turns their fundamentals into tensions."""

    hearing: SetHearing
    kept: tuple[int, ...]
    numbers: tuple[int, ...]
    model: HitchModel
    bounds: RigidityRange
    site: Site

    def evidence(self, refusals: dict[int, Refusal]) -> Evidence:
        """Map hypotheses, covariance and budget; drop ropes without any tension."""
        if not self.kept:
            return Evidence(
                method=Method.PLUCK,
                label=_LABEL,
                refusals=refusals,
                notes=self.hearing.notes,
            )
        heaviest = self.hearing.hypotheses[0].fundamental_frequencies[list(self.kept)]
        speeds = self.model.squared_speeds(heaviest, self.bounds.likely)
        slack = np.isnan(speeds)
        if slack.any():
            for index in np.flatnonzero(slack):
                number = self.numbers[int(index)]
                refusals[number] = NoteKind.TOO_SLACK.refusal(rope=number)
            return self._without(slack).evidence(refusals)
        by_frequency, by_length = self._sensitivities(heaviest)
        heard = self.hearing.covariance[np.ix_(self.kept, self.kept)]
        own_length = self._own_length(by_length)
        covariance = heard * np.outer(by_frequency, by_frequency)
        covariance = covariance + np.diag(own_length**2)
        bending = self._stiffness_effect(heaviest)
        # what bending does to one rope more than to another stays in the shares
        unlike = bending - bending.mean()
        covariance = covariance + np.outer(unlike, unlike)
        scale, shared, is_absolute, notes = self._level(
            by_length, float(np.abs(bending).mean())
        )
        names = {rope.number: rope for rope in self.hearing.ropes}
        return Evidence(
            method=Method.PLUCK,
            label=_LABEL,
            numbers=self.numbers,
            hypotheses=self._hypotheses(scale),
            covariance=read_only(covariance),
            own_sources=_own_sources(by_frequency, np.diag(heard), own_length, unlike),
            shared_sources=shared,
            is_absolute=is_absolute,
            refusals=refusals,
            notes=notes,
            fundamentals=tuple(
                Estimate(
                    value=float(f),
                    sources=(Source(name="plucks", relative=sqrt(float(v))),),
                )
                for f, v in zip(heaviest, np.diag(heard), strict=True)
            ),
            rivals={n: names[n].rivals for n in self.numbers if n in names},
        )

    def _without(self, dropped: Array) -> "_Mapping":
        """The same without some ropes."""
        keep = [i for i in range(len(self.numbers)) if not dropped[i]]
        return replace(
            self,
            kept=tuple(self.kept[i] for i in keep),
            numbers=tuple(self.numbers[i] for i in keep),
            model=replace(self.model, lengths=self.model.lengths[np.array(keep, int)]),
        )

    def _logarithms(
        self, fundamentals: Array, rigidity: float, lengths: Array | None = None
    ) -> Array:
        """ln(T/m) at the hitch."""
        return np.asarray(
            np.log(self.model.squared_speeds(fundamentals, rigidity, lengths))
        )

    def _sensitivities(self, fundamentals: Array) -> tuple[Array, Array]:
        """Relative change of tension by that of frequency and of length, about 2."""
        q, lengths = self.bounds.likely, self.model.lengths
        up = self._logarithms(fundamentals * (1 + _STEP), q)
        down = self._logarithms(fundamentals * (1 - _STEP), q)
        longer = self._logarithms(fundamentals, q, lengths * (1 + _STEP))
        shorter = self._logarithms(fundamentals, q, lengths * (1 - _STEP))
        return (up - down) / (2 * _STEP), (longer - shorter) / (2 * _STEP)

    def _own_length(self, by_length: Array) -> Array:
        """Relative uncertainty of each tension by its own length."""
        if np.isnan(self.model.lengths).any():
            return np.zeros(len(self.numbers))
        return (
            np.abs(by_length) * self.site.lengths.own_uncertainty / self.model.lengths
        )

    def _hypotheses(self, scale: float) -> tuple[TensionHypothesis, ...]:
        """Map every joint numbering; those that no tension explains are dropped."""
        found = []
        for hypothesis in self.hearing.hypotheses:
            fundamentals = hypothesis.fundamental_frequencies[list(self.kept)]
            speeds = self.model.squared_speeds(fundamentals, self.bounds.likely)
            if not np.isnan(speeds).any():
                found.append((hypothesis.weight, speeds))
        total = sum(weight for weight, _ in found)
        return tuple(
            TensionHypothesis(weight=weight / total, tensions=read_only(scale * speeds))
            for weight, speeds in found
        )

    def _level(
        self, by_length: Array, by_stiffness: float
    ) -> tuple[float, tuple[Source, ...], bool, tuple[Note, ...]]:
        """Factor to newtons, shared budget, whether absolute, notes of the set."""
        notes = list(self.hearing.notes)
        lengths = self.model.lengths
        if np.isnan(lengths).any():
            return 1.0, (), False, tuple(notes)
        sources = [
            Source(
                name="bending stiffness",
                relative=by_stiffness,
                sharing=Sharing.KIND,
            )
        ]
        if self.site.lengths.knowledge is not LengthKnowledge.PER_ROPE or (
            self.site.lengths.shared_uncertainty > 0
        ):
            relative = float(np.mean(np.abs(by_length) / lengths))
            sources.append(
                Source(
                    name="free length of the set",
                    relative=relative * self.site.lengths.shared_uncertainty,
                    sharing=Sharing.SET,
                )
            )
        density = self.site.figures.linear_density
        notes += self.site.figures.notes
        if density is None:
            return 1.0, tuple(sources), False, tuple(notes)
        if lengths.min() < SHORTEST_FOR_NEWTONS:
            notes.append(NoteKind.TOO_SHORT_FOR_NEWTONS.note(length=lengths.min()))
            return 1.0, tuple(sources), False, tuple(notes)
        return density.value, (*sources, *density.sources), True, tuple(notes)

    def _stiffness_effect(self, fundamentals: Array) -> Array:
        """What one standard deviation of EI/m does to each tension, relative."""
        if np.isnan(self.model.lengths).any():
            return np.zeros(len(fundamentals))
        q = self.bounds
        if q.relative_uncertainty > 0:
            low = max(q.likely * (1 - q.relative_uncertainty), 0.0)
            high = q.likely * (1 + q.relative_uncertainty)
            divisor = 2.0
        else:
            low, high, divisor = q.lowest, q.highest, TRIANGULAR
        stiff = self.model.squared_speeds(fundamentals, high)
        limp = self.model.squared_speeds(fundamentals, low)
        if np.isnan(stiff).any() or np.isnan(limp).any():
            # so stiff would explain no tension at all: half of it is open
            return np.full(len(fundamentals), 0.5)
        return np.asarray(np.log(limp / stiff) / divisor)


def _own_sources(
    by_frequency: Array, heard: Array, own_length: Array, unlike: Array
) -> tuple[tuple[Source, ...], ...]:
    """Budget of each rope that it shares with none."""
    return tuple(
        (
            Source(name="plucks", relative=abs(s) * sqrt(float(v))),
            Source(name="free length", relative=float(u)),
            Source(name="bending unlike the others", relative=float(b)),
        )
        for s, v, u, b in zip(
            by_frequency, heard, own_length, np.abs(unlike), strict=True
        )
    )
