"""Budgets by named source: combined, multiplied and carried through any formula."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.quantity.estimate import Estimate, Sharing, Source, combine_sources
from tension.quantity.propagation import Error, propagate, propagate_errors
from tests.reference.tables import read_table
from tests.tolerances import as_printed

Floats = NDArray[np.float64]


def estimate(value: float, **relative: float) -> Estimate:
    """Named sources of the rope's own."""
    sources = tuple(Source(name=name, relative=r) for name, r in relative.items())
    return Estimate(value=value, sources=sources)


def shared(value: float, relative: float) -> Estimate:
    """One source that the set shares."""
    source = Source(name="tape", relative=relative, sharing=Sharing.SET)
    return Estimate(value=value, sources=(source,))


def test_sources_of_one_name_come_together_as_squares() -> None:
    merged = combine_sources(
        [Source(name="a", relative=0.03), Source(name="a", relative=0.04)]
    )
    (source,) = merged
    assert source.relative == pytest.approx(0.05, rel=1e-12)


def test_a_source_of_the_set_stays_apart_from_the_ropes_own() -> None:
    both = [
        Source(name="a", relative=0.03),
        Source(name="a", relative=0.04, sharing=Sharing.SET),
    ]
    assert combine_sources(both) == tuple(both)


def test_a_shared_error_cancels_in_a_quotient_and_adds_in_a_product() -> None:
    a, b = shared(3.0, 0.02), shared(5.0, 0.02)
    assert a.times_power(b, -1.0).relative_uncertainty() == pytest.approx(0, abs=1e-15)
    assert a.times_power(b).relative_uncertainty() == pytest.approx(0.04, rel=1e-12)
    assert a.times_power(b, -1.0).value == pytest.approx(0.6, rel=1e-15)


def test_own_errors_of_two_ropes_do_not_cancel() -> None:
    quotient = estimate(3.0, length=0.03).times_power(estimate(5.0, length=0.04), -1.0)
    assert quotient.relative_uncertainty() == pytest.approx(0.05, rel=1e-12)


@given(st.floats(0.1, 1e4), st.floats(1e-4, 0.05), st.floats(-3, 3))
def test_powers_multiply_the_relative_uncertainty(
    value: float, relative: float, exponent: float
) -> None:
    power = estimate(value, a=relative).power(exponent)
    assert power.value == pytest.approx(value**exponent, rel=1e-12)
    assert power.relative_uncertainty() == pytest.approx(
        abs(exponent) * relative, rel=1e-12, abs=1e-15
    )
    assert estimate(value, a=relative).scaled(2.5).relative_uncertainty() == relative


@given(st.floats(1e-4, 0.02), st.floats(1e-4, 0.02), st.floats(1e-4, 0.02))
def test_products_agree_with_the_general_propagation(
    length: float, frequency: float, density: float
) -> None:
    inputs = [
        estimate(3.4, length=length),
        estimate(14.2, frequency=frequency),
        shared(0.575, density),
    ]
    by_hand = inputs[2].times_power(inputs[0], 2).times_power(inputs[1], 2).scaled(4.0)
    general = propagate(lambda x: 4 * x[2] * x[0] ** 2 * x[1] ** 2, inputs).estimate(0)
    assert general.value == pytest.approx(by_hand.value, rel=1e-12)
    for sharing in Sharing:
        # products of squares have a third-order term of (0.1 * 0.02)^2 beside the first
        assert general.relative_uncertainty([sharing]) == pytest.approx(
            by_hand.relative_uncertainty([sharing]), rel=1e-5, abs=1e-12
        )


def shares_of_plucks(x: Floats) -> Floats:
    """Shares of three ropes from lengths, frequencies and one linear density."""
    tensions = 4 * x[6] * x[:3] ** 2 * x[3:6] ** 2
    shares: Floats = tensions / tensions.mean()
    return shares


def pluck_inputs() -> list[Estimate]:
    """Lengths known to 0.15 %, frequencies to 0.2 %, linear density to 5 % for all."""
    lengths = [estimate(value, length=0.0015) for value in (3.40, 3.55, 3.41)]
    frequencies = [estimate(value, frequency=0.002) for value in (14.1, 13.2, 14.6)]
    return [*lengths, *frequencies, shared(0.575, 0.05)]


