"""Combined kinds and rounds against other arithmetic, and where they fall apart."""

from dataclasses import replace
from math import exp, log, pi, sqrt

import numpy as np
import pytest

from tension.measurement.combine import (
    SetEvidence,
    TensionHypothesis,
    find_contradictions,
)
from tension.measurement.readings import Method
from tension.measurement.repeats import coverage_widening, merge_rounds
from tension.notes import NoteKind
from tension.quantity.estimate import Estimate, Sharing, Source
from tension.sound.hearing import Rival
from tests.measurement.test_combine import TENSIONS, kind, together
from tests.measurement.test_contradictions import rounds_of


def by_least_squares(
    rows: list[tuple[int, float]], variance: np.ndarray, n: int
) -> tuple[np.ndarray, np.ndarray, float]:
    """Logarithms, covariance and Birge factor by whitened rows and a QR."""
    design = np.array([[float(i == rope) for i in range(n)] for rope, _ in rows])
    values = np.array([value for _, value in rows])
    white = np.linalg.inv(np.linalg.cholesky(variance))
    found, rest, _, _ = np.linalg.lstsq(white @ design, white @ values, rcond=None)
    factor = np.linalg.inv(np.linalg.qr(white @ design)[1])
    return found, factor @ factor.T, float(rest[0]) / (len(rows) - n)


@pytest.mark.parametrize("apart", [0.0, 0.02, -0.05])
def test_two_kinds_are_a_generalised_least_squares(apart: float) -> None:
    second = TENSIONS[1:] * np.exp([apart, 0.01, -0.01])
    measured = together(
        kind(TENSIONS, 0.01, shared=0.02),
        kind(second, 0.02, numbers=(2, 3, 4), shared=0.05, method=Method.SPRING),
    )
    variance = np.diag([1e-4] * 4 + [4e-4] * 3)
    variance[4:, 4:] += 0.02**2 + 0.05**2
    rows = [*enumerate(np.log(TENSIONS)), *zip((1, 2, 3), np.log(second), strict=True)]
    found, covariance, excess = by_least_squares(rows, variance, 4)
    tensions = measured.hypotheses[0].tensions
    assert tensions == pytest.approx(np.exp(found), rel=1e-9)
    wanted = covariance * max(1.0, excess)
    assert measured.covariance == pytest.approx(wanted, rel=1e-6)
    assert (excess > 1) is (apart == -0.05)


def test_kinds_that_know_no_newtons_of_each_other_share_nothing_but_shares() -> None:
    one = kind(TENSIONS, 0.01, shared=0.02)
    other = kind(TENSIONS / 0.5, 0.01, method=Method.PLUCK, is_absolute=False)
    measured = together(one, other)
    mean = np.full(4, 0.25)
    # the level is that of the one kind: four ropes of 1 %
    assert mean @ measured.covariance @ mean == pytest.approx(1e-4 / 4, rel=1e-3)


def test_what_the_set_shares_drops_out_between_kinds_that_rest_on_it() -> None:
    mass = Source(name="linear density", relative=0.05, sharing=Sharing.SET)
    one = replace(kind(TENSIONS, 0.01), shared_sources=(mass,))
    other = replace(
        kind(TENSIONS * 1.02, 0.01, method=Method.RETURNS), shared_sources=(mass,)
    )
    level = np.full(4, 0.25)
    both = together(one, other)
    assert level @ both.covariance @ level == pytest.approx(
        1e-4 / 8 * log(1.02) ** 2 / 2e-4, rel=1e-6
    )
    # a kind that the other does not have stays
    own = replace(other, shared_sources=(replace(mass, name="stopwatch"),))
    assert level @ together(one, own).covariance @ level == pytest.approx(
        1e-4 / 4, rel=0.05
    )


