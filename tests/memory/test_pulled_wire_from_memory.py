"""The answer to a pulled wire, remembered, not seen: it proves nothing.

I. E. Irodov, Problems in General Physics, 1.294 (the question was seen, its answer is
remembered as 2.5 cm): a steel wire of 1 mm, 2 m long, 0.25 kg in the middle.
"""

import numpy as np
import pytest

from tension.physics.side_pull import PulledSpan
from tension.physics.taut_rope import EndCondition
from tests.physics.forward import side_pull_deflection


def test_the_remembered_sag_of_a_wire() -> None:
    span = PulledSpan(
        free_length=2.0,
        pull_point=1.0,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_CLAMPED,
    )
    sag = side_pull_deflection(
        tension=1e-6,
        force=0.25 * 9.81,
        span=span,
        axial_stiffness=200e9 * np.pi * 0.0005**2 / 2.0,
    )
    assert sag == pytest.approx(0.025, abs=0.0005)
