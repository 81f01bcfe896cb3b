"""The finite-element rope agrees with roots and limits that need no elements."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, y0

from tests.synthesis.ropes import (
    GRAVITY,
    Rod,
    RopeSpec,
    find_modes,
    solid_rod_rigidity,
    static_deflection,
)

TAUT = RopeSpec(
    free_length=3.0,
    linear_density=0.35,
    flexural_rigidity=5.0,
    hitch_tension=5000.0,
)


def clamped_pinned(spec: RopeSpec, n: int) -> float:
    """Root of k1 tan k2 = k2 tanh k1 for a tension that is the same all along."""
    xi = spec.free_length / spec.bending_length

    def equation(k2: float) -> float:
        k1 = float(np.hypot(xi, k2))
        return float(k1 * np.sin(k2) - k2 * np.tanh(k1) * np.cos(k2))

    k2 = brentq(equation, n * np.pi, n * np.pi + np.pi / 2, xtol=1e-13)
    omega = k2 * np.hypot(xi, k2) / spec.free_length**2
    return float(
        omega * np.sqrt(spec.flexural_rigidity / spec.linear_density) / (2.0 * np.pi)
    )


@pytest.mark.parametrize("rigidity", [0.5, 5.0, 40.0])
def test_modes_of_a_light_rope_are_the_roots_of_the_clamped_pinned_equation(
    rigidity: float,
) -> None:
    # a hundred thousandth of the mass: its own weight bends no tension
    spec = replace(TAUT, flexural_rigidity=rigidity, linear_density=3.5e-6)
    found = find_modes(spec, n_modes=40).frequencies[:20]
    expected = [clamped_pinned(spec, n) for n in range(1, 21)]
    # the mesh's own error: doubling it moves these by less than 1e-5
    np.testing.assert_allclose(found, expected, rtol=2e-5)


def test_doubling_the_mesh_moves_modes_that_carry_weight_little() -> None:
    spec = replace(TAUT, free_length=15.0)
    coarse = find_modes(spec, n_modes=110).frequencies
    fine = find_modes(spec, n_modes=110, refinement=2.0).frequencies
    np.testing.assert_allclose(coarse[:80], fine[:80], rtol=3e-5)
    np.testing.assert_allclose(coarse, fine, rtol=3e-4)


def test_weight_alone_gives_the_roots_of_the_bessel_equation() -> None:
    spec = RopeSpec(
        free_length=100.0,
        linear_density=0.5,
        flexural_rigidity=1e-6,
        hitch_tension=5000.0,
    )
    top = spec.hitch_tension + spec.linear_density * GRAVITY * spec.free_length
    ends = np.sqrt(np.array([spec.hitch_tension, top]) / spec.linear_density)

    def equation(frequency: float) -> float:
        z = 2.0 * (2.0 * np.pi * frequency) / GRAVITY * ends
        return float(j0(z[0]) * y0(z[1]) - j0(z[1]) * y0(z[0]))

    expected = brentq(equation, 0.4, 0.6, xtol=1e-13)
    found = find_modes(spec, n_modes=10).frequencies[0]
    # sqrt(EI/T)/L = 1e-7 and the mesh
    assert found == pytest.approx(expected, rel=1e-6)


def test_a_short_rigid_rod_is_a_clamp() -> None:
    rod = Rod(
        free_length=0.05,
        diameter=0.04,
        socket_mass=1.0,
        plate_stiffness=1e9,
        plate_rotation_stiffness=1e7,
    )
    clamped = find_modes(TAUT, n_modes=12).frequencies
    held = find_modes(replace(TAUT, rod=rod), n_modes=12).frequencies
    np.testing.assert_allclose(held, clamped, rtol=1e-4)


def test_a_swinging_socket_moves_modes_as_a_mass_on_a_spring_does() -> None:
    # flexible rope, rod light and long against the rope's bending length
    rod = Rod(
        free_length=0.3,
        diameter=0.016,
        socket_mass=1.5,
        plate_stiffness=1e12,
        plate_rotation_stiffness=1e9,
    )
    spec = replace(TAUT, free_length=3.4, flexural_rigidity=0.05, rod=rod)
    bending = 3.0 * solid_rod_rigidity(rod.diameter) / rod.free_length**3
    stiffness = spec.hitch_tension / rod.free_length + bending
    speed = np.sqrt(spec.middle_tension / spec.linear_density)

    def equation(frequency: float) -> float:
        omega = 2.0 * np.pi * frequency
        k = omega / speed
        resistance = stiffness - rod.socket_mass * omega**2
        return float(
            spec.middle_tension * k * np.cos(k * spec.free_length)
            + resistance * np.sin(k * spec.free_length)
        )

    rigid = speed / (2.0 * spec.free_length)
    expected = brentq(equation, 0.8 * rigid, 1.0 * rigid)
    found = find_modes(spec, n_modes=10).frequencies[0]
    # the shift is -1.9 %; the simple model leaves out the rod's mass and the slopes
    assert found / rigid - 1.0 == pytest.approx(expected / rigid - 1.0, rel=0.25)
    assert found < rigid * 0.99


def test_there_is_one_extra_line_above_the_resonance_of_the_socket() -> None:
    rod = Rod(free_length=0.3, diameter=0.016, socket_mass=1.5)
    plain = find_modes(TAUT, n_modes=12).frequencies
    swinging = find_modes(replace(TAUT, rod=rod), n_modes=12).frequencies
    assert np.sum(swinging < 200.0) == np.sum(plain < 200.0) + 1


def test_shapes_have_unit_modal_mass() -> None:
    modes = find_modes(TAUT, n_modes=12)
    x = np.linspace(0.0, TAUT.free_length, 4001)
    shapes = np.array([modes.deflection(float(place)) for place in x])
    products = TAUT.linear_density * np.trapezoid(
        shapes[:, :, None] * shapes[:, None, :], x, axis=0
    )
    np.testing.assert_allclose(products, np.eye(12), atol=1e-4)


def test_pickup_on_the_hitch_sees_the_bent_rope_pull() -> None:
    # for a string the force on the end is T dy/dx = T sqrt(2/mL) n pi / L
    spec = replace(TAUT, flexural_rigidity=1e-3, linear_density=1e-3)
    modes = find_modes(spec, n_modes=12)
    n = np.arange(1, 5)
    expected = (
        spec.middle_tension
        * np.sqrt(2.0 / (spec.linear_density * spec.free_length))
        * n
        * np.pi
        / spec.free_length
    )
    np.testing.assert_allclose(np.abs(modes.socket_signal[:4]), expected, rtol=2e-3)


def test_a_flexible_rope_yields_to_a_side_pull_by_statics() -> None:
    spec = replace(TAUT, flexural_rigidity=1e-4, linear_density=1e-6)
    a, b = 1.0, 2.0
    expected = a * b / (spec.hitch_tension * spec.free_length)
    found = static_deflection(spec, a, width=0.002)
    # the load is spread over 2 mm of 3 m
    assert found == pytest.approx(expected, rel=1e-3)


def test_static_yield_is_the_sum_over_modes() -> None:
    modes = find_modes(TAUT, n_modes=110)
    shape = modes.deflection(1.1)
    angular = 2.0 * np.pi * modes.frequencies
    summed = float(np.sum(shape**2 / angular**2))
    # the modes left out hold about 1 / (pi^2 110) of it
    assert static_deflection(TAUT, 1.1, width=0.002) == pytest.approx(summed, rel=4e-3)
