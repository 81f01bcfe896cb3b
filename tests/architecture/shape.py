"""The shape of the package: what grows long, wide, twice, or raises without a word."""

import ast
import io
import tokenize
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

LONGEST = 50
"""Lines of a function, its docstring left out."""
MOST_PARAMETERS = 6
FRAGMENT = 10
"""So many lines of code in a row are written once. [lines]"""


@cache
def tree_of(path: Path) -> ast.Module:
    """The tree of a module, read once; nobody changes it."""
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(package: Path) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Every function with its place, file and name."""
    for path in sorted(package.rglob("*.py")):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef):
                yield f"{path.relative_to(package).as_posix()}:{node.name}", node


def long_functions(package: Path) -> list[str]:
    """Functions of more lines than a reader holds at once."""
    return [place for place, node in functions(package) if _lines_of(node) > LONGEST]


def _lines_of(node: ast.FunctionDef) -> int:
    """From ``def`` to the end, without the docstring."""
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    if ast.get_docstring(node) is not None:
        lines -= (node.body[0].end_lineno or 0) - node.body[0].lineno + 1
    return lines


def wide_functions(package: Path) -> list[str]:
    """Functions of more parameters than a caller keeps apart."""
    return [
        place
        for place, node in functions(package)
        if len(_parameters(node)) > MOST_PARAMETERS
    ]


def _parameters(node: ast.FunctionDef) -> list[str]:
    every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return [each.arg for each in every if each.arg not in {"self", "cls"}]


def untold_errors(package: Path) -> list[str]:
    """Public functions that raise and whose docstring has no Raises."""
    return [
        place
        for place, node in public_functions(package)
        if _raises(node) and "Raises\n" not in (ast.get_docstring(node) or "")
    ]


def public_functions(package: Path) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Functions and methods of public names; a command's docstring is its help."""
    for path in sorted(package.rglob("*.py")):
        nodes: list[ast.stmt] = list(tree_of(path).body)
        for node in nodes:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                nodes.extend(node.body)
            if (
                isinstance(node, ast.FunctionDef)
                and not node.name.startswith("_")
                and not any("click" in ast.unparse(d) for d in node.decorator_list)
            ):
                yield f"{path.relative_to(package).as_posix()}:{node.name}", node


def _raises(node: ast.AST) -> bool:
    """Whether it raises an error of its own; one passed on is told by who made it."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Raise) and child.exc is not None:
            return True
        if not isinstance(child, ast.FunctionDef | ast.Lambda) and _raises(child):
            return True
    return False


def repeated_fragments(package: Path, length: int = FRAGMENT) -> list[str]:
    """Places whose next lines stand elsewhere too, token by token."""
    found: dict[tuple[str, ...], list[tuple[str, int]]] = defaultdict(list)
    for path in sorted(package.rglob("*.py")):
        name, lines = path.relative_to(package).as_posix(), _code_lines(path)
        texts = [text for _, text in lines]
        for i in range(len(texts) - length + 1):
            found[tuple(texts[i : i + length])].append((name, lines[i][0]))
    return [
        " = ".join(f"{name}:{line}" for name, line in places)
        for places in found.values()
        if len(places) > 1
    ]


_LAYOUT = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENDMARKER,
}


def _code_lines(path: Path) -> list[tuple[int, str]]:
    """Number and tokens of each line; imports, docstrings and comments left out."""
    text = path.read_text(encoding="utf-8")
    left_out: set[int] = set()
    for node in ast.walk(tree_of(path)):
        is_text = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if isinstance(node, ast.Import | ast.ImportFrom) or is_text:
            assert isinstance(node, ast.stmt)
            left_out.update(range(node.lineno, (node.end_lineno or 0) + 1))
    lines: dict[int, list[str]] = defaultdict(list)
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _LAYOUT and token.start[0] not in left_out:
            lines[token.start[0]].append(token.string)
    return [(number, " ".join(lines[number])) for number in sorted(lines)]
