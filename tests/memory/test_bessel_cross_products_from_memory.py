"""Zeros of J0 Y0 cross products, remembered, not seen: they prove nothing.

Abramowitz and Stegun, Handbook of Mathematical Functions, table 9.7, ratio 2, as
remembered: 3.12303, 6.27344, 9.41821.
"""

import numpy as np
import pytest

from tests.oracles.hanging_string import natural_frequency_with_own_weight


def test_a_rope_four_times_tighter_above_than_below_has_the_remembered_zeros() -> None:
    # z = (2 w/g) c with c from 1 to 2 m/s and g = 3 m/s2 over 1 m: z at the lower end
    # is 2 w/3.
    frequency = natural_frequency_with_own_weight(
        mode_number=[1, 2, 3], squared_wave_speed=2.5, free_length=1.0, gravity=3.0
    )
    zeros = 2 * (2 * np.pi * frequency) / 3.0
    assert zeros == pytest.approx([3.12303, 6.27344, 9.41821], abs=5.1e-6)