def test_what_the_set_shares_leaves_the_shares_alone() -> None:
    propagated = propagate(shares_of_plucks, pluck_inputs())
    assert np.abs(propagated.covariance([Sharing.SET])).max() < 1e-20
    assert propagated.covariance([Sharing.OWN]).trace() > 1e-6


def test_propagation_agrees_with_drawing_at_random() -> None:
    inputs = pluck_inputs()
    propagated = propagate(shares_of_plucks, inputs)
    rng = np.random.default_rng(20261120)
    n_draws = 40_000
    values = np.array([each.value for each in inputs])
    own = np.array([each.relative_uncertainty() for each in inputs])
    draws = values * (1 + own * rng.standard_normal((n_draws, len(inputs))))
    sample = np.array([shares_of_plucks(draw) for draw in draws])
    drawn = np.cov(sample.T)
    expected = propagated.covariance()
    # a drawn variance scatters by sqrt(2/n) = 0.7 %; four times that
    assert np.diag(expected) == pytest.approx(np.diag(drawn), rel=0.028)
    correlation = expected[0, 1] / np.sqrt(expected[0, 0] * expected[1, 1])
    assert correlation == pytest.approx(
        drawn[0, 1] / np.sqrt(drawn[0, 0] * drawn[1, 1]), abs=0.02
    )


def test_own_sources_of_one_name_are_other_errors_in_each_input() -> None:
    lengths = [estimate(3.0, length=0.01), estimate(4.0, length=0.01)]
    total = propagate(np.sum, lengths)
    assert total.covariance()[0, 0] == pytest.approx(0.03**2 + 0.04**2, rel=1e-9)
    together = propagate(np.sum, [shared(3.0, 0.01), shared(4.0, 0.01)])
    assert together.covariance()[0, 0] == pytest.approx(0.07**2, rel=1e-9)


def test_the_step_is_small_enough_for_a_curved_function() -> None:
    # the cube's third-order term over a tenth of 10 % is 1e-4/3 of the first
    cube = propagate(lambda x: x**3, [estimate(2.0, a=0.1)]).estimate(0)
    assert cube.relative_uncertainty() == pytest.approx(0.3, rel=5e-5)


def test_no_relative_budget_is_given_for_nought() -> None:
    propagated = propagate(lambda x: x - x, [estimate(2.0, a=0.1)])
    with pytest.raises(InvalidValueError, match="use the covariance"):
        propagated.estimate(0)


def test_the_printed_example_of_correlated_readings_is_reproduced() -> None:
    rows = read_table("gum_electrical_components.csv")
    readings = np.array(
        [[float(r["V"]), float(r["I"]) * 1e-3, float(r["theta"])] for r in rows[:5]]
    )
    means = readings.mean(axis=0)
    # each reading is one independent error that moves all three means together
    moves = (readings - means) / np.sqrt(5 * 4)
    errors = [
        Error(name=f"{i}", sharing=Sharing.OWN, moves=m) for i, m in enumerate(moves)
    ]

    def components(x: Floats) -> Floats:
        impedance = x[0] / x[1]
        return np.array([impedance * np.cos(x[2]), impedance * np.sin(x[2]), impedance])

    propagated = propagate_errors(components, means, errors)
    uncertainties = np.sqrt(np.diag(propagated.covariance()))
    columns = ("V", "I", "theta")
    for i, name in enumerate(columns):
        assert propagated.values[i] == as_printed(rows[5][name])
        # printed is the scatter of components worked out reading by reading (0.29549
        # for the second); to first order it is 0.29558: a tenth of a unit is added
        assert uncertainties[i] == pytest.approx(float(rows[6][name]), abs=0.6e-3)


@pytest.mark.parametrize("row", read_table("sums_of_four.csv"))
def test_the_printed_sum_of_four_is_reproduced(row: dict[str, str]) -> None:
    four = [estimate(10.0, **{name: 0.1}) for name in "abcd"]
    total = propagate(np.sum, four)
    printed = float(row["standard_uncertainty"])
    assert np.sqrt(total.covariance()[0, 0]) == pytest.approx(printed, rel=1e-9)
