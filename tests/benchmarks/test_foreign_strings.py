"""Right, refused and wrong answers to recordings of others are counted as told."""

from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks import foreign_answers, foreign_sets, foreign_strings, rivals
from tests.benchmarks.foreign.recordings import ForeignRecording
from tests.benchmarks.foreign.sets import ForeignSet
from tests.benchmarks.foreign_answers import Said, StringAnswer
from tests.benchmarks.no_rope import figures_of as figures_of_strangers
from tests.benchmarks.scoring import RopeAnswer, SetAnswer, is_wrong


def make_answer(
    given: float | None, first: float | None = None, quiet: float = 0.1
) -> StringAnswer:
    return StringAnswer(
        said=Said(
            frequency=given,
            first_choice=first,
            refused=None if given else "too-noisy",
        ),
        true_frequency=10.0,
        quiet=quiet,
    )


def make_recording(
    samples: np.ndarray,
    onsets: tuple[float, ...],
    *,
    inside: bool = False,
    truth: float = 10.0,
) -> ForeignRecording:
    return ForeignRecording(
        samples=samples.astype(np.float32),
        rate=8000,
        truth_hz=truth,
        inharmonicity=1e-4,
        residual=0.0,
        glide=0.0,
        source="made",
        maker="made",
        instrument="made",
        note="",
        chain="clean",
        quiet_before=0.0 if inside else onsets[0],
        n_plucks=len(onsets) + inside,
        starts_inside_ring=inside,
        onsets=onsets,
        gap=float("nan"),
        tail=1.0,
        slowing=0.1,
    )


def test_wrong_is_over_four_per_cent_of_frequency() -> None:
    answers = [make_answer(10.0 * f) for f in (1.039, 1.041, 0.961, 0.959, 2.0)]
    assert [one.is_wrong for one in answers] == [False, True, False, True, True]


def test_a_row_counts_given_wrong_and_right_but_refused() -> None:
    cent = 10.0 * 2.0 ** (1.0 / 1200.0)
    answers = [
        make_answer(cent),
        make_answer(20.0),
        make_answer(None, 10.0),
        make_answer(None, 5.0),
        make_answer(None),
    ]
    assert foreign_strings.figures_of(answers) == (
        "5",
        "40.00 % (2 of 5)",
        "50.00 % (1 of 2)",
        "20.00 % (1 of 5)",
        "1.00",
        "too-noisy 3",
    )


@pytest.mark.parametrize(
    ("quiet", "name"),
    [(0.02, "0.02 to 0.3 s"), (0.31, "0.3 to 1 s"), (2.9, "1 to 3 s")],
)
def test_quiet_falls_into_its_bin(quiet: float, name: str) -> None:
    assert foreign_strings.quiet_of(make_answer(None, quiet=quiet)) == name


def test_groups_too_small_for_a_row_are_thrown_together() -> None:
    answers = [make_answer(10.0)] * 8
    groups = foreign_strings.grouped(answers, ["a"] * 5 + ["b", "b", "c"])
    kept = foreign_strings.without_small(groups)
    assert {name: len(group) for name, group in kept.items()} == {
        "a": 5,
        foreign_strings.REST: 3,
    }


def test_single_recordings_of_the_final_half_are_not_listed() -> None:
    foreign_answers.require_all_seen("building", is_listed=True)
    foreign_answers.require_all_seen("final", is_listed=False)
    with pytest.raises(SystemExit, match="not listed one by one"):
        foreign_answers.require_all_seen("final", is_listed=True)


def test_rivals_get_the_longest_ring() -> None:
    samples = np.zeros(8 * 8000)
    samples[5 * 8000 :] = np.sin(2.0 * np.pi * 50.0 * np.arange(3 * 8000) / 8000)
    ring = foreign_answers.longest_ring(make_recording(samples, (1.0, 3.0, 5.0)))
    assert len(ring) == round((3.0 - rivals.AFTER_RELEASE) * rivals.RATE)
    assert np.sqrt(np.mean(ring**2)) == pytest.approx(np.sqrt(0.5), rel=0.02)


