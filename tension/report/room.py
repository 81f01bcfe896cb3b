"""About how much of a page a block takes, so that the first page holds what it must."""

import unicodedata

from tension.report.document import (
    Banner,
    Blanks,
    Block,
    Bullets,
    Grid,
    Pairs,
    Paragraph,
    Photo,
    Picture,
    Weight,
)

PAGE = 640.0
"""Height of the smaller paper without its margins, the title and what estimates miss.
[pt]"""
_WIDTH = 485.0
_MILLIMETRE = 72.0 / 25.4
_LONG_WORD = 20


def height_of(block: Block) -> float:
    """Estimate the height of a block, rather too much than too little.

    Returns
    -------
    float
        Height on paper. [pt]
    """
    height = 48.0  # lines to fill in
    match block:
        case Paragraph(text=text, weight=weight):
            size = {Weight.SMALL: 7.5, Weight.STRONG: 9.5}.get(weight, 9.0)
            height = _lines(text, size, _WIDTH) * 1.38 * size + 4.0
        case Bullets(items=items):
            height = sum(bullet_height(item) for item in items)
        case Pairs(rows=rows):
            column = _WIDTH - 47 * _MILLIMETRE
            lines = (_lines(value, 9.0, column) for _, value in rows)
            height = 8.0 + sum(11.0 * n for n in lines)
        case Grid():
            height = _grid_height(block)
        case Picture(height=tall):
            height = tall * _MILLIMETRE + 8.0
        case Photo():
            height = 70.0 * _MILLIMETRE
        case Banner(below=below):
            height = 40.0 + _lines(below, 9.0, _WIDTH) * 12.0
        case Blanks():
            pass
    return height


def bullet_height(text: str) -> float:
    """Estimate the height of one item of a list.

    Returns
    -------
    float
        Height on paper. [pt]
    """
    return _lines(text, 9.0, _WIDTH - 12.0) * 12.2 + 3.0


def _grid_height(grid: Grid) -> float:
    """Caption, heading and rows of a table."""
    widths = grid.widths or (1.0,) * len(grid.headers)
    columns = [_WIDTH * width / sum(widths) - 6.0 for width in widths]
    rows = (
        max(
            _lines(cell, 8.0, column) for cell, column in zip(row, columns, strict=True)
        )
        for row in (grid.headers, *grid.rows)
    )
    return 22.0 + sum(n * 9.6 + 3.6 for n in rows)


def _lines(text: str, size: float, width: float) -> int:
    """How many lines a text needs."""
    needed = size * sum(_width(character) for character in text)
    if any(len(word) > _LONG_WORD for word in text.split()):
        needed *= 1.15  # broken after every eighth character
    return max(1, -int(-1.04 * needed // width))


def _width(character: str) -> float:
    """Width of a character of DejaVu Sans, about, in sizes of the type."""
    if character == " ":
        return 0.32
    if unicodedata.east_asian_width(character) in "WF":
        return 1.05
    if character in "ijltfr.,:;'()[]|":
        return 0.36
    return 0.58 if character.islower() else 0.68
