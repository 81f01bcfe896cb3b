"""What is learned of turns, by least squares of another library and at its edges."""

from dataclasses import replace
from itertools import product
from math import exp, hypot, sqrt

import numpy as np
import pytest
from scipy.optimize import curve_fit

from tension.adjustment.answer import (
    Answer,
    Answering,
    AnswerKind,
    Exchange,
    Turning,
    _held_against,
    find_exchange,
    fit_stiffness,
    left_over,
    read_answer,
    usual_left_over,
)
from tension.adjustment.fit import fit_line, uncertainties_of
from tension.adjustment.outcome import Turn
from tension.adjustment.running import RunIn
from tension.adjustment.stiffness import KnownFrom, NutStiffness, Origin
from tension.installation import HitchPlace
from tension.notes import NoteKind
from tension.quantity.units import Dimension, Quantity

CAR = HitchPlace.CAR
TRAVELS = np.array([-0.006, 0.003, -0.003, 0.006, -0.005, 0.005])
BEFORE = np.array([5300.0, 4850.0, 5150.0, 4700.0, 5250.0, 4750.0])


def turning(
    k: float = 50e3,
    noise: np.ndarray | float = 0.0,
    width: float = 20.0,
    travels: np.ndarray = TRAVELS,
) -> Turning:
    return Turning(
        travels=travels,
        changes=k * (travels - travels.mean()) + noise,
        uncertainties=np.full(len(travels), width),
    )


# --- the line ---


def test_the_line_is_that_of_another_least_squares() -> None:
    rng = np.random.default_rng(5)
    x, width = rng.uniform(0, 10, 7), rng.uniform(0.5, 2.0, 7)
    y = 3.0 * x + 2.0 + width * rng.standard_normal(7)
    line = fit_line(x, y, width)
    (slope, level), covariance = curve_fit(
        lambda at, a, b: a * at + b, x, y, sigma=width, absolute_sigma=True
    )
    assert line is not None
    assert line.slope == pytest.approx(slope, rel=1e-6)
    assert line.y - line.slope * line.x == pytest.approx(level, rel=1e-6)
    assert line.slope_uncertainty == pytest.approx(covariance[0, 0] ** 0.5, rel=1e-6)
    left = ((y - slope * x - level) / width) ** 2
    assert line.left_over == pytest.approx(left.sum(), rel=1e-6)


@pytest.mark.parametrize("x", [[1.0], [2.0, 2.0, 2.0]])
def test_no_line_goes_through_points_of_one_place(x: list[float]) -> None:
    assert fit_line(np.array(x), np.zeros(len(x)), 1.0) is None


def test_a_line_goes_through_two_points() -> None:
    line = fit_line(np.array([1.0, 3.0]), np.array([2.0, 6.0]), 0.5)
    assert line is not None
    assert (line.slope, line.x, line.y) == pytest.approx((2.0, 2.0, 4.0))
    assert line.slope_uncertainty == pytest.approx(0.5 / sqrt(2.0))


def test_uncertainties_of_sums_by_draws_of_their_figures() -> None:
    rng = np.random.default_rng(6)
    root = rng.standard_normal((3, 3))
    sums = np.array([[1.0, -1.0, 0.0], [0.5, 0.5, -1.0]])
    drawn = rng.standard_normal((100_000, 3)) @ root.T @ sums.T
    told = uncertainties_of(sums, root @ root.T)
    assert told == pytest.approx(drawn.std(axis=0), rel=0.01)


# --- the stiffness ---


def test_the_stiffness_and_its_width_by_another_least_squares() -> None:
    # no rope stands out; a rope's own stiffness, 7 % of the first slope, in the widths
    noise = np.array([30.0, -25.0, 10.0, -5.0, -20.0, 10.0])
    given = turning(noise=noise)
    fit = fit_stiffness(given)
    i, j = np.triu_indices(6, 1)
    away = TRAVELS[i] - TRAVELS[j]
    ranked = sorted(
        zip((given.changes[i] - given.changes[j]) / away, np.abs(away), strict=True)
    )
    so_far = np.cumsum([weight for _, weight in ranked])
    first = ranked[int(np.argmax(so_far >= so_far[-1] / 2))][0]
    width = np.hypot(20.0, 0.07 * first * (TRAVELS - TRAVELS.mean()))
    (slope, level), covariance = curve_fit(
        lambda d, a, b: 1e3 * a * d + b,
        TRAVELS,
        given.changes,
        sigma=width,
        absolute_sigma=True,
    )
    assert fit is not None
    assert fit.stiffness == pytest.approx(1e3 * slope, rel=1e-6)
    assert fit.uncertainty == pytest.approx(1e3 * covariance[0, 0] ** 0.5, rel=1e-5)
    assert fit.rise == pytest.approx(-level / (1e3 * slope), abs=1e-9)
    by_hand = given.changes / (fit.stiffness * (TRAVELS - fit.rise))
    assert fit.ratios == pytest.approx(by_hand)