def test_a_ring_that_was_running_at_the_start_counts() -> None:
    samples = np.ones(5 * 8000)
    ring = foreign_answers.longest_ring(make_recording(samples, (3.5,), inside=True))
    until = 3.5 - foreign_answers.BEFORE_NEXT - rivals.AFTER_RELEASE
    assert len(ring) == round(until * rivals.RATE)


def test_a_prototype_is_read_from_its_file(tmp_path: Path) -> None:
    path = tmp_path / "mine.py"
    path.write_text("def estimate(x, fs, fmin, fmax):\n    return len(x) / fs\n")
    recording = make_recording(np.zeros(3 * 8000), (0.1,))
    assert foreign_answers.by_prototype(path, recording).frequency == 3.0


def test_a_number_for_a_stranger_is_counted_whatever_it_is() -> None:
    answers = [
        StringAnswer(said=Said(frequency=8.0), true_frequency=8.0),
        StringAnswer(said=Said(refused="only-music"), true_frequency=8.0),
    ]
    assert figures_of_strangers(answers) == ("2", "50.00 % (1 of 2)", "only-music 1")


def make_set_heard(
    alone: tuple[bool, ...], together: tuple[bool, ...], verdict: str, spread: float
) -> foreign_sets.SetHeard:
    ropes = tuple(
        RopeAnswer(
            number=i + 1,
            true_tension=1.0 - spread * (i == 0),
            true_frequency=10.0,
            share=1.0 if given else None,
            share_uncertainty=0.01,
        )
        for i, given in enumerate(together)
    )
    answer = SetAnswer(seed=0, ropes=ropes, verdict=verdict)
    return foreign_sets.SetHeard(answer=answer, alone=alone)


def test_a_rope_lost_in_the_set_is_told_from_one_won() -> None:
    heard = make_set_heard(
        (True, True, True, False), (True, False, False, True), "equal", 0.0
    )
    rows = dict(foreign_sets.rows_of([heard]))
    assert rows["ropes given alone but lost in the set"] == "50.00 % (2 of 4)"
    assert rows["ropes refused alone but given in the set"] == "25.00 % (1 of 4)"
    assert not any(name.startswith("newtons") for name in rows)


@pytest.mark.parametrize(
    ("verdict", "spread", "wrong"),
    [
        ("equal", 0.114, False),
        ("equal", 0.116, True),
        ("unequal", 0.086, False),
        ("unequal", 0.084, True),
        ("cannot-tell", 0.0, False),
    ],
)
def test_a_verdict_counts_as_wrong_beyond_the_margin(
    verdict: str, spread: float, *, wrong: bool
) -> None:
    heard = make_set_heard((True,) * 3, (True,) * 3, verdict, spread)
    assert is_wrong(heard.answer, margin=foreign_sets.MARGIN) is wrong


def test_ropes_of_a_set_have_its_shares_and_a_usual_wave_speed() -> None:
    recordings = tuple(
        make_recording(np.zeros(8000), (0.1,), truth=pitch) for pitch in (9.0, 10.0)
    )
    drawn = ForeignSet(
        recordings=recordings,
        tensions=np.array([0.9, 1.1]),
        spread=0.2,
        player_spread=0.0,
        n_takes=1,
    )
    ropes = foreign_sets.as_ropes(drawn, seed=1, number=0).ropes
    assert ropes[1].hitch_tension / ropes[0].hitch_tension == pytest.approx(1.1 / 0.9)
    assert ropes[0].free_length == ropes[1].free_length
    low, high = foreign_sets.WAVE_SPEED
    assert low - 1.0 <= 2.0 * 9.5 * ropes[0].free_length <= high + 1.0


def test_by_pitch_holds_answers_against_what_was_measured() -> None:
    heard = make_set_heard((True, True), (True, True), "", 0.1)
    found = foreign_sets.by_pitch(heard.answer)
    assert [rope.true_tension for rope in found.ropes] == [100.0, 100.0]
