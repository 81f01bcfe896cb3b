"""Stepped ropes keep their energy, ring where their eigenvalues say and glide down."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tests.synthesis.plucking import Pluck
from tests.synthesis.regimes import REGIMES, RegimeName
from tests.synthesis.ropes import Rod, RopeSpec, find_modes, solid_rod_rigidity
from tests.synthesis.sets import REGRESSION_SEEDS
from tests.synthesis.stepped.grid import (
    STEP,
    Hitch,
    Loss,
    PlaneOfRope,
    Plate,
    common_cells,
    loss_through,
    true_frequencies,
)
from tests.synthesis.stepped.hands import Grip, Touch, play
from tests.synthesis.stepped.stepped_sets import (
    draw_hoist,
    draw_moments,
    draw_stepped_set,
    frequencies_of,
)
from tests.synthesis.stepped.stepping import Ear, Hoist, State, no_hand

pytestmark = pytest.mark.slow

Array = NDArray[np.float64]

LENGTH, TENSION, DENSITY, AXIAL = 4.0, 4000.0, 0.4, 60e3


@pytest.fixture(scope="module")
def _numba() -> None:
    pytest.importorskip("numba", reason="ropes are stepped by compiled code")


def make_hoist(
    tensions: tuple[float, ...] = (TENSION,),
    *,
    loss: Loss | None = None,
    rigidity: float = 3.0,
    plate: float = 1e8,
    mass: float = 0.5,
) -> Hoist:
    """Ropes of one length, both planes alike; without a loss nothing is lost."""
    specs = tuple(
        RopeSpec(
            free_length=LENGTH,
            linear_density=DENSITY,
            flexural_rigidity=rigidity,
            hitch_tension=tension,
        )
        for tension in tensions
    )
    ratio = 0.0 if loss is None else 0.03
    hitch = Hitch(
        rod_free=0.05, stiffness=2e7 * mass, socket_mass=mass, damping_ratio=ratio
    )
    return Hoist(
        planes=tuple(
            PlaneOfRope(
                spec=spec,
                hitch=hitch,
                cells=common_cells(specs),
                length=LENGTH,
                loss=loss or Loss(air=0.0, internal=0.0),
            )
            for spec in specs
            for _ in range(2)
        ),
        plate=Plate(stiffness=plate, mass=mass, damping_ratio=ratio),
        axial_stiffness=np.full(len(specs), AXIAL),
    )


def set_swinging(hoist: Hoist, amplitudes: tuple[float, float]) -> State:
    """First rope as half a wave, at rest in plane 0, at full speed in plane 1."""
    state = hoist.at_rest(0)
    plane = hoist.planes[0]
    wave = np.sin(np.pi * plane.places / LENGTH)
    angular = 2.0 * np.pi * frequencies_of(hoist, 0)[0]
    state.shape[2:-2, 0] = amplitudes[0] * wave
    state.change[2:-2, 1] = amplitudes[1] * angular * STEP * wave
    state.shape[2:-2, 1] = state.change[2:-2, 1]
    full = np.append(state.shape[2:-2, 0], 0.0)
    state.stretch[:] = 0.5 * float(full @ (plane.stretching @ full))
    return state


def middle_ear(hoist: Hoist) -> Ear:
    """Hears how fast the middle of every rope moves."""
    windows = np.zeros((hoist.n_rows, len(hoist.planes)))
    windows[2:-2] = hoist.planes[0].window(0.5, 0.1)[:-1, None]
    return Ear(windows=windows, rods=np.zeros(len(hoist.planes)))


def run(hoist: Hoist, state: State, seconds: float) -> Array:
    """Velocity of the middle of every rope, untouched."""
    n_steps = round(seconds / STEP)
    return hoist.step(state, n_steps, middle_ear(hoist), no_hand(hoist, n_steps)) / STEP


def energies(hoist: Hoist, state: State, n_steps: int) -> Array:
    """Energy after each of some steps."""
    ear, hand = middle_ear(hoist), no_hand(hoist, 1)
    out = []
    for _ in range(n_steps):
        hoist.step(state, 1, ear, hand)
        out.append(hoist.energy(state))
    return np.array(out)


@pytest.mark.usefixtures("_numba")
def test_energy_stays_without_loss() -> None:
    hoist = make_hoist((TENSION, 1.02 * TENSION), plate=1e6)
    found = energies(hoist, set_swinging(hoist, (0.03, 0.02)), 600)
    np.testing.assert_allclose(found, found[0], rtol=1e-10)


@pytest.mark.usefixtures("_numba")
def test_energy_falls_at_every_step_with_loss() -> None:
    loss = loss_through((12.5, 0.002), (400.0, 0.006))
    hoist = make_hoist((TENSION, 1.02 * TENSION), plate=1e6, loss=loss)
    found = energies(hoist, set_swinging(hoist, (0.03, 0.02)), 600)
    assert np.all(np.diff(found) < 1e-12 * found[0])


@pytest.mark.usefixtures("_numba")
def test_a_swing_loses_what_its_damping_ratio_says() -> None:
    hoist = make_hoist(rigidity=0.04, loss=loss_through((12.5, 0.002), (400.0, 0.006)))
    found = energies(hoist, set_swinging(hoist, (0.0, 1e-3)), 641)
    # 4 pi times the damping ratio per period of 0.08 s
    assert 1.0 - found[-1] / found[0] == pytest.approx(4.0 * np.pi * 0.002, rel=0.02)


def pluck_once(hoist: Hoist, amplitude: float, seconds: float, place: float) -> Array:
    """Velocity near one end of the first rope after a pluck in plane 0."""
    pluck = Pluck(
        onset=0.0, place=place, width=0.03, amplitude=amplitude, release=0.0005
    )
    touch = Touch(
        pluck=pluck, direction=0.0, grip=Grip(lasts=0.3, damping=0.05, pull=0.1)
    )
    windows = np.zeros((hoist.n_rows, len(hoist.planes)))
    windows[2:-2, 0] = hoist.planes[0].window(0.07, 0.05)[:-1]
    ear = Ear(windows=windows, rods=np.zeros(len(hoist.planes)))
    return play(hoist, 0, (touch,), seconds, ear)[:, 0]


def peak_near(sound: Array, frequency: float) -> float:
    """Frequency of the highest line within 1 % of one, by interpolation. [Hz]"""
    padding = 8 * len(sound)
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), padding))
    axis = np.fft.rfftfreq(padding, STEP)
    near = np.flatnonzero(np.abs(axis / frequency - 1.0) < 0.01)
    top = int(near[np.argmax(spectrum[near])])
    a, b, c = np.log(spectrum[top - 1 : top + 2])
    return float(axis[top] + 0.5 * (a - c) / (a - 2.0 * b + c) * axis[1])


@pytest.mark.usefixtures("_numba")
def test_a_soft_pluck_rings_at_the_eigenvalues() -> None:
    loss = loss_through((12.5, 0.002), (400.0, 0.003))
    hoist = make_hoist((TENSION, 1.1 * TENSION, 0.9 * TENSION), loss=loss)
    truth = frequencies_of(hoist, 0)
    sound = pluck_once(hoist, 1e-4, 4.0, place=0.11)
    told = truth[truth < 500.0]
    assert len(told) > 25
    found = [peak_near(sound, frequency) for frequency in told]
    np.testing.assert_allclose(found, told, rtol=2e-4)


@pytest.mark.parametrize(
    ("second", "factor"), [(0.0, 3.0 / 32.0), (1.0, 1.0 / 8.0)], ids=["plane", "whirl"]
)
@pytest.mark.usefixtures("_numba")
def test_pitch_rises_with_the_square_of_the_swing(second: float, factor: float) -> None:
    # Kirchhoff stretch of a string; stiffness left: sqrt(EI/T)/L = 8e-4
    hoist = make_hoist(rigidity=0.04)
    still = frequencies_of(hoist, 0)[0]
    for amplitude in (0.01, 0.02):
        state = set_swinging(hoist, (amplitude, second * amplitude))
        swing = run(hoist, state, 1.0)[:, 0]
        rise = peak_near(swing, still) / still - 1.0
        expected = factor * AXIAL * np.pi**2 * amplitude**2 / (LENGTH * TENSION)
        assert rise == pytest.approx(expected, rel=0.02)


@pytest.mark.usefixtures("_numba")
def test_a_hard_pluck_glides_down_to_the_truth() -> None:
    hoist = make_hoist(loss=loss_through((12.5, 0.006), (400.0, 0.01)))
    truth = frequencies_of(hoist, 0)[0]
    early, late = [], []
    for amplitude in (0.01, 0.02):
        sound = pluck_once(hoist, amplitude, 6.0, place=0.3)
        early.append(peak_near(sound[: round(1.0 / STEP)], truth) / truth - 1.0)
        late.append(peak_near(sound[round(5.0 / STEP) :], truth) / truth - 1.0)
    assert early[0] > 1e-4
    assert early[1] / early[0] == pytest.approx(4.0, rel=0.1)
    assert abs(late[1]) < 0.05 * early[1]


@pytest.mark.usefixtures("_numba")
def test_equal_ropes_trade_all_their_energy_through_the_plate() -> None:
    # kap = T / (K L) = 1 %: amplitudes 1 : 2 kap / hypot(detuning, 2 kap)
    shares = []
    for second in (1.0, 1.1):
        tensions = (TENSION, second * TENSION)
        plate = TENSION / (0.01 * LENGTH)
        hoist = make_hoist(tensions, rigidity=0.04, plate=plate, mass=0.1)
        velocity = run(hoist, set_swinging(hoist, (1e-4, 0.0)), 2.5)
        swing = np.cumsum(velocity[:, [0, 2]], axis=0) * STEP + [1e-4, 0.0]
        own, other = np.abs(swing).max(axis=0)
        shares.append(other / own)
    assert shares[0] == pytest.approx(1.0, abs=0.03)
    # of the tenth tauter rope kap is a tenth larger, and moves it nearer by as much
    coupling = 0.02 * np.sqrt(1.1)
    expected = coupling / np.hypot(np.sqrt(1.1) - 1.0 - 0.001, coupling)
    assert shares[1] == pytest.approx(expected, rel=0.1)


@pytest.mark.parametrize("seed", REGRESSION_SEEDS[:8])
def test_the_truth_is_that_of_a_clamped_pinned_rope(seed: int) -> None:
    for name in RegimeName:
        _, specs, hoist = draw_hoist(np.random.default_rng(seed), REGIMES[name])
        for i, spec in enumerate(specs):
            expected = natural_frequency_from_tension(
                mode_number=1,
                tension=spec.middle_tension / spec.linear_density,
                free_length=spec.free_length,
                flexural_rigidity=spec.flexural_rigidity / spec.linear_density,
                ends=EndCondition.CLAMPED_PINNED,
            )
            found = frequencies_of(hoist, 2 * i)[0]
            assert found == pytest.approx(float(expected), rel=1e-3)


def test_long_rods_lower_the_fundamental_as_in_finite_elements() -> None:
    # a beam held in its plate there, a pendulum held by the same bending here
    rod = Rod(free_length=0.3, diameter=0.01, socket_mass=0.5, plate_stiffness=1e9)
    clamped = RopeSpec(
        free_length=2.5,
        linear_density=DENSITY,
        flexural_rigidity=3.0,
        hitch_tension=TENSION,
    )
    hitch = Hitch(
        rod_free=0.3,
        stiffness=TENSION / 0.3 + 3.0 * solid_rod_rigidity(0.01) / 0.3**3,
        socket_mass=0.5,
    )
    plane = PlaneOfRope(
        spec=clamped,
        hitch=hitch,
        cells=common_cells((clamped,)),
        length=2.5,
        loss=Loss(air=0.0, internal=0.0),
    )
    found = true_frequencies(plane, 1e9, 1.0, 100.0)[0]
    beam = find_modes(replace(clamped, rod=rod), n_modes=4).frequencies[0]
    assert found == pytest.approx(beam, rel=5e-3)
    assert found < 0.96 * find_modes(clamped, n_modes=4).frequencies[0]


@pytest.mark.usefixtures("_numba")
def test_a_hand_stops_its_rope_and_lets_the_others_ring() -> None:
    hoist = make_hoist((TENSION, TENSION), plate=1e6)
    grip = Grip(lasts=0.3, damping=0.05, pull=0.1)
    touches = tuple(
        Touch(
            pluck=Pluck(
                onset=onset, place=0.2, width=0.03, amplitude=0.002, release=0.001
            ),
            direction=0.4,
            grip=grip,
        )
        for onset in (0.0, 1.3)
    )
    heard = np.abs(play(hoist, 0, touches, 2.0, middle_ear(hoist)))

    def swing(begin: float, end: float) -> Array:
        out: Array = heard[round(begin / STEP) : round(end / STEP)].max(axis=0)
        return out

    ringing, held, plucked = swing(0.5, 1.0), swing(1.22, 1.29), swing(1.3, 1.8)
    assert np.all(held[:2] < 0.01 * ringing[:2])
    assert np.all(held[2:] > 0.5 * ringing[2:])
    assert np.all(plucked[:2] > 0.5 * ringing[:2])


def test_hands_keep_free_habits() -> None:
    rng = np.random.default_rng(5)
    drawn = [draw_moments(rng, REGIMES[RegimeName.PHONE]) for _ in range(400)]
    firsts = np.array([onsets[0] for onsets, _ in drawn])
    gaps = np.concatenate([np.diff(onsets) for onsets, _ in drawn])
    assert 0.10 < np.mean(firsts < 0.0) < 0.20
    assert np.all(firsts[firsts >= 0.0] >= 0.02)
    assert gaps.min() >= 0.6 - 1e-3
    assert gaps.max() <= 4.0 + 1e-3
    assert {len(onsets) for onsets, _ in drawn} == {1, 2, 3, 4, 5}
    assert all(duration > onsets[-1] + 0.3 for onsets, duration in drawn)


@pytest.mark.usefixtures("_numba")
def test_the_same_seed_gives_the_same_samples() -> None:
    seed = REGRESSION_SEEDS[53]  # three ropes on a coarse grid
    first, again = (draw_stepped_set(RegimeName.HARD, seed) for _ in range(2))
    for one, two in zip(first.recordings, again.recordings, strict=True):
        np.testing.assert_array_equal(one.samples, two.samples)
        assert np.max(np.abs(one.samples)) > 0.05
    assert len({one.samples.tobytes() for one in first.recordings}) == 3
