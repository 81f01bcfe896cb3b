"""A page as typed parts, written by a template of words, before any layout.

The templates stand in ``telling/pages``. A line of one is a part, by its first sign:

    = heading of a section, == of one that stays on one page
    . paragraph, ! one that stands out, ~ small print
    - item of a list                  : label | value
    # caption of a table; its headings follow, each with width, > for set right:
    | Rope :0.5 | Share :0.8>         then rows: | 1 | 98.2 %
    * the answer, large | what it belongs to
    _ line to fill in by hand | another
    @ name of a picture or photo that is handed over

A table without rows is left out; an empty line ends lists and tables. What is filled in
stays in its place, whatever people typed.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from tension import wording
from tension.quantity.units import Dimension, UnitSystem
from tension.telling import lines, numbers
from tension.wording import Terms, say

if TYPE_CHECKING:
    from jinja2 import Environment

PAGES = Path(__file__).with_name("pages")
_HEADER = re.compile(r"(.*?)(?: :([\d.]*)(>?))?")


class Paper(StrEnum):
    """Size of the page: ISO 216, or letter of ANSI/ASME Y14.1; upright."""

    A4 = "a4"
    LETTER = "letter"


class Weight(StrEnum):
    """How a paragraph stands out."""

    PLAIN = "plain"
    STRONG = "strong"
    SMALL = "small"


@dataclass(frozen=True, kw_only=True, slots=True)
class Paragraph:
    """One paragraph."""

    text: str
    weight: Weight = Weight.PLAIN


@dataclass(frozen=True, kw_only=True, slots=True)
class Bullets:
    """A list, one text per item."""

    items: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Pairs:
    """Labels with their values, one per line."""

    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Grid:
    """A table: headings of its columns, and cells, shape (n_rows, n_columns).

    Widths are relative to each other [1]; columns set right are counted from 0.
    """

    caption: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Picture:
    """A figure with what it shows in words; its height on paper in mm."""

    svg: str
    alt: str
    height: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo with what it shows in words, and what stands below it."""

    jpeg: bytes
    alt: str
    caption: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Banner:
    """The answer, large, and below it what it belongs to."""

    words: str
    below: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Blanks:
    """Lines to be filled in by hand, such as for a signature: what goes on each."""

    labels: tuple[str, ...]


Block = Paragraph | Bullets | Pairs | Grid | Picture | Photo | Banner | Blanks


