"""The scoring of the benchmarks says what its words say."""

import numpy as np
import pytest

from tests.benchmarks import scoring
from tests.benchmarks.scoring import RopeAnswer, SetAnswer


def make_answer(
    truth: list[float],
    shares: list[float | None],
    verdict: str = "",
    bounds: tuple[float | None, float | None] = (None, None),
    uncertainty: float = 0.01,
) -> SetAnswer:
    ropes = tuple(
        RopeAnswer(
            number=i + 1,
            true_tension=tension,
            true_frequency=10.0,
            share=share,
            share_uncertainty=None if share is None else uncertainty * share,
            tension=None if share is None else 1000.0 * share,
            tension_uncertainty=None if share is None else 10.0,
            refused=None if share is not None else "noise",
        )
        for i, (tension, share) in enumerate(zip(truth, shares, strict=True))
    )
    return SetAnswer(
        seed=0, ropes=ropes, verdict=verdict, lower=bounds[0], upper=bounds[1]
    )


def test_right_shares_have_no_error() -> None:
    answer = make_answer([900.0, 1000.0, 1100.0], [0.9, 1.0, 1.1])
    np.testing.assert_allclose(scoring.share_errors(answer), 0.0, atol=1e-12)
    assert not any(scoring.gross_errors(answer))


def test_shares_are_compared_over_the_ropes_given() -> None:
    # the mean of the two given is 950 N, not 1300 N
    answer = make_answer([900.0, 1000.0, 2000.0], [0.9, 1.0, None])
    np.testing.assert_allclose(scoring.share_errors(answer), 0.0, atol=1e-12)
    assert not answer.is_complete


def test_one_doubled_frequency_is_one_gross_error() -> None:
    answer = make_answer([1000.0] * 4, [1.0, 4.0, 1.0, 1.0])
    assert scoring.gross_errors(answer) == [False, True, False, False]


@pytest.mark.parametrize(("off", "is_gross"), [(1.049, False), (1.051, True)])
def test_gross_begins_at_five_per_cent(off: float, *, is_gross: bool) -> None:
    answer = make_answer([1000.0] * 5, [1.0, 1.0, 1.0, 1.0, off])
    assert any(scoring.gross_errors(answer)) is is_gross


@pytest.mark.parametrize(
    ("lowest", "verdict", "is_wrong"),
    [
        (950.0, "equal", False),
        (890.0, "equal", True),
        (890.0, "unequal", False),
        (910.0, "unequal", True),
        (890.0, "cannot-tell", False),
    ],
)
def test_a_verdict_is_wrong_on_the_other_side_of_the_limit(
    lowest: float, verdict: str, *, is_wrong: bool
) -> None:
    answer = make_answer([1000.0, lowest], [1.0, 1.0], verdict)
    assert scoring.is_wrong(answer) is is_wrong


def test_coverage_counts_complete_sets_of_its_bin_only() -> None:
    held = make_answer([1000.0, 950.0], [1.0, 0.95], bounds=(0.04, 0.06))
    missed = make_answer([1000.0, 960.0], [1.0, 0.96], bounds=(0.05, 0.06))
    other_bin = make_answer([1000.0, 990.0], [1.0, 0.99], bounds=(0.0, 0.02))
    incomplete = make_answer([1000.0, 950.0], [1.0, None], bounds=(0.04, 0.06))
    found = scoring.coverage([held, missed, other_bin, incomplete], 0.03, 0.07)
    assert (found.hits, found.trials) == (1, 2)


def test_cannot_tell_counts_sets_away_from_the_limit() -> None:
    away = make_answer([1000.0, 940.0], [1.0, 0.94], "cannot-tell")
    near = make_answer([1000.0, 910.0], [1.0, 0.91], "cannot-tell")
    told = make_answer([1000.0, 800.0], [1.0, 0.8], "unequal")
    found = scoring.cannot_tell([away, near, told])
    assert (found.hits, found.trials) == (1, 2)


def test_standardised_errors_are_split_by_stated_uncertainty() -> None:
    sharp = make_answer([1000.0, 1000.0], [1.03, 0.97], uncertainty=0.005)
    fair = make_answer([1000.0, 1000.0], [1.03, 0.97], uncertainty=0.02)
    blunt = make_answer([1000.0, 1000.0], [1.03, 0.97], uncertainty=0.1)
    thirds = scoring.within_two_by_thirds([blunt, sharp, fair])
    assert [held.hits for held in thirds] == [0, 2, 2]


def test_median_errors_are_absolute_and_relative() -> None:
    answer = make_answer([1000.0, 1000.0, 1000.0], [1.01, 1.02, 0.98])
    # newtons: off by 1, 2 and 2 %
    assert scoring.median_tension_error([answer]) == pytest.approx(0.02)


def test_refusals_are_counted_by_code() -> None:
    answer = make_answer([1000.0, 950.0, 900.0], [1.0, None, None])
    assert scoring.refusals([answer]) == (("noise", 2),)


def test_the_table_has_a_line_for_each_claim() -> None:
    answer = make_answer([1000.0, 990.0], [1.0, 0.99], "equal", (0.0, 0.02))
    table = dict(scoring.score_lines([answer]))
    assert table["ropes given a number"] == "100.00 % (2 of 2)"
    assert table["interval holds a spread of 0-3 %"] == "100.00 % (1 of 1)"
    assert table["interval holds a spread of 3-7 %"] == "none"
    assert table["equal or unequal said wrongly"] == "0.00 % (0 of 1)"
    assert table["refused, by code"] == "none"
