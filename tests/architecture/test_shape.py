"""The package keeps its shape: nothing long, wide, twice, or raised without a word.

What is not reached yet stands as a number that may only fall.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

import tension
from tests.architecture import shape

PACKAGE = Path(tension.__file__).parent

STILL: dict[Callable[[Path], list[str]], int] = {
    shape.long_functions: 0,
    shape.wide_functions: 0,
    shape.untold_errors: 0,
    shape.repeated_fragments: 0,
}
"""How many there still are; lower it with every one that goes."""

BODY = "".join(f"    x{i} = {i} + a\n" for i in range(60))
TEN_LINES = "".join(f"    x{i} = {i} + a\n" for i in range(10))
WIDE = ", ".join(f"a{i}" for i in range(7))


@pytest.mark.parametrize("look", STILL, ids=lambda look: look.__name__)
def test_there_are_no_more_than_there_were(look: Callable[[Path], list[str]]) -> None:
    found = look(PACKAGE)
    assert len(found) <= STILL[look], found


@pytest.mark.parametrize(
    ("look", "text"),
    [
        (shape.long_functions, f"def f(a):\n{BODY}"),
        (shape.wide_functions, f"class A:\n    def f(self, {WIDE}): ...\n"),
        (shape.untold_errors, "def f(a):\n    'Do it.'\n    raise ValueError(a)\n"),
        (shape.repeated_fragments, f"def f(a):\n{TEN_LINES}\ndef g(a):\n{TEN_LINES}"),
    ],
)
def test_what_breaks_the_shape_is_found(
    look: Callable[[Path], list[str]], text: str, tmp_path: Path
) -> None:
    (tmp_path / "module.py").write_text(text, encoding="utf-8")
    assert look(tmp_path)


@pytest.mark.parametrize(
    ("look", "text"),
    [
        (shape.long_functions, f"def f(a):\n    '''Long.\n{BODY}'''\n    return a\n"),
        (shape.wide_functions, "class A:\n    def f(self, a, b, c, d, e, g): ...\n"),
        (
            shape.untold_errors,
            "def f(a):\n    'Do it.'\n    try: ...\n    finally: a\n",
        ),
        (shape.untold_errors, "def _f(a):\n    raise ValueError(a)\n"),
        (shape.repeated_fragments, f"def f(a):\n{BODY}"),
    ],
)
def test_what_keeps_the_shape_is_let_be(
    look: Callable[[Path], list[str]], text: str, tmp_path: Path
) -> None:
    (tmp_path / "module.py").write_text(text, encoding="utf-8")
    assert not look(tmp_path)
