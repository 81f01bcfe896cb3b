"""A doubt about the set stands before any verdict, in assess and adjust alike."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tension.adjustment.outcome import NoPlanKind
from tension.adjustment.plan_basis import PlanRequest, find_no_plan
from tension.assessment.decide import Assessment, Verdict, assess_set
from tension.catalogue.rules import Metric, changed, find_rule
from tension.installation import Lift
from tension.measurement.series import measure_series
from tension.notes import NoteKind
from tension.telling.results import reason_text
from tests.measurement.sets import SERIES, hearing, ideal_fundamentals, rope_set

STAGGER = NoteKind.STAGGER_PATTERN


def assessed(
    tensions: np.ndarray, lengths: np.ndarray, *, limit: float, metric: Metric
) -> Assessment:
    """Measured as if all sockets stood at 3.4 m, which somebody said."""
    measured = measure_series(
        rope_set=rope_set(len(tensions), one_height=True),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(tensions, lengths)),
    )
    return assess_set(measured, changed(find_rule(), limit=limit, metric=metric))


@given(
    n_pairs=st.integers(2, 6),
    stagger=st.floats(0.08, 0.29),
    sign=st.sampled_from([-1, 1]),
    limit=st.floats(0.03, 0.3),
    metric=st.sampled_from(list(Metric)),
    seed=st.integers(0, 1000),
)
def test_equal_ropes_in_staggered_sockets_are_never_judged(
    n_pairs: int, stagger: float, sign: int, limit: float, metric: Metric, seed: int
) -> None:
    tensions = 5000.0 * np.exp(
        0.002 * np.random.default_rng(seed).normal(size=2 * n_pairs)
    )
    lengths = 3.4 + sign * stagger * (np.arange(2 * n_pairs) % 2)
    found = assessed(tensions, lengths, limit=limit, metric=metric)
    assert STAGGER.code in {note.code for note in found.notes}
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.spread.lower is None
    assert found.spread.upper is None
    assert found.spread.probability_over_limit is None
    assert "Look first" in reason_text(found)
    assert found.reason_note is not None
    plan = find_no_plan(found, PlanRequest(rope_set=rope_set(2 * n_pairs)))
    assert plan is not None
    assert plan.kind is NoPlanKind.LOOK_FIRST
    assert STAGGER.code in {reason.code for reason in plan.reasons}


def test_a_length_for_each_rope_settles_it() -> None:
    tensions = np.full(6, 5000.0)
    lengths = 3.4 + 0.15 * np.tile([0.0, 1.0], 3)
    ropes = rope_set(6, staggers=[float(s) for s in lengths - 3.4])
    measured = measure_series(
        rope_set=ropes,
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(tensions, lengths)),
    )
    assert measured.doubts == ()
    assert assess_set(measured, find_rule()).verdict is Verdict.EQUAL


def test_the_question_about_lengths_comes_before_the_doubt() -> None:
    tensions = np.full(6, 5000.0)
    lengths = 3.4 + 0.15 * np.tile([0.0, 1.0], 3)
    measured = measure_series(
        rope_set=replace(rope_set(6), has_sockets_at_one_height=False),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(tensions, lengths)),
    )
    found = assess_set(measured, find_rule())
    assert found.verdict is Verdict.CANNOT_TELL
    assert "how long is each rope?" in reason_text(found)
