"""A whole series: what is mixed, what is not, and what is left out."""

from dataclasses import replace

import numpy as np

from tension.assessment.decide import Verdict, assess_set
from tension.catalogue.rules import find_rule
from tension.installation import Lift
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import (
    Exclusion,
    Method,
    PluckReading,
    Series,
    plucks_left_out,
)
from tension.measurement.series import measure_series
from tests.measurement.sets import (
    SERIES,
    TENSIONS,
    hearing,
    ideal_fundamentals,
    pull,
    rope_set,
    spring_hitch,
)

LEVEL = np.full(4, 3.4)
ROPES = rope_set(one_height=True, hitches=(spring_hitch(),))


def pulls_of(numbers: tuple[int, ...]) -> list[object]:
    """Forces in the ratio of the tensions."""
    forces = 147.0 * TENSIONS / 5000.0
    return [pull(n, [forces[n - 1], forces[n - 1] + 1.0]) for n in numbers]


def measured(**changes: object) -> SetMeasurement:
    arguments: dict[str, object] = {
        "rope_set": ROPES,
        "lift": Lift(),
        "series": SERIES,
        "readings": [],
    }
    return measure_series(**(arguments | changes))  # type: ignore[arg-type]


def test_plucks_and_pulls_are_combined() -> None:
    found = measured(
        readings=pulls_of((1, 2, 3, 4)),
        hearing=hearing(ideal_fundamentals(TENSIONS, LEVEL)),
    )
    assert found.ropes[0].methods == (Method.PLUCK, Method.PULL)
    assert found.ropes[0].fundamental is not None


def test_another_series_is_never_mixed_in() -> None:
    later = [replace(pull(n, [150.0]), series="after lunch") for n in (3, 4)]
    found = measured(readings=[*pulls_of((1, 2)), *later])
    assert found.given == (1, 2)
    note = next(n for n in found.notes if n.code == "series-not-mixed")
    assert note.ropes == (3, 4)
    assert "after lunch" in note.text
    verdict = assess_set(found, find_rule()).verdict
    assert verdict is Verdict.CANNOT_TELL


def test_a_rope_left_out_is_named_with_the_reason() -> None:
    exclusion = Exclusion(series="as found", rope=4, reason="door slammed")
    found = measured(
        readings=pulls_of((1, 2, 3, 4)),
        exclusions=[exclusion],
        hearing=hearing(ideal_fundamentals(TENSIONS, LEVEL)),
    )
    assert found.given == (1, 2, 3)
    assert any("door slammed" in note.text for note in found.notes)
    elsewhere = replace(exclusion, series="as left")
    again = measured(readings=pulls_of((1, 2, 3, 4)), exclusions=[elsewhere])
    assert again.given == (1, 2, 3, 4)


def test_plucks_of_a_rope_are_left_out_where_every_recording_of_it_is() -> None:
    recordings = [
        PluckReading(series="as found", recording=name, ropes=ropes)
        for name, ropes in (("a.wav", (1, 2, 3)), ("b.wav", (2, 3)))
    ]

    def left_out(**given: object) -> dict[int, str]:
        exclusion = {"series": "as found", "reason": "hum", "recording": "a.wav"}
        every = [Exclusion(**(exclusion | given))]  # type: ignore[arg-type]
        every.append(replace(every[0], recording="b.wav", rope=3, reason="wind"))
        return dict(plucks_left_out(recordings, every))

    assert left_out(rope=1) == {1: "hum"}
    assert left_out(rope=2) == {}
    assert left_out(rope=3) == {3: "hum"}
    assert left_out(rope=1, pluck=2) == {}
    assert left_out(rope=1, recording="b.wav") == {}
    assert left_out() == {}


def test_a_rope_that_was_not_measured_says_so() -> None:
    found = measured(readings=pulls_of((1, 2, 3)))
    refusal = found.ropes[3].refusal
    assert refusal is not None
    assert refusal.code == "not-measured"


def test_belts_get_a_polite_sentence_and_no_result() -> None:
    belts = replace(ROPES, construction="flat coated belt")
    found = measured(rope_set=belts, readings=pulls_of((1, 2, 3, 4)))
    assert found.refusal is not None
    assert "belt maker's method" in found.refusal.text
    assert assess_set(found, find_rule()).verdict is Verdict.NO_RESULT


def test_a_series_without_a_span_has_no_numbers() -> None:
    found = measured(
        series=Series(name="as found", span="nowhere"), readings=pulls_of((1, 2))
    )
    assert found.given == ()
    assert assess_set(found, find_rule()).verdict is Verdict.NO_RESULT


def test_staggered_sockets_by_length_are_equal() -> None:
    lengths = np.array([3.0, 3.15, 3.0, 3.15])
    equal = np.full(4, 5000.0)
    found = measured(
        rope_set=rope_set(length=3.0, staggers=[None, 0.15, None, 0.15]),
        hearing=hearing(ideal_fundamentals(equal, lengths), 0.0005),
    )
    assessed = assess_set(found, find_rule())
    assert assessed.verdict is Verdict.EQUAL
    assert assessed.spread.observed is not None
    assert assessed.spread.observed < 0.01
