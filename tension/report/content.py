"""From evidence to a report as typed parts, before any layout.

The words stand in ``telling/pages``; here is what their places are filled with, and
what of it stands on the first page: result, rule, what exceeds, who, seal, signature.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import isfinite
from typing import Any

from tension.adjustment.comparison import Comparison
from tension.adjustment.springs import SpringCheck
from tension.assessment.decide import Assessment
from tension.catalogue.rules import Rule
from tension.condition.acceptance import Acceptance
from tension.condition.chain import Chain
from tension.condition.comparison import COMPARED
from tension.figures.shares import shares_picture
from tension.files.evidence import FileEvidence
from tension.files.seal import Correction, Verification
from tension.files.visit import NoteAnswer, Visit
from tension.installation import Side
from tension.notes import Note, Refusal
from tension.report.layouts import first_that_fits
from tension.report.visible import LONGEST_ON_FIRST_PAGE, shortened
from tension.sound.hearing import SetHearing
from tension.telling import condition, page, plans, results
from tension.telling.condition import (
    chain_lines,
    exceedances,
    excess,
    finding_words,
    runby_picture,
)
from tension.telling.page import Block, Document, Manner, Photo

MOST_EXCEEDING = 12
"""More than these are counted, and the worst are shown. [1]"""
LONGEST_PLACE, SHORT_PLACE = 64, 34
"""Characters of a place, where there is room for two lines each, and where not; of
address and order where there is none for `LONGEST_ON_FIRST_PAGE`. [1]"""
LONGEST_LINE = 330  # characters of a line of the first page
HEIGHTS = (43.0, 34.0)
"""Of the picture of the shares, and where there is less room. [mm]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownPhoto:
    """One photo, made small enough to print, or why it cannot be shown.

    The caption tells what it shows and who says so; no checksum means no file.
    """

    file: str
    caption: str
    sha256: str = ""
    jpeg: bytes = b""
    why_not: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """What a report is made from; nothing in it was formatted yet.

    Assessments are of every series that could be assessed, in order of time: by the
    rule that decides in this print, and by the record's own, which findings and
    acceptance follow; the first page answers one of them, counted from 0. What was
    heard is told series by series. Files are the record first, then every file it
    names; the missing ones are not there. The record is verified if it is sealed.
    Versions are of what the result depends on; times, when each file was written.
    """

    visit: Visit
    assessments: tuple[Assessment, ...]
    recorded: tuple[Assessment, ...]
    main: int
    chain: Chain
    acceptance: Acceptance | None = None
    comparison: Comparison | Refusal | None = None
    files: tuple[FileEvidence, ...] = ()
    missing: tuple[str, ...] = ()
    verification: Verification | None = None
    versions: tuple[tuple[str, str], ...] = ()
    hearings: tuple[SetHearing | None, ...] = ()
    springs: SpringCheck | None = None
    times: tuple[tuple[str, str], ...] = ()
    photos: tuple[ShownPhoto, ...] = ()
    date_doubts: tuple[str, ...] = ()

    @property
    def foreign_rule(self) -> Rule | None:
        """The rule that decides in this print, if it is not the record's."""
        if not self.assessments:
            return None
        rule = self.assessments[self.main].rule
        return None if rule == self.recorded[self.main].rule else rule

    @property
    def notes(self) -> tuple[tuple[str, Note], ...]:
        """Every note with the series it belongs to."""
        return tuple(
            (one.measurement.series.name, note)
            for one in self.assessments
            for note in one.notes
        )


def build_report(evidence: Evidence, manner: Manner | None = None) -> Document:
    """Build the report of a record; European words and SI if no others are asked."""
    manner = manner or Manner()
    given = dict(evidence.visit.particulars)
    name = evidence.visit.lift.name or manner.say("[[lift]] not named")
    date = given.get("date") or "date not recorded"
    measured_by = given.get("measured_by") or "not recorded"
    pictures = _pictures(evidence)
    words = _words(evidence, manner) | {"pictures": pictures}
    files = evidence.files
    footer = f"Record SHA-256 {files[0].sha256 if files else 'none: no record file'}"
    if evidence.foreign_rule is not None:
        rule = shortened(results.rule_in_short(evidence.foreign_rule), 90, " …")
        footer += f" · NOT THE RECORD'S RULE, printed with {rule}"
    _, sections = page.written_page("report", manner.terms, words, handed=pictures)
    title = "Record of rope tension"
    subject = (
        f"{shortened(name, 60)}, {shortened(date, 40)}; "
        f"measured by: {shortened(measured_by, 40)}"
    )
    return Document(
        title=title,
        subject=subject,
        first_page=_first_page(words, manner, title, subject),
        sections=sections,
        footer=footer,
    )


def _pictures(evidence: Evidence) -> dict[str, Block]:
    """Pictures and photos by the names that the page has for them."""
    shown: dict[str, Block | None] = {
        f"shares-{place}": shares_picture(one)
        for place, one in enumerate(evidence.assessments)
        if place != evidence.main
    }
    for i, one in enumerate(evidence.photos, start=1):
        alt = one.caption or one.file
        shown[f"photo-{i}"] = Photo(jpeg=one.jpeg, alt=alt, caption="")
    if evidence.acceptance:
        shown["runby"] = runby_picture(evidence.acceptance)
    return {name: block for name, block in shown.items() if block is not None}


