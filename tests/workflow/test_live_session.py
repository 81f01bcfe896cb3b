"""Where a visit by ear stands, without sound and without a terminal."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from tension.workflow.live.events import MOST_TRIES, Session, begin_session


def _goods(session: Session, n: int) -> Session:
    for _ in range(n):
        assert session.rope is not None
        session = session.with_good(session.rope)
    return session


def _order(session: Session) -> list[int]:
    ropes = []
    while session.rope is not None:
        ropes.append(session.rope)
        session = _goods(session, session.plucks - session.n_done)
    return ropes


def test_ropes_are_taken_there_and_back() -> None:
    assert _order(begin_session((1, 3, 2))) == [1, 3, 2, 2, 3, 1]
    assert _order(begin_session((1, 3, 2), is_back=False)) == [1, 3, 2]


def test_three_good_plucks_make_a_rope() -> None:
    session = _goods(begin_session((1, 2)), 2)
    assert (session.rope, session.n_done) == (1, 2)
    session = _goods(session, 1)
    assert (session.rope, session.n_done) == (2, 0)


def test_what_the_record_has_is_not_asked_again() -> None:
    assert _order(begin_session((1, 2, 3), has={1: 3, 2: 2})) == [2, 3, 3, 2, 1]
    session = begin_session((1, 2, 3), has={1: 3, 2: 2})
    assert session.n_done == 2
    assert begin_session((1, 2), has={1: 6, 2: 7}).step is None


def test_undo_goes_back_to_the_rope_before() -> None:
    session = _goods(begin_session((1, 2)), 3).undone()
    assert (session.rope, session.n_done) == (1, 2)


def test_undo_comes_back_to_a_rope_that_was_left() -> None:
    session = _goods(begin_session((1, 2)), 2).skipped().undone()
    assert (session.rope, session.n_done) == (1, 1)


def test_undo_without_a_pluck_changes_nothing() -> None:
    session = begin_session((1, 2))
    assert session.undone() == session


def test_a_rope_left_is_taken_on_the_way_back() -> None:
    assert _order(begin_session((1, 2)).skipped()) == [2, 2, 1]


def test_a_rope_not_heard_well_is_left_in_the_end() -> None:
    session = begin_session((1, 2))
    for _ in range(MOST_TRIES * 3 - 1):
        session = session.with_bad()
    assert session.rope == 1
    session = session.with_bad()
    assert session.rope == 2


def test_a_good_pluck_begins_the_count_of_bad_ones_anew() -> None:
    session = begin_session((1,))
    session = session.with_bad().with_bad().with_good(1)
    assert session.n_tries == 0


def test_repeat_takes_back_this_step_and_no_other() -> None:
    session = _goods(begin_session((1, 2)), 3 + 3 + 2)
    assert session.rope == 2
    session = session.repeated()
    assert session.n_good(2) == 3
    assert session.n_good(1) == 3


def test_again_asks_for_just_those_ropes() -> None:
    session = _goods(begin_session((1, 2, 3)), 18).again((3, 1))
    assert _order(session) == [3, 1]


def test_ended_has_nothing_left() -> None:
    assert replace(begin_session((1, 2)), is_ended=True).step is None


ACTS = st.sampled_from(["good", "bad", "undo", "skip", "repeat"])


@given(st.lists(ACTS, max_size=60), st.integers(1, 4), st.booleans())
def test_any_acts_keep_the_counts_right(
    acts: list[str],
    plucks: int,
    is_back: bool,  # noqa: FBT001 - drawn
) -> None:
    session = begin_session((1, 2, 3), plucks=plucks, is_back=is_back)
    n_good = 0
    for act in acts:
        step, rope = session.step, session.rope
        if rope is None:
            break
        assert 0 <= session.n_done < plucks
        if act == "good":
            session, n_good = session.with_good(rope), n_good + 1
        elif act == "undo":
            session, n_good = session.undone(), max(n_good - 1, 0)
        elif act == "repeat":
            n_good -= session.n_done
            session = session.repeated()
            assert session.step == step
        elif act == "bad":
            session = session.with_bad()
        else:
            session = session.skipped()
            assert session.step != step
        assert len(session.heard) == n_good