_WEIGHTS = {".": Weight.PLAIN, "!": Weight.STRONG, "~": Weight.SMALL}
_TOGETHER: Mapping[str, Callable[[tuple[tuple[str, ...], ...]], Block]] = {
    "-": lambda rows: Bullets(items=tuple(row[0] for row in rows)),
    ":": lambda rows: Pairs(rows=rows),
    "*": lambda rows: Banner(words=rows[0][0], below=rows[0][1]),
    "_": lambda rows: Blanks(labels=rows[0]),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A heading with what stands under it; a whole one stays on one page."""

    heading: str
    blocks: tuple[Block, ...]
    is_whole: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Document:
    """A whole document: what must stand on one page, then the rest.

    The subject is which lift, which day; the footer stands on every page beside its
    number; the language is two letters.
    """

    title: str
    subject: str
    first_page: tuple[Block, ...]
    sections: tuple[Section, ...]
    footer: str
    language: str = "en"


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """In whose words a page is written, and in which units beside what was typed."""

    terms: Terms = Terms.EUROPE
    units: UnitSystem = field(default=UnitSystem.SI)

    def say(self, text: str) -> str:
        """Fill the places for trade words in a text of the program, of no person."""
        return say(text, self.terms)


def written_page(
    name: str,
    terms: Terms,
    words: Mapping[str, object],
    *,
    part: str = "",
    handed: Mapping[str, Block] | None = None,
) -> tuple[tuple[Block, ...], tuple[Section, ...]]:
    """Write a template, or a named block of it: what stands before headings, sections.

    `words` are what the template may name; `handed` are pictures and photos.
    """
    template = _environment(terms).get_template(f"{name}.en.j2")
    if part:
        text = "".join(template.blocks[part](template.new_context(dict(words))))
    else:
        text = template.render(words)
    before, *headed = re.split(r"^(==? .*)$", text, flags=re.MULTILINE)
    sections = tuple(
        Section(
            heading=_plain(heading.lstrip("= ")),
            blocks=tuple(_blocks(below, handed or {})),
            is_whole=heading.startswith("=="),
        )
        for heading, below in zip(headed[::2], headed[1::2], strict=True)
    )
    return tuple(_blocks(before, handed or {})), sections


@cache
def _environment(terms: Terms) -> "Environment":
    """The templates in the words of the trade; what is filled in is kept in place."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined
    from markupsafe import Markup

    def kept(value: object) -> Markup:
        if isinstance(value, Markup):
            return value
        text = str(value).replace("\\", "\\\\").replace("\n", "\\n")
        return Markup(text.replace("|", "\\|"))  # noqa: S704 - no HTML: lines of a page

    def load(name: str) -> str:
        return say((PAGES / name).read_text(encoding="utf-8"), terms)

    environment = Environment(
        loader=FunctionLoader(load),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=kept,
    )
    environment.filters |= {"word": lines.word, "typed": numbers.typed_and_si}
    told = {"lines": lines, "numbers": numbers, "wording": wording}
    environment.globals |= told | {"dimensions": Dimension, "zip": zip}
    environment.filters["row"] = lambda cells: Markup(" | ").join(map(kept, cells))
    return environment


def written_lines(
    name: str, terms: Terms, words: Mapping[str, object]
) -> list[tuple[str, tuple[str, ...]]]:
    """Write a template as lines, for a terminal: the sign of each, and its cells."""
    text = _environment(terms).get_template(f"{name}.en.j2").render(words)
    lines = [(line[:1], line[2:]) for line in text.split("\n") if line]
    return [
        (sign, _cells(own) if sign in "|^" else (_plain(own),)) for sign, own in lines
    ]


def _plain(kept: str) -> str:
    """What was filled in, as it was."""
    return re.sub(r"\\(.)", lambda found: found[1].replace("n", "\n"), kept)


def _cells(line: str) -> tuple[str, ...]:
    """The cells of a line after its sign."""
    return tuple(map(_plain, line.split(" | ")))


def _blocks(written: str, handed: Mapping[str, Block]) -> Iterator[Block]:
    """Lines as parts; lines of one sign that follow each other belong together."""
    caption = ""
    for sign, told in groupby(written.split("\n"), lambda line: line[:1]):
        texts = [line[2:] for line in told]
        if sign in _WEIGHTS:
            for text in texts:
                yield Paragraph(text=_plain(text), weight=_WEIGHTS[sign])
        elif sign == "@":
            for name, *below in map(_cells, texts):
                block = handed[name]
                if isinstance(block, Photo):
                    block = replace(block, caption=below[0])
                yield block
        elif sign == "|":
            yield from _grid(caption, texts)
        elif sign in _TOGETHER:
            yield _TOGETHER[sign](tuple(map(_cells, texts)))
        caption = _plain(texts[-1]) if sign == "#" else ""


def _grid(caption: str, texts: list[str]) -> Iterator[Grid]:
    """A table, if there is a row below its headings."""
    if len(texts) == 1:
        return
    found = [_HEADER.fullmatch(cell) for cell in texts[0].split(" | ")]
    parts = [one.groups(default="") for one in found if one is not None]
    yield Grid(
        caption=caption,
        headers=tuple(_plain(heading) for heading, _, _ in parts),
        rows=tuple(map(_cells, texts[1:])),
        widths=tuple(float(width or 1.0) for _, width, _ in parts),
        right=tuple(i for i, (_, _, side) in enumerate(parts) if side),
    )
