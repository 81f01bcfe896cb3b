"""Side pull: identities, beam elements, printed wires."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.physics.side_pull import (
    PulledSpan,
    lateral_compliance,
    tension_from_side_pull,
)
from tension.physics.taut_rope import EndCondition
from tests.oracles.beam_elements import (
    Chain,
    deflect,
    graded_lengths,
    shortening,
    weighted_tension,
)
from tests.physics.forward import side_pull_deflection, side_pull_force
from tests.reference.tables import read_table
from tests.tolerances import computed, measured

ROUNDING = computed(1e-9, "rounding of a closed form")
ENDS = {
    EndCondition.PINNED_PINNED: ("pinned", "pinned"),
    EndCondition.CLAMPED_PINNED: ("clamped", "pinned"),
    EndCondition.CLAMPED_CLAMPED: ("clamped", "clamped"),
}


def flexible(length: float, place: float) -> PulledSpan:
    """A span without stiffness, pulled at a part of its length."""
    return PulledSpan(
        free_length=length,
        pull_point=place * length,
        flexural_rigidity=0.0,
        ends=EndCondition.CLAMPED_PINNED,
    )


@given(
    st.floats(0.8, 30.0),
    st.floats(0.1, 0.9),
    st.floats(300.0, 20_000.0),
    st.floats(0.001, 0.05),
    st.floats(0.0, 1e6),
    st.one_of(st.just(0.0), st.floats(1e-4, 0.1)),
    st.sampled_from(list(EndCondition)),
)
def test_both_protocols_give_back_the_tension_before_the_pull(
    length: float,
    place: float,
    tension: float,
    slope: float,
    axial: float,
    bending: float,
    ends: EndCondition,
) -> None:
    span = PulledSpan(
        free_length=length,
        pull_point=place * length,
        flexural_rigidity=tension * (bending * length) ** 2,
        ends=ends,
    )
    force = side_pull_force(
        tension=tension, deflection=slope * length, span=span, axial_stiffness=axial
    )
    outcome = tension_from_side_pull(
        force=force, deflection=slope * length, span=span, axial_stiffness=axial
    )
    # Stretch magnifies rounding by the ratio of the tension during to that before.
    magnified = float(outcome.pulled_tension) / tension
    assert outcome.tension == pytest.approx(tension, rel=ROUNDING * magnified)
    deflection = side_pull_deflection(
        tension=tension, force=force, span=span, axial_stiffness=axial
    )
    assert deflection == pytest.approx(slope * length, rel=ROUNDING)


@given(
    st.floats(0.8, 30.0),
    st.floats(0.1, 0.9),
    st.floats(300.0, 20_000.0),
    st.floats(1e-4, 0.3),
)
def test_a_flexible_rope_that_does_not_stretch_obeys_the_triangle_of_forces(
    length: float, place: float, tension: float, slope: float
) -> None:
    # Large angles: the two sides carry H sqrt(1 + (d/a)^2) and H sqrt(1 + (d/b)^2);
    # their lateral parts make the force.
    near, far, aside = place * length, (1 - place) * length, slope * length
    chord = tension * length / (np.hypot(near, aside) + np.hypot(far, aside))
    force = side_pull_force(
        tension=tension,
        deflection=aside,
        span=flexible(length, place),
        axial_stiffness=0.0,
    )
    assert force == pytest.approx(chord * (aside / near + aside / far), rel=ROUNDING)


def test_the_small_angle_form_leaves_a_remainder_of_third_order() -> None:
    # F = 4 T d/L and (8 K/L^2 - 8 T/L^3) d^3 more, in the middle of 3 m.
    tension, axial, length = 5000.0, 140e3, 3.0
    aside = np.array([0.01, 0.005])
    force = side_pull_force(
        tension=tension,
        deflection=aside,
        span=flexible(length, 0.5),
        axial_stiffness=axial,
    )
    remainder = force - 4 * tension * aside / length
    assert remainder[0] / remainder[1] == pytest.approx(8, rel=0.001)
    coefficient = 8 * (axial / length**2 - tension / length**3)
    assert remainder[1] / aside[1] ** 3 == pytest.approx(
        coefficient, rel=computed(1e-3, "fifth order")
    )


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize("place", [0.5, 0.25, 0.8])
@pytest.mark.parametrize("stiffness", [8.0, 20.0, 100.0])
def test_compliance_and_stretch_of_a_stiff_rope_agree_with_beam_elements(
    ends: EndCondition, place: float, stiffness: float
) -> None:
    # A node stands at the pull; the mesh is fine at the ends and under the pull.
    bending = 1 / stiffness
    lengths = np.concatenate(
        [
            graded_lengths(place, 100, bending / 20),
            graded_lengths(1 - place, 100, bending / 20),
        ]
    )
    chain = Chain(
        lengths=lengths,
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=bending**2,
        ends=ENDS[ends],
    )
    small = 1e-3
    displacement, slope = deflect(chain, [(100, small)])
    span = PulledSpan(
        free_length=1.0, pull_point=place, flexural_rigidity=bending**2, ends=ends
    )
    tolerance = computed(1e-6, "elements, by their mesh")
    assert lateral_compliance(span=span, horizontal=1.0) * small == pytest.approx(
        displacement[100], rel=tolerance
    )
    outcome = tension_from_side_pull(
        force=small, deflection=displacement[100], span=span, axial_stiffness=None
    )
    assert outcome.elongation == pytest.approx(
        shortening(chain, (displacement, slope)), rel=1e-5
    )


def test_clamped_ends_double_what_pinned_ones_add() -> None:
    # Apparent over true tension: 1/(1 - 2/xi) pinned and 1/(1 - 4/xi) clamped, at
    # mid-span, up to terms exp(-xi/2).
    for stiffness in (50.0, 100.0):
        for ends, part in (
            (EndCondition.PINNED_PINNED, 2),
            (EndCondition.CLAMPED_CLAMPED, 4),
        ):
            span = PulledSpan(
                free_length=1.0,
                pull_point=0.5,
                flexural_rigidity=1 / stiffness**2,
                ends=ends,
            )
            apparent = 0.25 / lateral_compliance(span=span, horizontal=1.0)
            assert apparent == pytest.approx(1 / (1 - part / stiffness), rel=1e-8)


def test_a_clamp_at_the_far_end_is_a_mirror_of_one_at_the_near_end() -> None:
    near, far = (
        PulledSpan(
            free_length=2.0,
            pull_point=place,
            flexural_rigidity=3.0,
            ends=EndCondition.CLAMPED_CLAMPED,
        )
        for place in (0.5, 1.5)
    )
    assert lateral_compliance(span=near, horizontal=100.0) == pytest.approx(
        lateral_compliance(span=far, horizontal=100.0), rel=ROUNDING
    )


def test_wires_without_tension_sag_as_printed() -> None:
    rows = {row["case"]: row for row in read_table("pulled_wires.csv")}
    for name, scatter in (("ncert", 0.004), ("french", 0.003)):
        row = rows[name]
        length = float(row["length_m"])
        stiffness = float(row["area_m2"]) * float(row["modulus_pa"]) / length
        # Almost no tension before the pull: a thousandth of a percent of that during.
        sag = side_pull_deflection(
            tension=1e-6,
            force=float(row["weight_n"]),
            span=flexible(length, 0.5),
            axial_stiffness=stiffness,
        )
        allowed = measured(scatter, "hand working and small angles in the source")
        assert sag == pytest.approx(float(row["sag_m"]), rel=allowed)
        if row["tension_n"]:
            outcome = tension_from_side_pull(
                force=float(row["weight_n"]),
                deflection=sag,
                span=flexible(length, 0.5),
                axial_stiffness=stiffness,
            )
            assert outcome.pulled_tension == pytest.approx(
                float(row["tension_n"]), rel=allowed
            )
            made = stiffness * outcome.elongation
            assert made == pytest.approx(float(outcome.pulled_tension), rel=1e-5)


def test_the_middle_of_a_belt_gives_way_as_its_rule_says() -> None:
    (row,) = read_table("belt_tension_rule.csv")
    part, share = (
        float(Fraction(row[name]))
        for name in ("deflection_over_span", "force_over_tension")
    )
    force = side_pull_force(
        tension=100.0,
        deflection=part * 2.0,
        span=flexible(2.0, 0.5),
        axial_stiffness=0.0,
    )
    # The rule is for small angles: (2/64)^2/2 = 5e-4 of the force.
    assert force / 100.0 == pytest.approx(share, rel=computed(6e-4, "small angles"))


def test_a_rope_that_does_not_stretch_cannot_hold_more_than_twice_its_tension() -> None:
    deflection = side_pull_deflection(
        tension=100.0,
        force=[199.0, 201.0],
        span=flexible(3.0, 0.5),
        axial_stiffness=0.0,
    )
    # 199 N = 2 x 100 N sin: the sine is 0.995, the tangent 9.96, times 1.5 m.
    assert deflection[0] == pytest.approx(1.5 * 0.995 / np.sqrt(1 - 0.995**2), rel=1e-9)
    assert np.isnan(deflection[1])


def test_two_deflections_tell_tension_and_axial_stiffness_apart() -> None:
    # F L/(4 d) against d^2 is a line: tension at nought, slope 2 K/L.
    aside = np.array([0.01, 0.02])
    force = side_pull_force(
        tension=5000.0,
        deflection=aside,
        span=flexible(3.0, 0.5),
        axial_stiffness=140e3,
    )
    apparent = force * 3.0 / (4 * aside)
    slope = (apparent[1] - apparent[0]) / (aside[1] ** 2 - aside[0] ** 2)
    assert slope == pytest.approx(2 * (140e3 / 3 - 5000 / 9), rel=0.001)
    assert apparent[0] - slope * aside[0] ** 2 == pytest.approx(5000.0, rel=1e-5)


def test_without_axial_stiffness_only_the_tension_during_the_pull_is_told() -> None:
    outcome = tension_from_side_pull(
        force=[50.0, 60.0],
        deflection=0.05,
        span=flexible(4.0, 0.5),
        axial_stiffness=None,
    )
    assert np.all(np.isnan(outcome.tension))
    assert outcome.pulled_tension == pytest.approx([1000.3, 1200.4], abs=0.1)


def test_a_rope_that_its_stiffness_alone_would_hold_has_no_tension() -> None:
    span = PulledSpan(
        free_length=1.0,
        pull_point=0.5,
        flexural_rigidity=50.0,
        ends=EndCondition.PINNED_PINNED,
    )
    # A beam of 50 N m2 takes 48 EI/L^3 = 2400 N/m by itself.
    outcome = tension_from_side_pull(
        force=[23.0, 25.0], deflection=0.01, span=span, axial_stiffness=0.0
    )
    assert np.array_equal(np.isnan(outcome.tension), [True, False])


@pytest.mark.parametrize("place", [0.0, 3.0, -1.0])
def test_a_pull_outside_the_span_is_refused_by_name(place: float) -> None:
    with pytest.raises(InvalidValueError, match="pull point must lie between the ends"):
        PulledSpan(
            free_length=3.0,
            pull_point=place,
            flexural_rigidity=0.0,
            ends=EndCondition.PINNED_PINNED,
        )


@pytest.mark.parametrize("place", [0.3, 0.5, 0.7])
def test_a_hanging_rope_shows_the_tension_at_the_pulled_point(place: float) -> None:
    # Own weight: eps = m g L/(2 T) = 0.25 here, far more than in a lift; the first
    # order is the tension at the pulled point, what is left is of second order.
    remainders = []
    for gravity in (9.81, 9.81 / 2):
        lengths = np.concatenate(
            [
                graded_lengths(40 * place, 100, 0.02),
                graded_lengths(40 - 40 * place, 100, 0.02),
            ]
        )
        chain = Chain(
            lengths=lengths,
            tension=weighted_tension(
                lengths, 800.0 - 196.2 * gravity / 9.81, 1.0, gravity
            ),
            linear_density=1.0,
            flexural_rigidity=0.5,
            ends=("pinned", "pinned"),
        )
        displacement, _ = deflect(chain, [(100, 0.01)])
        outcome = tension_from_side_pull(
            force=0.01,
            deflection=displacement[100],
            span=PulledSpan(
                free_length=40.0,
                pull_point=40 * place,
                flexural_rigidity=0.5,
                ends=EndCondition.PINNED_PINNED,
            ),
            axial_stiffness=0.0,
        )
        there = 800.0 + gravity * 40 * (place - 0.5)
        remainders.append(float(outcome.tension) / there - 1)
    assert abs(remainders[0]) < 0.25**2 / 2
    assert remainders[0] / remainders[1] == pytest.approx(4, rel=0.25)