def _words(evidence: Evidence, manner: Manner) -> dict[str, Any]:
    """What the pages name: values, and what writes them."""
    visit, chain = evidence.visit, evidence.chain
    over = exceedances(chain)
    kept = sorted(over, key=excess, reverse=True)[:MOST_EXCEEDING]
    has_any, is_foreign = bool(evidence.assessments), evidence.foreign_rule is not None
    words = {
        "evidence": evidence,
        "acceptance": evidence.acceptance,
        "manner": manner,
        "visit": visit,
        "given": dict(visit.particulars),
        "ropes": visit.rope_set,
        "main": evidence.assessments[evidence.main] if has_any else None,
        "own": evidence.recorded[evidence.main] if is_foreign else None,
        "told": chain.findings or chain.conditions,
        "over": over,
        "worst": [one for one in over if one in kept],
        "is_compared": any(
            one.outcome in COMPARED for rope in chain.ropes for one in rope.compared
        ),
        "sides": Side,
        "other_answers": [
            answer
            for answer in visit.answers
            if not any(_belongs(answer, note) for _, note in evidence.notes)
        ],
        "spring_headers": [f"{one} :>" if one else "" for one in plans.SPRING_HEADERS],
        "belongs": _belongs,
        "changed_lines": _changed_lines,
        "corrected_in_full": _corrected_in_full,
        "plans": plans,
        "condition": condition,
        "finite": lambda value: value if isfinite(value) else None,
        "shortened": shortened,
    }
    return finding_words() | words


def _belongs(answer: NoteAnswer, note: Note) -> bool:
    """Whether an answer is to a note, by number or code, and to its ropes."""
    is_same = answer.note in {str(note.kind.number), note.code}
    return is_same and (not answer.ropes or bool(set(answer.ropes) & set(note.ropes)))


def _changed_lines(correction: Correction) -> list[str]:
    """Lines of the record that a correction took out or put in."""
    return [line for line in correction.lines if line.startswith(("- ", "+ "))]


def _corrected_in_full(one: Correction) -> str:
    """What a correction changed, line by line."""
    words = (one.text,) if one.text else ()
    files = (f"file {file.path}" for file in one.files)
    return "\n".join((*words, *files, *map(str.rstrip, _changed_lines(one))))


def _first_page(
    words: dict[str, Any], manner: Manner, title: str, subject: str
) -> tuple[Block, ...]:
    """Build the first page: what people typed is shortened here, in full later."""

    def part(name: str, longest: int = 0) -> tuple[Block, ...]:
        told = words | {"longest": longest}
        return page.written_page("first_page", manner.terms, told, part=name)[0]

    chain = chain_lines(words["evidence"].chain, manner, shortened)
    weighty, light = (  # the rest of the chain; in full in its own section
        [shortened(one.text, LONGEST_LINE) for one in chain if one.weight is weight]
        for weight in (page.Weight.PLAIN, page.Weight.SMALL)
    )
    main = words["main"]
    has_share = main is not None and any(one.share is not None for one in main.shares)
    pages = _first_pages(part, weighty, light, HEIGHTS if has_share else ())
    chosen = first_that_fits(pages, title, subject)
    drawn = (  # drawing is slow
        shares_picture(main, one.height) if isinstance(one, page.Picture) else one
        for one in chosen
    )
    return tuple(one for one in drawn if one is not None)


def _first_pages(
    part: Callable[..., tuple[Block, ...]],
    weighty: list[str],
    light: list[str],
    heights: Sequence[float],
) -> Iterator[tuple[Block, ...]]:
    """Every first page there may be, the one that tells most first.

    Places are shortened before lines of the chain are left out, the larger picture goes
    before that; what weighs little comes last.
    """
    result, all_series = part("result"), part("all_series")
    places = part("condition", LONGEST_PLACE), part("condition", SHORT_PLACE)
    closings = part("closing", LONGEST_ON_FIRST_PAGE), part("closing", SHORT_PLACE)
    pictures = [*((page.Picture(svg="", alt="", height=h),) for h in heights), ()]
    n_lines, n_weighty = len(weighty) + len(light), len(weighty)
    for found, closing, drawings, least in (
        (places[0], closings[0], pictures[:1], n_weighty),
        (places[1], closings[0], pictures, n_weighty),
        (places[1], closings[1], pictures, 0),
    ):
        for count in range(n_weighty, least - 1, -1):
            most = n_lines if count == n_weighty else count
            for drawn, series in product(drawings, (all_series, ())):
                for shown in range(most, count - 1, -1):
                    more = n_lines - shown
                    lines = [*weighty, *light][:shown]
                    if more and shown:
                        lines.append(f"… and {more} more; see Condition of the ropes.")
                    said = (page.Bullets(items=tuple(lines)),) if lines else ()
                    yield (*result, *drawn, *series, *found, *said, *closing)
