"""Nothing makes a result milder by itself: rouge, a slip, a class, a missing count."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.assessment.decide import Verdict
from tension.catalogue.allowances import allowance_tables, find_allowance_table
from tension.catalogue.ropes import contradicts, lay_fault, strands_of
from tension.catalogue.rules import find_rule
from tension.condition.chain import Chain, DiameterComparison, RopeChain
from tension.condition.comparison import BreakComparison, Outcome
from tension.condition.findings import (
    Allowance,
    Distribution,
    FigureOf,
    Finding,
    FindingKind,
    TypedFigure,
)
from tension.telling.condition import chain_lines
from tension.telling.page import Manner
from tests.condition.test_comparison import (
    CONFIRMED,
    EIGHT,
    broken,
    chain,
    condition,
    diameter,
    outcome,
)
from tests.synthesis.made_results import fraction, length, made_assessment

MILD = {Outcome.NONE_BROKEN, Outcome.WITHIN}
SIZES = ("3/8 in", "1/2 in", "5/8 in", "13 mm")
SIXTYFOURTHS = st.integers(20, 64).map(lambda n: f"{n}/64 in")


def first(*findings: Finding, **more: object) -> BreakComparison:
    """What comes of the first count, with every step."""
    return chain(*findings, **more).ropes[0].breaks[0]  # type: ignore[arg-type]


def said(found: Chain) -> str:
    """Every sentence of a chain."""
    return " ".join(line.text for line in chain_lines(found, Manner()))


def line_of(one: BreakComparison | DiameterComparison) -> str:
    """The sentence of one comparison."""
    rope = RopeChain(rope=1)
    if isinstance(one, BreakComparison):
        rope = replace(rope, breaks=(one,))
    else:
        rope = replace(rope, diameters=(one,))
    alone = replace(chain(one.finding), ropes=(rope,), conditions=())
    return chain_lines(alone, Manner())[-1].text


def severity(found: Outcome) -> int:
    """Nothing wrong, not known, too much."""
    return 0 if found in MILD else 2 if found is Outcome.EXCEEDS else 1


@given(
    table=st.sampled_from([t.name for t in allowance_tables()]),
    size=st.sampled_from(SIZES),
    one=SIXTYFOURTHS,
    other=SIXTYFOURTHS,
    with_rouge=st.none() | SIXTYFOURTHS,
)
def test_rouge_never_makes_a_diameter_better(
    table: str, size: str, one: str, other: str, with_rouge: str | None
) -> None:
    rope_set = replace(EIGHT, diameter=length(size))
    plain = chain(diameter(one, other), table=table, rope_set=rope_set)
    figures = plain.allowance.figures
    if with_rouge:
        figures = tuple(
            replace(f, least_with_rouge=length(with_rouge))
            if f.what is FigureOf.DIAMETER
            else f
            for f in figures
        )
    more = {"table": table, "rope_set": rope_set, "figures": figures}
    before = chain(diameter(one, other), **more)  # type: ignore[arg-type]
    after = chain(diameter(one, other), condition(counts=False), **more)  # type: ignore[arg-type]
    assert severity(after.ropes[0].diameters[0].outcome) >= severity(
        before.ropes[0].diameters[0].outcome
    )


def test_under_the_milder_row_is_said_also_with_rouge() -> None:
    rope_set = replace(EIGHT, diameter=length("1/2 in"))
    more = {"table": "a17-style", "rope_set": rope_set}
    rouge = condition(counts=False)
    found = chain(diameter("11.0 mm", "11.0 mm"), rouge, **more)  # type: ignore[arg-type]
    assert found.ropes[0].diameters[0].outcome is Outcome.EXCEEDS
    # between the two figures: not under the milder, unknown by the other until typed
    between = diameter("12.1 mm", "12.1 mm")
    found = chain(between, rouge, **more)  # type: ignore[arg-type]
    assert found.ropes[0].diameters[0].outcome is Outcome.ROUGE_NOT_HELD
    typed = (
        TypedFigure(
            what=FigureOf.DIAMETER,
            least=length("15/32 in"),
            least_with_rouge=length("31/64 in"),
        ),
    )
    found = chain(between, rouge, figures=typed, **more)  # type: ignore[arg-type]
    assert found.ropes[0].diameters[0].outcome is Outcome.EXCEEDS
    assert "where rouge shows" in line_of(found.ropes[0].diameters[0])


@given(nominal=st.integers(8, 40), hundredths=st.integers(-3, 3))
def test_a_diameter_is_decided_on_what_was_typed(nominal: int, hundredths: int) -> None:
    edge = Decimal(nominal) * 9 / 10
    text = f"{edge + Decimal(hundredths) / 100} mm"
    rope_set = replace(EIGHT, diameter=length(f"{nominal} mm"))
    compared = chain(diameter(text, text), rope_set=rope_set).ropes[0].diameters[0]
    expected = Outcome.EXCEEDS if hundredths < 0 else Outcome.WITHIN
    assert compared.outcome is expected
    line = line_of(compared)
    mean, bound = line.split("mean ")[1], line.split("at least ")[1]
    if hundredths:
        assert mean.split(" ")[0] != bound.split(" ")[0], line


TABLES_OF_BREAKS = [t.name for t in allowance_tables() if t.breaks]


@given(
    table=st.sampled_from(TABLES_OF_BREAKS),
    kind=st.sampled_from(list(Distribution)),
    count=st.integers(1, 60),
    typed=st.integers(0, 60),
    strand=st.none() | st.integers(0, 30),
)
def test_no_figure_typed_alone_makes_within_what_the_copy_exceeds(
    table: str, kind: Distribution, count: int, typed: int, strand: int | None
) -> None:
    finding = replace(broken(count, kind), adjacent=min(count, 4))
    held = chain(finding, table=table).ropes[0].breaks[0].outcome
    figures = (TypedFigure(what=FigureOf(kind.value), breaks=typed, in_strand=strand),)
    found = first(finding, table=table, figures=figures)
    if held in {Outcome.EXCEEDS, Outcome.EXAMINE}:
        assert found.outcome is not Outcome.WITHIN
    if found.outcome in {Outcome.EXCEEDS, Outcome.EXAMINE} and found.held:
        assert held not in {Outcome.WITHIN}


@given(
    table=st.sampled_from(TABLES_OF_BREAKS),
    kind=st.sampled_from(list(Distribution)),
    count=st.integers(1, 60),
    data=st.data(),
)
def test_a_count_that_is_not_written_down_is_never_taken_for_a_mild_one(
    table: str, kind: Distribution, count: int, data: st.DataObject
) -> None:
    known = replace(
        broken(count, kind),
        in_one_strand=data.draw(st.integers(-(-count // 8), count)),
        adjacent=data.draw(st.integers(1, count)),
    )
    without = replace(known, in_one_strand=None)
    for rope_class in ("6x19", "8x19"):
        rope_set = replace(EIGHT, construction=rope_class)
        sure = outcome(known, table=table, rope_set=rope_set)
        found = outcome(without, table=table, rope_set=rope_set)
        if found is Outcome.WITHIN:
            assert sure is Outcome.WITHIN
        if found is Outcome.EXCEEDS and kind is not Distribution.SIDE_BY_SIDE:
            shares = {Distribution.ONE_OR_TWO_STRANDS: 2}.get(kind, 6)
            assert sure is Outcome.EXCEEDS or known.in_one_strand < -(-count // shares)  # type: ignore[operator]


def test_a_count_over_the_lay_exceeds_though_the_figure_of_a_strand_is_not_typed() -> (
    None
):
    kind = Distribution.ONE_OR_TWO_STRANDS
    figures = (
        TypedFigure(what=FigureOf(kind.value), fraction_of_wires=fraction("5 %")),
    )
    more = {"table": "cfr30-56.19024", "figures": figures}
    over = first(broken(9, kind), **more)  # 5 % of 152 wires are 7.6
    assert over.outcome is Outcome.EXCEEDS
    assert first(broken(7, kind), **more).outcome is Outcome.NOT_TYPED


def test_a_figure_not_typed_is_not_compared_and_not_printed() -> None:
    found = first(broken(31), figures=())
    assert found.outcome is Outcome.NOT_TYPED
    assert "30" not in line_of(found)
    found = first(broken(31), figures=(TypedFigure(what=FigureOf.VALLEY, breaks=1),))
    assert found.outcome is Outcome.NOT_TYPED


def test_the_figure_typed_is_shown_and_a_slip_is_told() -> None:
    typed = (TypedFigure(what=FigureOf.SPREAD, breaks=34),)
    within = line_of(first(broken(20), figures=typed))
    assert "the figure typed allows up to 34: within" in within
    assert "copy (seen) has up to 30" in within
    slip = first(broken(32), figures=typed)
    assert slip.outcome is Outcome.FIGURES_DIFFER
    assert "look it up again" in line_of(slip)


@pytest.mark.parametrize("key", ["edition", "page", "confirmed_by"])
@pytest.mark.parametrize("value", ["?", "-", " ", "...", "–"])
def test_a_mark_in_place_of_a_word_confirms_nothing(key: str, value: str) -> None:
    allowance: Allowance = replace(CONFIRMED, **{key: value})  # type: ignore[arg-type]
    assert allowance.missing == (key,)
    assert outcome(broken(31), allowance=allowance) is Outcome.NOT_CONFIRMED


@pytest.mark.parametrize(
    ("construction", "count", "expected"),
    [
        # 8 strands of 19 wires and 6 fillers: 10 % of 152 is 15.2
        ("8x25 filler FC", 15, Outcome.WITHIN),
        ("8x25 filler FC", 16, Outcome.EXCEEDS),
        ("8x25F", 16, Outcome.EXCEEDS),
        ("8x25 FC", 16, Outcome.EXCEEDS),  # no word: taken for one with fillers
        ("8x19 Seale FC", 16, Outcome.EXCEEDS),
        ("8x19 Seale FC", 15, Outcome.WITHIN),
        ("8x19 filler", 15, Outcome.NO_WIRES),
    ],
)
def test_filler_wires_are_not_counted_among_the_wires(
    construction: str, count: int, expected: Outcome
) -> None:
    rope_set = replace(EIGHT, construction=construction)
    allowance = replace(CONFIRMED, rope_class="8x19")
    found = outcome(
        broken(count),
        table="japan-structure-40",
        rope_set=rope_set,
        allowance=allowance,
    )
    assert found is expected


@pytest.mark.parametrize("kind", [*Distribution])
def test_the_mine_rule_speaks_of_wires_wherever_they_lie(kind: Distribution) -> None:
    finding = replace(broken(9, kind), in_one_strand=2)
    found = outcome(finding, table="cfr30-56.19024")
    assert found is Outcome.EXCEEDS  # 5 % of 152 is 7.6, or more than one valley break


def test_one_strand_has_its_own_figure_in_the_mine_rule() -> None:
    # 15 % of 19 wires is 2.85
    for most, expected in ((2, Outcome.WITHIN), (3, Outcome.EXCEEDS)):
        finding = replace(broken(6), in_one_strand=most)
        assert outcome(finding, table="cfr30-56.19024") is expected
    assert outcome(broken(6), table="cfr30-56.19024") is Outcome.STRAND_NOT_COUNTED


def test_rusted_or_worn_wires_have_their_own_figure_where_the_inspector_counts_it() -> (
    None
):
    finding = replace(broken(9), in_one_strand=3)
    corrosion = condition(FindingKind.CORROSION)
    found = first(finding, table="jis-a-4302")
    assert found.outcome is Outcome.WITHIN
    assert "badly rusted or worn" in line_of(found)
    found = first(finding, corrosion, table="jis-a-4302")
    assert found.outcome is Outcome.EXCEEDS
    assert found.is_worn
    seen = replace(corrosion, counts=False)
    assert outcome(finding, seen, table="jis-a-4302") is Outcome.WITHIN


def test_corrosion_is_named_where_the_table_discards_for_it() -> None:
    corrosion = condition(FindingKind.CORROSION, counts=False)
    told = said(chain(corrosion))
    assert "Rope 1: corrosion seen; the table discards for it; judged by sight" in told
    told = said(chain(corrosion, table="a17-style"))
    assert "discards for it" not in told


def test_a_threshold_for_examination_is_no_exceedance() -> None:
    found = chain(broken(16), table="iso-4344-examine").ropes[0]
    assert found.breaks[0].outcome is Outcome.EXAMINE
    assert Outcome.EXCEEDS not in {one.outcome for one in found.compared}
    assert outcome(broken(15), table="iso-4344-examine") is Outcome.WITHIN


@pytest.mark.parametrize(
    ("count", "adjacent", "expected"),
    [
        (16, 4, Outcome.WITHIN),
        (17, 5, Outcome.EXCEEDS),
        (16, 6, Outcome.ROW_NOT_FOR_IT),
        (17, 6, Outcome.EXCEEDS),
        (17, 3, Outcome.ROW_NOT_FOR_IT),
        (17, None, Outcome.ROW_NOT_FOR_IT),
    ],
)
def test_four_or_five_side_by_side_are_counted_with_all_of_the_lay(
    count: int, adjacent: int | None, expected: Outcome
) -> None:
    finding = replace(broken(count, Distribution.SIDE_BY_SIDE), adjacent=adjacent)
    assert outcome(finding, table="a17-style") is expected


def test_other_tables_count_those_side_by_side_alone() -> None:
    for adjacent, expected in ((4, Outcome.WITHIN), (5, Outcome.EXCEEDS)):
        finding = replace(broken(12, Distribution.SIDE_BY_SIDE), adjacent=adjacent)
        assert outcome(finding) is expected


@pytest.mark.parametrize(
    ("named", "built", "is_wrong"),
    [
        ("9x19", "6x19 FC", True),
        ("8x19", "8x25 filler FC", False),
        ("8x19", "8x36 WS", True),
        ("8x25", "8x19 FC", True),
        ("6x36", "6x41 WS IWRC", False),
        ("51-75 wires", "8x19 FC", False),
        ("8x19", "coated", False),
    ],
)
def test_a_class_that_contradicts_the_construction_is_refused(
    *, named: str, built: str, is_wrong: bool
) -> None:
    assert contradicts(named, built) is is_wrong
    allowance = replace(CONFIRMED, rope_class=named)
    rope_set = replace(EIGHT, construction=built)
    found = outcome(broken(1), allowance=allowance, rope_set=rope_set)
    assert (found is Outcome.CLASS_CONTRADICTS) is is_wrong


def test_the_class_used_is_printed() -> None:
    assert "class 8x19, the figure typed allows" in line_of(first(broken(3)))


@pytest.mark.parametrize(
    ("construction", "outer"),
    [("8x19 Seale", 9), ("8x19 Warrington", 12), ("8x25 filler", 12), ("8x19 FC", 12)],
)
def test_so_many_wires_lie_at_the_surface_of_a_strand(
    construction: str, outer: int
) -> None:
    # 1+9+9, 1+6+(6+6), 1+6+6f+12: by the constructions themselves
    strands = strands_of(construction)
    assert strands is not None
    assert strands.most_outer == outer


@pytest.mark.parametrize(
    ("lay", "lays", "is_lay"),
    [
        ("84 mm", 1, True),
        ("1000 mm", 1, False),
        ("10 mm", 1, False),
        ("52 mm", 1, True),
        ("51.9 mm", 1, False),
        ("430 mm", 5, True),
        ("430 mm", 1, False),
    ],
)
def test_a_length_that_is_no_lay_decides_nothing(
    *, lay: str, lays: int, is_lay: bool
) -> None:
    assert (not lay_fault(length(lay), length("13 mm"), lays)) is is_lay
    if lays == 1:
        finding = replace(broken(31), lay=length(lay))
        assert outcome(finding) is (Outcome.EXCEEDS if is_lay else Outcome.NO_LAY)


def test_a_lay_that_was_not_written_down_is_told() -> None:
    assert "its length not written down" in line_of(first(broken(31)))


@pytest.mark.parametrize(
    ("rule", "asks"),
    [
        ("a17.1-8.6.4.1.3", False),
        ("gb50310-2002-4.9.5", True),
        ("program-default", True),
    ],
)
def test_an_allowance_halved_by_another_code_says_so_and_asks(
    *, rule: str, asks: bool
) -> None:
    shown = made_assessment(Verdict.UNEQUAL, rule=find_rule(rule))
    counted = condition(FindingKind.UNEQUAL_TENSION, rope=None)
    found = first(broken(17), counted, table="a17-style", assessments=(shown,))
    assert found.reduced_by
    line = line_of(found)
    assert ("ask whether the table's code counts it" in line) is asks
    if asks:
        assert rule in line
        assert "not reduced: within the allowance" in line


def test_a_published_rule_with_a_house_limit_is_asked_for_too() -> None:
    rule = replace(find_rule("a17.1-8.6.4.1.3"), limit=0.005, changed_from=0.10)
    shown = made_assessment(Verdict.UNEQUAL, rule=rule)
    counted = condition(FindingKind.UNEQUAL_TENSION, rope=None)
    found = first(broken(17), counted, table="a17-style", assessments=(shown,))
    assert "ask whether" in line_of(found)


def test_a_part_of_the_wires_may_be_typed() -> None:
    typed = (TypedFigure(what=FigureOf.SPREAD, fraction_of_wires=fraction("10 %")),)
    for count, expected in ((15, Outcome.WITHIN), (16, Outcome.EXCEEDS)):
        found = first(broken(count), table="japan-structure-40", figures=typed)
        assert found.outcome is expected


def test_only_one_table_is_of_examination() -> None:
    names = [t.name for t in allowance_tables() if t.is_for_examination]
    assert names == ["iso-4344-examine"]
    assert find_allowance_table("iso-4344-examine").title.startswith("Broken wires")


def test_a_deformation_without_a_rope_is_told_too() -> None:
    kink = condition(FindingKind.KINK, rope=None, counts=False)
    told = said(chain(kink))
    assert "The set: kink seen; the table discards for it; judged by sight" in told
