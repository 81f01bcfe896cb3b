"""Free lengths of a set, and what is known of them."""

from dataclasses import replace

import pytest

from tension.installation import Rope
from tension.measurement.rope_figures import LengthKnowledge, find_free_lengths
from tests.measurement.sets import quantity, rope_set, span


def test_stagger_is_added_to_the_length_of_the_span() -> None:
    found = find_free_lengths(rope_set(staggers=[None, 0.15, None, 0.15]), span(3.0))
    assert dict(found.lengths) == pytest.approx({1: 3.0, 2: 3.15, 3: 3.0, 4: 3.15})
    assert found.knowledge is LengthKnowledge.PER_ROPE


def test_a_length_of_its_own_goes_before_the_stagger() -> None:
    ropes = (
        Rope(number=2, stagger=quantity(0.15), free_lengths=(("top", quantity(3.6)),)),
    )
    found = find_free_lengths(replace(rope_set(), ropes=ropes), span(3.0))
    assert found.lengths[2] == pytest.approx(3.6)
    assert found.lengths[1] == pytest.approx(3.0)


def test_lengths_at_another_span_do_not_count() -> None:
    ropes = (Rope(number=2, free_lengths=(("pit", quantity(9.0)),)),)
    found = find_free_lengths(replace(rope_set(), ropes=ropes), span(3.0))
    assert found.lengths[2] == pytest.approx(3.0)
    assert found.knowledge is LengthKnowledge.UNKNOWN


def test_one_length_is_known_per_rope_only_if_sockets_are_said_to_be_level() -> None:
    assert (
        find_free_lengths(rope_set(one_height=True), span()).knowledge
        is LengthKnowledge.ONE_HEIGHT
    )
    assert find_free_lengths(rope_set(), span()).knowledge is LengthKnowledge.UNKNOWN


def test_without_any_length_there_is_none() -> None:
    found = find_free_lengths(rope_set(length=None, one_height=True), span(None))
    assert not found.lengths
    assert found.knowledge is LengthKnowledge.ONE_HEIGHT
