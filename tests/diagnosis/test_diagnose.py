"""Each cause, made by a simulator of its own, is the one suggested."""

from dataclasses import replace

import numpy as np
import pytest

from tension.diagnosis.diagnose import SPEAKS, _conclude, diagnose
from tension.diagnosis.evidence import possible_steps
from tension.diagnosis.forms import Prior, forms_of
from tension.diagnosis.outcome import Cause, Causes, Conclusion, Pattern, Step, Suspect
from tension.installation import Side
from tests.benchmarks.causes import pattern_of
from tests.diagnosis.lifts import MEAN, condition, pattern
from tests.synthesis.visits_with_a_cause import read_visit

LENGTH = np.array([0.08, -0.05, 0.02, -0.05])
PLACES = ((0.0, "up"), (15.0, "down"), (30.0, "down"), (15.0, "up"))


def at_places(deviations: np.ndarray, relative: float = 0.01) -> Pattern:
    """The same newtons at every place and under more load."""
    taken = [(condition(place, arrived=way), deviations) for place, way in PLACES]
    taken.append((condition(0.0, mean=1.4 * MEAN), deviations / 1.4))
    return pattern(taken, relative=relative)


# building seeds, where the visit has the series that the cause needs
@pytest.mark.parametrize(
    ("seed", "cause"),
    [
        (0, Cause.LENGTH),
        pytest.param(1, Cause.GROOVE, marks=pytest.mark.slow),
        (0, Cause.NOT_RUN_IN),
        pytest.param(1, Cause.SETTLING, marks=pytest.mark.slow),
        pytest.param(4, Cause.BOUND_SPRING, marks=pytest.mark.slow),
        pytest.param(0, Cause.STAGGER, marks=pytest.mark.slow),
        pytest.param(4, Cause.TWIST, marks=pytest.mark.slow),
        pytest.param(1, Cause.TOUCHING, marks=pytest.mark.slow),
        pytest.param(7, Cause.MASS, marks=pytest.mark.slow),
    ],
)
def test_the_cause_of_a_stepped_lift_is_first(seed: int, cause: Cause) -> None:
    found = diagnose(pattern_of(read_visit(seed, (cause.value,))))
    assert found.suspects[0].causes == (cause,)


@pytest.mark.slow
@pytest.mark.parametrize(
    "causes",
    [(Cause.LENGTH, Cause.GROOVE), (Cause.GROOVE, Cause.TOUCHING)],
)
def test_two_causes_at_once_are_not_called_one(causes: Causes) -> None:
    found = diagnose(pattern_of(read_visit(1, tuple(c.value for c in causes))))
    ones = [s for s in found.suspects if len(s.causes) == 1]
    assert all(s.weight < 0.9 for s in ones if s.causes != (Cause.UNKNOWN,))


def test_the_same_newtons_everywhere_suggest_length() -> None:
    found = diagnose(at_places(LENGTH))
    assert found.conclusion is Conclusion.SUGGESTS
    assert found.suspects[0].causes == (Cause.LENGTH,)
    told = found.telltales[0]
    assert (told.cause, told.rope) == (Cause.LENGTH, 1)
    assert told.value == pytest.approx(400.0, rel=1e-6)
    assert told.against == pytest.approx(0.0, abs=1e-6)


def test_one_series_never_gives_a_conclusion() -> None:
    seen = pattern([(condition(0.0), LENGTH)], relative=0.001)
    found = diagnose(seen)
    assert found.conclusion is Conclusion.NOTHING_CONCLUDED
    assert found.next_measurement is not None


def test_where_the_car_cannot_travel_no_other_place_is_asked_for() -> None:
    seen = pattern([(condition(0.0), LENGTH)], relative=0.001)
    still = replace(seen, system=replace(seen.system, travel=0.0))
    asked = {step for step, _ in possible_steps(still)}
    assert asked
    assert not asked & {Step.OTHER_END, Step.MIDDLE, Step.OTHER_ARRIVAL}


def test_readings_too_loose_give_no_conclusion() -> None:
    found = diagnose(at_places(0.3 * LENGTH, relative=0.03))
    assert found.conclusion is Conclusion.NOTHING_CONCLUDED
    assert found.suspects[0].weight < SPEAKS


def test_one_series_of_each_setting_of_the_nuts_concludes_nothing() -> None:
    taken = [
        (condition(0.0), LENGTH),
        (condition(0.0, weeks=8.0, visit=1, epoch=1), 0.1 * LENGTH),
    ]
    seen = pattern(taken)
    assert diagnose(seen).conclusion is Conclusion.NOTHING_CONCLUDED
    sure = [Suspect(causes=(Cause.LENGTH,), weight=0.99)]
    assert _conclude(sure, seen) is Conclusion.NOTHING_CONCLUDED
    assert _conclude(sure, at_places(LENGTH)) is Conclusion.SUGGESTS


