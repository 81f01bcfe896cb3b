"""Cautions for work that can hurt someone, short, the same words on every surface.

One a line in the table of words; what adds to others stands after them.
"""

from tension.telling.lines import told


def _lines(name: str) -> tuple[str, ...]:
    """Cautions by their name."""
    return tuple(told(f"cautions.{name}").split("\n"))


SHORT = _lines("short")
ON_THE_CAR_TOP = (*SHORT, *_lines("on-the-car-top"))
TURNING_NUTS = (*ON_THE_CAR_TOP, *_lines("turning-nuts"))
WHAT_THE_RESULT_IS = _lines("what-the-result-is")
SHOWN_ON_MADE_RECORDINGS = told("cautions.shown-on-made-recordings")
ATTACHES = told("cautions.attaches")
