"""A report as plain lists and texts, the form in which both layouts get it."""

import base64

from tension.report.document import (
    Banner,
    Blanks,
    Block,
    Bullets,
    Document,
    Grid,
    Pairs,
    Paragraph,
    Photo,
    Picture,
)
from tension.report.visible import visible

Plain = dict[str, object]


def plain_document(document: Document) -> Plain:
    """Turn a report into plain lists and texts, every text made visible."""
    return {
        "title": visible(document.title),
        "subject": visible(document.subject),
        "language": document.language,
        "footer": visible(document.footer),
        "first_page": [_plain(block) for block in document.first_page],
        "sections": [
            {
                "heading": visible(section.heading),
                "whole": section.is_whole,
                "blocks": [_plain(block) for block in section.blocks],
            }
            for section in document.sections
        ],
    }


def _plain(block: Block) -> Plain:
    """One block."""
    plain: Plain
    match block:
        case Paragraph(text=text, weight=weight):
            plain = {"kind": "paragraph", "text": visible(text), "weight": weight.value}
        case Bullets(items=items):
            plain = {"kind": "bullets", "items": [visible(item) for item in items]}
        case Pairs(rows=rows):
            shown = [[visible(label), visible(value)] for label, value in rows]
            plain = {"kind": "pairs", "rows": shown}
        case Grid():
            plain = _plain_grid(block)
        case Picture(svg=svg, alt=alt, height=height):
            plain = {
                "kind": "picture",
                "svg": svg,
                "alt": visible(alt),
                "height": height,
            }
        case Photo(jpeg=jpeg, alt=alt, caption=caption):
            plain = {
                "kind": "photo",
                "jpeg": base64.b64encode(jpeg).decode("ascii"),
                "alt": visible(alt),
                "caption": visible(caption),
            }
        case Banner(words=words, below=below):
            plain = {
                "kind": "banner",
                "words": visible(words),
                "below": visible(below),
            }
        case Blanks(labels=labels):
            plain = {"kind": "blanks", "labels": [visible(label) for label in labels]}
    return plain


def _plain_grid(grid: Grid) -> Plain:
    """One table."""
    n_columns = len(grid.headers)
    return {
        "kind": "grid",
        "caption": visible(grid.caption),
        "headers": [visible(header) for header in grid.headers],
        "rows": [[visible(cell) for cell in row] for row in grid.rows],
        "widths": list(grid.widths or (1.0,) * n_columns),
        "right": list(grid.right),
    }
