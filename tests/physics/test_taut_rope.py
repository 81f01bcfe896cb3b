"""Taut rope with bending stiffness: limits, identities, order of the remainder."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.installation import Ends
from tension.physics import FloatArray
from tension.physics.taut_rope import (
    EndCondition,
    _wavenumber,
    natural_frequency_from_tension,
    tension_from_frequency,
)
from tests.oracles.textbook import inharmonicity_from_rigidity
from tests.tolerances import computed

ROUNDING = computed(1e-9, "rounding of a closed form")

# The working range: 0.5 to 60 m, wave speeds 20 to 200 m/s, modes 1 to 40, bending
# length from nothing to a fifth of the span.
lengths = st.floats(0.5, 60.0)
speeds = st.floats(400.0, 40_000.0)
bendings = st.floats(1e-6, 0.2)
modes = st.integers(1, 40)
every_end = st.sampled_from(list(EndCondition))


def rigidity(speed: float, length: float, bending: float) -> float:
    """Rigidity per density of a rope whose bending length is a part of its span."""
    return speed * (bending * length) ** 2


@given(speeds, lengths, bendings, modes, every_end)
def test_frequency_and_its_inverse_round_trip(
    speed: float, length: float, bending: float, mode: int, ends: EndCondition
) -> None:
    stiffness = rigidity(speed, length, bending)
    frequency = natural_frequency_from_tension(
        mode_number=mode,
        tension=speed,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=ends,
    )
    back = tension_from_frequency(
        frequency=frequency,
        mode_number=mode,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=ends,
    )
    # A mode whose bending outweighs its tension magnifies rounding by that ratio.
    assert back == pytest.approx(
        speed, rel=ROUNDING * (1 + (np.pi * mode * bending) ** 2)
    )


@given(speeds, lengths, modes, every_end)
def test_without_stiffness_it_is_the_ideal_string(
    speed: float, length: float, mode: int, ends: EndCondition
) -> None:
    ideal = mode * np.sqrt(speed) / (2 * length)
    assert natural_frequency_from_tension(
        mode_number=mode,
        tension=speed,
        free_length=length,
        flexural_rigidity=0.0,
        ends=ends,
    ) == pytest.approx(ideal, rel=ROUNDING)


@given(speeds, lengths, bendings, modes, every_end)
def test_frequency_rises_with_tension_stiffness_and_clamping(
    speed: float, length: float, bending: float, mode: int, ends: EndCondition
) -> None:
    stiffness = rigidity(speed, length, bending)

    def of(*, tension: float = 1.0, stiff: float = 1.0, held: EndCondition) -> float:
        return float(
            natural_frequency_from_tension(
                mode_number=mode,
                tension=speed * tension,
                free_length=length,
                flexural_rigidity=stiffness * stiff,
                ends=held,
            )
        )

    here = of(held=ends)
    assert of(tension=1.01, held=ends) > here
    assert of(stiff=1.01, held=ends) >= here
    assert of(held=EndCondition.PINNED_PINNED) <= here
    assert here <= of(held=EndCondition.CLAMPED_CLAMPED)


@given(speeds, lengths, bendings, modes)
def test_clamped_pinned_is_half_of_an_even_clamped_mode(
    speed: float, length: float, bending: float, mode: int
) -> None:
    # Even modes of a clamped rope have a pinned point in the middle.
    stiffness = rigidity(speed, length, bending)
    half = natural_frequency_from_tension(
        mode_number=mode,
        tension=speed,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=EndCondition.CLAMPED_PINNED,
    )
    whole = natural_frequency_from_tension(
        mode_number=2 * mode,
        tension=speed,
        free_length=2 * length,
        flexural_rigidity=stiffness,
        ends=EndCondition.CLAMPED_CLAMPED,
    )
    assert half == pytest.approx(whole, rel=ROUNDING)


@given(speeds, lengths, bendings, modes, every_end, st.floats(0.1, 10))
def test_similar_ropes_sound_alike(
    speed: float,
    length: float,
    bending: float,
    mode: int,
    ends: EndCondition,
    scale: float,
) -> None:
    # T proportional to f squared if the rigidity is scaled with it.
    stiffness = rigidity(speed, length, bending)
    one = natural_frequency_from_tension(
        mode_number=mode,
        tension=speed,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=ends,
    )
    other = natural_frequency_from_tension(
        mode_number=mode,
        tension=speed * scale,
        free_length=length,
        flexural_rigidity=stiffness * scale,
        ends=ends,
    )
    assert other**2 / one**2 == pytest.approx(scale, rel=ROUNDING)


@pytest.mark.parametrize("mode", [1, 2, 3, 5])
@pytest.mark.parametrize(
    "ends", [EndCondition.CLAMPED_PINNED, EndCondition.CLAMPED_CLAMPED]
)
def test_second_order_form_leaves_a_remainder_of_third_order(
    mode: int, ends: EndCondition
) -> None:
    # Second-order form after Morse (1936): 1 + e s + (e^2 + n^2 pi^2/2) s^2, where e is
    # the number of clamped ends and s the bending length over the span.
    clamped = ends.n_clamped
    bending = np.array([2e-4, 1e-4])
    exact = natural_frequency_from_tension(
        mode_number=mode,
        tension=1.0,
        free_length=1.0,
        flexural_rigidity=bending**2,
        ends=ends,
    ) / (0.5 * mode)
    second = 1 + clamped * bending + (clamped**2 + (mode * np.pi) ** 2 / 2) * bending**2
    remainder = exact - second
    assert remainder[0] / remainder[1] == pytest.approx(8, rel=0.02)
    # Enough of it stands above rounding for the ratio to mean something.
    assert abs(remainder[0]) > 1e-11


def test_shortening_by_the_bending_length_is_right_to_second_order() -> None:
    # A pinned rope shorter by one bending length per clamp: remainder of third order.
    bending = np.array([2e-4, 1e-4])
    for ends in EndCondition:
        exact = natural_frequency_from_tension(
            mode_number=1,
            tension=1.0,
            free_length=1.0,
            flexural_rigidity=bending**2,
            ends=ends,
        )
        length = 1.0 - ends.n_clamped * bending
        short = natural_frequency_from_tension(
            mode_number=1,
            tension=1.0,
            free_length=length,
            flexural_rigidity=bending**2,
            ends=EndCondition.PINNED_PINNED,
        )
        remainder = np.abs(exact - short)
        assert np.all(remainder <= 20 * bending**3)
        if ends.n_clamped:
            assert remainder[0] / remainder[1] == pytest.approx(8, rel=0.03)


@pytest.mark.parametrize("mode", [1, 3])
def test_a_sheave_acts_as_a_pin_at_the_tangent_point(mode: int) -> None:
    # On a sheave the rope touches one bending length behind the tangent point (there
    # the static curvature reaches 1/R) and is clamped where it touches.
    bending = np.array([5e-3, 2.5e-3])
    touching, pinned = (
        natural_frequency_from_tension(
            mode_number=mode,
            tension=1.0,
            free_length=length,
            flexural_rigidity=bending**2,
            ends=ends,
        )
        for length, ends in (
            (1 + bending, EndCondition.CLAMPED_CLAMPED),
            (np.ones(2), EndCondition.CLAMPED_PINNED),
        )
    )
    remainder = touching / pinned - 1
    assert np.all(np.abs(remainder) < 1e-5)
    assert remainder[0] / remainder[1] == pytest.approx(8, rel=0.02)


@given(lengths, st.floats(1e-2, 1e4), modes, every_end)
def test_a_frequency_at_or_below_the_slack_one_gives_no_tension(
    length: float, stiffness: float, mode: int, ends: EndCondition
) -> None:
    slack = natural_frequency_from_tension(
        mode_number=mode,
        tension=0.0,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=ends,
    )
    speeds_found = tension_from_frequency(
        frequency=slack * np.array([0.5, 1 - 1e-9, 1 + 1e-6]),
        mode_number=mode,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=ends,
    )
    assert np.array_equal(np.isnan(speeds_found), [True, True, False])
    assert speeds_found[2] > 0


@given(speeds, lengths, bendings)
def test_inharmonicity_is_what_partials_of_a_pinned_rope_show(
    speed: float, length: float, bending: float
) -> None:
    stiffness = rigidity(speed, length, bending)
    inharmonicity = inharmonicity_from_rigidity(
        squared_wave_speed=speed, free_length=length, rigidity_per_density=stiffness
    )
    assert inharmonicity == pytest.approx((np.pi * bending) ** 2, rel=ROUNDING)
    # The same number seen from the partials of a pinned rope: f_n/(n f_s) squared - 1.
    partial = natural_frequency_from_tension(
        mode_number=3,
        tension=speed,
        free_length=length,
        flexural_rigidity=stiffness,
        ends=EndCondition.PINNED_PINNED,
    )
    stretch = (partial / (1.5 * np.sqrt(speed) / length)) ** 2
    assert stretch == pytest.approx(1 + 9 * inharmonicity, rel=ROUNDING)


@given(speeds, lengths, bendings, modes, every_end, st.floats(0.05, 5))
def test_newtons_are_the_squared_wave_speed_times_the_linear_density(
    speed: float,
    length: float,
    bending: float,
    mode: int,
    ends: EndCondition,
    density: float,
) -> None:
    stiffness = rigidity(speed, length, bending)
    frequency = natural_frequency_from_tension(
        mode_number=mode,
        tension=speed * density,
        linear_density=density,
        free_length=length,
        flexural_rigidity=stiffness * density,
        ends=ends,
    )
    assert frequency == pytest.approx(
        natural_frequency_from_tension(
            mode_number=mode,
            tension=speed,
            free_length=length,
            flexural_rigidity=stiffness,
            ends=ends,
        ),
        rel=ROUNDING,
    )
    assert tension_from_frequency(
        frequency=frequency,
        mode_number=mode,
        linear_density=density,
        free_length=length,
        flexural_rigidity=stiffness * density,
        ends=ends,
    ) == pytest.approx(
        speed * density, rel=ROUNDING * (1 + (np.pi * mode * bending) ** 2)
    )


def test_the_ideal_string_can_be_checked_on_paper() -> None:
    # 5 m, 10 Hz: (2 x 5 x 10)^2 = 10 000 m2/s2, times 0.35 kg/m = 3500 N.
    for frequency, mode in ((10.0, 1), (20.0, 2)):
        found = tension_from_frequency(
            frequency=frequency,
            mode_number=mode,
            linear_density=0.35,
            free_length=5.0,
            flexural_rigidity=0.0,
            ends=EndCondition.CLAMPED_PINNED,
        )
        assert found == pytest.approx(3500.0, rel=1e-12)


def test_arguments_broadcast_and_nan_stays_nan() -> None:
    found = tension_from_frequency(
        frequency=[[10.0], [np.nan]],
        mode_number=[1, 2, 3],
        free_length=5.0,
        flexural_rigidity=10.0,
        ends=EndCondition.CLAMPED_PINNED,
    )
    assert found.shape == (2, 3)
    assert np.all(np.isnan(found[1]))
    assert not np.any(np.isnan(found[0]))


def test_each_kind_of_span_has_its_end_condition() -> None:
    assert [EndCondition.from_ends(ends).n_clamped for ends in Ends] == [1, 2, 0]


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"free_length": -3.0}, r"free length \[m\] must be above 0 .* got -3"),
        ({"mode_number": 0}, "mode number must be whole and from 1 up, got 0"),
        ({"mode_number": 1.5}, "mode number must be whole and from 1 up, got 1.5"),
        ({"flexural_rigidity": -1.0}, "flexural rigidity .* 0 or above"),
        ({"tension": np.inf}, "tension .* finite"),
    ],
)
def test_a_value_outside_the_model_is_refused_by_name(
    changed: dict[str, float], message: str
) -> None:
    arguments: dict[str, float] = {
        "mode_number": 1,
        "tension": 1e4,
        "free_length": 3.0,
        "flexural_rigidity": 1.0,
    }
    with pytest.raises(InvalidValueError, match=message):
        natural_frequency_from_tension(
            **(arguments | changed), ends=EndCondition.CLAMPED_PINNED
        )


def test_a_string_without_tension_stands_still() -> None:
    found = natural_frequency_from_tension(
        mode_number=1,
        tension=0.0,
        free_length=3.0,
        flexural_rigidity=0.0,
        ends=EndCondition.PINNED_PINNED,
    )
    assert found == 0.0


@pytest.mark.parametrize(("ratio", "most"), [(0.0, 1), (0.05, 7)])
def test_a_root_that_no_longer_moves_is_taken(ratio: float, most: int) -> None:
    steps: list[FloatArray] = []

    def ratio_at(root: FloatArray) -> tuple[FloatArray, FloatArray]:
        steps.append(root)
        return ratio * root, np.full_like(root, ratio)

    between = np.array([np.pi]), np.array([1.5 * np.pi])
    root = _wavenumber(np.ones(1), 1, ratio_at, between)
    assert len(steps) <= most
    # k2/k1 is what is given, so that k1 is 20 or without end
    assert np.tan(root) == pytest.approx(ratio * root, rel=1e-9)
