"""What hangs in the hoistway: threads of the rods."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.catalogue.threads import parse_thread
from tension.errors import InvalidValueError

# Coarse metric pitches: tests/reference/metric_threads.csv. By definition, eleven
# threads to the inch are 25.4/11 mm.
READ = [
    ("M16", 2.0e-3, False),
    ("m16", 2.0e-3, False),
    ("M 20", 2.5e-3, False),
    ("M16 left", 2.0e-3, True),
    ("M16 LH", 2.0e-3, True),
    ("M16-LH", 2.0e-3, True),
    ("M16x1.5", 1.5e-3, False),
    ("M16×1,5 left hand", 1.5e-3, True),
    ("5/8-11", 25.4e-3 / 11, False),
    ("5/8 in-11 UNC", 25.4e-3 / 11, False),
    ('5/8"-11 left', 25.4e-3 / 11, True),
    ("5/8-18 UNF", 25.4e-3 / 18, False),
    ("1-8", 25.4e-3 / 8, False),
]


@pytest.mark.parametrize(("text", "pitch", "is_left_handed"), READ)
def test_a_thread_is_read_as_people_write_it(
    text: str,
    pitch: float,
    is_left_handed: bool,  # noqa: FBT001
) -> None:
    thread = parse_thread(text)
    assert thread.pitch == pytest.approx(pitch, rel=1e-12)
    assert thread.is_left_handed is is_left_handed
    assert thread.name == text


REFUSED = [
    ("M15", "write the pitch too"),
    ("5/8", "is no thread that is read"),
    ("16", "is no thread that is read"),
    ("", "is no thread that is read"),
    ("left", "is no thread that is read"),
    ("5/0-11", "is no thread that is read"),
    ("5/8-00", "is no thread that is read"),
    ("M6x6", "does not go with that size"),
    ("M16x0", "does not go with that size"),
    ("x" * 1000, "is no thread that is read"),
]


@pytest.mark.parametrize(("text", "sentence"), REFUSED)
def test_a_thread_without_a_sure_pitch_is_asked_back(text: str, sentence: str) -> None:
    with pytest.raises(InvalidValueError, match=sentence):
        parse_thread(text)


@given(st.text(alphabet='M0123456789/-x., leftLHUNCin"', max_size=45))
def test_texts_that_look_like_threads_never_crash(text: str) -> None:
    try:
        thread = parse_thread(text)
    except InvalidValueError:
        return
    assert 0.0 < thread.pitch < 0.01
