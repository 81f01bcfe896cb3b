"""Where counts, sizes and conditions turn: just inside and just outside."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import pytest

from tension.assessment.decide import Assessment, Verdict
from tension.catalogue import Standing
from tension.catalogue.allowances import AllowanceTable, BreakRow, DiameterRow, When
from tension.catalogue.ropes import contradicts, lay_fault, strands_of
from tension.catalogue.rules import find_rule
from tension.condition.chain import Chain, DiameterComparison, build_chain
from tension.condition.comparison import (
    BreakComparison,
    BreakLimits,
    Outcome,
    needs_makers_criteria,
)
from tension.condition.findings import (
    Allowance,
    ConditionState,
    Distribution,
    FigureOf,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
    TypedFigure,
    foreign_rules,
)
from tension.installation import RopeSet
from tests.condition.test_comparison import (
    CONFIRMED,
    EIGHT,
    broken,
    chain,
    condition,
    diameter,
    outcome,
    unequal,
)
from tests.synthesis.made_results import fraction, length, made_assessment

SPREAD, ONE_OR_TWO = Distribution.SPREAD, Distribution.ONE_OR_TWO_STRANDS
BESIDE = Distribution.SIDE_BY_SIDE
OWN = AllowanceTable(name="own", source="own", edition="1", standing=Standing.USER)
ROW = BreakRow(rope_class="*", standing=Standing.USER, breaks=100)


def own(
    *findings: Finding,
    row: BreakRow | None = ROW,
    figure: TypedFigure | None = None,
    rope_set: RopeSet = EIGHT,
    rope_class: str = "",
    **of_table: object,
) -> Chain:
    """The chain by a table of one row, its figure typed as the row has it."""
    kind = findings[0].distribution or SPREAD
    if figure is None and row is not None:
        figure = TypedFigure(
            what=FigureOf(kind.value),
            breaks=row.breaks,
            fraction_of_wires=row.fraction_of_wires,
            in_strand=row.in_strand,
            in_strand_worn=row.in_strand_worn,
            fraction_of_strand=row.fraction_of_strand,
        )
    rows = () if row is None else (row,)
    return build_chain(
        findings,
        rope_set=rope_set,
        assessments=(),
        allowance=replace(
            CONFIRMED,
            table="own",
            rope_class=rope_class,
            figures=() if figure is None else (figure,),
        ),
        table=replace(OWN, breaks=rows, **of_table),  # type: ignore[arg-type]
    )


def own_breaks(*findings: Finding, **more: object) -> BreakComparison:
    return own(*findings, **more).ropes[0].breaks[0]  # type: ignore[arg-type]


# --- strands, wires, lays ---


@pytest.mark.parametrize(
    ("construction", "n_filler", "outer"),
    [
        ("8x21 FC", 5, 10),
        ("6x25", 6, 12),
        ("6x29 Fi", 7, 14),
        ("8x25 Seale", 0, 12),
        ("8x25 Warrington", 0, 16),
        ("8x25 Seale filler", 6, 12),
        ("8x25 Warrington Seale", 0, 16),
        ("6x26 WS", 0, 16),
        ("6x22 FC", 0, 14),
        ("6x30 FC", 0, 19),
        ("6x7 FC", 0, 6),
        ("6x8 FC", 0, 4),
        ("6x31 fill", None, 20),
    ],
)
def test_filler_wires_and_those_at_the_surface_by_construction(
    construction: str, n_filler: int | None, outer: int
) -> None:
    # n wires, n fillers and 2 n around one: 1 + 5 + 5 + 10 and so on
    strands = strands_of(construction)
    assert strands is not None
    assert (strands.n_filler, strands.most_outer) == (n_filler, outer)


@pytest.mark.parametrize(
    ("named", "inside", "outside"),
    [("7", (5, 9), (4, 10)), ("19", (15, 26), (14, 27)), ("36", (27, 57), (26, 58))],
)
def test_a_class_holds_so_many_wires_of_a_strand(
    named: str, inside: Iterable[int], outside: Iterable[int]
) -> None:
    assert not any(contradicts(f"8x{named}", f"8x{n} FC") for n in inside)
    assert all(contradicts(f"8x{named}", f"8x{n} FC") for n in outside)


@pytest.mark.parametrize(
    ("text", "lays", "diameters"),
    [
        ("51.99 mm", 1, 3.99923),
        ("52 mm", 1, 0.0),
        ("130 mm", 1, 0.0),
        ("130.01 mm", 1, 10.00077),
        ("260 mm", 2, 0.0),
        ("260.01 mm", 2, 10.00038),
    ],
)
def test_a_lay_lies_between_four_and_ten_diameters(
    text: str, lays: int, diameters: float
) -> None:
    fault = lay_fault(length(text), length("13 mm"), lays)
    assert (fault.diameters if fault else 0.0) == pytest.approx(diameters, rel=1e-5)
    assert fault is None or fault.lays == lays
    assert lay_fault(length(text), None, lays) is None
    assert lay_fault(None, length("13 mm"), lays) is None
    assert lay_fault(length(text), length("0 mm"), lays) is None


@pytest.mark.parametrize(
    ("diameter_", "is_special"), [("7.95 mm", False), ("7.949 mm", True)]
)
def test_ropes_under_eight_millimetres_are_special(
    *, diameter_: str, is_special: bool
) -> None:
    rope_set = replace(EIGHT, diameter=length(diameter_))
    assert needs_makers_criteria(rope_set) is is_special
    assert not needs_makers_criteria(replace(EIGHT, diameter=None))


# --- counts of broken wires ---


@pytest.mark.parametrize(
    ("finding", "least"),
    [
        (broken(17), 3),  # over eight strands
        (broken(16), 2),
        (broken(5, ONE_OR_TWO), 3),
        (broken(4, ONE_OR_TWO), 2),
        (broken(9, BESIDE), 1),
        (replace(broken(9, BESIDE), adjacent=4), 4),
        (replace(broken(9), adjacent=4), 2),
    ],
)
def test_one_strand_has_at_least_its_even_share(finding: Finding, least: int) -> None:
    """What one strand has lies between that and all of the lay."""
    expected = {
        least - 1: Outcome.EXCEEDS,
        least: Outcome.STRAND_NOT_COUNTED,
        (finding.broken or 0) - 1: Outcome.STRAND_NOT_COUNTED,
        finding.broken: Outcome.WITHIN,
    }
    for in_strand, comes in expected.items():
        row = replace(ROW, in_strand=in_strand)
        assert own_breaks(finding, row=row).outcome is comes
    known = replace(finding, in_one_strand=3)
    for in_strand, comes in ((2, Outcome.EXCEEDS), (3, Outcome.WITHIN)):
        row = replace(ROW, in_strand=in_strand)
        assert own_breaks(known, row=row).outcome is comes


def test_strands_that_are_not_known_may_be_any_number() -> None:
    rope_set = replace(EIGHT, construction="locked coil")
    for in_strand, comes in (
        (0, Outcome.EXCEEDS),
        (1, Outcome.STRAND_NOT_COUNTED),
        (30, Outcome.WITHIN),
    ):
        row = replace(ROW, in_strand=in_strand)
        found = own_breaks(broken(30), row=row, rope_set=rope_set, rope_class="any")
        assert found.outcome is comes
        assert found.rope_class == "any"


def test_those_side_by_side_count_where_the_row_is_of_them() -> None:
    row = replace(ROW, breaks=4, in_strand=5, is_of_adjacent=True)
    assert own_breaks(broken(5, BESIDE), row=row).outcome is Outcome.EXCEEDS
    finding = replace(broken(5, BESIDE), adjacent=4)
    assert own_breaks(finding, row=row).outcome is Outcome.WITHIN
    row = replace(row, in_strand=3)
    assert own_breaks(finding, row=row).outcome is Outcome.EXCEEDS
    row = replace(row, breaks=100, in_strand=5)
    assert own_breaks(broken(6, BESIDE), row=row).outcome is Outcome.EXCEEDS


@pytest.mark.parametrize("count", [16, 17])
@pytest.mark.parametrize("adjacent", [None, 3, 4, 5, 6])
def test_a_row_for_four_or_five_side_by_side_is_for_no_other_number(
    count: int, adjacent: int | None
) -> None:
    row = replace(ROW, breaks=16, adjacent_from=4, adjacent_to=5)
    finding = replace(broken(count, BESIDE), adjacent=adjacent)
    is_for_it = adjacent in {4, 5} or (adjacent == 6 and count == 17)
    comes = Outcome.EXCEEDS if count == 17 else Outcome.WITHIN
    found = own_breaks(finding, row=row).outcome
    assert found is (comes if is_for_it else Outcome.ROW_NOT_FOR_IT)


@pytest.mark.parametrize(
    ("when", "first"), [(When.OVER, 11), (When.REACHES, 10)], ids=str
)
def test_an_allowance_is_exceeded_from(when: When, first: int) -> None:
    row = replace(ROW, breaks=10, when=when)
    for count, comes in ((first - 1, Outcome.WITHIN), (first, Outcome.EXCEEDS)):
        found = own_breaks(broken(count), row=row)
        assert found.outcome is comes
        assert found.when is when
    # without a row the figure typed allows that many
    typed = TypedFigure(what=FigureOf.SPREAD, breaks=10)
    found = own_breaks(broken(10), row=None, figure=typed)
    assert (found.outcome, found.when) == (Outcome.WITHIN, When.OVER)


def test_parts_are_of_the_wires_that_are_no_fillers_unless_those_count() -> None:
    # 8 strands of 19 wires and 6 fillers
    rope_set = replace(EIGHT, construction="8x25 filler FC")
    row = replace(
        ROW,
        breaks=None,
        fraction_of_wires=fraction("10 %"),
        fraction_of_strand=fraction("50 %"),
    )
    for has_filler, lay, strand in ((False, 15.2, 9.5), (True, 20.0, 12.5)):
        row = replace(row, has_filler_counted=has_filler)
        held = own_breaks(broken(3), row=row, rope_set=rope_set).held
        assert held is not None
        assert float(held.lay) == pytest.approx(lay)
        assert held.strand is not None
        assert float(held.strand) == pytest.approx(strand)
    unknown = replace(EIGHT, construction="locked coil")
    found = own_breaks(broken(3), row=row, rope_set=unknown, rope_class="any")
    assert found.outcome is Outcome.NO_WIRES
    assert (found.typed, found.held) == (None, None)
    row = replace(row, fraction_of_strand=None)
    found = own_breaks(broken(3), row=row, rope_set=rope_set)
    assert found.held is not None
    assert found.held.strand is None


@pytest.mark.parametrize(
    ("is_monthly", "if_monthly", "lay"),
    [(False, 6, 4), (True, 6, 6), (True, None, 4), (False, None, 4)],
)
def test_the_higher_figure_is_for_inspection_every_month(
    *, is_monthly: bool, if_monthly: int | None, lay: int
) -> None:
    allowance = replace(
        CONFIRMED,
        is_inspected_monthly=is_monthly,
        figures=(TypedFigure(what=FigureOf.SPREAD, breaks=5),),
    )
    row = replace(ROW, breaks=4, breaks_if_monthly=if_monthly)
    found = build_chain(
        [broken(1)],
        rope_set=EIGHT,
        assessments=(),
        allowance=allowance,
        table=replace(OWN, breaks=(row,)),
    )
    compared = found.ropes[0].breaks[0]
    assert compared.held == BreakLimits(lay=Fraction(lay))
    assert compared.typed == BreakLimits(lay=Fraction(5))


@pytest.mark.parametrize(
    ("of_row", "of_figure", "held", "typed"),
    [
        ((5, 2), (5, 3), 2, 3),
        ((5, None), (5, 3), 5, 3),
        ((5, 2), (5, None), 2, None),
        ((5, None), (6, None), 5, 6),
    ],
)
def test_badly_worn_wires_take_the_figures_for_worn_ones(
    of_row: tuple[int, int | None],
    of_figure: tuple[int, int | None],
    held: int,
    typed: int | None,
) -> None:
    row = replace(ROW, in_strand=of_row[0], in_strand_worn=of_row[1])
    figure = TypedFigure(
        what=FigureOf.SPREAD,
        breaks=100,
        in_strand=of_figure[0],
        in_strand_worn=of_figure[1],
    )
    finding = replace(broken(101), in_one_strand=1)  # over the lay in any case
    worn = condition(FindingKind.CORROSION)
    found = own_breaks(finding, worn, row=row, figure=figure)
    assert found.is_worn
    assert (found.held and found.held.strand) == held
    assert (found.typed and found.typed.strand) == typed
    plain = own_breaks(finding, row=row, figure=figure)
    assert not plain.is_worn
    assert (plain.held and plain.held.strand) == of_row[0]
    assert (plain.typed and plain.typed.strand) == of_figure[0]


def test_a_reduction_takes_from_lay_and_strand_and_tells_what_else_would_come() -> None:
    row = replace(ROW, breaks=32, in_strand=8)
    more = {
        "row": row,
        "reduction": fraction("50 %"),
        "reduced_for": ("rouge",),
    }
    for count, in_strand, comes, unreduced in (
        (16, 4, Outcome.WITHIN, Outcome.WITHIN),
        (17, 4, Outcome.EXCEEDS, Outcome.WITHIN),
        (16, 5, Outcome.EXCEEDS, Outcome.WITHIN),
        (33, 4, Outcome.EXCEEDS, Outcome.EXCEEDS),
    ):
        finding = replace(broken(count), in_one_strand=in_strand)
        found = own_breaks(finding, condition(), **more)
        assert (found.outcome, found.unreduced) == (comes, unreduced)
        assert found.allowed == BreakLimits(lay=Fraction(16), strand=Fraction(4))
        plain = own_breaks(finding, **more)
        assert plain.unreduced is None
        assert (
            plain.allowed
            == plain.typed
            == BreakLimits(lay=Fraction(32), strand=Fraction(8))
        )
    worn = own_breaks(broken(17), condition(FindingKind.CORROSION), **more)
    assert not worn.reduced_by


def test_what_cannot_be_held_against_a_table_says_why_and_nothing_else() -> None:
    no_rope = replace(broken(3), rope=None)
    assert not own(no_rope).ropes[0].breaks
    for finding, comes in (
        (replace(broken(3), seen=Seen.COULD_NOT_SEE), Outcome.COULD_NOT_SEE),
        (replace(broken(3), broken=None), Outcome.COULD_NOT_SEE),
        (broken(0), Outcome.NONE_BROKEN),
        (replace(broken(3), lay=length("1 m")), Outcome.NO_LAY),
    ):
        found = own_breaks(finding)
        assert found == BreakComparison(
            finding=finding, outcome=comes, rope_class="8x19"
        )
        assert not found.is_worn
    assert own_breaks(broken(3), row=None).outcome is Outcome.NO_ROW
    typed = TypedFigure(what=FigureOf.VALLEY, breaks=1)
    assert own_breaks(broken(3), figure=typed).outcome is Outcome.NOT_TYPED


# --- diameters and gauges ---


def sized(
    one: str, other: str, figure: TypedFigure | None, *more: Finding, **table: object
) -> DiameterComparison:
    figures = () if figure is None else (figure,)
    found = build_chain(
        [diameter(one, other), *more],
        rope_set=EIGHT,
        assessments=(),
        allowance=replace(CONFIRMED, figures=figures),
        table=replace(OWN, **table),  # type: ignore[arg-type]
    )
    return found.ropes[0].diameters[0]


LEAST = TypedFigure(what=FigureOf.DIAMETER, least=length("12 mm"))
DIAMETER_ROW = DiameterRow(
    size=length("13 mm"),
    size_to=length("13 mm"),
    standing=Standing.SEEN,
    least=length("12 mm"),
)
ROUGE = condition(counts=False)


def test_the_mean_decides_and_the_smaller_is_told() -> None:
    rows = {"diameters": (DIAMETER_ROW,)}
    for one, other, comes, is_under in (
        ("12 mm", "12 mm", Outcome.WITHIN, False),
        ("11.9 mm", "12.1 mm", Outcome.WITHIN, True),
        ("12.1 mm", "11.8 mm", Outcome.EXCEEDS, True),
    ):
        found = sized(one, other, LEAST, **rows)
        assert (found.outcome, found.is_smaller_under) == (comes, is_under)
        assert float(found.held or 0) == pytest.approx(0.012)
        assert found.standing is Standing.SEEN
        assert not found.is_by_rouge
    assert not sized("1 mm", "1 mm", None, **rows).is_smaller_under


def test_a_loss_or_a_part_is_of_the_nominal_diameter() -> None:
    kind = FigureOf.DIAMETER
    for figure in (
        TypedFigure(what=kind, most_loss=length("1 mm")),
        TypedFigure(what=kind, least_fraction=fraction("92.307692307692 %")),
    ):
        found = sized("12 mm", "12 mm", figure)
        assert float(found.least or 0) == pytest.approx(0.012)
    row = replace(DIAMETER_ROW, least=None, most_loss=length("2 mm"))
    found = sized("12 mm", "12 mm", LEAST, diameters=(row,))
    assert float(found.held or 0) == pytest.approx(0.011)
    found = sized("12 mm", "12 mm", LEAST, least_fraction=fraction("50 %"))
    assert float(found.held or 0) == pytest.approx(0.0065)
    assert found.standing is Standing.USER


def test_a_size_without_a_figure_says_whether_the_table_has_it() -> None:
    rows = {"diameters": (DIAMETER_ROW,)}
    assert sized("12 mm", "12 mm", None).outcome is Outcome.NO_ROW
    assert sized("12 mm", "12 mm", None, **rows).outcome is Outcome.NOT_TYPED
    only_rouge = TypedFigure(what=FigureOf.DIAMETER, least_with_rouge=length("12.5 mm"))
    assert sized("12 mm", "12 mm", only_rouge).outcome is Outcome.NOT_TYPED


@pytest.mark.parametrize(
    ("plain", "rouge", "by_rouge", "held"),
    [
        ("12 mm", "12.5 mm", True, 0.0124),
        ("12 mm", "12 mm", True, 0.0124),
        ("12 mm", "11.5 mm", False, 0.012),
        ("", "12.5 mm", True, 0.0124),
    ],
)
def test_with_rouge_the_stricter_figure_decides(
    *, plain: str, rouge: str, by_rouge: bool, held: float
) -> None:
    figure = TypedFigure(
        what=FigureOf.DIAMETER,
        least=length(plain) if plain else None,
        least_with_rouge=length(rouge),
    )
    row = replace(DIAMETER_ROW, least_with_rouge=length("12.4 mm"))
    found = sized("11 mm", "11 mm", figure, ROUGE, diameters=(row,))
    assert found.outcome is Outcome.EXCEEDS
    assert found.is_by_rouge is by_rouge
    stricter = max(length(one).value for one in (plain, rouge) if one)
    assert float(found.least or 0) == pytest.approx(stricter)
    assert float(found.held or 0) == pytest.approx(held)
    if plain:
        dry = sized("13 mm", "13 mm", figure, diameters=(row,))
        assert (dry.outcome, dry.is_by_rouge) == (Outcome.WITHIN, False)


def test_figures_for_rouge_that_one_side_lacks() -> None:
    both = replace(LEAST, least_with_rouge=length("12.5 mm"))
    # under neither by what was typed; the copy holds no figure for rouge
    assert sized("13 mm", "13 mm", both, ROUGE).outcome is Outcome.WITHIN
    assert sized("12.2 mm", "12.2 mm", both, ROUGE).outcome is Outcome.EXCEEDS
    column = {"has_rouge_column": True}
    assert sized("13 mm", "13 mm", LEAST, ROUGE, **column).outcome is (
        Outcome.ROUGE_NOT_HELD
    )
    assert sized("13 mm", "13 mm", LEAST, **column).outcome is Outcome.WITHIN
    assert sized("13 mm", "13 mm", LEAST, ROUGE).outcome is Outcome.WITHIN
    row = replace(DIAMETER_ROW, least_with_rouge=length("12.4 mm"))
    half = sized("13 mm", "13 mm", LEAST, ROUGE, diameters=(row,))
    assert half.outcome is Outcome.FIGURES_DIFFER
    row = replace(DIAMETER_ROW, least=length("12.8 mm"))
    slip = sized("12.5 mm", "12.5 mm", LEAST, diameters=(row,))
    assert slip.outcome is Outcome.FIGURES_DIFFER


def test_rouge_is_of_this_rope_or_of_the_set_and_was_seen() -> None:
    def has_rouge(finding: Finding) -> bool:
        return sized("13 mm", "13 mm", LEAST, finding).has_rouge

    assert has_rouge(ROUGE)
    assert has_rouge(replace(ROUGE, rope=None))
    assert not has_rouge(replace(ROUGE, rope=2))
    assert not has_rouge(replace(ROUGE, seen=Seen.NO))
    assert not has_rouge(replace(ROUGE, kind=FindingKind.CORROSION))


def test_a_diameter_without_a_nominal_one_or_a_table_is_not_compared() -> None:
    found = chain(diameter("12 mm", "12 mm"), rope_set=replace(EIGHT, diameter=None))
    assert found.ropes[0].diameters[0].outcome is Outcome.NO_SIZE
    found = chain(diameter("12 mm", "12 mm", seen=Seen.COULD_NOT_SEE))
    assert found.ropes[0].diameters[0].outcome is Outcome.COULD_NOT_SEE
    found = chain(diameter("12 mm", "12 mm"), allowance=Allowance())
    assert found.ropes[0].diameters[0].outcome is Outcome.NOT_CONFIRMED
    three = replace(diameter("12 mm", "12 mm"), diameters=(length("12 mm"),) * 3)
    assert not chain(three).ropes[0].diameters


@pytest.mark.parametrize(
    ("entry", "dry", "with_rouge"),
    [
        (GaugeEntry.STAYS_OUT, Outcome.WITHIN, Outcome.WITHIN),
        (GaugeEntry.FIRST_STEP, Outcome.WITHIN, Outcome.EXCEEDS),
        (GaugeEntry.WHOLE_GROOVE, Outcome.EXCEEDS, Outcome.EXCEEDS),
    ],
)
def test_a_gauge_that_enters_so_far_says(
    entry: GaugeEntry, dry: Outcome, with_rouge: Outcome
) -> None:
    # common practice, no source
    gauge = replace(
        diameter("1 m", "1 m"), diameters=(), gauge=(GaugeEntry.STAYS_OUT, entry)
    )
    assert chain(gauge).ropes[0].gauges[0].outcome is dry
    assert chain(gauge, ROUGE).ropes[0].gauges[0].outcome is with_rouge
    unsure = chain(gauge, allowance=replace(CONFIRMED, page=""))
    assert unsure.ropes[0].gauges[0].outcome is Outcome.NOT_CONFIRMED
    assert not chain(diameter("12 mm", "12 mm")).ropes[0].gauges


# --- the chain ---


def test_a_chain_has_every_rope_and_what_is_its_own() -> None:
    kink = condition(FindingKind.KINK, rope=2, counts=False)
    found = chain(kink, replace(kink, rope=None), replace(kink, seen=Seen.NO))
    assert [rope.rope for rope in found.ropes] == [1, 2, 3, 4]
    assert [rope.deformations for rope in found.ropes] == [(), (kink,), (), ()]
    assert found.of_the_set == (replace(kink, rope=None),)
    of_the_set = replace(kink, rope=None, kind=FindingKind.CORROSION)
    assert chain(of_the_set).of_the_set == ()
    assert chain(replace(kink, rope=None, seen=Seen.NO)).of_the_set == ()


def test_what_the_table_names_is_judged_by_sight_only_if_it_is_confirmed() -> None:
    corrosion = condition(FindingKind.CORROSION, counts=False)
    assert chain(corrosion).ropes[0].deformations == (corrosion,)
    unsure = chain(corrosion, allowance=Allowance())
    assert unsure.ropes[0].deformations == ()
    assert chain(replace(corrosion, seen=Seen.NO)).ropes[0].deformations == ()
    assert chain(broken(3)).ropes[0].deformations == ()


def lay(text: str, baseline: str = "", lays: int | None = None) -> Finding:
    return Finding(
        rope=1,
        kind=FindingKind.LAY_LENGTH,
        at="",
        seen=Seen.YES,
        lay=length(text) if text else None,
        lays=lays,
        baseline=length(baseline) if baseline else None,
    )


def test_something_of_a_rope_is_a_count_a_reading_a_lay_or_a_deformation() -> None:
    assert not chain(ROUGE).ropes[0].has_anything
    for finding in (
        broken(0),
        diameter("12 mm", "12 mm"),
        lay("84 mm"),
        condition(FindingKind.KINK, counts=False),
    ):
        assert chain(finding).ropes[0].has_anything
        assert not chain(finding).ropes[1].has_anything


def test_a_lay_is_one_of_those_measured_and_may_be_none_of_this_rope() -> None:
    (change,) = chain(lay("430 mm", "80 mm", 5)).ropes[0].lays
    assert change.lay == pytest.approx(0.086)
    assert change.change == pytest.approx(0.075)
    assert change.fault is None
    (change,) = chain(lay("84 mm")).ropes[0].lays
    assert (change.change, change.fault) == (None, None)
    for text, baseline, wrong in (("1 m", "84 mm", "1 m"), ("84 mm", "2 m", "2 m")):
        (change,) = chain(lay(text, baseline)).ropes[0].lays
        assert change.fault is not None
        assert change.fault.length.text == wrong
    assert chain(lay("")).ropes[0].lays == ()
    assert chain(replace(broken(3), lay=length("84 mm"))).ropes[0].lays == ()


# --- conditions ---


def series(verdict: Verdict, name: str, span: str = "top, car side") -> Assessment:
    return made_assessment(verdict, series=name, span=span)


def test_what_was_equalised_since_is_later_and_of_the_same_span() -> None:
    unlike = series(Verdict.UNEQUAL, "found")
    every = (
        series(Verdict.EQUAL, "before"),
        unlike,
        series(Verdict.EQUAL, "left"),
        series(Verdict.UNEQUAL, "worse"),
        series(Verdict.EQUAL, "last"),
        series(Verdict.EQUAL, "elsewhere", "pit, car side"),
    )
    (shown,) = chain(unequal(series="found"), assessments=every).conditions
    assert shown.assessment is unlike
    assert shown.equalised_since is every[4]
    (offered,) = chain(assessments=every[1:]).conditions
    assert offered.assessment is unlike
    assert offered.equalised_since is every[4]
    (alone,) = chain(assessments=every[:2][::-1][:1]).conditions
    assert alone.equalised_since is None
    (none,) = chain(unequal(series="no such"), assessments=every).conditions
    assert (none.assessment, none.equalised_since) == (None, None)
    assert none.state is ConditionState.NOT_SHOWN


def test_unequal_tension_is_offered_beside_others_unless_it_is_written() -> None:
    shown = (series(Verdict.UNEQUAL, "found"),)
    found = chain(ROUGE, assessments=shown).conditions
    assert [c.kind for c in found] == [FindingKind.ROUGE, FindingKind.UNEQUAL_TENSION]
    assert [c.state for c in found] == [
        ConditionState.NOT_COUNTED,
        ConditionState.OFFERED,
    ]
    assert len(chain(unequal(), ROUGE, assessments=shown).conditions) == 2
    assert chain(broken(3), lay("84 mm")).conditions == ()
    for verdict, states in (
        (Verdict.EQUAL, []),
        (Verdict.NO_RESULT, []),
        (Verdict.CANNOT_TELL, [ConditionState.CANNOT_TELL]),
    ):
        offered = chain(assessments=(series(verdict, "found"),)).conditions
        assert [c.state for c in offered] == states


@pytest.mark.parametrize(
    ("seen", "counts", "state"),
    [
        (Seen.YES, True, ConditionState.COUNTED),
        (Seen.YES, False, ConditionState.NOT_COUNTED),
        (Seen.NO, False, ConditionState.NOT_SEEN),
        (Seen.COULD_NOT_SEE, False, ConditionState.COULD_NOT_SEE),
    ],
)
def test_a_condition_is_as_the_inspector_wrote_it(
    *, seen: Seen, counts: bool, state: ConditionState
) -> None:
    (found,) = chain(condition(seen=seen, counts=counts)).conditions
    assert found.state is state
    assert found.rope == 1
    # unequal tension that was not seen or could not be is that, whatever is measured
    finding = unequal(seen=seen, counts=counts)
    shown = (series(Verdict.CANNOT_TELL, "found"),)
    (found,) = chain(finding, assessments=shown).conditions
    assert found.rope is None
    is_seen = seen is Seen.YES
    assert found.state is (ConditionState.CANNOT_TELL if is_seen else state)


def test_a_condition_of_the_set_lowers_the_allowance_of_every_rope() -> None:
    of_all = condition(rope=None)
    for rope in (1, 2):
        found = chain(broken(17, rope=rope), of_all, table="a17-style")
        assert found.ropes[rope - 1].breaks[0].reduced_by
    assert outcome(broken(17), of_all, table="a17-style") is Outcome.EXCEEDS


@pytest.mark.parametrize(
    ("changes", "is_foreign"),
    [
        ({}, False),
        ({"changed_from": 0.10}, True),
        ({"standing": Standing.USER}, True),
        ({"standing": Standing.PROGRAM}, True),
        ({"source": "GB 50310-2002, 4.9.5"}, True),
        ({"source": "ASME A17.6-2010"}, False),
        ({"source": "ASME A18.1"}, True),
    ],
)
def test_a_rule_is_foreign_to_a_table_of_another_code(
    *, changes: dict[str, object], is_foreign: bool
) -> None:
    rule = replace(find_rule("a17.1-8.6.4.1.3"), **changes)  # type: ignore[arg-type]
    shown = (made_assessment(Verdict.UNEQUAL, rule=rule),)
    conditions = chain(ROUGE, unequal(), unequal(), assessments=shown).conditions
    table = replace(OWN, source=find_rule("a17.1-8.6.4.1.3").source)
    assert foreign_rules(conditions, table) == ((rule,) if is_foreign else ())