@pytest.mark.parametrize(("times", "is_told"), [(2.99, False), (3.01, True)])
def test_levels_three_deviations_apart_are_told(
    times: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    # the mean of four ropes of 1 % and 2 %, and both levels
    width = sqrt((0.01**2 + 0.02**2) / 4 + 0.02**2 + 0.05**2)
    kinds = [
        kind(TENSIONS, 0.01, shared=0.02),
        kind(TENSIONS * exp(times * width), 0.02, shared=0.05, method=Method.SPRING),
    ]
    notes, refusals = find_contradictions(kinds)
    assert [note.kind for note in notes] == [NoteKind.KINDS_DISAGREE] * is_told
    assert refusals == {}
    shares = [replace(kinds[0], is_absolute=False), kinds[1]]
    assert find_contradictions(shares) == ((), {})


@pytest.mark.parametrize(("times", "is_told"), [(3.98, False), (4.02, True)])
def test_a_rope_four_deviations_apart_has_no_number(
    times: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    # its own 1 % and 2 %, and the median of four: pi/2 times the variance of a mean
    width = sqrt((0.01**2 + 0.02**2) * (1 + pi / 2 / 4))
    off = TENSIONS * np.array([1.0, 1.0, exp(times * width), 1.0])
    kinds = [kind(TENSIONS, 0.01), kind(off, 0.02, method=Method.SPRING)]
    _, refusals = find_contradictions(kinds)
    assert list(refusals) == [3] * is_told
    if is_told:
        mine, its = (100 * row[2] / exp(np.log(row).mean()) for row in (TENSIONS, off))
        assert f"{mine:.1f}" in refusals[3].text
        assert f"{its:.1f}" in refusals[3].text
    # of one rope nothing is said
    alone = [replace_numbers(each, (3,)) for each in kinds]
    assert find_contradictions(alone)[1] == {}


def replace_numbers(of: SetEvidence, kept: tuple[int, ...]) -> SetEvidence:
    """A kind with some of its ropes."""
    gone = {n: NoteKind.NOT_MEASURED.refusal(rope=n) for n in of.numbers}
    return of.without({n: why for n, why in gone.items() if n not in kept})


def test_no_more_than_sixty_four_joint_numberings_are_weighed() -> None:
    rng = np.random.default_rng(4)
    many = tuple(
        TensionHypothesis(weight=weight, tensions=TENSIONS * exp(shift))
        for weight, shift in zip(
            np.sort(rng.dirichlet(np.ones(10)))[::-1],
            rng.normal(0, 0.01, 10),
            strict=True,
        )
    )
    measured = together(
        kind(TENSIONS, 0.01, method=Method.PLUCK, hypotheses=many),
        kind(TENSIONS, 0.01, method=Method.RETURNS, hypotheses=many),
    )
    assert len(measured.hypotheses) == 64
    assert sum(h.weight for h in measured.hypotheses) == pytest.approx(1.0)
    weights = [h.weight for h in measured.hypotheses]
    assert weights == sorted(weights, reverse=True)


def test_the_budget_of_one_kind_is_told_in_detail_and_of_two_as_a_whole() -> None:
    alone = together(kind(TENSIONS, 0.01))
    tension = alone.ropes[0].tension
    assert tension is not None
    assert [source.name for source in tension.sources] == ["own", "of the pulls"]
    both = together(kind(TENSIONS, 0.01), kind(TENSIONS, 0.02, method=Method.SPRING))
    tension = both.ropes[0].tension
    assert tension is not None
    first = tension.sources[0]
    assert first.name == "pull and spring, combined"
    assert first.relative == pytest.approx(sqrt(both.covariance[0, 0]))


def numbered(*chances: float) -> dict[float, float]:
    """Rivals of a rope of 14 Hz whose pitch may be counted twice, by two kinds."""
    half, twice = (TENSIONS * np.array([1.0, 1.0, one, 1.0]) for one in (0.25, 4.0))
    cases = (TENSIONS, twice, TENSIONS * 1.0001, half)
    plucks = kind(
        TENSIONS,
        0.3,
        method=Method.PLUCK,
        hypotheses=tuple(
            TensionHypothesis(weight=chance, tensions=case)
            for chance, case in zip(chances, cases, strict=False)
        ),
    )
    silent = kind(TENSIONS[:1], 5.0, numbers=(1,), method=Method.SPRING, shared=5.0)
    measured = together(plucks, silent)
    rope = measured.ropes[2]
    assert rope.fundamental is not None
    assert rope.fundamental.value == pytest.approx(14.0)
    return {r.fundamental_frequency: r.probability for r in rope.rivals}


def test_rivals_are_told_with_the_chance_of_all_their_numberings() -> None:
    rivals = numbered(0.6, 0.1, 0.3)
    # the third is the first, up to bending
    assert list(rivals) == pytest.approx([28.0])
    assert rivals[28.0] == pytest.approx(0.1, rel=1e-3)
    assert list(numbered(1 - 1.1e-6, 1.1e-6)) == pytest.approx([28.0])
    assert numbered(1 - 0.9e-6, 0.9e-6) == {}
    # the likelier first
    assert list(numbered(0.5, 0.1, 0.25, 0.15)) == pytest.approx([7.0, 28.0])


def test_a_rope_out_of_a_kind_leaves_the_rest_in_order() -> None:
    plucks = kind(TENSIONS, 0.01, method=Method.PLUCK)
    plucks = replace(
        plucks,
        covariance=np.diag([1.0, 2.0, 3.0, 4.0]),
        fundamentals=tuple(Estimate(value=float(i)) for i in range(4)),
    )
    kept = replace_numbers(plucks, (1, 3, 4))
    assert kept.numbers == (1, 3, 4)
    assert list(kept.tensions) == [5300.0, 5150.0, 4700.0]
    assert list(np.diag(kept.covariance)) == [1.0, 3.0, 4.0]
    assert [each.value for each in kept.fundamentals] == [0.0, 2.0, 3.0]
    assert list(kept.refusals) == [2]


def test_merged_rounds_are_a_model_of_random_effects() -> None:
    # three rounds of three ropes; the third rope is read twice
    truth = {1: 5000.0, 2: 4800.0, 3: 5200.0}
    moves = {1: (0.0, 0.004, -0.005), 2: (0.0, -0.006, 0.004), 3: (0.0, 0.008)}
    rounds = rounds_of(
        *(
            {n: truth[n] * exp(own[i]) for n, own in moves.items() if i < len(own)}
            for i in range(3)
        ),
        relative=0.0005,
    )
    merged = merge_rounds(rounds)
    heard = (2 * 0.0005) ** 2
    logs = {n: [] for n in truth}  # type: dict[int, list[float]]
    for here, names in rounds:
        for rope in here.ropes:
            if rope.number in names:
                logs[rope.number].append(2 * log(rope.fundamental_frequency))
    # the second round moved as a whole, by the middle of three; the third is of two
    level = float(np.median([own[1] - own[0] for own in logs.values()]))
    levels = np.array([0.0, level, 0.0]) - level / 3
    values = {n: np.array(own) - levels[: len(own)] for n, own in logs.items()}
    excess = [
        float(((v - v.mean()) ** 2).sum()) - heard * (len(v) - 1)
        for v in values.values()
    ]
    freedom = sum(len(v) - 1 for v in values.values()) - 1
    scatter = sum(excess) / freedom * coverage_widening(freedom) ** 2
    for rope in merged.ropes:
        v = values[rope.number]
        assert rope.fundamental_frequency == pytest.approx(exp(v.mean() / 2), rel=1e-9)
        wanted = sqrt((heard + scatter) / len(v)) / 2
        assert rope.relative_uncertainty == pytest.approx(wanted, rel=1e-6)
        row = merged.given.index(rope.number)
        own = (0.0005**2 + scatter / 4) / len(v)
        assert merged.covariance[row, row] == pytest.approx(own, rel=1e-6)


def test_a_rope_whose_rounds_scatter_four_times_the_others_stands_alone() -> None:
    # moves of +d, four times, and -d, four times: the level is +d, which leaves 0 and
    # -2 d, and of the ninth x d. It stands alone if x^2/2 is over four times what all
    # show, (8 + x^2/2)/8, widened: nine moves, of which a level took one
    widening = coverage_widening(8.0) ** 2
    least = sqrt(2 * 4 * widening / (1 - widening / 2))
    for times, is_alone in ((0.99 * least, False), (1.01 * least, True)):
        moves = 0.003 * np.array([1.0, -1.0] * 4 + [1.0 + times])
        truth = dict.fromkeys(range(1, 10), 5000.0)
        second = {n: 5000.0 * exp(moves[n - 1]) for n in truth}
        merged = merge_rounds(rounds_of(truth, second, relative=1e-6))
        own = [rope.relative_uncertainty for rope in merged.ropes]
        assert (own[8] > 1.2 * own[0]) is is_alone
        if is_alone:
            # by its own two readings, half a frequency
            assert own[8] == pytest.approx(0.003 * times / 2 / 2, rel=5e-3)


def test_two_ropes_make_no_common_move() -> None:
    for n, is_common in ((2, False), (3, True)):
        truth = {i + 1: 5000.0 for i in range(n)}
        second = {i: 5000.0 * exp(0.05) for i in truth}
        merged = merge_rounds(rounds_of(truth, second))
        assert bool(merged.given) is is_common
    # nor do half of four
    truth = dict.fromkeys(range(1, 5), 5000.0)
    second = {1: 5250.0, 2: 5250.0, 3: 5000.0, 4: 4750.0}
    assert merge_rounds(rounds_of(truth, second)).given == (3,)


def test_a_rope_of_no_number_is_shown_as_the_first_round_heard_it() -> None:
    truth = {1: 5000.0, 2: 4800.0}
    rounds = rounds_of(truth, {1: 5000.0 * exp(0.06), 2: 4800.0})
    second, names = rounds[1]
    quieter = tuple(replace(rope, signal_to_noise=10.0) for rope in second.ropes)
    rounds[1] = (replace(second, ropes=quieter), names)
    merged = merge_rounds(rounds)
    assert merged.given == (2,)
    assert merged.ropes[0].signal_to_noise == 30.0


def test_a_levelled_round_lies_in_the_middle_of_all() -> None:
    truth = dict.fromkeys(range(1, 5), 5000.0)
    second = {i: 5000.0 * exp(0.06) for i in truth}
    merged = merge_rounds(rounds_of(truth, second))
    middle = sqrt(exp(0.03))
    first = rounds_of(truth)[0][0].ropes[0].fundamental_frequency
    # at mid-length the weight of the span is added, which does not move: 0.03 %
    found = merged.ropes[0].fundamental_frequency
    assert found == pytest.approx(first * middle, rel=5e-4)


def test_rivals_of_a_merged_rope_move_with_it() -> None:
    truth = {1: 5000.0, 2: 4800.0}
    rounds = rounds_of(truth, {1: 5000.0 * exp(0.008), 2: 4800.0})
    rounds = [
        (
            replace(
                one,
                ropes=tuple(
                    replace(
                        rope,
                        rivals=(
                            Rival(
                                fundamental_frequency=2 * rope.fundamental_frequency,
                                probability=0.1 + 0.1 * place,
                            ),
                        ),
                    )
                    for rope in one.ropes
                ),
            ),
            names,
        )
        for place, (one, names) in enumerate(rounds)
    ]
    merged = merge_rounds(rounds)
    for rope in merged.ropes:
        (rival,) = rope.rivals
        assert rival.fundamental_frequency == pytest.approx(
            2 * rope.fundamental_frequency, rel=1e-12
        )
        assert rival.probability == pytest.approx(0.1)  # of the reading in less doubt
    first = rounds[0][0].ropes[0].fundamental_frequency
    assert merged.ropes[0].fundamental_frequency == pytest.approx(
        first * exp(0.002), rel=1e-5
    )


def test_two_thirds_of_three_make_a_move_common() -> None:
    truth = dict.fromkeys(range(1, 4), 5000.0)
    second = {1: 5000.0 * exp(0.06), 2: 5000.0 * exp(0.06), 3: 5000.0}
    assert merge_rounds(rounds_of(truth, second)).given == (1, 2)


def test_a_rope_read_once_scatters_as_the_others_do() -> None:
    truth = {1: 5000.0, 2: 4800.0, 3: 5200.0}
    second = {1: 5000.0 * exp(0.008), 2: 4800.0 * exp(-0.006)}
    merged = merge_rounds(rounds_of(truth, second, relative=0.0005))
    heard = (2 * 0.0005) ** 2
    # two moves, of which the mean leaves half of the square, less what was heard
    pooled = ((0.008**2 + 0.006**2) / 2 - 2 * heard) / 2
    wanted = sqrt(heard + pooled * coverage_widening(3.0) ** 2) / 2
    assert merged.ropes[2].relative_uncertainty == pytest.approx(wanted, rel=2e-2)
