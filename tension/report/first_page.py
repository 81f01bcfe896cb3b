"""What must stand on one page: result, condition, rule, chain, signature line."""

from dataclasses import replace

from tension.assessment.outcome import Assessment
from tension.cautions import SHOWN_ON_MADE_RECORDINGS, WHAT_THE_RESULT_IS
from tension.condition.chain import Chain
from tension.condition.comparison import Outcome
from tension.condition.findings import Finding
from tension.condition.unfavourable import ConditionState
from tension.report.chain_words import chain_lines
from tension.report.document import (
    Banner,
    Blanks,
    Block,
    Bullets,
    Grid,
    Paragraph,
    Weight,
)
from tension.report.evidence import Evidence, Manner
from tension.report.pictures import shares_picture
from tension.report.visible import shortened
from tension.report.words import (
    VERDICT_WORDS,
    best_words,
    condition_words,
    interval_words,
    rope_words,
    rule_words,
)

MOST_CHAIN_LINES = 7
LONGEST_LINE = 240
_WEIGHTY = (
    Outcome.EXCEEDS.value,
    "under it.",
    "due by the gauge (",
    ConditionState.COUNTED.value,
    ConditionState.OFFERED.value,
    ConditionState.CANNOT_TELL.value,
    "Allowance: ",
)
MOST_SERIES = 5

ATTACHES = (
    "This record attaches to the report form of the authority or of the inspector; it "
    "does not take its place."
)


def first_page(evidence: Evidence, manner: Manner) -> tuple[Block, ...]:
    """Build the first page.

    Parameters
    ----------
    evidence : Evidence
        What the report is made from.
    manner : Manner
        Words and units.

    Returns
    -------
    tuple of Block
        Little enough for one page; what people typed is shortened here and stands in
        full later.
    """
    blocks: list[Block] = []
    if evidence.assessments:
        blocks += _result(evidence, evidence.assessments[evidence.main], manner)
    else:
        blocks.append(
            Banner(words="NO RESULT", below="No series of this record was assessed.")
        )
    blocks += _chain(evidence.chain, manner)
    blocks += [
        *(
            Paragraph(text=manner.say(text), weight=Weight.SMALL)
            for text in (*WHAT_THE_RESULT_IS, ATTACHES, SHOWN_ON_MADE_RECORDINGS)
        ),
        Blanks(labels=("Name, qualification", "Date", "Signature")),
    ]
    return tuple(blocks)


def _result(evidence: Evidence, main: Assessment, manner: Manner) -> list[Block]:
    """Answer, reason, condition, rule, and the other series in one line each."""
    series = main.measurement.series
    taken = f", {series.taken}" if series.taken else ""
    blocks: list[Block] = [
        Banner(
            words=VERDICT_WORDS[main.verdict],
            below=shortened(f'Series "{series.name}"{taken}'),
        ),
        Paragraph(text=manner.say(main.reason), weight=Weight.STRONG),
        Paragraph(text=f"Holds for: {shortened(condition_words(main), 300)}."),
        Paragraph(text=f"Rule: {shortened(rule_words(main.rule), 400)}"),
    ]
    if main.measure_again:
        again = rope_words(main.measure_again[:1])
        blocks.append(Paragraph(text=f"Would decide soonest: {again} measured again."))
    picture = shares_picture(main)
    if picture is not None:
        blocks.append(picture)
    if len(evidence.assessments) > 1:
        blocks.append(_all_series(evidence))
    return blocks


def _all_series(evidence: Evidence) -> Grid:
    """Every series in one line."""
    shown = evidence.assessments[-MOST_SERIES:]
    more = len(evidence.assessments) - len(shown)
    return Grid(
        caption="All series" if not more else f"The last series ({more} more later)",
        headers=("Series", "Result", "Spread", "At 95 %"),
        rows=tuple(
            (
                shortened(one.measurement.series.name, 60),
                VERDICT_WORDS[one.verdict],
                f"{best_words(one.spread)} {one.spread.metric.value}",
                interval_words(one.spread),
            )
            for one in shown
        ),
        widths=(1.2, 0.8, 1.3, 1.7),
    )


def _chain(chain: Chain, manner: Manner) -> list[Block]:
    """The chain, as much of it as fits; in full in its own section."""
    lines = [
        shortened(manner.say(line), LONGEST_LINE)
        for line in chain_lines(_with_short_texts(chain))
    ]
    if not lines:
        return [Paragraph(text="Condition of the ropes: no finding in this record.")]
    shown = lines
    if len(lines) > MOST_CHAIN_LINES:
        weighty = [line for line in lines if any(w in line for w in _WEIGHTY)]
        kept = (weighty + [line for line in lines if line not in weighty])[
            :MOST_CHAIN_LINES
        ]
        shown = [line for line in lines if line in kept]
        more = len(lines) - len(shown)
        shown.append(f"… and {more} more; see Condition of the ropes.")
    return [
        Paragraph(text="Condition of the ropes", weight=Weight.STRONG),
        Bullets(items=tuple(shown)),
    ]


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
        conditions=tuple(
            replace(c, finding=_short(c.finding) if c.finding else None)
            for c in chain.conditions
        ),
        ropes=tuple(
            replace(
                rope,
                breaks=tuple(
                    replace(b, finding=_short(b.finding)) for b in rope.breaks
                ),
                diameters=tuple(
                    replace(d, finding=_short(d.finding)) for d in rope.diameters
                ),
                gauges=tuple(
                    replace(g, finding=_short(g.finding)) for g in rope.gauges
                ),
                lays=tuple(replace(y, finding=_short(y.finding)) for y in rope.lays),
                deformations=tuple(_short(f) for f in rope.deformations),
            )
            for rope in chain.ropes
        ),
    )


def _short(finding: Finding) -> Finding:
    """A finding with its place and gauge shortened."""
    return replace(
        finding,
        at=shortened(finding.at, 40),
        gauge_size=shortened(finding.gauge_size, 20),
    )
