"""Sockets that swing on their rods: where the lines stand, and what is told of them."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.notes import NoteKind
from tension.sound.candidates import lend_candidates
from tension.sound.decays import FoundRope
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.hitch_search import expected_ends, search_hitches, search_told
from tension.sound.spectra import Lines
from tension.sound.string_fit import (
    Candidate,
    HitchResonance,
    end_turn,
    explained_share,
)
from tests.benchmarks.sound_sets import Trial, heard_by_ear
from tests.oracles.swinging_end import hitch_lines
from tests.sound.made import fitted
from tests.synthesis.records import write_set
from tests.synthesis.ropes import Rod, RopeSpec, find_modes, solid_rod_rigidity
from tests.synthesis.variants import draw_rods_set

LENGTH = 3.4


def test_one_mass_on_one_spring_is_the_exact_equation_of_the_string() -> None:
    # z cot z = -(kappa - mu z^2) has its roots at whole counted places
    kappa, mu, first = 40.0, 0.6, 12.0
    lines = first * hitch_lines(n_lines=14, stiffness_ratio=kappa, mass_ratio=mu)
    resonance = first * np.sqrt(kappa / mu) / np.pi
    bandwidth = first / (np.pi * mu)
    turn = end_turn(lines, np.array([resonance]), np.array([bandwidth]))
    np.testing.assert_allclose(lines / first + turn, np.arange(1, 15), atol=1e-6)


def test_a_pole_of_no_width_only_adds_its_line() -> None:
    frequencies = np.array([20.0, 39.0, 41.0, 180.0, 220.0])
    turn = end_turn(frequencies, np.array([40.0, 200.0]), np.array([1e-9, 1e-9]))
    np.testing.assert_allclose(turn, [0.0, 0.0, 1.0, 1.0, 2.0], atol=1e-8)


def test_far_above_all_resonances_the_socket_stands_still() -> None:
    turn = end_turn(np.array([5e4]), np.array([40.0, 200.0]), np.array([8.0, 1.0]))
    assert turn[0] == pytest.approx(2.0, abs=1e-4)


@cache
def _rope(rod_free: float) -> tuple[NDArray[np.float64], float]:
    """Finite elements: lines on a rod, and the fundamental clamped in the socket."""
    spec = RopeSpec(
        free_length=LENGTH,
        linear_density=0.575,
        flexural_rigidity=0.035 * solid_rod_rigidity(0.013),
        hitch_tension=4000.0,
    )
    rod = Rod(free_length=rod_free, diameter=0.014, socket_mass=1.2)
    on_rod = find_modes(replace(spec, rod=rod), n_modes=32).frequencies
    clamped = find_modes(spec, n_modes=3).frequencies
    return on_rod, float(clamped[0])


def _lines(frequencies: NDArray[np.float64]) -> Lines:
    """Lines of a clear ring at some frequencies."""
    n = frequencies.size
    return Lines(
        frequencies=frequencies,
        uncertainties=np.full(n, 2e-3),
        levels=np.full(n, 1e4),
        durations=np.full(n, 2.4),
        false_densities=np.full(n, 1e-9),
        densities=np.full(n, 2e-3),
        weights=np.ones(n),
    )


@pytest.mark.parametrize("rod_free", [0.1, 0.2, 0.3, 0.4])
def test_the_string_is_found_among_the_lines_of_a_swinging_end(rod_free: float) -> None:
    on_rod, clamped = _rope(rod_free)
    heard = on_rod[(on_rod > 35.0) & (on_rod < 500.0)]
    span = RopeSpan(number=1, free_length=LENGTH)
    found = search_hitches(_lines(heard), span, HearingPrior(), ())
    fit = found[0].fit
    assert fit.fundamental_frequency == pytest.approx(clamped, rel=1e-3)
    # the same lines with the socket at rest are off by more, or explain less
    still = fitted(_lines(heard), fit.string_fundamental, fit.dispersion)
    off = abs(still.fundamental_frequency / clamped - 1.0)
    assert off > 2e-3 or explained_share(_lines(heard), still) < 0.8
    assert explained_share(_lines(heard), fit) > 0.9


def test_ends_of_other_ropes_find_a_rope_of_few_lines() -> None:
    on_rod, clamped = _rope(0.3)
    span = RopeSpan(number=1, free_length=LENGTH)
    whole = _lines(on_rod[(on_rod > 35.0) & (on_rod < 500.0)])
    other = search_hitches(whole, span, HearingPrior(), ())[0].fit
    assert other.hitch is not None
    few = _lines(on_rod[(on_rod > 60.0) & (on_rod < 260.0)])
    speed = 2.0 * LENGTH * clamped
    rigidity = 0.035 * solid_rod_rigidity(0.013) / 0.575
    told = search_told(few, span, speed, rigidity, [other.hitch])
    assert told[0].fit.fundamental_frequency == pytest.approx(clamped, rel=3e-3)


def test_a_known_rod_moves_the_resonance_expected() -> None:
    # h = 0.3 m, 16 mm, 1.5 kg, 5 kN: near 39 Hz without the stiffening by tension
    known = RopeSpan(number=1, free_length=LENGTH, rod_free=0.3)
    expected = expected_ends(known, HearingPrior())
    assert np.exp(expected.means[1]) == pytest.approx(41.0, rel=0.05)
    prior = HearingPrior(resonance=80.0)
    unknown = expected_ends(RopeSpan(number=1, free_length=LENGTH), prior)
    assert np.exp(unknown.means[1]) == pytest.approx(80.0)
    assert unknown.widths[1] > expected.widths[1]


def _candidate(
    frequency: float, log_likelihood: float, hitch: HitchResonance | None
) -> Candidate:
    on_rod, _ = _rope(0.3)
    fit = fitted(_lines(on_rod), frequency, 1e-6)
    fit = replace(fit, string_fundamental=frequency, sqrt_dispersion=2e-3, hitch=hitch)
    return Candidate(fit=fit, log_likelihood=log_likelihood)


def test_sockets_at_rest_are_left_alone() -> None:
    lines = _lines(_rope(0.3)[0])
    known = (_candidate(12.0, 80.0, None),)
    span = RopeSpan(number=1, free_length=LENGTH)
    heard = FoundRope(span=span, lines=lines, candidates=known)
    lend_candidates([heard])
    assert heard.candidates == known


@pytest.mark.slow
def test_rows_on_rods_of_two_lengths_are_heard_alike(tmp_path: Path) -> None:
    synthetic = draw_rods_set(4)
    write_set(synthetic, tmp_path)
    ropes = heard_by_ear(synthetic, tmp_path, Trial())
    given = [one for one in ropes if one.refusal is None]
    assert len(given) >= 3
    codes = {note.code for one in given for note in one.notes}
    assert NoteKind.HITCH_SWINGS.code in codes
    # waves travel alike in an equal set: f L of all within a hundredth
    speed = [
        one.fundamental_frequency * rope.free_length
        for one, rope in zip(ropes, synthetic.ropes, strict=True)
        if one.refusal is None
    ]
    assert max(speed) / min(speed) < 1.02
