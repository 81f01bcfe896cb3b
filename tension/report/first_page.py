"""What must stand on one page: result, rule, what exceeds, who, seal, signature.

How much of the page a part takes is estimated, rather too much than too little.
"""

import json
import unicodedata
from dataclasses import asdict
from functools import cache
from typing import TYPE_CHECKING, Any

from tension.condition.comparison import COMPARED
from tension.figures.shares import shares_picture
from tension.files.seal import Correction, Verification
from tension.report.evidence import Evidence
from tension.report.visible import LONGEST_ON_FIRST_PAGE, shortened, visible
from tension.telling import page
from tension.telling.condition import chain_lines, exceedances, excess, finding_words

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

MOST_EXCEEDING = 12
"""More than these are counted, and the worst are shown. [1]"""
LONGEST_PLACE, SHORT_PLACE = 64, 34
"""Characters of a place, where there is room for two lines each, and where not; of
address and order where there is none for `LONGEST_ON_FIRST_PAGE`. [1]"""
LONGEST_LINE = 330  # characters of a line of the first page
PAPERS = ((509.0, 643.0), (492.0, 693.0))
"""Width and height of letter and A4 paper without margins and title. [pt]"""
HEIGHTS = (43.0, 34.0)
"""Of the picture of the shares, and where there is less room. [mm]"""
_MILLIMETRE = 72.0 / 25.4  # in points [point]
_LONG_WORD = 20  # characters from which a word is broken
_FONT_SIZE = 64.0  # at which widths are read [point]
_TALLER = 2.3
"""How much taller a line with boxes instead of signs is, at most. [1]"""
_MISSING = 40.0
"""Height of the sentence that no font has some of the signs. [pt]"""
_BOLDER = 1.16
"""How much wider the bold face is, at most. [1]"""


def first_page(evidence: Evidence, manner: page.Manner) -> tuple[page.Block, ...]:
    """Build the first page: what people typed is shortened here, in full later."""
    words = _words(evidence, manner)

    def part(name: str, longest: int = 0) -> tuple[page.Block, ...]:
        told = words | {"longest": longest}
        return page.written_page("first_page", manner.terms, told, part=name)[0]

    result, all_series = part("result"), part("all_series")
    chain = chain_lines(evidence.chain, manner, shortened)
    weighty, light = (  # the rest of the chain; in full in its own section
        [shortened(one.text, LONGEST_LINE) for one in chain if one.weight is weight]
        for weight in (page.Weight.PLAIN, page.Weight.SMALL)
    )
    bullets, main = page.Bullets(items=tuple(weighty)), words["main"]
    has_share = main is not None and any(one.share is not None for one in main.shares)
    rooms = [page.Picture(svg="", alt="", height=h) for h in HEIGHTS if has_share]
    condition = part("condition", LONGEST_PLACE)
    closing = part("closing", LONGEST_ON_FIRST_PAGE)
    if not _fit(*result, *condition, *closing, bullets, *rooms[:1]):
        condition = part("condition", SHORT_PLACE)
    if not _fit(*result, *condition, *closing, bullets):
        closing = part("closing", SHORT_PLACE)
    kept = (*result, *condition, *closing)
    lines = [*weighty, *light]
    said = _that_fit(kept, weighty, len(lines))
    room = next((one for one in rooms if _fit(*kept, *said, one)), None)
    picture = shares_picture(main, room.height) if room else None  # drawing is slow
    drawn = [picture] if picture else []
    series = all_series if _fit(*kept, *said, *drawn, *all_series) else ()
    if not said or len(said[0].items) >= len(weighty):
        said = _that_fit((*kept, *drawn, *series), lines, len(lines))
    return (*result, *drawn, *series, *condition, *said, *closing)


def _that_fit(
    kept: tuple[page.Block, ...], lines: list[str], n_lines: int
) -> tuple[page.Bullets, ...]:
    """As many of the lines as there is room for, and how many there are more."""
    for count in range(len(lines), 0, -1):
        more = n_lines - count
        ending = [f"… and {more} more; see Condition of the ropes."] if more else []
        said = page.Bullets(items=(*lines[:count], *ending))
        if _fit(*kept, said):
            return (said,)
    return ()


def _fit(*blocks: page.Block) -> bool:
    """Whether parts fit on one page of either paper."""
    told = [asdict(one) for one in blocks if not isinstance(one, page.Picture)]
    signs = set(visible(json.dumps(told, ensure_ascii=False)))
    has_all = all(_font().get_char_index(ord(sign)) for sign in signs)
    needed = 0.0 if has_all else _MISSING
    return all(
        needed + sum(height_of(block, width) for block in blocks) <= height
        for width, height in PAPERS
    )


