"""Turns as people type them off a plan."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.adjustment.outcome import read_turns
from tension.errors import InvalidValueError


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("2 in 4 1/2, 5 out 4", {2: 4.5, 5: -4.0}),
        ("Rope 2 IN 4½; 5 OUT 1/4", {2: 4.5, 5: -0.25}),
        ("2 in 4,5, 5 out 4", {2: 4.5, 5: -4.0}),
        ("2 in 4,5 out 4", {2: 4.0, 5: -4.0}),
        ("2 +4.5\n5 -4", {2: 4.5, 5: -4.0}),
        ("1 out 1/4, 4 leave, 6 in 1/4.", {1: -0.25, 6: 0.25}),
        ("2: in 4-1/2 turns", {2: 4.5}),
        ("2 towards the plate 1, 3 away from the plate 1", {2: 1.0, 3: -1.0}),
    ],
)
def test_turns_are_read_as_they_are_meant(text: str, wanted: dict[int, float]) -> None:
    assert {turn.rope: turn.turns for turn in read_turns(text)} == wanted


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2 up 3", "no turn"),
        ("2 in", "no turn"),
        ("in 3", "no turn"),
        ("2 in 0", "no turn"),
        ("2 in 1, 2 in 1", "named twice"),
        ("4 leave", "no turn is named"),
        ("2 in 3 4", "no mixed number|two numbers"),
    ],
)
def test_what_is_no_turn_is_refused(text: str, said: str) -> None:
    with pytest.raises(InvalidValueError, match=said):
        read_turns(text)


@given(
    st.dictionaries(
        st.integers(1, 12),
        st.tuples(st.sampled_from(["in", "out"]), st.integers(1, 80)),
        min_size=1,
    ),
    st.sampled_from([", ", "; ", "\n", ","]),
)
def test_turns_are_read_as_a_plan_writes_them(
    planned: dict[int, tuple[str, int]], apart: str
) -> None:
    def words(quarters: int) -> str:
        whole, rest = divmod(quarters, 4)
        part = str(Fraction(rest, 4)) if rest else ""
        return " ".join(one for one in (str(whole) if whole else "", part) if one)

    text = apart.join(f"{r} {way} {words(n)}" for r, (way, n) in planned.items())
    read = {turn.rope: turn.turns for turn in read_turns(text)}
    assert read == {
        r: (n if way == "in" else -n) / 4 for r, (way, n) in planned.items()
    }


def test_forty_characters_of_what_is_no_turn_are_told() -> None:
    text = "x" * 41
    with pytest.raises(InvalidValueError) as raised:
        read_turns(text)
    assert f'"{text[:40]}"' in str(raised.value)
