"""What must stand on one page: result, rule, what exceeds, who, seal, signature.

How much of the page a part takes is estimated, rather too much than too little.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any

from tension import wording
from tension.condition.chain import Chain, LayChange, RopeChain
from tension.condition.comparison import COMPARED, BreakComparison
from tension.condition.diameters import DiameterComparison, GaugeComparison
from tension.condition.findings import Allowance, Finding
from tension.condition.unfavourable import Unfavourable
from tension.files.corrections import Correction
from tension.files.verification import Verification
from tension.report.evidence import Evidence
from tension.report.pictures import shares_picture
from tension.report.visible import LONGEST_ON_FIRST_PAGE, shortened
from tension.telling import cautions, page, results
from tension.telling.condition import chain_lines

MOST_EXCEEDING = 12
"""More than these are counted, and the worst are shown. [1]"""
LONGEST_PLACE, SHORT_PLACE = 64, 34
"""Characters of a place, where there is room for two lines each, and where not; of
address and order where there is none for `LONGEST_ON_FIRST_PAGE`. [1]"""
LONGEST_LINE = 330
PAGE = 640.0
"""Height of the smaller paper without its margins, the title and what estimates miss.
[pt]"""
_WIDTH = 485.0
_MILLIMETRE = 72.0 / 25.4
_LONG_WORD = 20
_SHORTENED: dict[type, dict[str, int]] = {
    Finding: {"at": 40, "gauge_size": 20},
    Allowance: {"edition": 30, "page": 20, "confirmed_by": 30},
}
"""Characters of what people typed that the rest of the chain shows here."""
_OF_FINDINGS = (
    Chain,
    RopeChain,
    BreakComparison,
    DiameterComparison,
    GaugeComparison,
    LayChange,
    Unfavourable,
)


def first_page(evidence: Evidence, manner: page.Manner) -> tuple[page.Block, ...]:
    """Build the first page: what people typed is shortened here, in full later."""
    words = _words(evidence, manner)

    def part(name: str, longest: int = 0) -> tuple[page.Block, ...]:
        told = words | {"longest": longest}
        return page.written_page("first_page", manner.terms, told, part=name)[0]

    result, all_series = part("result"), part("all_series")
    picture = shares_picture(words["main"]) if words["main"] else None
    weighty, light = _chain_lines(evidence.chain, manner)
    wanted: list[page.Block] = [page.Bullets(items=tuple(weighty))]
    wanted += [picture] if picture else []
    condition = part("condition", LONGEST_PLACE)
    closing = part("closing", LONGEST_ON_FIRST_PAGE)
    if _height((*result, *condition, *closing, *wanted)) > PAGE:
        condition = part("condition", SHORT_PLACE)
    if _height((*result, *condition, *closing, wanted[0])) > PAGE:
        closing = part("closing", SHORT_PLACE)
    room = PAGE - _height((*result, *condition, *closing))
    if _height(all_series) > room:
        all_series = ()
    room -= _height(all_series)
    said = _that_fit(weighty, room)
    room -= sum(map(_bullet_height, said))
    drawn = [picture] if picture is not None and height_of(picture) < room else []
    room -= _height(drawn)
    if len(said) == len(weighty):
        said += _that_fit(light, room)
    more = len(weighty) + len(light) - len(said)
    if more:
        said.append(f"… and {more} more; see Condition of the ropes.")
    bullets = [page.Bullets(items=tuple(said))] if said else []
    return (*result, *drawn, *all_series, *condition, *bullets, *closing)


def _words(evidence: Evidence, manner: page.Manner) -> dict[str, Any]:
    """What the parts of the page name."""
    chain, has_any = evidence.chain, bool(evidence.assessments)
    told = chain_lines(chain)
    over = [line.exceeding for line in told if line.exceeding]
    by_excess = sorted(over, key=lambda one: one.excess, reverse=True)
    kept = by_excess[:MOST_EXCEEDING]
    is_foreign = evidence.foreign_rule is not None
    return {
        "evidence": evidence,
        "manner": manner,
        "given": dict(evidence.visit.particulars),
        "main": evidence.assessments[evidence.main] if has_any else None,
        "own": evidence.recorded[evidence.main] if is_foreign else None,
        "told": told,
        "over": over,
        "worst": [one for one in over if one in kept],
        "is_compared": any(
            one.outcome in COMPARED for rope in chain.ropes for one in rope.compared
        ),
        "corrections": correction_words(evidence.verification),
        "seal_words": seal_words,
        "shortened": shortened,
        "cautions": cautions,
        "results": results,
        "wording": wording,
    }


def _chain_lines(chain: Chain, manner: page.Manner) -> tuple[list[str], list[str]]:
    """The rest of the chain, what weighs first; in full in its own section."""
    said: dict[bool, list[str]] = {True: [], False: []}
    for line in chain_lines(_short(chain)):
        if line.exceeding is None:
            shown = shortened(manner.say(line.text), LONGEST_LINE)
            said[line.is_weighty].append(shown)
    return said[True], said[False]


def _short(part: Any) -> Any:  # noqa: ANN401 - any part of a chain
    """The same with what people typed shortened, so that no outcome is cut."""
    if isinstance(part, tuple):
        return tuple(map(_short, part))
    if longest := _SHORTENED.get(type(part)):
        told = {name: shortened(getattr(part, name), n) for name, n in longest.items()}
        return replace(part, **told)
    if isinstance(part, _OF_FINDINGS):
        names = [field.name for field in fields(part)]
        return replace(part, **{name: _short(getattr(part, name)) for name in names})
    return part


def _that_fit(lines: list[str], room: float) -> list[str]:
    """The first lines, as many as there is room for."""
    kept: list[str] = []
    for line in lines:
        room -= _bullet_height(line)
        if room < 0:
            break
        kept.append(line)
    return kept


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


def _height(blocks: Iterable[page.Block]) -> float:
    """How tall several parts are on paper [pt]."""
    return sum(map(height_of, blocks))


def height_of(block: page.Block) -> float:
    """Estimate the height of a part on paper [pt]."""
    height = 48.0  # lines to fill in
    match block:
        case page.Paragraph(text=text, weight=weight):
            size = {page.Weight.SMALL: 7.5, page.Weight.STRONG: 9.5}.get(weight, 9.0)
            height = _lines(text, size, _WIDTH) * 1.38 * size + 4.0
        case page.Bullets(items=items):
            height = sum(map(_bullet_height, items))
        case page.Pairs(rows=rows):
            column = _WIDTH - 47 * _MILLIMETRE
            height = 8.0 + sum(11.0 * _lines(row[1], 9.0, column) for row in rows)
        case page.Grid():
            height = _grid_height(block)
        case page.Picture(height=tall):
            height = tall * _MILLIMETRE + 8.0
        case page.Banner(below=below):
            height = 40.0 + _lines(below, 9.0, _WIDTH) * 12.0
        case _:
            pass
    return height


def _bullet_height(text: str) -> float:
    """Height of one item of a list [pt]."""
    return _lines(text, 9.0, _WIDTH - 12.0) * 12.2 + 3.0


def _grid_height(grid: page.Grid) -> float:
    """Caption, heading and rows of a table."""
    columns = [_WIDTH * width / sum(grid.widths) - 6.0 for width in grid.widths]
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
