"""The numbers that the program stands on, as they stand in its text."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_UNIT = re.compile(r"\s*\[([^\]]+)\]")
_NOTHING = {"0", "0.0", "1", "1.0", "Fraction(0)"}
"""What a field is where nothing is told."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Number:
    """A constant of a module, or what a field of a type is where it is not told."""

    place: str
    """Module below the package."""
    name: str
    value: str
    """As it is written."""
    unit: str
    meaning: str
    """The sentence that stands below, beside or above it."""


def source_of(path: Path) -> str:
    """The text of a module."""
    return path.read_text(encoding="utf-8")


def numbers_of(root: Path) -> Iterator[Number]:
    """Every number of the package outside the room of sound."""
    for path in sorted((root / "tension").rglob("*.py")):
        place = path.relative_to(root / "tension").as_posix()
        if not place.startswith("sound/"):
            yield from _numbers_in(source_of(path), place)


def _numbers_in(source: str, place: str) -> Iterator[Number]:
    tree = ast.parse(source)
    held: list[tuple[str, ast.Module | ast.ClassDef]] = [("", tree)]
    held += [(f"{c.name}.", c) for c in tree.body if isinstance(c, ast.ClassDef)]
    for prefix, holder in held:
        for node, after in zip(holder.body, [*holder.body[1:], None], strict=True):
            name, value = _named(node)
            is_field = bool(prefix) and isinstance(node, ast.AnnAssign)
            is_constant = not prefix and name.strip("_").isupper()
            if value is None or not (is_constant or is_field):
                continue
            if not _is_number(value) or (is_field and ast.unparse(value) in _NOTHING):
                continue
            told = _below(after) or _comment(source.splitlines(), node)
            told = told or _attribute(holder, name)
            units = _UNIT.findall(told)
            yield Number(
                place=place,
                name=prefix + name,
                value=" ".join((ast.get_source_segment(source, value) or "").split()),
                unit=units[-1] if units else "-",
                meaning=" ".join(_UNIT.sub("", told).split()) or "-",
            )


def _named(node: ast.stmt) -> tuple[str, ast.expr | None]:
    """Name and value of a plain assignment."""
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id, node.value
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return node.target.id, node.value
    return "", None


def _is_number(value: ast.expr) -> bool:
    """Whether it is a number, or several put together."""
    inner = list(ast.walk(value))
    told = [one.value for one in inner if isinstance(one, ast.keyword)]
    made_of_more = ast.Lambda | ast.Subscript | ast.JoinedStr
    return (
        any(map(_is_figure, inner))
        and all(map(_is_figure, told))
        and not any(isinstance(one, made_of_more) for one in inner)
    )


def _is_figure(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in {int, float}


def _below(after: ast.stmt | None) -> str:
    """The sentence of the text below."""
    if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
        return str(after.value.value)
    return ""


def _comment(lines: list[str], node: ast.stmt) -> str:
    """The comment behind, or that on the lines above."""
    behind = lines[(node.end_lineno or node.lineno) - 1][node.end_col_offset or 0 :]
    if "#" in behind:
        return behind.strip(" #")
    above: list[str] = []
    for line in reversed(lines[: node.lineno - 1]):
        if not line.strip().startswith("# "):
            break
        above.insert(0, line.strip(" #"))
    return " ".join(above)


def _attribute(holder: ast.AST, name: str) -> str:
    """What the text of a type says of a field."""
    if not isinstance(holder, ast.ClassDef):
        return ""
    head = re.compile(
        rf"^(?:\w+, )*{name}(?:, \w+)* : .*\n((?:    .*\n?)+)", re.MULTILINE
    )
    found = head.search(ast.get_docstring(holder) or "")
    return found.group(1) if found else ""
