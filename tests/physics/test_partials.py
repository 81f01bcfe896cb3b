"""Places of the partials against the printed characteristic equation."""

import numpy as np
import pytest

from tension.physics.partials import mode_frequencies, mode_positions, unstiffened
from tests.sound.made import clamped_pinned_modes


@pytest.mark.parametrize("xi", [15.0, 30.0, 100.0, 300.0])
def test_clamped_pinned_modes_agree_with_the_roots_of_the_equation(xi: float) -> None:
    # c = 90 m/s, L = 3 m; EI/m from xi = L c / sqrt(EI/m)
    length, speed = 3.0, 90.0
    rigidity = (length * speed / xi) ** 2
    exact = clamped_pinned_modes(length, speed, rigidity, 20)
    dispersion = 4.0 * np.pi**2 * rigidity / speed**4
    ours = mode_frequencies(np.arange(1.0, 21.0), speed / (2 * length), dispersion, 1)
    # the dropped tanh is 2 exp(-2 xi) at most; the fixed point stops at 1e-6
    np.testing.assert_allclose(ours, exact, rtol=2e-6)


def test_two_clamped_ends_are_one_at_half_the_length() -> None:
    # symmetry: mode 2n of clamped-clamped at L is mode n of clamped-pinned at L/2
    modes = np.arange(1.0, 9.0)
    whole = mode_frequencies(2.0 * modes, 10.0, 2e-5, 2)
    half = mode_frequencies(modes, 20.0, 2e-5, 1)
    np.testing.assert_allclose(whole, half, rtol=1e-6)


def test_without_stiffness_the_printed_string_comes_out() -> None:
    # Thomson, Theory of Vibration (as verified in ANSYS VM53): string of 100 in at
    # 500 lbf, 0.00306796 in2, 7.3e-4 lb s2/in4: 74.708, 149.42, 224.12 Hz as printed
    speed = np.sqrt(500.0 / (0.00306796 * 7.3e-4))
    ours = mode_frequencies(np.arange(1.0, 4.0), speed / 200.0, 0.0, 0)
    np.testing.assert_allclose(ours, [74.708, 149.42, 224.12], rtol=3e-5)


def test_places_undo_mode_frequencies() -> None:
    modes = np.arange(1.0, 30.0)
    for ends in (0, 1, 2):
        f = mode_frequencies(modes, 12.0, 1.5e-5, ends)
        np.testing.assert_allclose(
            mode_positions(f, 12.0, 1.5e-5, ends), modes, atol=2e-6
        )


def test_unstiffened_undoes_the_dispersion() -> None:
    u = np.linspace(1.0, 500.0, 9)
    f = u * np.sqrt(1.0 + 3e-5 * u**2)
    np.testing.assert_allclose(unstiffened(f, 3e-5), u, rtol=1e-12)
