"""Plucks: from the fundamentals heard to tension or share at the hitch."""

from dataclasses import dataclass, replace

import numpy as np

from tension.measurement.combine import Array, SetEvidence, read_only
from tension.measurement.outcome import TensionHypothesis
from tension.measurement.readings import Method
from tension.measurement.rope_figures import (
    RigidityRange,
    Site,
    rigidity_from_partials,
)
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import mid_length_squared_wave_speed
from tension.physics.taut_rope import tension_from_frequency
from tension.quantity.estimate import Estimate, Sharing, Source, budget
from tension.sound.hearing import SetHearing

_LABEL = "the plucks"
_STEP = 1e-4  # of the differences that give sensitivities, relative [1]


def evidence_from_plucks(hearing: SetHearing, site: Site) -> SetEvidence:
    """Turn what was heard into tension or T/m at the hitch of each rope.

    Ropes without a length where others have one are refused, and those whose pitch no
    tension explains.
    """
    refusals: dict[int, Refusal] = {
        rope.number: rope.refusal for rope in hearing.ropes if rope.refusal is not None
    }
    lengths = site.lengths.lengths
    kept = list(range(len(hearing.given)))
    if any(number in lengths for number in hearing.given):
        for number in hearing.given:
            if number not in lengths:
                refusals[number] = NoteKind.NO_FREE_LENGTH.refusal(rope=number)
        kept = [i for i in kept if hearing.given[i] in lengths]
    heard = _Heard(
        hearing=hearing,
        kept=kept,
        rigidity=rigidity_from_partials(
            hearing.rigidity_per_density,
            hearing.rigidity_per_density_uncertainty,
            site.figures.rigidity_per_density,
        ),
        site=site,
    )
    slack = np.isnan(heard.squared_speeds(heard.fundamentals)) if kept else np.array([])
    if slack.any():
        for number in np.array(heard.numbers)[slack]:
            refusals[int(number)] = NoteKind.TOO_SLACK.refusal(rope=int(number))
        heard = replace(heard, kept=[kept[i] for i in np.flatnonzero(~slack)])
    if heard.kept:
        return replace(heard.evidence(), refusals=refusals)
    return SetEvidence(
        method=Method.PLUCK, label=_LABEL, refusals=refusals, notes=hearing.notes
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Heard:
    """Some of the ropes heard, and all that turns their fundamentals into tensions."""

    hearing: SetHearing
    kept: list[int]  # places among the ropes given
    rigidity: RigidityRange
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
        """Free lengths; nan where none is known. [m]."""
        known = self.site.lengths.lengths
        return np.array([known.get(number, np.nan) for number in self.numbers])

    @property
    def has_lengths(self) -> bool:
        """Whether the lengths are known."""
        return not np.isnan(self.lengths).any()

    def squared_speeds(
        self,
        fundamentals: Array,
        rigidity: float | None = None,
        lengths: Array | None = None,
    ) -> Array:
        """T/m at the hitch of each rope, from its first natural frequency.

        Under the likely EI/m and the lengths known, or others; nan where no tension
        explains the frequency. Without lengths the frequency squared: T/m up to a
        common factor.
        """
        if not self.has_lengths:
            return np.asarray(fundamentals**2)
        used = self.lengths if lengths is None else lengths
        effective = tension_from_frequency(
            frequency=fundamentals,
            mode_number=1,
            free_length=used,
            flexural_rigidity=self.rigidity.likely if rigidity is None else rigidity,
            ends=self.site.ends,
        )
        is_taut = effective > 0
        middle = mid_length_squared_wave_speed(
            squared_wave_speed=np.where(is_taut, effective, 1.0),
            mode_number=1,
            free_length=used,
        )
        return np.where(is_taut, self.site.at_hitch(middle, used), np.nan)

    def evidence(self) -> SetEvidence:
        """Map hypotheses, covariance and budget."""
        heard = self.hearing.covariance[np.ix_(self.kept, self.kept)]
        own = np.sqrt(np.diag(heard))
        by_frequency, by_length = self._sensitivities()
        own_length = np.zeros(len(self.kept))
        if self.has_lengths:
            known = self.site.lengths.own_uncertainty
            own_length = np.abs(by_length) * known / self.lengths
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
        density = (
            self.site.density_of_newtons(self.lengths.min())
            if self.has_lengths
            else None
        )
        level = density or Estimate(value=1.0)
        rivals = {rope.number: rope.rivals for rope in self.hearing.ropes}
        return SetEvidence(
            method=Method.PLUCK,
            label=_LABEL,
            numbers=self.numbers,
            hypotheses=self._hypotheses(level.value),
            covariance=read_only(covariance),
            own_sources=tuple(
                budget({name: parts[i] for name, parts in by_kind.items()})
                for i in range(len(self.kept))
            ),
            shared_sources=(*self._shared(by_length, bending), *level.sources),
            is_absolute=density is not None,
            notes=self._notes(),
            fundamentals=tuple(
                Estimate(value=float(f), sources=budget({"plucks": u}))
                for f, u in zip(self.fundamentals, own, strict=True)
            ),
            rivals={n: rivals[n] for n in self.numbers if n in rivals},
        )

    def _sensitivities(self) -> tuple[Array, Array]:
        """Relative change of tension by that of frequency and of length, about 2."""
        f, lengths = self.fundamentals, self.lengths
        up, down = (self.squared_speeds(f * (1 + s)) for s in (_STEP, -_STEP))
        longer, shorter = (
            self.squared_speeds(f, lengths=lengths * (1 + s)) for s in (_STEP, -_STEP)
        )
        return (
            (np.log(up) - np.log(down)) / (2 * _STEP),
            (np.log(longer) - np.log(shorter)) / (2 * _STEP),
        )

    def _by_bending(self) -> Array:
        """What one standard deviation of EI/m does to each tension, relative."""
        nothing = np.zeros(len(self.kept))
        if not self.has_lengths:
            return nothing
        low, high, width = self.rigidity.ends
        limp, stiff = (self.squared_speeds(self.fundamentals, q) for q in (low, high))
        if np.isnan(stiff).any() or np.isnan(limp).any():
            # so stiff would explain no tension at all: half of it is open
            return nothing + 0.5
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

    def _shared(self, by_length: Array, bending: Array) -> list[Source]:
        """Budget common to all plucks of the set, its linear density left out."""
        if not self.has_lengths:
            return []
        lengths = self.site.lengths
        sources = list(
            budget({"bending stiffness": np.abs(bending).mean()}, Sharing.KIND)
        )
        if lengths.shared_uncertainty > 0:
            relative = float(np.mean(np.abs(by_length) / self.lengths))
            sources.append(lengths.shared_source(relative))
        return sources

    def _notes(self) -> tuple[Note, ...]:
        """Of the hearing and of the figures, where they are used."""
        if not self.has_lengths:
            return self.hearing.notes
        shortest = float(self.lengths.min())
        figures = self.site.figures
        notes = (*self.hearing.notes, *figures.notes)
        if not figures.linear_density or self.site.density_of_newtons(shortest):
            return notes
        return (*notes, NoteKind.TOO_SHORT_FOR_NEWTONS.note(length=shortest))
