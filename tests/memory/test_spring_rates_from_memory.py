"""Values from memory: said to be so, and proving nothing."""

import pytest

from tension.physics.hitch_statics import spring_rate_from_wire


def test_a_remembered_music_wire_example_agrees() -> None:
    # Remembered from a textbook of machine design, text not seen: wire 0.037 in, coil
    # 0.400 in, 10.5 coils, 11.85 Mpsi, 4.13 lbf/in.
    inch, pound = 0.0254, 4.4482216152605
    rate = spring_rate_from_wire(
        wire_diameter=0.037 * inch,
        mean_coil_diameter=0.400 * inch,
        n_active_coils=10.5,
        shear_modulus=11.85e6 * pound / inch**2,
    )
    assert rate / (pound / inch) == pytest.approx(4.13, abs=0.005)