def test_scatter_beyond_the_readings_widens_by_its_root() -> None:
    noise = np.array([80.0, -90.0, 70.0, -60.0, -60.0, 60.0])
    fit, exact = fit_stiffness(turning(noise=noise)), fit_stiffness(turning())
    assert fit is not None
    assert exact is not None
    over = left_over(turning(noise=noise)) / 4
    assert over > 1.5
    assert fit.uncertainty == pytest.approx(exact.uncertainty * sqrt(over), rel=0.03)


@pytest.mark.parametrize(("width", "is_told"), [(175.0, True), (177.0, False)])
def test_a_stiffness_is_told_up_to_half_of_it_in_doubt(
    *, width: float, is_told: bool
) -> None:
    # two ropes, 10 mm apart: 50 N/mm in doubt by the root of two widths over 10 mm
    travels = np.array([0.005, -0.005])
    fit = fit_stiffness(turning(width=width, travels=travels))
    own = hypot(width, 0.07 * 50e3 * 0.005)
    assert (sqrt(2) * own / 0.010 <= 25e3) is is_told
    assert (fit is not None) is is_told


@pytest.mark.parametrize(
    ("answered", "low", "high"),
    [
        # 300 N and 9 N of doubt on each: 6 % is 2 widths, 3 % one
        (0.46, (3,), ()),
        (0.48, (), ()),
        (1.54, (), ()),
        (1.58, (), (3,)),
    ],
)
def test_ropes_stand_out_beyond_half_and_half_as_much_again(
    answered: float, low: tuple[int, ...], high: tuple[int, ...]
) -> None:
    changes = 50e3 * TRAVELS
    changes[3] *= answered
    given = Turning(travels=TRAVELS, changes=changes, uncertainties=np.full(6, 9.0))
    fit = fit_stiffness(given)
    assert fit is not None
    assert tuple(np.flatnonzero(fit.low)) == low
    assert tuple(np.flatnonzero(fit.high)) == high


def test_a_change_under_three_of_its_doubts_says_nothing_of_its_rope() -> None:
    changes = 50e3 * TRAVELS
    for width, is_told in ((49.0, True), (51.0, False)):  # rope 2 wants 150 N
        given = Turning(
            travels=TRAVELS, changes=changes, uncertainties=np.full(6, width)
        )
        fit = fit_stiffness(given)
        assert fit is not None
        assert bool(np.isnan(fit.ratios[1])) is not is_told


@pytest.mark.parametrize(
    ("change", "is_low", "is_high"),
    [
        # 8 N expected and 1 N of doubt: a quarter, of which half counts below
        (3.0, False, False),
        (2.999, True, False),
        (14.0, False, False),
        (14.001, False, True),
    ],
)
def test_just_at_a_bound_no_rope_stands_out(
    *, change: float, is_low: bool, is_high: bool
) -> None:
    given = Turning(
        travels=np.array([8.0]), changes=np.array([change]), uncertainties=np.ones(1)
    )
    ratios, low, high = _held_against(given, 1.0, 0.0)
    assert ratios.tolist() == [change / 8.0]
    assert (low.tolist(), high.tolist()) == ([is_low], [is_high])
    just = replace(given, travels=np.array([3.0]))
    assert np.isnan(_held_against(just, 1.0, 0.0)[0][0])


def test_a_stiffness_may_be_as_small_as_it_likes() -> None:
    travels = np.array([-2.0, 2.0, -1.0, 1.0])
    given = Turning(
        travels=travels, changes=0.25 * travels, uncertainties=np.full(4, 1e-3)
    )
    fit = fit_stiffness(given)
    assert fit is not None
    assert fit.stiffness == pytest.approx(0.25)
    assert left_over(given) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("k", [-50e3, 0.0])
def test_no_stiffness_is_under_zero(k: float) -> None:
    assert fit_stiffness(turning(k)) is None
    given = turning(k)
    off = given.changes - given.changes.mean()
    assert left_over(given) == pytest.approx(float(np.sum((off / 20.0) ** 2)))


def test_nuts_that_all_went_alike_say_nothing() -> None:
    given = turning(travels=np.full(4, 0.004), noise=np.array([5.0, -5.0, 2.0, -2.0]))
    assert fit_stiffness(given) is None
    assert left_over(given) == pytest.approx((25 + 25 + 4 + 4) / 400)


