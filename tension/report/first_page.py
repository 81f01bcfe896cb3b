"""What must stand on one page: result, rule, what exceeds, who, seal, signature."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from tension.assessment.outcome import Verdict
from tension.condition.chain import Chain, LayChange
from tension.condition.comparison import COMPARED, BreakComparison
from tension.condition.diameters import DiameterComparison, GaugeComparison
from tension.condition.findings import Finding
from tension.condition.unfavourable import Unfavourable
from tension.report.document import (
    Banner,
    Blanks,
    Block,
    Bullets,
    Pairs,
    Paragraph,
    listed,
    small,
    strong,
)
from tension.report.evidence import Evidence, Manner
from tension.report.pictures import shares_picture
from tension.report.proof_sections import correction_words, seal_words
from tension.report.room import PAGE, bullet_height, height_of
from tension.report.visible import LONGEST_ON_FIRST_PAGE, shortened
from tension.telling.cautions import (
    ATTACHES,
    SHOWN_ON_MADE_RECORDINGS,
    WHAT_THE_RESULT_IS,
)
from tension.telling.condition import Exceeding, chain_lines
from tension.telling.results import (
    NOT_RECORDED,
    condition_words,
    interval_words,
    reason_text,
    rule_in_short,
    rule_text,
)
from tension.wording import percent_text, rope_list

MOST_EXCEEDING = 12
"""More than these are counted, and the worst are shown. [1]"""
LONGEST_PLACE, SHORT_PLACE = 64, 34
"""Characters of a place, where there is room for two lines each, and where not; of
address and order where there is none for `LONGEST_ON_FIRST_PAGE`. [1]"""
LONGEST_LINE = 330
MOST_DOUBTS = 3
MOST_SERIES = 4


def first_page(evidence: Evidence, manner: Manner) -> tuple[Block, ...]:
    """Build the first page: what people typed is shortened here, in full later."""
    over = _exceeding(evidence.chain)
    result, all_series = _result(evidence, manner)
    picture = None
    if evidence.assessments:
        picture = shares_picture(evidence.assessments[evidence.main])
    weighty, light = _chain_lines(evidence.chain, manner)
    wanted: list[Block] = [Bullets(items=tuple(weighty))]
    wanted += [picture] if picture is not None else []
    condition = _condition(evidence.chain, over, manner, LONGEST_PLACE)
    closing = _closing(evidence, manner, LONGEST_ON_FIRST_PAGE)
    if _height((*result, *condition, *closing, *wanted)) > PAGE:
        condition = _condition(evidence.chain, over, manner, SHORT_PLACE)
    if _height((*result, *condition, *closing, wanted[0])) > PAGE:
        closing = _closing(evidence, manner, SHORT_PLACE)
    room = PAGE - _height((*result, *condition, *closing))
    if _height(all_series) > room:
        all_series = []
    room -= _height(all_series)
    said = _that_fit(weighty, room)
    room -= sum(bullet_height(line) for line in said)
    drawn = [picture] if picture is not None and height_of(picture) < room else []
    room -= _height(drawn)
    if len(said) == len(weighty):
        said += _that_fit(light, room)
    more = len(weighty) + len(light) - len(said)
    if more:
        said.append(f"… and {more} more; see Condition of the ropes.")
    bullets = [Bullets(items=tuple(said))] if said else []
    return (*result, *drawn, *all_series, *condition, *bullets, *closing)


def _height(blocks: Sequence[Block]) -> float:
    """How tall several blocks are on paper [pt]."""
    return sum(height_of(block) for block in blocks)


def _closing(evidence: Evidence, manner: Manner, longest: int) -> list[Block]:
    """Who, doubtful dates, what the result is, and the line to sign."""
    doubts = evidence.date_doubts
    shown = [f"Dates: {shortened(doubt)}" for doubt in doubts[:MOST_DOUBTS]]
    if len(doubts) > MOST_DOUBTS:
        shown.append(f"{len(doubts)} doubts about dates; see Notes and answers.")
    cautions = (*WHAT_THE_RESULT_IS, ATTACHES, SHOWN_ON_MADE_RECORDINGS)
    return [
        _who(evidence, longest),
        *(strong(one) for one in shown),
        small(*map(manner.say, cautions)),
        Blanks(labels=("Name, qualification", "Date", "Signature")),
    ]


def _who(evidence: Evidence, longest: int) -> Pairs:
    """Whose lift, who measured, what was ordered, whether it is as it was sealed.

    `longest`: characters shown of each text.
    """
    given = dict(evidence.visit.particulars)

    def told(*keys: str) -> str:
        words = [shortened(given[key], longest, " …") for key in keys if given.get(key)]
        return ", ".join(words) or NOT_RECORDED

    lift = shortened(evidence.visit.lift.name, max(longest, 40), " …") or NOT_RECORDED
    rows = [
        ("Lift, car number", f"{lift}; {told('car_number')}"),
        ("Address", told("address")),
        ("Inspected", f"{told('date')}; by {told('measured_by', 'qualification')}"),
        ("Witness", told("witness")),
        ("Order", f"{told('order')}; dated {told('order_date')}"),
        ("Seal", shortened(seal_words(evidence.verification))),
    ]
    if words := correction_words(evidence.verification):
        rows.append(("Corrections", shortened(words, 240)))
    return Pairs(rows=tuple(rows))


def foreign_rule_words(evidence: Evidence) -> str:
    """Say that another rule than the record's decides in this print.

    One sentence with the record's own result; empty if the record's rule decides.
    """
    if evidence.foreign_rule is None:
        return ""
    own = evidence.recorded[evidence.main]
    return (
        "NOT THE RECORD'S RULE: this was printed with another one. By the record's "
        f"({shortened(rule_in_short(own.rule), 90, ' …')}) the set is "
        f"{own.verdict.banner}. Findings and acceptance follow the record's."
    )


def _result(evidence: Evidence, manner: Manner) -> tuple[list[Block], list[Block]]:
    """Answer, reason, condition, rule; and all series in one line each."""
    if not evidence.assessments:
        below = "No series of this record was assessed."
        return [Banner(words="NO RESULT", below=below)], []
    main = evidence.assessments[evidence.main]
    series = main.measurement.series
    taken = f", {series.taken}" if series.taken else ""
    foreign = foreign_rule_words(evidence)
    blocks: list[Block] = [
        Banner(
            words=main.verdict.banner + (" (not by the record)" * bool(foreign)),
            below=shortened(f'Series "{series.name}"{taken}'),
        )
    ]
    if foreign:
        blocks.append(strong(foreign))
    blocks += [
        strong(manner.say(reason_text(main))),
        Paragraph(text=f"Holds for: {shortened(condition_words(main), 220)}."),
        Paragraph(text=f"Rule: {shortened(rule_text(main.rule), 300)}"),
    ]
    if main.measure_again:
        is_open = main.verdict is Verdict.NO_RESULT
        words = "To be measured" if is_open else "Most useful to measure again"
        again = rope_list(main.measure_again, ", ")
        blocks.append(Paragraph(text=f"{words}: {again}."))
    has_more = len(evidence.assessments) > 1
    return blocks, _all_series(evidence) if has_more else []


def _all_series(evidence: Evidence) -> list[Block]:
    """Every series in one line."""
    shown = evidence.assessments[-MOST_SERIES:]
    more = len(evidence.assessments) - len(shown)
    return listed(
        "All series" if not more else f"The last series ({more} more later)",
        ("Series", "Result", "Spread", "At 95 %"),
        (
            (
                shortened(one.measurement.series.name, 60),
                one.verdict.banner,
                f"{percent_text(one.spread.observed)} {one.spread.metric.value}",
                interval_words(one.spread),
            )
            for one in shown
        ),
        widths=(1.2, 0.8, 1.3, 1.7),
    )


def _condition(
    chain: Chain, over: tuple[Exceeding, ...], manner: Manner, longest: int
) -> list[Block]:
    """All that exceeds, or that nothing does."""
    if not chain_lines(chain):
        return [Paragraph(text="Condition of the ropes: no finding in this record.")]
    if not over:
        compared = COMPARED & {c.outcome for rope in chain.ropes for c in rope.compared}
        words = ": nothing compared exceeds its allowance" if compared else ""
        return [strong(f"Condition of the ropes{words}")]
    return [
        *_exceeding_table(over, manner, longest),
        *(
            strong(f"Ask: {asks}")
            for asks in dict.fromkeys(one.asks for one in over if one.asks)
        ),
    ]


def _exceeding(chain: Chain) -> tuple[Exceeding, ...]:
    """Every finding that exceeds."""
    return tuple(line.exceeding for line in chain_lines(chain) if line.exceeding)


def _chain_lines(chain: Chain, manner: Manner) -> tuple[list[str], list[str]]:
    """The rest of the chain, what weighs first; in full in its own section."""
    said: dict[bool, list[str]] = {True: [], False: []}
    for line in chain_lines(_with_short_texts(chain)):
        if line.exceeding is None:
            shown = shortened(manner.say(line.text), LONGEST_LINE)
            said[line.is_weighty].append(shown)
    return said[True], said[False]


def _that_fit(lines: list[str], room: float) -> list[str]:
    """The first lines, as many as there is room for."""
    kept: list[str] = []
    for line in lines:
        room -= bullet_height(line)
        if room < 0:
            break
        kept.append(line)
    return kept


def _exceeding_table(
    over: tuple[Exceeding, ...], manner: Manner, longest: int
) -> list[Block]:
    """Every finding that exceeds; the worst and their number if they are many."""
    shown = over
    caption = f"Exceeds what the confirmed table allows: {len(over)}"
    if len(over) > MOST_EXCEEDING:
        worst = sorted(over, key=lambda one: one.excess, reverse=True)
        kept = worst[:MOST_EXCEEDING]
        shown = tuple(one for one in over if one in kept)
        caption += f", of which the {MOST_EXCEEDING} worst; all in their section"
    return listed(
        caption,
        ("Rope", "Found", "Allowed", "Where"),
        (
            (
                one.rope,
                manner.say(one.found),
                manner.say(one.allowed),
                shortened(one.where, longest, " …") or "–",
            )
            for one in shown
        ),
        widths=(0.35, 1.8, 1.6, 1.9),
    )


def _with_short_texts(chain: Chain) -> Chain:
    """The same chain with what people typed shortened, so that no outcome is cut."""
    allowance = replace(
        chain.allowance,
        edition=shortened(chain.allowance.edition, 30),
        page=shortened(chain.allowance.page, 20),
        confirmed_by=shortened(chain.allowance.confirmed_by, 30),
    )
    return replace(
        chain,
        allowance=allowance,
        findings=tuple(_short(finding) for finding in chain.findings),
        conditions=_each_short(chain.conditions),
        ropes=tuple(
            replace(
                rope,
                breaks=_each_short(rope.breaks),
                diameters=_each_short(rope.diameters),
                gauges=_each_short(rope.gauges),
                lays=_each_short(rope.lays),
                deformations=tuple(_short(f) for f in rope.deformations),
            )
            for rope in chain.ropes
        ),
    )


_Found = TypeVar(
    "_Found",
    BreakComparison,
    DiameterComparison,
    GaugeComparison,
    LayChange,
    Unfavourable,
)


def _each_short(found: tuple[_Found, ...]) -> tuple[_Found, ...]:
    """What rests on findings, with the texts of these shortened."""
    return tuple(
        replace(one, finding=_short(one.finding)) if one.finding else one
        for one in found
    )


def _short(finding: Finding) -> Finding:
    """A finding with its place and gauge shortened."""
    return replace(
        finding,
        at=shortened(finding.at, 40),
        gauge_size=shortened(finding.gauge_size, 20),
    )
