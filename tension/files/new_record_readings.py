"""Ropes and readings of a new record: what is known, and examples of each kind."""

from collections.abc import Sequence

from tension.files.toml_text import Lines, text_value


def rope_lines(
    n_ropes: int,
    span_name: str,
    free_lengths: Sequence[str],
    staggers: Sequence[str],
    thread_left: Sequence[tuple[str, str]] = (),
) -> Lines:
    """Write what differs from rope to rope.

    Parameters
    ----------
    n_ropes : int
        Number of ropes. [1]
    span_name : str
        Span the free lengths belong to.
    free_lengths, staggers : sequence of str
        One per rope, or fewer if not known per rope.
    thread_left : sequence of (str, str), optional
        One per rope, or none: towards the plate and away from it.
    """
    lines = Lines()
    lines.say("Only what differs from rope to rope; one table per rope.")
    has_lengths = len(free_lengths) == n_ropes > 1
    if not has_lengths and not staggers and not thread_left:
        lines.add_table(_rope_example(span_name))
        return lines
    for number in range(1, n_ropes + 1):
        rope = Lines("[[rope]]")
        rope.add_raw("number", str(number), "", "")
        if has_lengths and free_lengths[number - 1]:
            length = text_value(free_lengths[number - 1])
            rope.add_raw(
                "free_lengths", f"{{ {text_value(span_name)} = {length} }}", "", ""
            )
        if staggers:
            meaning = "longer than the span's free length"
            rope.add("stagger", staggers[number - 1], meaning, "")
        if thread_left:
            towards, away = thread_left[number - 1]
            rope.add("take_up_left", towards, "thread left to the plate", "")
            rope.add("ease_left", away, "", "")
        lines.add_table(rope)
    return lines


def _rope_example(span_name: str) -> Lines:
    """Write one rope as an example."""
    rope = Lines("[[rope]]", is_example=True)
    rope.add_raw("number", "1", "painted on the rope or the rod", "")
    meaning = "+: longer than the span's free length"
    rope.add("stagger", "+150 mm", meaning, "")
    rope.add_raw(
        "free_lengths",
        f'{{ {text_value(span_name)} = "3.55 m" }}',
        "instead of stagger",
        "",
    )
    rope.add("take_up_left", "22 mm", "thread left towards the plate", "")
    rope.add("ease_left", "30 mm", "thread left away from it", "")
    rope.add_raw("groove", "1", "of the sheave", "")
    return rope


def reading_lines(
    n_ropes: int,
    recordings: Sequence[str],
    order: Sequence[int],
    plucks_each: int | None,
    *,
    hitch: str = "car",
) -> Lines:
    """Write the readings that are known, and examples of the other kinds.

    Parameters
    ----------
    n_ropes : int
        Number of ropes. [1]
    recordings : sequence of str
        One per rope in rope order, or one memo.
    order : sequence of int
        Ropes in the order plucked in the memo.
    plucks_each : int or None
        Plucks of each rope in the memo. [1]
    hitch : str
        Hitch that the examples name.
    """
    lines = Lines()
    lines.say("Readings. Two of one kind and rope in a series are repeats.")
    if len(recordings) == len(order) > 1:
        for number, recording in zip(order, recordings, strict=True):
            lines.add_table(_pluck(number, recording, is_example=False))
    elif order:
        lines.add_table(_memo(recordings[0], order, plucks_each))
    else:
        for number, recording in enumerate(recordings, start=1):
            lines.add_table(_pluck(number, recording, is_example=False))
    if not recordings:
        lines.add_table(_pluck(1, "rope-1.m4a", is_example=True))
        there_and_back = [*range(1, n_ropes + 1), *range(n_ropes, 0, -1)]
        lines.add_table(_memo("all.m4a", there_and_back, 3, is_example=True))
    for example in (_pull(), _returns(), _spring(hitch), _turn(hitch), _exclusion()):
        lines.add_table(example)
    return lines


def _reading(kind: str, *, is_example: bool) -> Lines:
    """Begin one reading."""
    reading = Lines("[[reading]]", is_example=is_example)
    reading.add("series", "as found", "", "")
    reading.add("kind", kind, "", "")
    return reading


def _pluck(number: int, recording: str, *, is_example: bool) -> Lines:
    """Write one recording of one rope."""
    reading = _reading("pluck", is_example=is_example)
    reading.add_raw("rope", str(number), "", "")
    reading.add("recording", recording, "beside or below this file", "")
    return reading


def _memo(
    recording: str,
    order: Sequence[int],
    plucks_each: int | None,
    *,
    is_example: bool = False,
) -> Lines:
    """Write one long recording of several ropes."""
    reading = _reading("pluck", is_example=is_example)
    reading.add("recording", recording, "one recording of several ropes", "")
    reading.add_raw("ropes", str(list(order)), "in the order plucked", "")
    shown = "" if plucks_each is None else str(plucks_each)
    reading.add_raw("plucks_each", shown, "", "3")
    return reading


def _pull() -> Lines:
    """Write a side pull as an example."""
    reading = _reading("pull", is_example=True)
    reading.say("Side pull with a spring scale, square to the row.")
    reading.add_raw("rope", "1", "", "")
    reading.add_raw("force", '["166 N", "165 N"]', "one text or a list", "")
    reading.add("deflection", "25 mm", "", "")
    reading.add("hold", "deflection", "the same on all ropes: deflection | force", "")
    reading.add("at", "1.5 m", "from the lower node; mid-span if left out", "")
    return reading


def _returns() -> Lines:
    """Write timed wave returns as an example."""
    reading = _reading("returns", is_example=True)
    reading.say("Timed wave returns, for long falls.")
    reading.add_raw("rope", "1", "", "")
    reading.add_raw("count", "5", "round trips of the wave", "")
    reading.add_raw("elapsed", '["6.46 s", "6.41 s"]', "", "")
    return reading


def _spring(hitch: str) -> Lines:
    """Write a spring length as an example."""
    reading = _reading("spring", is_example=True)
    reading.say("Working length of a spring at the hitch.")
    reading.add_raw("rope", "1", "", "")
    reading.add("hitch", hitch, "described above", "")
    reading.add("length", "112 mm", "", "")
    return reading


def _turn(hitch: str) -> Lines:
    """Write a turn of a nut as an example."""
    turn = Lines("[[turn]]", is_example=True)
    turn.say("A turn of a nut; + is towards the plate, tension up.")
    turn.add("after", "as found", "the series after which it was made", "")
    turn.add("hitch", hitch, "described above", "")
    turn.add_raw("rope", "1", "", "")
    turn.add("turns", "-1 1/4", "", "")
    turn.add_raw("round_trips_after", "3", "of the car, before the next series", "")
    return turn


def _exclusion() -> Lines:
    """Write an exclusion as an example."""
    exclusion = Lines("[[exclusion]]", is_example=True)
    exclusion.say("A reading that does not count, and why; nothing is deleted.")
    exclusion.add("series", "as found", "", "")
    exclusion.add_raw("rope", "1", "", "")
    exclusion.add("reason", "door slammed", "", "")
    return exclusion
