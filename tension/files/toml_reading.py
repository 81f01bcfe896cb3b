"""From the bytes of a record to TOML tables, each with its line; what stops that."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

from tension.errors import FileFormatError

LARGEST_RECORD = 500_000
"""A record is typed by hand; more is another file. [bytes]"""
MOST_ENTRIES = 10_000
"""Tables, keys and values in lists, together. [1]"""
DEEPEST = 8
"""A record nests three at most. [1]"""

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?[0-9]+,[0-9]")
_BARE_UNIT = re.compile(r"""=\s*[+-]?[0-9][0-9.,]*\s*[A-Za-z%'"]""")
_DEEP_KEY = re.compile(
    r"^[ \t\[]*((?:[A-Za-z0-9_\"'-]+[ \t]*\.[ \t]*){8})", re.MULTILINE
)
_TOO_DEEP = "tables or brackets are nested too deeply; a record nests three at most"
_CURLY = "“”„‟‘’"


def read_record_text(path: Path) -> str:
    """Read the text of a record.

    Raises
    ------
    FileFormatError
        If it is missing, too large, or not UTF-8.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_RECORD + 1)
    except FileNotFoundError:
        raise FileFormatError(
            f"{path}: there is no such file; check the name"
        ) from None
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise FileFormatError(
            f"{path}: cannot be read ({reason}); give a record such as visit.toml"
        ) from error
    if len(content) > LARGEST_RECORD:
        raise FileFormatError(
            f"{path}: is larger than {LARGEST_RECORD // 1000} kB, so it is no "
            "record; give a record such as visit.toml"
        )
    return _decoded(content, path)


def _decoded(content: bytes, path: Path) -> str:
    """UTF-8, with or without a byte order mark."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileFormatError(
            f"{path}: is saved as UTF-16; save it again as UTF-8 (in the editor's "
            '"save as")'
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileFormatError(
            f"{path}: line {line}: holds a letter that is not UTF-8, most likely the "
            "file is saved as Latin-1 or ANSI; save it again as UTF-8 (in the editor's "
            '"save as")'
        ) from error
    if "\0" in text:
        raise FileFormatError(
            f"{path}: holds bytes that are no text; give a record such as visit.toml"
        )
    return text


def parse_toml(text: str, name: str) -> Mapping[str, object]:
    """Parse the text of a record.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, its line, and how to mend it.
    """
    _require_readable(text, name)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(_syntax_mistake(str(error), text, name)) from error
    except RecursionError:
        raise FileFormatError(f"{name}: {_TOO_DEEP}") from None
    except ValueError as error:
        raise FileFormatError(
            f"{name}: holds a number or a date that cannot be read; check "
            "the numbers without quotes"
        ) from error
    _require_bearable(document, name)
    return document


def _require_readable(text: str, name: str) -> None:
    """Refuse what the parser would need minutes for."""
    n_lines = sum(map(bool, map(str.strip, text.split("\n"))))
    if n_lines > MOST_ENTRIES:
        raise FileFormatError(
            f"{name}: has {n_lines} lines, at most {MOST_ENTRIES} are read; "
            "keep one per visit"
        )
    if deep := _DEEP_KEY.search(text):
        number = text.count("\n", 0, deep.start(1)) + 1
        raise FileFormatError(f"{name}: line {number}: {_TOO_DEEP}")


def _require_bearable(document: Mapping[str, object], name: str) -> None:
    """Refuse what is nested deeper, or holds more, than any record."""
    layer: list[object] = [document]
    n_entries = 0
    for _ in range(DEEPEST):
        layer = [
            entry
            for one in layer
            if isinstance(one, dict | list)
            for entry in (one.values() if isinstance(one, dict) else one)
        ]
        n_entries += len(layer)
        if n_entries > MOST_ENTRIES:
            raise FileFormatError(
                f"{name}: holds more than {MOST_ENTRIES} keys and values, so it is no "
                "record; keep one per visit"
            )
    if layer:
        raise FileFormatError(f"{name}: {_TOO_DEEP}")


def _syntax_mistake(message: str, text: str, name: str) -> str:
    """One line: where, what, how to mend it."""
    place = _PLACE.search(message)
    lines = text.split("\n")
    number = int(place[1]) if place else len(lines)
    while number > 1 and not lines[min(number, len(lines)) - 1].strip():
        number -= 1
    line = lines[min(number, len(lines)) - 1].strip()
    shown = line if len(line) <= 60 else line[:57] + "..."
    what = _PLACE.sub("", message).strip().rstrip(".")
    return f"{name}: line {number}: cannot read {shown} ({_advice(line, what)})"


def _advice(line: str, what: str) -> str:
    """How to mend a line."""
    bare = re.sub(r'"[^"]*"|\'[^\']*\'', "", line)
    key, _, value = (part.strip() for part in line.partition("="))
    if any(mark in bare for mark in _CURLY):
        return 'write straight quotation marks: "'
    if _DECIMAL_COMMA.search(bare) or _BARE_UNIT.search(bare):
        typed = value.split("#")[0].strip().replace('"', " in")
        return f'write the value in quotation marks with its unit: {key} = "{typed}"'
    if "\\" in line:
        return 'write "/" between folders, not "\\"'
    if "Cannot overwrite" in what:
        what = f"{key} is written twice; keep one"
    elif "Cannot declare" in what:
        what = "written twice; keep one, or write it in double brackets"
    elif not value and not line.startswith("["):
        what = f'{what}; write a name, "=" and a value, or start the line with "#"'
    else:
        what = f"{what}; texts need quotation marks on both sides"
    return what


TomlPath = tuple[str | int, ...]

_KEY_PART = re.compile(r"\s*(?:\"((?:[^\"\\]|\\.)*)\"|'([^']*)'|([A-Za-z0-9_-]+))\s*")
_TOKEN = re.compile(
    r"""\"{3}(?:\\.|[^\\])*?\"{3,5}|'{3}.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'"""
    r"|\#[^\n]*|[\[\]{}\n]",
    re.DOTALL,
)


def find_lines(text: str) -> Mapping[TomlPath, int]:
    r"""Find the line, from 1, of each table and key of TOML that can be parsed.

    Paths are like ("set", "diameter") or ("rope", 1, "stagger"), tables in double
    brackets counted from 0.

    Examples
    --------
    >>> find_lines("[[rope]]\nnumber = 2\n")[("rope", 0, "number")]
    2
    """
    lines: dict[TomlPath, int] = {}
    counts: dict[TomlPath, int] = {}
    table: TomlPath = ()
    for number, statement in _statements(text):
        plain = statement.strip()
        if plain.startswith("[["):
            name = _resolved(_key_parts(plain[2:]), counts, is_list=True)
            counts[name] = counts.get(name, -1) + 1
            table = (*name, counts[name])
            lines.setdefault(table, number)
            lines.setdefault(name, number)
        elif plain.startswith("["):
            table = _resolved(_key_parts(plain[1:]), counts, is_list=False)
            lines.setdefault(table, number)
        elif plain and not plain.startswith("#"):
            lines.setdefault((*table, *_key_parts(plain)), number)
    return lines


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Headers and keys with their values, each with the number of its first line."""
    number, start, depth = 1, 0, 0
    for token in _TOKEN.finditer(text + "\n"):
        mark = token[0]
        depth += (mark in {"[", "{"}) - (mark in {"]", "}"})
        if mark == "\n" and depth == 0:
            statement = text[start : token.start()]
            yield number, statement
            number, start = number + statement.count("\n") + 1, token.end()


def line_of(lines: Mapping[TomlPath, int], path: TomlPath) -> int | None:
    """Find the line of a key, or of the nearest table that holds it."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def _resolved(
    parts: list[str], counts: Mapping[TomlPath, int], *, is_list: bool
) -> TomlPath:
    """The path of a header, a table in double brackets on its way by its number."""
    path: TomlPath = ()
    for i, part in enumerate(parts):
        path = (*path, part)
        is_last = i == len(parts) - 1
        if path in counts and not (is_list and is_last):
            path = (*path, counts[path])
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
