"""Recordings hold what they are said to hold: levels, decay, planes, glide, truth."""

from dataclasses import replace

import numpy as np
import pytest

from tests.synthesis import mixing, plucking
from tests.synthesis.disturbances import rms
from tests.synthesis.mixing import PluckedRope, Scene
from tests.synthesis.plucking import MODELLING_RATE, Damping, Planes, Pluck, Sensor
from tests.synthesis.recorder import LowCut
from tests.synthesis.regimes import RegimeName
from tests.synthesis.ropes import GRAVITY, RopeSpec
from tests.synthesis.sets import (
    REGRESSION_SEEDS,
    SPREAD_BINS,
    draw_pattern,
    draw_set,
    draw_specs,
    draw_spread,
)

SEED = REGRESSION_SEEDS[0]
SPEC = RopeSpec(
    free_length=3.4, linear_density=0.575, flexural_rigidity=9.0, hitch_tension=3000.0
)
PLUCK = Pluck(onset=0.5, place=0.25, width=0.03, amplitude=0.004, release=0.001)
DAMPING = Damping(at_zero=0.002, at_400=0.005)
LOW_CUT = LowCut(frequency=40.0, order=2)


def make_scene() -> Scene:
    modes = tuple(
        plucking.solve(replace(SPEC, hitch_tension=tension))
        for tension in (3000.0, 3100.0, 2800.0)
    )
    return Scene(
        duration=6.0,
        plucked=(PluckedRope(index=1, plucks=(PLUCK, replace(PLUCK, onset=3.2))),),
        modes=modes,
        planes=(Planes(),) * 3,
        damping=DAMPING,
        axial_stiffness=1e5,
        sensor=Sensor.MICROPHONE,
        sensor_place=0.25,
        signal_to_noise=10.0,
        hum_level=-6.0,
        neighbour_level=-17.0,
    )


def decibels(ratio: float) -> float:
    return float(20.0 * np.log10(ratio))


def test_a_mode_decays_as_its_damping_says() -> None:
    modes = plucking.solve(SPEC)
    weights = np.zeros(len(modes.frequencies))
    weights[2] = 1.0
    n_samples = int(4 * MODELLING_RATE)
    sound = plucking.ring(modes, weights, DAMPING, n_samples=n_samples)
    period = MODELLING_RATE / modes.frequencies[2]
    span = round(20 * period)
    early, late = int(0.1 * MODELLING_RATE), int(3.1 * MODELLING_RATE)
    ratio = rms(sound[early : early + span]) / rms(sound[late : late + span])
    rate = DAMPING.rates(modes.frequencies)[2]
    assert np.log(ratio) / 3.0 == pytest.approx(rate, rel=5e-3)


def test_the_sum_of_decays_is_the_sum_of_decays() -> None:
    amplitudes = np.array([1.0 + 0.5j, -0.3j])
    exponents = np.array([-0.001 + 0.2j, -0.004 + 0.9j])
    k = np.arange(1000)
    expected = sum(
        (a * np.exp(x * k)).real for a, x in zip(amplitudes, exponents, strict=True)
    )
    found = plucking.sum_of_decays(amplitudes, exponents, 1000)
    np.testing.assert_allclose(found, expected, atol=1e-11)


def test_the_weaker_plane_stands_beside_the_stronger_at_its_split() -> None:
    modes = plucking.solve(SPEC)
    weights = np.zeros(len(modes.frequencies))
    weights[7] = 1.0
    planes = Planes(split=0.002, weak_level=0.4)
    n_samples = int(12 * MODELLING_RATE)
    sound = plucking.ring(
        modes, weights, Damping(at_zero=1e-9, at_400=1e-9),
        n_samples=n_samples, planes=planes,
    )  # fmt: skip
    moments = np.arange(n_samples) / MODELLING_RATE
    angular = 2.0 * np.pi * modes.frequencies[7] * np.array([1.0, 1.002])
    columns = [part(w * moments) for w in angular for part in (np.cos, np.sin)]
    fitted = np.linalg.lstsq(np.array(columns).T, sound, rcond=None)[0]
    strong, weak = np.hypot(fitted[0], fitted[1]), np.hypot(fitted[2], fitted[3])
    assert strong == pytest.approx(1.0, rel=5e-3)
    assert weak == pytest.approx(0.4, rel=5e-3)