@pytest.mark.parametrize(("n", "spare"), [(2, 1), (3, 1), (4, 2), (6, 4)])
def test_chance_leaves_no_more_than_four_deviations_of_its_own(
    n: int, spare: int
) -> None:
    given = turning(travels=np.arange(n) * 0.001)
    assert usual_left_over(given) == pytest.approx(spare + 4 * sqrt(2 * spare))


# --- exchanges ---


UNEVEN = np.array([5500.0, 4800.0, 5150.0, 4600.0, 5050.0, 4900.0])


def exchanged(
    places: list[int], *, of_turns: bool, before: np.ndarray = UNEVEN
) -> tuple[np.ndarray, Turning]:
    """What is read where the turns, or the readings, stand at other ropes."""
    made = TRAVELS[places] if of_turns else TRAVELS
    after = before + 50e3 * (made - made.mean())
    after = after if of_turns else after[np.argsort(places)]
    return after, replace(turning(), changes=after - before)


@pytest.mark.parametrize("of_turns", [True, False])
@pytest.mark.parametrize(
    "places",
    [
        [3, 1, 2, 0, 4, 5],
        [0, 4, 2, 3, 1, 5],
        [5, 4, 3, 2, 1, 0],
        [1, 2, 3, 4, 5, 0],
        [5, 0, 1, 2, 3, 4],
    ],
)
def test_two_ropes_all_reversed_or_one_off_are_found(
    places: list[int], *, of_turns: bool
) -> None:
    after, given = exchanged(places, of_turns=of_turns)
    found = find_exchange(UNEVEN, after, given)
    assert found is not None
    assert found.places == tuple(places)
    assert found.is_of_turns is of_turns
    assert found.left_over == pytest.approx(0.0, abs=1e-6)


def test_three_ropes_are_enough_and_alike_ones_exchange_their_turns() -> None:
    # of ropes that read alike before, turns and readings exchanged look the same
    before, travels = np.array([5000.0, 5000.0, 5000.0]), np.array([0.004, -0.002, 0.0])
    made = travels[[1, 0, 2]]
    after = before + 50e3 * (made - made.mean())
    given = Turning(
        travels=travels, changes=after - before, uncertainties=np.full(3, 20.0)
    )
    found = find_exchange(before, after, given)
    assert found is not None
    assert (found.places, found.is_of_turns) == ((1, 0, 2), True)


def test_a_mistake_is_named_where_it_explains_enough() -> None:
    # what is left of scatter against a quarter of what is left as written, half of what
    # one rope left aside leaves, and what chance leaves: each decides somewhere
    places, decided = [3, 1, 2, 0, 4, 5], set()
    shapes = ([0.5, 1.0, -1.0, -0.5, 1.0, -1.0], [-1.0, 0.2, 0.0, 0.1, 0.0, 0.0])
    for made, of_signs, shape, width, size in product(
        (TRAVELS[places], -0.3 * TRAVELS),
        (False, True),
        shapes,
        (8.0, 40.0, 90.0),
        np.linspace(0.0, 250.0, 14),
    ):
        changes = 50e3 * (made - made.mean()) + size * np.array(shape)
        given = Turning(
            travels=TRAVELS, changes=changes, uncertainties=np.full(6, width)
        )
        tried = -TRAVELS if of_signs else TRAVELS[places]
        written, usual = left_over(given), usual_left_over(given)
        aside = min(left_over(given, ~one) for one in np.eye(6, dtype=bool))
        back = left_over(replace(given, travels=tried))
        bounds = {"written": written / 4, "usual": usual}
        if not of_signs:
            bounds["aside"] = aside / 2
        is_named = written > usual and back <= min(bounds.values())
        answer = read_answer(answering(given))
        if of_signs:
            other = answer.exchanged
            is_better = other is not None and other.left_over < back
            is_told = answer.kind is AnswerKind.SIGNS_REVERSED
            assert is_told is (is_named and not is_better)
        elif answer.exchanged is not None and answer.exchanged.is_of_turns:
            assert is_named or answer.exchanged.places != tuple(places)
        else:
            assert not is_named or answer.kind is not AnswerKind.LEARNED
        if written > usual and not is_named:
            decided.add(min(bounds, key=lambda one: bounds[one]))
        elif not is_named:
            decided.add("nothing wrong")
    assert decided == {"written", "usual", "aside", "nothing wrong"}


# --- what an answer says ---

