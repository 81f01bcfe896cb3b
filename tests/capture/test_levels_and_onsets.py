"""Level, hum and beginnings, as far as they decide when to listen."""

import numpy as np
import pytest

from tension.capture import find_hum, peak_level
from tension.workflow.live.watching import OnsetWatch
from tests.capture.made_source import Made, noise, pluck

RATE = 4000


def _values(made: Made) -> np.ndarray:
    return made.astype(np.float32)


def _onsets(made: Made, piece: int = 333) -> list[float]:
    watch = OnsetWatch(float(RATE))
    values = _values(made)
    return [
        onset
        for first in range(0, values.size, piece)
        for onset in watch.push(values[first : first + piece])
    ]


def test_half_of_full_scale_is_6_decibels_down() -> None:
    assert peak_level(_values(np.array([0.1, -0.5]))) == pytest.approx(-6.02, abs=0.01)
    assert peak_level(_values(np.zeros(9))) == float("-inf")


@pytest.mark.parametrize("mains", [50.0, 60.0])
def test_hum_is_told_by_its_mains(mains: float) -> None:
    time = np.arange(3 * RATE) / RATE
    hum = sum(np.sin(2 * np.pi * k * mains * time) / k for k in (1, 2, 3, 5))
    found = find_hum(_values(0.01 * hum + noise(3.0, RATE, 1e-3)), float(RATE))
    assert found is not None
    assert found.mains == mains
    assert found.is_strong


def test_noise_and_a_rope_are_no_strong_hum() -> None:
    for made in (noise(3.0, RATE), pluck(10.9, 3.0, RATE) + noise(3.0, RATE)):
        found = find_hum(_values(made), float(RATE))
        assert found is not None
        assert not found.is_strong


def test_plucks_into_noise_and_into_a_ring_begin_where_they_do() -> None:
    made = noise(16.0, RATE, 3e-4)
    for start in (3.0, 6.0, 9.5):
        ring = pluck(10.9, 16.0 - start, RATE)
        made[round(start * RATE) :][: ring.size] += ring
    assert _onsets(made) == pytest.approx([3.0, 6.0, 9.5], abs=0.2)


def test_noise_alone_hardly_ever_begins() -> None:
    # ten minutes: a false beginning costs one hearing and no more
    assert len(_onsets(noise(600.0, RATE, 1e-3, seed=7))) <= 2


def test_what_comes_in_pieces_of_any_size_begins_at_the_same_places() -> None:
    made = noise(8.0, RATE, 3e-4)
    made[12_000:] += pluck(9.7, 5.0, RATE)
    assert _onsets(made, 100) == _onsets(made, 2048)


def test_steady_hum_does_not_begin_again_and_again() -> None:
    time = np.arange(20 * RATE) / RATE
    made = 0.05 * np.sin(2 * np.pi * 50.0 * time) + noise(20.0, RATE, 1e-4)
    assert len(_onsets(made)) <= 1


def test_a_machine_that_starts_begins_once() -> None:
    made = noise(10.0, RATE, 1e-4)
    made[5 * RATE :] += noise(5.0, RATE, 1e-2, seed=1)
    assert _onsets(made) == pytest.approx([5.0], abs=0.1)