def test_a_hard_pluck_starts_sharp_by_the_stretch_and_comes_down() -> None:
    modes = plucking.solve(SPEC)
    weights = np.zeros(len(modes.frequencies))
    weights[3] = 1.0
    rise = 0.02
    sound = plucking.ring(
        modes, weights, DAMPING, n_samples=int(6 * MODELLING_RATE), rise=rise
    )
    crossings = np.flatnonzero((sound[:-1] < 0.0) & (sound[1:] >= 0.0))
    exact = crossings - sound[crossings] / (sound[crossings + 1] - sound[crossings])
    frequencies = MODELLING_RATE / np.diff(exact)
    middles = 0.5 * (exact[1:] + exact[:-1]) / MODELLING_RATE
    rate = 2.0 * DAMPING.rates(modes.frequencies)[0]
    expected = modes.frequencies[3] * (1.0 + rise * np.exp(-rate * middles))
    # single periods, so the start of the onset ramp is left out
    np.testing.assert_allclose(frequencies[2:], expected[2:], rtol=5e-4)


def test_glide_is_of_the_size_of_the_stretch() -> None:
    # triangle 4 mm high at a quarter of 3.4 m: longer by 12.5 um, half of it stays
    stretch = 0.5 * 0.004**2 * (1.0 / 0.85 + 1.0 / 2.55)
    expected = 1e5 * stretch / 2.0 / SPEC.middle_tension / 2.0
    found = plucking.glide(SPEC, PLUCK, 1e5)
    assert found == pytest.approx(expected, rel=1e-9)


def test_static_shape_has_the_height_of_the_pluck() -> None:
    modes = plucking.solve(SPEC)
    soft = replace(PLUCK, release=1e-9)
    amplitudes = plucking.modal_amplitudes(modes, soft)
    x = PLUCK.place * SPEC.free_length
    assert float(modes.deflection(x) @ amplitudes) == pytest.approx(0.004, rel=1e-6)


def test_noise_is_at_the_level_asked_for_below_a_kilohertz() -> None:
    heard = mixing.noise(np.random.default_rng(SEED), make_scene(), 16000.0, LOW_CUT)
    # pink and white halves are independent: 6 s of 1 kHz leave 1 % of scatter
    assert mixing.band_level(heard, 16000.0) == pytest.approx(1.0, rel=0.03)


def test_hum_is_at_the_level_asked_for() -> None:
    scene = make_scene()
    heard = mixing.hum_sound(np.random.default_rng(SEED), scene, LOW_CUT, 24000)
    assert decibels(rms(heard)) == pytest.approx(scene.hum_level, abs=1e-6)
    first, last = heard[:8000], heard[-8000:]
    # steady: the swell is 4 % and lines beat over 2 s by nothing
    assert decibels(rms(first) / rms(last)) == pytest.approx(0.0, abs=1.5)


def test_neighbours_are_at_the_level_asked_for() -> None:
    scene = make_scene()
    alone = replace(scene, neighbour_level=float("-inf"))
    whole = mixing.rope_sound(np.random.default_rng(SEED), scene, LOW_CUT)
    own = mixing.rope_sound(np.random.default_rng(SEED), alone, LOW_CUT)
    around = whole - own
    levels = []
    for pluck in scene.plucked[0].plucks:
        first = int(pluck.onset * MODELLING_RATE)
        part = slice(first, first + int(MODELLING_RATE))
        levels.append(rms(around[part]) / rms(own[part]))
    # the two plucks differ, their mean is what was asked for
    assert decibels(float(np.mean(levels))) == pytest.approx(-17.0, abs=0.7)