RUN, NOW = 50e3, 250e3


def answering(
    given: Turning,
    *,
    trips: int | None = 12,
    left: dict[int, float] | None = None,
    told: float | None = RUN,
    common: float = 0.05,
    spreads: bool = True,
    is_known: bool = True,
) -> Answering:
    """Turns of which something is left after some numbers of round trips."""
    kept = np.zeros(20)
    for number, value in (left or {}).items():
        kept[number] = value
    travel = Origin(
        name="travel",
        value=30.0,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source="30 m",
    )
    turn = Turn(
        after="a",
        hitch=CAR,
        rope=1,
        turns=Quantity(value=1.0, dimension=Dimension.TURNS, text="1"),
    )
    n = len(given.travels)
    return Answering(
        before=BEFORE[:n],
        after=BEFORE[:n] + given.changes,
        turning=given,
        turns=(replace(turn, round_trips_after=trips),),
        is_known=is_known,
        stiffness=None
        if told is None
        else NutStiffness(
            now=np.full(n, NOW),
            after_running=np.full(n, told),
            common_uncertainty=common,
            own_uncertainty=0.0,
            now_uncertainty=common,
            origins=(),
            is_assumed=False,
        ),
        run_in=RunIn(
            near=kept,
            far=-kept,
            settled=RUN,
            is_car_side=True,
            travel=travel if spreads else None,
            is_known=True,
        ),
        source="a test",
    )


def own_doubt(k: float, left: float = 0.0) -> float:
    """Of the stiffness read, and half of what is left over."""
    fit = fit_stiffness(turning(k))
    assert fit is not None
    return hypot(fit.uncertainty / fit.stiffness, 0.5 * left)


def edge(k: float, told: float = 0.10, left: float = 0.0) -> float:
    """Two standard uncertainties between what is read and what is told."""
    return 2.0 * hypot(told, own_doubt(k, left))


def at_edge(sign: int, told: float, beyond: float) -> float:
    """Stiffness that is read so far beyond the edge above or under what is told."""
    k = RUN
    for _ in range(20):
        k = RUN * exp(sign * (edge(k, told) + beyond))
    return k


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("common", "told"), [(0.05, 0.10), (0.20, 0.20)])
def test_what_is_read_and_told_is_put_together_as_far_as_they_agree(
    sign: int, common: float, told: float
) -> None:
    k = at_edge(sign, told, -0.005)
    answer = read_answer(answering(turning(k), common=common))
    assert answer.kind is AnswerKind.LEARNED
    assert answer.learned is not None
    # the mean of the logarithms by their variances
    read, record = own_doubt(k) ** -2, told**-2
    both = (read * np.log(k) + record * np.log(RUN)) / (read + record)
    assert answer.learned.set_stiffness == pytest.approx(np.exp(both))
    assert answer.learned.set_uncertainty == pytest.approx((read + record) ** -0.5)
    over = at_edge(sign, told, 0.005)
    further = read_answer(answering(turning(over), common=common))
    assert further.kind is AnswerKind.LEARNED_AGAINST_RECORD
    assert further.learned is not None
    assert further.learned.set_stiffness == pytest.approx(over)
    assert further.learned.set_uncertainty == pytest.approx(own_doubt(over))
    assert further.fit is not None
    assert further.told is not None
    assert further.fit.stiffness == pytest.approx(over)
    assert (further.told.after_running[0], further.told.now[0]) == (RUN, NOW)


@pytest.mark.parametrize(
    ("k", "kind"),
    [
        (0.34 * RUN, AnswerKind.FAR_LESS),
        (0.36 * RUN, AnswerKind.LEARNED_AGAINST_RECORD),
        (NOW * exp(-edge(NOW) - 0.01), AnswerKind.LEARNED_AGAINST_RECORD),
        (NOW * exp(-edge(NOW) + 0.01), AnswerKind.LIKE_STANDING),
        (NOW * exp(edge(NOW) - 0.01), AnswerKind.LIKE_STANDING),
        (NOW * exp(edge(NOW) + 0.01), AnswerKind.FAR_MORE),
    ],
)
def test_an_answer_far_off_is_told_apart_by_what_it_is_like(
    k: float, kind: AnswerKind
) -> None:
    answer = read_answer(answering(turning(k)))
    assert answer.kind is kind
    assert (answer.learned is None) is (kind is not AnswerKind.LEARNED_AGAINST_RECORD)
    needs_eyes = kind is not AnswerKind.LEARNED_AGAINST_RECORD
    assert len(answer.doubts) == needs_eyes
    assert len(answer.notes) == 1
    places = dict(answer.notes[0].places)
    assert places["found"] == f"{k / 1000:.3g} N/mm"
    assert (places["expected"], places["standing"]) == ("50 N/mm", "250 N/mm")


