"""Small changes to the source, one at a time: what a slip of the hand could write.

A change moves a constant, turns a comparison, a sign or an operator, or swaps ``and``
with ``or``. Annotations, decorators, docstrings and texts are left alone: a change
there either says nothing of the behaviour or is held by the written pages.
"""

import ast
import copy
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOMS = (
    "assessment",
    "measurement",
    "adjustment",
    "condition",
    "quantity",
    "physics",
)
"""The rooms whose mistakes would go to a rope as a wrong figure."""

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One change of one file."""

    path: Path
    """Below the root of the tree."""
    line: int
    kind: str
    before: str
    """The expression as it stood."""
    after: str
    number: int
    """Among the changes of its file, in the order of its text."""
    function: str
    """Where it stands; empty at the level of the module or of a class."""

    def __str__(self) -> str:
        return f"{self.path}:{self.line} [{self.kind}] {self.before}  ->  {self.after}"


def _turned(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Kind and changed node of every change of one node."""
    if isinstance(node, ast.Compare):
        for i, operator in enumerate(node.ops):
            for other in _COMPARISONS[type(operator)]:
                new = copy.deepcopy(node)
                new.ops[i] = other()
                yield "comparison", new
    elif isinstance(node, ast.BoolOp):
        new_bool = copy.deepcopy(node)
        new_bool.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "boolean", new_bool
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        kind = "boolean" if isinstance(node.op, ast.Not) else "sign"
        yield kind, copy.deepcopy(node.operand)
    elif isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        new_sum = copy.deepcopy(node)
        new_sum.op = _OPERATORS[type(node.op)]()
        kind = "sign" if isinstance(node.op, ast.Add | ast.Sub) else "operator"
        yield kind, new_sum
    elif isinstance(node, ast.Constant):
        yield from _other_constants(node)


def _other_constants(node: ast.Constant) -> Iterator[tuple[str, ast.AST]]:
    """A truth turned, a whole number one more, another number half as much again."""
    if isinstance(node.value, bool):
        yield "constant", ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield "constant", ast.Constant(node.value + 1)
    elif isinstance(node.value, float):
        yield "constant", ast.Constant(node.value * 1.5 if node.value else 1.0)


_LEFT_ALONE = {"annotation", "returns", "decorator_list", "type_params", "bases"}


def _expressions(
    node: ast.AST, function: str = ""
) -> Iterator[tuple[ast.AST, str, int | None, str]]:
    """Every place of an expression: parent, field, place in a list, function."""
    inside = node.name if isinstance(node, ast.FunctionDef) else function
    for field, value in ast.iter_fields(node):
        if field in _LEFT_ALONE:
            continue
        children = enumerate(value) if isinstance(value, list) else [(None, value)]
        for place, child in children:
            if isinstance(child, ast.expr):
                yield node, field, place, inside
            if isinstance(child, ast.AST):
                yield from _expressions(child, inside)


def _at(parent: ast.AST, field: str, place: int | None) -> ast.AST:
    found: ast.AST = getattr(parent, field)
    return found if place is None else found[place]  # type: ignore[index]


def _put(parent: ast.AST, field: str, place: int | None, node: ast.AST) -> None:
    if place is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[place] = node


def changes_of(root: Path, path: Path) -> list[Change]:
    """
    Every change of one file, in the order of its text.

    Parameters
    ----------
    root, path :
        The tree, and the file below it.
    """
    tree = ast.parse((root / path).read_text(encoding="utf-8"))
    turned = [
        (node, kind, new, function)
        for parent, field, place, function in _expressions(tree)
        for node in [_at(parent, field, place)]
        for kind, new in _turned(node)
    ]
    return [
        Change(
            path=path,
            number=number,
            line=node.lineno,  # type: ignore[attr-defined]
            kind=kind,
            before=ast.unparse(node),
            after=ast.unparse(new),
            function=function,
        )
        for number, (node, kind, new, function) in enumerate(turned)
    ]


def source_with(root: Path, change: Change) -> str:
    """The whole file with one change in it."""
    tree = ast.parse((root / change.path).read_text(encoding="utf-8"))
    number = 0
    for parent, field, place, _ in _expressions(tree):
        for _, new in _turned(_at(parent, field, place)):
            if number == change.number:
                _put(parent, field, place, new)
                return ast.unparse(ast.fix_missing_locations(tree)) + "\n"
            number += 1
    message = f"{change.path} has no change {change.number}"
    raise LookupError(message)


def text_with(root: Path, change: Change) -> str:
    """The text of the file with one change of a constant outside functions in it.

    All else stays as it is written; the whole text does where the change is in a
    function.
    """
    text = (root / change.path).read_text(encoding="utf-8")
    if change.function or change.kind != "constant":
        return text
    number = 0
    for parent, field, place, _ in _expressions(ast.parse(text)):
        node = _at(parent, field, place)
        for _, new in _turned(node):
            if number == change.number:
                return _replaced(text, node, ast.unparse(new))
            number += 1
    message = f"{change.path} has no change {change.number}"
    raise LookupError(message)


def _replaced(text: str, node: ast.AST, new: str) -> str:
    """Another expression in the place of one that stands on one line."""
    lines = text.splitlines(keepends=True)
    line = lines[node.lineno - 1].encode()  # type: ignore[attr-defined]
    start, end = node.col_offset, node.end_col_offset  # type: ignore[attr-defined]
    lines[node.lineno - 1] = (line[:start] + new.encode() + line[end:]).decode()  # type: ignore[attr-defined]
    return "".join(lines)


def drawn(root: Path, number: int, seed: int) -> list[Change]:
    """
    Changes drawn at random, each place of the rooms as likely as another.

    Parameters
    ----------
    root :
        The tree.
    number :
        How many changes, none twice.
    seed :
        The same seed and the same tree give the same changes.
    """
    every = [
        change
        for room in ROOMS
        for path in sorted((root / "tension" / room).rglob("*.py"))
        for change in changes_of(root, path.relative_to(root))
    ]
    return random.Random(seed).sample(every, min(number, len(every)))  # noqa: S311