def test_neighbours_sound_at_their_own_frequencies() -> None:
    scene = make_scene()
    once = PluckedRope(index=1, plucks=(PLUCK,))
    around = mixing.neighbour_rings(
        np.random.default_rng(SEED), scene, once, int(6 * MODELLING_RATE)
    )
    spectrum = np.abs(np.fft.rfft(around * np.hanning(len(around)), 2**18))
    frequencies = np.fft.rfftfreq(2**18, 1.0 / MODELLING_RATE)
    own = scene.modes[1].frequencies[4]
    for other in (scene.modes[0], scene.modes[2]):
        line = other.frequencies[4]
        near = np.abs(frequencies - line) < 0.3
        peak = frequencies[near][np.argmax(spectrum[near])]
        assert peak == pytest.approx(line, rel=1e-3)
        at_own = spectrum[np.argmin(np.abs(frequencies - own))]
        assert spectrum[near].max() > 10.0 * at_own


def test_low_cut_takes_three_decibels_at_its_frequency() -> None:
    moments = np.arange(40000) / 4000.0
    tone = np.sin(2.0 * np.pi * 40.0 * moments)
    heard = LOW_CUT.apply(tone, 4000.0)[8000:]
    assert decibels(rms(heard) / rms(tone)) == pytest.approx(-3.01, abs=0.02)


@pytest.mark.parametrize(
    "regime",
    [
        pytest.param(one, marks=() if one is RegimeName.CONTACT else pytest.mark.slow)
        for one in RegimeName
    ],
)
def test_the_truth_of_a_set_is_consistent(regime: RegimeName) -> None:
    synthetic = draw_set(regime, SEED)
    again = draw_set(regime, SEED)
    assert len(synthetic.recordings) == len(synthetic.ropes)
    for first, second in zip(synthetic.recordings, again.recordings, strict=True):
        np.testing.assert_array_equal(first.samples, second.samples)
        assert np.max(np.abs(first.samples)) <= 1.0
        assert np.max(np.abs(first.samples)) > 0.05
    for rope in synthetic.ropes:
        weight = synthetic.linear_density * GRAVITY * rope.free_length
        assert rope.middle_tension - rope.hitch_tension == pytest.approx(weight / 2)
        # a stiff rope is sharper than the string, by at most its bending length
        string = np.sqrt(rope.middle_tension / synthetic.linear_density) / (
            2.0 * rope.free_length
        )
        stiff = np.sqrt(synthetic.flexural_rigidity / rope.middle_tension)
        rise = rope.fundamental_frequency / string - 1.0
        assert rise == pytest.approx(stiff / rope.free_length, rel=0.3)
        assert 1.4 < rope.fundamental_frequency < 61.0
    assert sum(rope.share for rope in synthetic.ropes) == pytest.approx(
        len(synthetic.ropes)
    )


def test_patterns_have_the_spread_that_was_drawn() -> None:
    rng = np.random.default_rng(SEED)
    for n_ropes in (2, 3, 6, 8, 12):
        for spread in (0.01, 0.08, 0.5):
            relative = draw_pattern(rng, n_ropes, spread)
            assert 1.0 - relative.min() / relative.max() == pytest.approx(spread)


def test_spreads_fill_every_bin_of_the_claims() -> None:
    rng = np.random.default_rng(SEED)
    drawn = np.array([draw_spread(rng) for _ in range(2000)])
    for low, high in SPREAD_BINS:
        share = np.mean((drawn >= low) & (drawn < high))
        # a quarter each of 97 %; binomial scatter 1 %
        assert share == pytest.approx(0.2425, abs=0.04)


def test_drawn_ropes_stay_within_the_range_of_the_claims() -> None:
    rng = np.random.default_rng(SEED)
    rods = []
    for _ in range(200):
        diameter, specs = draw_specs(rng, 4, (1.5, 20.0))
        rods.append(specs[0].flexural_rigidity / (np.pi * diameter**4 / 64.0 * 196e9))
        assert all(1.2 < spec.free_length < 20.6 for spec in specs)
    assert 0.01 <= min(rods) < 0.02
    assert 0.1 < max(rods) <= 0.15


def test_damping_is_linear_between_its_two_ends() -> None:
    # at 100 Hz: 0.2 % and a quarter of the way to 0.5 %: 0.275 % of 2 pi 100 Hz
    found = DAMPING.rates(np.array([100.0]))
    assert found[0] == pytest.approx(1.727876, rel=1e-6)