@pytest.mark.parametrize(
    ("size", "kind"), [(1.0, AnswerKind.TOO_SMALL), (1.01, AnswerKind.SIGNS_REVERSED)]
)
def test_what_chance_leaves_at_the_most_is_no_mistake(
    size: float, kind: AnswerKind
) -> None:
    # of four ropes chi squared 10: two to spare and four deviations of two
    travels = np.array([-2.0, 2.0, -1.0, 1.0])
    given = Turning(travels=travels, changes=-size * travels, uncertainties=np.ones(4))
    assert (left_over(given) > 10.0 == usual_left_over(given)) is (size > 1.0)
    assert read_answer(answering(given)).kind is kind


def test_on_a_drum_more_than_told_is_a_record_that_is_wrong() -> None:
    answer = read_answer(answering(turning(NOW), spreads=False, trips=None))
    assert answer.kind is AnswerKind.LEARNED_AGAINST_RECORD


@pytest.mark.parametrize(
    ("left", "kind"),
    [
        ({4: 0.020}, AnswerKind.LEARNED_AGAINST_RECORD),
        ({4: 0.021}, AnswerKind.LIKE_STANDING),
        ({3: 0.5, 6: 0.5}, AnswerKind.LEARNED_AGAINST_RECORD),
        ({12: 0.2}, AnswerKind.LEARNED_AGAINST_RECORD),
        ({12: 0.201}, AnswerKind.TOO_FEW_TRIPS),
    ],
)
def test_after_twelve_trips_a_third_of_them_must_have_been_enough(
    left: dict[int, float], kind: AnswerKind
) -> None:
    k = RUN * exp(edge(RUN, left=left.get(12, 0.0)) + 0.02)
    assert read_answer(answering(turning(k), left=left)).kind is kind


@pytest.mark.parametrize(
    ("trips", "kind"),
    [
        (None, AnswerKind.NOT_RECORDED),
        (0, AnswerKind.NOT_RUN),
        (1, AnswerKind.LEARNED),
    ],
)
def test_nothing_is_learned_of_turns_that_have_not_run(
    trips: int | None, kind: AnswerKind
) -> None:
    answer = read_answer(answering(turning(), trips=trips))
    assert answer.kind is kind
    assert answer.fit is not None
    assert answer.notes == ()
    assert answer.doubts == ()


def test_what_cannot_be_read_is_told_as_such() -> None:
    given = answering(turning())
    assert read_answer(replace(given, turns=())).kind is AnswerKind.NO_TURNS
    assert read_answer(replace(given, is_known=False)).kind is AnswerKind.NOT_KNOWN
    assert read_answer(answering(turning(0.0))).kind is AnswerKind.TOO_SMALL
    alone = read_answer(answering(turning(), told=None))
    assert alone.kind is AnswerKind.LEARNED
    assert alone.learned is not None
    assert alone.learned.set_stiffness == pytest.approx(RUN)
    assert alone.told is None


def test_a_rope_that_is_bound_takes_the_stiffness_of_the_set() -> None:
    changes = 50e3 * TRAVELS
    changes[3] *= 0.2
    given = Turning(travels=TRAVELS, changes=changes, uncertainties=np.full(6, 9.0))
    answer = read_answer(answering(given))
    assert answer.learned is not None
    assert answer.learned.stiffnesses[3] == answer.learned.set_stiffness
    (bound,) = answer.notes
    assert bound.kind is NoteKind.TURN_BOUND
    assert bound.ropes == (4,)
    assert answer.fit is not None
    ratio = round(100 * answer.fit.ratios[3])
    assert dict(bound.places)["ratio"] == ratio == 20


@pytest.mark.parametrize(
    ("places", "of_turns", "told"),
    [
        ((3, 1, 2, 0), True, {"way": "two-turns", "one": 1, "other": 4}),
        ((1, 2, 0), False, {"way": "readings", "pairs": "2 for 1, 3 for 2, 1 for 3"}),
    ],
)
def test_an_exchange_is_told_by_the_numbers_of_its_ropes(
    places: tuple[int, ...], told: dict[str, object], *, of_turns: bool
) -> None:
    exchange = Exchange(is_of_turns=of_turns, places=places, left_over=0.0)
    answer = Answer(kind=AnswerKind.EXCHANGED, exchanged=exchange)
    assert dict(answer.notes[0].places) == told
    assert len(answer.doubts) == 1
