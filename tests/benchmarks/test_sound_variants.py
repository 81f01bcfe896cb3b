"""The tables of the cases beside the regimes count what their words say."""

import argparse

import pytest

from tests.benchmarks import sound_variants
from tests.benchmarks.scoring import RopeAnswer, SetAnswer
from tests.benchmarks.sound_sets import Trial
from tests.benchmarks.sound_variants import (
    lone_rows,
    midspan_rows,
    rods_rows,
    rows_of,
)


def make_answer(shares: list[float], verdict: str, spread: float) -> SetAnswer:
    truth = [1000.0] * (len(shares) - 1) + [1000.0 * (1.0 - spread)]
    return SetAnswer(
        seed=0,
        verdict=verdict,
        ropes=tuple(
            RopeAnswer(
                number=i + 1,
                true_tension=tension,
                true_frequency=10.0,
                share=share,
                share_uncertainty=0.01,
            )
            for i, (share, tension) in enumerate(zip(shares, truth, strict=True))
        ),
    )


def test_a_lone_rope_is_gross_beyond_three_per_cent_of_frequency() -> None:
    answers = [
        SetAnswer(
            seed=0,
            ropes=(
                RopeAnswer(
                    number=1,
                    true_tension=1.0,
                    true_frequency=10.0,
                    frequency=heard,
                    share=None if heard is None else 1.0,
                    refused="noise" if heard is None else None,
                ),
            ),
        )
        for heard in (10.29, 10.31, 20.0, None)
    ]
    rows = dict(lone_rows(answers))
    assert rows["refused"] == "25.00 % (1 of 4)"
    assert rows["over 3 % off in frequency, of those given"] == "66.67 % (2 of 3)"
    assert rows["median error of the rest"] == "2.9000 %"


def test_a_wrong_mode_number_counts_only_behind_a_verdict() -> None:
    behind = make_answer([1.0, 4.0, 1.0, 1.0], "unequal", 0.0)
    withheld = make_answer([1.0, 4.0, 1.0, 1.0], "cannot-tell", 0.0)
    right = make_answer([1.0, 1.0, 1.0, 0.8], "unequal", 0.2)
    rows = dict(midspan_rows([behind, withheld, right]))
    assert rows["wrong mode number behind equal or unequal"] == "33.33 % (1 of 3)"


def test_unequal_of_an_equal_set_is_false() -> None:
    false = make_answer([1.0, 1.0, 1.0, 0.88], "unequal", 0.02)
    withheld = make_answer([1.0, 1.0, 1.0, 0.88], "cannot-tell", 0.02)
    rows = dict(rods_rows([false, withheld]))
    assert rows["unequal said of an equal set"] == "50.00 % (1 of 2)"


@pytest.mark.parametrize(("case", "told"), [("lone", False), ("lone-length", True)])
def test_a_lone_rope_is_heard_without_its_length_unless_asked(
    monkeypatch: pytest.MonkeyPatch, case: str, *, told: bool
) -> None:
    trials: list[Trial] = []

    def answer(
        _maker: object, _seeds: object, trial: Trial, **_: object
    ) -> list[object]:
        trials.append(trial)
        return []

    monkeypatch.setattr(sound_variants, "answer_sets", answer)
    monkeypatch.setattr(sound_variants, "lone_rows", lambda _answers: [])
    options = argparse.Namespace(
        stage="assess", prior_factor=1.0, processes=1, list=False
    )
    rows_of(case, range(1), options)
    assert [trial.has_lengths for trial in trials] == [told]
    assert trials[0].stage == "hear"