def test_no_cause_is_told_that_no_series_could_show() -> None:
    # one load, one day, no turn recorded
    taken = [(condition(place, arrived=way), LENGTH) for place, way in PLACES]
    seen = pattern(taken)
    forms = forms_of(seen, seen.conditions, Prior())
    assert not forms.keys() & {Cause.BOUND_SPRING, Cause.SETTLING, Cause.NOT_RUN_IN}


def test_a_drum_has_neither_grooves_nor_running_in() -> None:
    taken = [(condition(place, arrived=way), LENGTH) for place, way in PLACES]
    seen = pattern(taken, has_sheave=False)
    forms = forms_of(seen, seen.conditions, Prior())
    assert not forms.keys() & {Cause.GROOVE, Cause.NOT_RUN_IN}
    # and a length shows less where more rope hangs
    shape = forms[Cause.LENGTH][0].shape
    soft = [1 / 150e3 + (4.0 + place) / 4.6e6 for place, _ in PLACES]
    assert shape == pytest.approx(soft[0] / np.array(soft), rel=1e-12)


def test_mass_and_stiffness_are_told_apart_by_a_pull() -> None:
    heavy = np.array([0.09, -0.03, -0.03, -0.03])
    by_pitch = [(condition(place, arrived=way), heavy) for place, way in PLACES]
    found = diagnose(pattern(by_pitch, relative=0.006))
    assert found.conclusion is Conclusion.NOTHING_CONCLUDED
    pulled = [
        *by_pitch,
        (condition(0.0, is_by_pitch=False), np.zeros(4)),
        (condition(30.0, arrived="down", is_by_pitch=False), np.zeros(4)),
    ]
    found = diagnose(pattern(pulled, relative=0.006))
    assert found.suspects[0].causes == (Cause.MASS,)
    assert found.telltales[0].rope == 1
    assert found.telltales[0].against == pytest.approx(0.0, abs=1e-9)


def test_what_is_measured_next_is_what_parts_the_rivals() -> None:
    # by pitch alone, everywhere the same percent: a pull or a load would tell
    heavy = np.array([0.09, -0.03, -0.03, -0.03])
    taken = [(condition(place, arrived=way), heavy) for place, way in PLACES]
    taken.append((condition(15.0, side=Side.COUNTERWEIGHT), heavy))
    found = diagnose(pattern(taken, relative=0.006))
    after = found.next_measurement
    assert after is not None
    assert after.step in {Step.BY_PULL, Step.ADDED_LOAD}
    assert 0.0 < after.gain <= after.open_now


def test_the_measurement_named_is_not_one_already_taken() -> None:
    found = diagnose(at_places(LENGTH))
    after = found.next_measurement
    assert after is not None
    assert after.step not in {Step.OTHER_END, Step.MIDDLE, Step.OTHER_ARRIVAL}


def test_the_measurement_named_settles_most_when_it_is_taken() -> None:
    # top alone leaves groove and length open; the other end parts them
    grooves = np.array([0.08, -0.05, 0.02, -0.05])
    taken = [(condition(0.0), grooves), (condition(0.0), grooves)]
    before = diagnose(pattern(taken))
    assert before.conclusion is Conclusion.NOTHING_CONCLUDED
    assert before.next_measurement is not None
    far = [*taken, (condition(30.0, arrived="down"), -0.5 * grooves)]
    after = diagnose(pattern(far))
    assert after.suspects[0].causes == (Cause.GROOVE,)


def test_a_diagnosis_is_the_same_each_time() -> None:
    first, second = diagnose(at_places(LENGTH)), diagnose(at_places(LENGTH))
    assert first.suspects == second.suspects
    assert first.next_measurement == second.next_measurement


@pytest.mark.parametrize("last_digit", [0.0, 1e-12])
def test_stagger_is_told_by_rows_and_in_metres(last_digit: float) -> None:
    # 150 mm longer in the second row at 4 m reads 7.5 % low there
    rows = np.array([1.0, -1.0, 1.0 + last_digit, -1.0 - last_digit])
    taken = [
        (condition(place, arrived=way), rows * 0.075 / (4.0 + place))
        for place, way in PLACES
    ]
    found = diagnose(pattern(taken, rows=(0, 1, 0, 1), relative=0.005))
    assert found.suspects[0].causes == (Cause.STAGGER,)
    told = found.telltales[0]
    assert abs(told.value) == pytest.approx(0.075, rel=0.02)
    # of ropes alike the first is named, whatever the last digit says
    assert (told.rope, told.against) == (1, 2.0)


def test_the_curves_pass_through_what_was_measured() -> None:
    found = diagnose(at_places(LENGTH))
    curve = next(c for c in found.curves if c.suspect == found.suspects[0])
    assert curve.deviations[0, 0] == pytest.approx(5000.0 * LENGTH, rel=0.1)
    assert curve.rope_passed[[0, -1]].tolist() == [0.0, 30.0]