def _words(evidence: Evidence, manner: page.Manner) -> dict[str, Any]:
    """What the parts of the page name."""
    chain, has_any = evidence.chain, bool(evidence.assessments)
    over = exceedances(chain)
    kept = sorted(over, key=excess, reverse=True)[:MOST_EXCEEDING]
    is_foreign = evidence.foreign_rule is not None
    return finding_words() | {
        "evidence": evidence,
        "manner": manner,
        "given": dict(evidence.visit.particulars),
        "main": evidence.assessments[evidence.main] if has_any else None,
        "own": evidence.recorded[evidence.main] if is_foreign else None,
        "told": chain.findings or chain.conditions,
        "over": over,
        "worst": [one for one in over if one in kept],
        "is_compared": any(
            one.outcome in COMPARED for rope in chain.ropes for one in rope.compared
        ),
        "corrections": correction_words(evidence.verification),
        "seal_words": seal_words,
        "shortened": shortened,
    }


def seal_words(verification: Verification | None) -> str:
    """Say whether a record is sealed, and whether it is still the same."""
    if verification is None:
        return "NOT SEALED: nothing shows whether it was changed"
    seal = verification.seal
    when = f"sealed {seal.sealed}" if seal else "sealed"
    if verification.is_same:
        return f"{when}; the same since, SHA-256 {verification.sha256}"
    first = verification.changes[0]
    many = len(verification.changes)
    differ = "1 differs" if many == 1 else f"{many} differ, first"
    return f"CHANGED since it was {when}: {differ}: {first.path}"


def correction_words(verification: Verification | None) -> str:
    """Say what was corrected since the seal and by whom, the newest first."""
    if verification is None or not verification.corrections:
        return ""
    told, rule = [], verification.seal.rule if verification.seal else ""
    for one in verification.corrections:
        told.append(f"{_what(one, rule)} on {one.date} by {one.by} ({one.reason})")
        rule = one.rule or rule
    return f"{len(told)}: " + "; ".join(reversed(told))


def _what(correction: Correction, rule: str) -> str:
    """What a correction changed."""
    if correction.rule and correction.rule != rule:
        return f"RULE changed to {correction.rule}"
    if changed := changed_lines(correction):
        return f"{len(changed)} lines of the record"
    if correction.files:
        return f"file {correction.files[0].path}"
    if correction.text:
        return "words"
    return "files taken out" if correction.removed else "files that are not there"


def changed_lines(correction: Correction) -> list[str]:
    """Lines of the record that a correction took out or put in."""
    return [line for line in correction.lines if line.startswith(("- ", "+ "))]


def height_of(block: page.Block, width: float) -> float:
    """Estimate how tall a part is on paper of a width between its margins [pt]."""
    height = 42.0  # lines to fill in
    match block:
        case page.Paragraph(text=text, weight=page.Weight.SMALL):
            height = 9.9 * _lines(text, 7.5, width) + 5.3
        case page.Paragraph(text=text, weight=weight):
            own = width / _BOLDER if weight is page.Weight.STRONG else width
            height = 11.9 * _lines(text, 9.0, own) + 3.0
        case page.Bullets(items=items):
            lines = [_lines(item, 9.0, width - 12.0) for item in items]
            height = 2.0 + sum(11.9 * n + 0.9 for n in lines) if items else 0.0
        case page.Pairs(rows=rows):
            lines = [_lines(row[1], 9.0, width - 47 * _MILLIMETRE) for row in rows]
            height = 7.0 + sum(11.9 * n - 1.1 for n in lines)
        case page.Grid():
            height = _grid_height(block, width)
        case page.Picture(height=tall):
            height = tall * _MILLIMETRE + 8.0
        case page.Banner(below=below):
            height = 40.0 + _lines(below, 9.0, width) * 12.0
        case _:
            pass
    return height


def _grid_height(grid: page.Grid, width: float) -> float:
    """Caption, heading and rows of a table."""
    columns = [width * share / sum(grid.widths) - 6.0 for share in grid.widths]
    n_lines = (
        max(_lines(cell, 8.0, own) for cell, own in zip(row, columns, strict=True))
        for row in (grid.headers, *grid.rows)
    )
    return 23.0 + sum(10.3 * n + 0.9 for n in n_lines)


def _lines(text: str, size: float, width: float) -> float:
    """How many lines a text needs, broken at blanks and within long words.

    Lines with signs for private use, which come as boxes, are taller.
    """
    n_lines, used = 1, 0.0
    for word in visible(text).split():
        is_long = len(word) >= _LONG_WORD  # broken after every eighth character
        parts = [word[i : i + 8] for i in range(0, len(word), 8)] if is_long else [word]
        for place, part in enumerate(parts):
            blank = _width(" ") if used and not place else 0.0
            needed = size * (blank + sum(map(_width, part)))
            if used and used + needed > width:
                n_lines, used = n_lines + 1, 0.0
            used += needed
    is_boxed = any(unicodedata.category(sign) == "Co" for sign in text)
    return _TALLER * n_lines if is_boxed else n_lines


@cache
def _font() -> "FT2Font":
    """The font of the report."""
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font

    font = FT2Font(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf")
    font.set_size(_FONT_SIZE, 72.0)
    return font


@cache
def _width(character: str) -> float:
    """Width of a character in sizes of the type."""
    if not _font().get_char_index(ord(character)):
        return 1.2  # of another font
    return _font().load_char(ord(character)).linearHoriAdvance / 65536.0 / _FONT_SIZE
