"""How results show themselves: a short line, a table in a notebook, plain data."""

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from html import escape
from math import isfinite
from typing import Any

_LEFT_OUT = frozenset({"samples", "recordings", "sounds"})
"""Fields that are no result: sound as it was read."""


def plain(value: object) -> Any:  # noqa: ANN401 - whatever JSON can hold
    """Turn a result, or part of one, into what JSON can hold.

    None stands for a number that is none; sound is left out.

    Examples
    --------
    >>> plain({"share": float("nan"), "ropes": (1, 2)})
    {'share': None, 'ropes': [1, 2]}
    """
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return value if isfinite(value) else None
    if is_dataclass(value) and not isinstance(value, type):
        named = getattr(value, "shown", None) or [f.name for f in fields(value)]
        names = [name for name in named if name not in _LEFT_OUT]
        return {name: plain(getattr(value, name)) for name in names}
    return _plain_many(value)


def _plain_many(value: object) -> Any:  # noqa: ANN401 - as above
    """Mappings, arrays and other things that hold several values."""
    if isinstance(value, Mapping):
        return {str(plain(name)): plain(one) for name, one in value.items()}
    listed = getattr(value, "tolist", None)
    if listed is not None:
        return plain(listed())
    if isinstance(value, Iterable):
        return [plain(one) for one in value]
    return str(value)


def barred_rows(table: str, n_cells: int) -> list[list[str]]:
    """Read a table in a text: a line a row, its cells parted by bars."""
    lines = filter(None, map(str.strip, table.splitlines()))
    return [[cell.strip() for cell in line.split("|", n_cells - 1)] for line in lines]


class Shown:
    """A result that shows itself in one line, as a table, or as plain data."""

    __slots__ = ()

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.summary()})"

    def summary(self) -> str:
        """Say in a few words what it holds."""
        outcome = getattr(self, "outcome", None)
        if isinstance(outcome, Shown):
            return outcome.summary()
        if outcome is not None:
            return str(getattr(outcome, "text", "") or outcome)
        name, held = _held(self)
        return f"{len(held)} {name}" if name else type(self).__name__

    def to_dict(self) -> dict[str, Any]:
        """Turn it into plain data, all SI, as ``json.dumps`` takes it; no sound."""
        found: dict[str, Any] = plain(self)
        return found

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into rows of a table, all SI, one a rope, as a data frame takes."""
        outcome = getattr(self, "outcome", None)
        if isinstance(outcome, Shown):
            return outcome.to_rows()
        _, held = _held(self)
        return [  # the plain fields of each part
            {k: v for k, v in plain(one).items() if not isinstance(v, dict | list)}
            for one in held or (self,)
        ]

    def _repr_html_(self) -> str:
        """A table for notebooks."""
        rows = self.to_rows()
        names = list(dict.fromkeys(name for row in rows for name in row))
        head = "".join(f"<th>{escape(name)}</th>" for name in names)
        body = "".join(
            "<tr>" + "".join(_cell(row.get(name)) for name in names) + "</tr>"
            for row in rows
        )
        return (
            f"<p>{escape(self.summary())}</p>"
            f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        )


def _held(result: object) -> tuple[str, tuple[Any, ...]]:
    """The first field that holds several things of one kind: a turn or spring each."""
    for field in fields(result) if is_dataclass(result) else ():
        value = getattr(result, field.name)
        if isinstance(value, tuple) and value and is_dataclass(value[0]):
            return field.name.replace("_", " "), value
    return "", ()


def _cell(value: object) -> str:
    """One cell: numbers to four digits."""
    text = f"{value:.4g}" if isinstance(value, float) else str(value)
    return f"<td>{escape('' if value is None else text)}</td>"
