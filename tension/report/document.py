"""A report as typed parts, before any layout: what every form of it shows alike."""

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How a paragraph stands out."""

    PLAIN = "plain"
    STRONG = "strong"
    SMALL = "small"


@dataclass(frozen=True, kw_only=True, slots=True)
class Paragraph:
    """One paragraph.

    Attributes
    ----------
    text : str
        Plain text.
    weight : Weight
        How it stands out.
    """

    text: str
    weight: Weight = Weight.PLAIN


@dataclass(frozen=True, kw_only=True, slots=True)
class Bullets:
    """A list.

    Attributes
    ----------
    items : tuple of str
        One text per item.
    """

    items: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Pairs:
    """Labels with their values, one per line.

    Attributes
    ----------
    rows : tuple of (str, str)
        Label and value.
    """

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
    """A figure.

    Attributes
    ----------
    svg : str
        The drawing.
    alt : str
        What it shows, in words.
    height : float
        Height on paper. [mm]
    """

    svg: str
    alt: str
    height: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo with its caption.

    Attributes
    ----------
    jpeg : bytes
        The picture.
    alt : str
        What it shows, in words.
    caption : str
        What stands below it.
    """

    jpeg: bytes
    alt: str
    caption: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Banner:
    """The answer, large.

    Attributes
    ----------
    words : str
        Such as "UNEQUAL".
    below : str
        What it belongs to.
    """

    words: str
    below: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Blanks:
    """Lines to be filled in by hand, such as for a signature.

    Attributes
    ----------
    labels : tuple of str
        What goes on each line.
    """

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
    title : str
        What it is.
    subject : str
        Which lift, which day.
    language : str
        Two letters.
    first_page : tuple of Block
        What must stand on one page.
    sections : tuple of Section
        The rest.
    footer : str
        What stands at the foot of every page beside the page number.
    """

    title: str
    subject: str
    first_page: tuple[Block, ...]
    sections: tuple[Section, ...]
    footer: str
    language: str = "en"
