"""The comparison of priors counts and pairs what its words say."""

import pytest

from tension.sound.hearing import HearingPrior
from tests.benchmarks.priors import paired_rows
from tests.benchmarks.scoring import RopeAnswer, SetAnswer


def make_set(seed: int, shares: tuple[float | None, ...]) -> SetAnswer:
    return SetAnswer(
        seed=seed,
        ropes=tuple(
            RopeAnswer(
                number=k + 1,
                true_tension=1000.0,
                true_frequency=10.0,
                share=share,
                share_uncertainty=None if share is None else 0.01,
            )
            for k, share in enumerate(shares)
        ),
    )


def test_every_width_is_multiplied_and_nothing_else() -> None:
    prior = HearingPrior()
    wide = prior.widened(2.0)
    for name in prior.__dataclass_fields__:
        before, after = getattr(prior, name), getattr(wide, name)
        if name.endswith("_width"):
            assert after == 2.0 * before
        else:
            assert after == before


def test_the_same_answers_have_no_change_and_no_error_of_it() -> None:
    answers = [make_set(k, (1.0, 1.0 + 0.002 * k)) for k in range(6)]
    for row in paired_rows(answers, answers):
        assert row[1] == row[2]
        assert float(row[3].split(" ")[0]) == 0.0
        assert float(row[3].split(" ")[2]) == 0.0


def test_a_rope_lost_in_every_set_is_a_change_without_sampling_error() -> None:
    first = [make_set(k, (1.0, 1.0, 1.0, 1.0)) for k in range(6)]
    second = [make_set(k, (1.0, 1.0, 1.0, None)) for k in range(6)]
    row = paired_rows(first, second)[0]
    assert row[0] == "ropes given a number"
    assert row[1:] == ("100.00 ± 0.00 %", "75.00 ± 0.00 %", "-25.00 ± 0.00 %")


@pytest.mark.slow
def test_the_sampling_error_of_a_share_is_that_of_its_sets() -> None:
    # one of two ropes lost in half of 50 sets: sd of 0.25 per set over root 50 = 3.5 %
    first = [make_set(k, (1.0, 1.0)) for k in range(50)]
    second = [make_set(k, (1.0, None if k % 2 else 1.0)) for k in range(50)]
    told = paired_rows(first, second)[0][3]
    assert told.startswith("-25.00 ± ")
    assert float(told.split(" ")[2]) == pytest.approx(3.54, rel=0.15)
