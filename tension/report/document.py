"""A report as typed parts, before any layout, and as plain lists for both layouts."""

import base64
from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass
from enum import StrEnum
from typing import Any

from tension.report.visible import visible

Plain = dict[str, Any]


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

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Grid:
    """A table with a heading row.

    Attributes
    ----------
    caption : str
        What it holds.
    headers : tuple of str, shape (n_columns,)
        Headings.
    rows : tuple of tuple of str, shape (n_rows, n_columns)
        Cells.
    widths : tuple of float, shape (n_columns,)
        Widths of the columns relative to each other; empty for all alike. [1]
    right : tuple of int
        Columns set right, counted from 0.
    """

    caption: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...] = ()
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A heading with what stands under it.

    Attributes
    ----------
    heading : str
        The heading.
    blocks : tuple of Block
        What stands under it.
    is_whole : bool
        Whether it stays on one page, so that no page holds a few stray lines of it.
    """

    heading: str
    blocks: tuple[Block, ...]
    is_whole: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Document:
    """A whole report.

    Attributes
    ----------
    title, subject : str
        What it is; which lift, which day.
    first_page : tuple of Block
        What must stand on one page.
    sections : tuple of Section
        The rest.
    footer : str
        What stands at the foot of every page beside the page number.
    language : str
        Two letters.
    """

    title: str
    subject: str
    first_page: tuple[Block, ...]
    sections: tuple[Section, ...]
    footer: str
    language: str = "en"


def strong(text: str) -> Paragraph:
    """Make a paragraph that stands out."""
    return Paragraph(text=text, weight=Weight.STRONG)


def small(*texts: str) -> Paragraph:
    """Make one paragraph in small print."""
    return Paragraph(text=" ".join(texts), weight=Weight.SMALL)


def listed(
    caption: str,
    headers: tuple[str, ...],
    rows: Iterable[tuple[str, ...]],
    *,
    widths: tuple[float, ...] = (),
    right: tuple[int, ...] = (),
    otherwise: str = "",
) -> list[Block]:
    """Make a table of what there is, as `Grid` holds it; `widths` are relative [1].

    Where there are no rows a paragraph says so, or nothing if none is given.
    """
    told = tuple(rows)
    if not told:
        return [Paragraph(text=otherwise)] if otherwise else []
    return [
        Grid(caption=caption, headers=headers, rows=told, widths=widths, right=right)
    ]


def bulleted(items: Iterable[str], otherwise: str = "") -> list[Block]:
    """Make a list of what there is; a paragraph, or nothing, where nothing is."""
    told = tuple(items)
    if told:
        return [Bullets(items=told)]
    return [Paragraph(text=otherwise)] if otherwise else []


def joined(*parts: str, by: str = "; ") -> str:
    """Join the parts of a cell that say something; a dash where none does."""
    return by.join(part for part in parts if part) or "–"


def plain_document(document: Document) -> Plain:
    """Turn a report into plain lists and texts, every text made visible."""
    plain: Plain = _plain(document)
    return plain


def _plain(part: object, name: str = "") -> Any:  # noqa: ANN401 - lists and texts
    """One part; a drawing stays as it is, a photo becomes text."""
    if isinstance(part, Weight | bool | int | float) or name == "svg":
        return part
    if isinstance(part, str):
        return visible(part)
    if isinstance(part, bytes):
        return base64.b64encode(part).decode("ascii")
    if isinstance(part, tuple):
        return [_plain(one) for one in part]
    plain: Plain = {"kind": type(part).__name__.lower()}
    if is_dataclass(part):
        plain |= {f.name: _plain(getattr(part, f.name), f.name) for f in fields(part)}
    if isinstance(part, Grid):
        plain["widths"] = list(part.widths or (1.0,) * len(part.headers))
    return plain
