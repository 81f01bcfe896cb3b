"""The way of a recording through the files, watched while the demo is assessed.

``python -m tests.architecture.way`` prints the drawing. A file stands once, under the
file that first called into it, with the function that was called and what that gives.
"""

import ast
import sys
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from types import CodeType, FrameType
from typing import ParamSpec, TypeVar

from tests.architecture.shape import tree_of

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "tension"
COMMAND = ("assess", str(ROOT / "recordings_demo" / "six-memos"))


P = ParamSpec("P")
T = TypeVar("T")


class Way:
    """What was entered first from where, while it watches."""

    def __init__(self) -> None:
        self.entered: list[tuple[int, str, CodeType]] = []
        """Depth, file and function, in the order of the calls."""
        self._files: set[str] = set()
        self._open: list[bool] = []
        self._importing = 0

    def watch(self, frame: FrameType, event: str, _: object) -> None:
        """Note a call into a file not met before; a profile function."""
        code = frame.f_code
        if event == "return" and self._open:
            self._open.pop()
            self._importing -= code.co_name == "<module>"
        if event != "call":
            return
        self._importing += code.co_name == "<module>"
        is_first = (
            not self._importing
            and code.co_filename.startswith(f"{PACKAGE}/")
            and code.co_filename not in self._files
            and "<" not in code.co_qualname
        )
        if is_first:
            self._files.add(code.co_filename)
            name = Path(code.co_filename).relative_to(PACKAGE).as_posix()
            self.entered.append((sum(self._open), name, code))
        self._open.append(is_first)


def _at_once(
    _: ThreadPoolExecutor, work: Callable[P, T], /, *given: P.args, **named: P.kwargs
) -> Future[T]:
    """Do the work of a thread here and now, so that it is seen in its place."""
    done: Future[T] = Future()
    done.set_result(work(*given, **named))
    return done


def watched() -> list[tuple[int, str, CodeType]]:
    """Assess the demo recordings and tell the way; in a fresh process only."""
    from click.testing import CliRunner

    from tension.cli.main import command

    ThreadPoolExecutor.submit = _at_once  # type: ignore[method-assign, assignment]
    way = Way()
    sys.setprofile(way.watch)
    try:
        result = CliRunner().invoke(command, COMMAND, catch_exceptions=False)
    finally:
        sys.setprofile(None)
    assert "rope" in result.stdout
    return way.entered


def _gives(code: CodeType) -> str:
    """What a function gives, as annotated; empty where nothing or its own object."""
    tree = tree_of(Path(code.co_filename))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name == code.co_name:
            first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            if first == code.co_firstlineno and node.returns is not None:
                given = ast.unparse(node.returns).strip("'")
                return "" if given in {"None", "Self"} else given
    return ""


def drawing() -> str:
    """One line a file, branches by box characters."""
    entered = watched()
    lines = []
    for i, (depth, name, code) in enumerate(entered):
        later = [d for d, _, _ in entered[i + 1 :]]
        branch = ""
        for level in range(1, depth + 1):
            until = next((d for d in later if d <= level), 0)
            goes_on = until == level
            if level == depth:
                branch += "├─ " if goes_on else "└─ "
            else:
                branch += "│  " if goes_on else "   "
        gives = _gives(code)
        said = f"{code.co_qualname} → {gives}" if gives else code.co_qualname
        lines.append(f"{branch + name:<46} {said}".rstrip())
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(drawing())
