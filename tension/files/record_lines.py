"""On which line of a TOML text each table and key stands."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

TomlPath = tuple[str | int, ...]

_KEY_PART = re.compile(r"\s*(?:\"((?:[^\"\\]|\\.)*)\"|'([^']*)'|([A-Za-z0-9_-]+))\s*")


@dataclass(kw_only=True, slots=True)
class _Place:
    """Where the scan is."""

    table: TomlPath = ()
    counts: dict[TomlPath, int] = field(default_factory=dict)
    depth: int = 0
    quotes: str = ""


def find_lines(text: str) -> Mapping[TomlPath, int]:
    """Find the line of each table and key.

    Parameters
    ----------
    text : str
        TOML that can be parsed.

    Returns
    -------
    mapping of tuple to int
        From ("set", "diameter") or ("rope", 1, "stagger") - tables in double brackets
        counted from 0 - to the line, counted from 1.

    Examples
    --------
    >>> find_lines("[[rope]]\\nnumber = 2\\n")[("rope", 0, "number")]
    2
    """
    lines: dict[TomlPath, int] = {}
    place = _Place()
    for number, line in enumerate(text.split("\n"), start=1):
        if not place.depth and not place.quotes:
            _note_line(line, number, place, lines)
        _skip(line, place)
    return lines


def line_of(lines: Mapping[TomlPath, int], path: TomlPath) -> int | None:
    """Find the line of a key, or of the nearest table that holds it.

    Returns
    -------
    int or None
        The line, counted from 1; None for the whole file.
    """
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def _note_line(
    line: str, number: int, place: _Place, lines: dict[TomlPath, int]
) -> None:
    """Note the header or the key that starts on a line."""
    plain = line.strip()
    if plain.startswith("[["):
        name = _resolved(_key_parts(plain[2:]), place, is_list=True)
        place.counts[name] = place.counts.get(name, -1) + 1
        place.table = (*name, place.counts[name])
        lines.setdefault(place.table, number)
        lines.setdefault(name, number)
    elif plain.startswith("["):
        place.table = _resolved(_key_parts(plain[1:]), place, is_list=False)
        lines.setdefault(place.table, number)
    elif plain and not plain.startswith("#"):
        lines.setdefault((*place.table, *_key_parts(plain)), number)


def _resolved(parts: list[str], place: _Place, *, is_list: bool) -> TomlPath:
    """The path of a header, a table in double brackets on its way by its number."""
    path: TomlPath = ()
    for i, part in enumerate(parts):
        path = (*path, part)
        is_last = i == len(parts) - 1
        if path in place.counts and not (is_list and is_last):
            path = (*path, place.counts[path])
    return path


def _key_parts(text: str) -> list[str]:
    """The parts of a dotted key at the start of a text."""
    parts: list[str] = []
    start = 0
    while found := _KEY_PART.match(text, start):
        parts.append(next(group for group in found.groups() if group is not None))
        start = found.end()
        if text[start : start + 1] != ".":
            break
        start += 1
    return parts


def _skip(line: str, place: _Place) -> None:
    """Follow strings and brackets to the end of a line."""
    i = 0
    is_header = not place.depth and not place.quotes and line.lstrip().startswith("[")
    while i < len(line) and not is_header:
        if place.quotes:
            i = _skip_text(line, i, place)
            continue
        three = line[i : i + 3]
        if three in {'"""', "'''"}:
            place.quotes, i = three, i + 3
        elif line[i] in "\"'":
            place.quotes, i = line[i], i + 1
        elif line[i] == "#":
            return
        else:
            place.depth += (line[i] in "[{") - (line[i] in "]}")
            i += 1
    if len(place.quotes) == 1:
        place.quotes = ""


def _skip_text(line: str, i: int, place: _Place) -> int:
    """One step inside a string."""
    if line[i] == "\\" and place.quotes[0] == '"':
        return i + 2
    if line.startswith(place.quotes, i):
        end = i + len(place.quotes)
        place.quotes = ""
        return end
    return i + 1
