"""Timed wave returns: identities, the published sag relation, a stepped pulse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.physics.own_weight import tension_from_returns
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tests.physics.forward import return_time
from tests.reference.tables import read_table
from tests.tolerances import as_printed, computed

ROUNDING = computed(1e-9, "rounding of a closed form")
INCH = 0.0254


@given(
    st.floats(400.0, 40_000.0),
    st.floats(3.0, 60.0),
    st.floats(0.0, 0.1),
    st.sampled_from(list(EndCondition)),
)
def test_time_and_tension_round_trip(
    speed: float, length: float, bending: float, ends: EndCondition
) -> None:
    rigidity = speed * (bending * length) ** 2
    elapsed = return_time(
        tension=speed,
        free_length=length,
        flexural_rigidity=rigidity,
        ends=ends,
    )
    back = tension_from_returns(
        return_time=elapsed,
        free_length=length,
        flexural_rigidity=rigidity,
        ends=ends,
    )
    assert back == pytest.approx(speed, rel=ROUNDING)


@given(st.floats(400.0, 40_000.0), st.floats(1.0, 60.0), st.floats(0.05, 5.0))
def test_without_weight_and_bending_the_tension_is_density_times_speed_squared(
    speed: float, length: float, density: float
) -> None:
    elapsed = 6 * length / np.sqrt(speed)
    assert tension_from_returns(
        return_time=elapsed / 3,
        free_length=length,
        linear_density=density,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_CLAMPED,
        gravity=0.0,
    ) == pytest.approx(density * speed, rel=ROUNDING)


def test_sag_by_returns_is_the_published_relation() -> None:
    # A level span sags D = m g L^2/(8 T); with T from the returns, D = g t^2/(32 N^2).
    (row,) = read_table("return_wave_sag.csv")
    gravity, length, density, count, elapsed = 9.80665, 90.0, 0.5, 3, 6.0
    tension = tension_from_returns(
        return_time=elapsed / count,
        free_length=length,
        linear_density=density,
        flexural_rigidity=0.0,
        ends=EndCondition.PINNED_PINNED,
        gravity=0.0,
    )
    sag = density * gravity * length**2 / (8 * tension)
    assert sag / INCH / (elapsed / (2 * count)) ** 2 == as_printed(
        row["factor_in_per_s2"]
    )


@pytest.mark.parametrize("ends", list(EndCondition))
def test_a_return_takes_one_period_of_the_stiff_rope(ends: EndCondition) -> None:
    # The period of the fundamental is the shortened path, up to (bending/length)^2.
    errors = []
    for bending in (0.01, 0.005):
        speed, length = 1e4, 5.0
        rigidity = speed * (bending * length) ** 2
        elapsed = return_time(
            tension=speed,
            free_length=length,
            flexural_rigidity=rigidity,
            ends=ends,
            gravity=0.0,
        )
        frequency = natural_frequency_from_tension(
            mode_number=1,
            tension=speed,
            free_length=length,
            flexural_rigidity=rigidity,
            ends=ends,
        )
        errors.append(float(frequency * elapsed) - 1)
    assert abs(errors[0]) < 6e-4  # (pi bending)^2/2 = 5e-4
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.1)


def test_heavy_ropes_need_the_weight_taken_into_account() -> None:
    # 100 m of 0.5 kg/m over 5 kN: 5245.17 N at mid-length.
    middle = 5000 + 0.5 * 9.80665 * 50
    elapsed = return_time(
        tension=middle / 0.5,
        free_length=100.0,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_PINNED,
    )
    # Exact integral of dx/c by quadrature, with points enough for 1e-10.
    places = (np.arange(20_000) + 0.5) / 200.0
    quadrature = 2 * np.mean(100.0 / np.sqrt((5000 + 0.5 * 9.80665 * places) / 0.5))
    assert elapsed == pytest.approx(quadrature, rel=computed(1e-8, "midpoint rule"))
    light = tension_from_returns(
        return_time=elapsed,
        free_length=100.0,
        linear_density=0.5,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_PINNED,
        gravity=0.0,
    )
    heavy = tension_from_returns(
        return_time=elapsed,
        free_length=100.0,
        linear_density=0.5,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_PINNED,
    )
    assert heavy == pytest.approx(middle, rel=ROUNDING)
    assert light < heavy * (1 - 4e-4)


def test_a_time_too_long_for_the_stiffness_gives_no_tension() -> None:
    assert np.isnan(
        tension_from_returns(
            return_time=50.0,
            free_length=3.0,
            flexural_rigidity=10.0,
            ends=EndCondition.CLAMPED_PINNED,
        )
    )
