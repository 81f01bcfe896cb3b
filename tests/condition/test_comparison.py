"""What the confirmed table says of a count or a diameter."""

from dataclasses import replace
from datetime import date

import pytest

from tension.assessment.decide import Assessment, Verdict
from tension.catalogue.allowances import AllowanceTable, find_allowance_table
from tension.catalogue.ropes import rope_class_of
from tension.condition.chain import Chain, build_chain
from tension.condition.comparison import (
    BreakComparison,
    Outcome,
    needs_makers_criteria,
)
from tension.condition.findings import (
    Allowance,
    ConditionState,
    Distribution,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
    TypedFigure,
)
from tension.installation import RopeSet
from tests.reference.tables import read_table
from tests.synthesis.made_results import length, made_assessment
from tests.synthesis.open_book import figures_of

CONFIRMED = Allowance(
    table="tsg-t7001-5.1",
    edition="2023",
    page="12",
    confirmed_by="R. Calder",
    date=date(2026, 11, 20),
)
EIGHT = RopeSet(n_ropes=4, diameter=length("13 mm"), construction="8x19 FC")


def broken(
    count: int, distribution: Distribution = Distribution.SPREAD, rope: int = 1
) -> Finding:
    return Finding(
        rope=rope,
        kind=FindingKind.BROKEN_WIRES,
        at="",
        seen=Seen.YES if count else Seen.NO,
        broken=count,
        distribution=distribution,
    )


def condition(kind: FindingKind = FindingKind.ROUGE, **more: object) -> Finding:
    values: dict[str, object] = {
        "rope": 1,
        "kind": kind,
        "at": "",
        "seen": Seen.YES,
        "counts": True,
    }
    return Finding(**(values | more))  # type: ignore[arg-type]


def chain(
    *findings: Finding,
    table: str = "tsg-t7001-5.1",
    allowance: Allowance = CONFIRMED,
    rope_set: RopeSet = EIGHT,
    assessments: tuple[Assessment, ...] = (),
    figures: tuple[TypedFigure, ...] | None = None,
) -> Chain:
    """The chain with the book open that says what the catalogue says, or others."""
    held = find_allowance_table(table)
    if figures is None:
        figures = figures_of(
            held,
            allowance.rope_class or rope_class_of(rope_set.construction),
            nominal=rope_set.diameter.value if rope_set.diameter else None,
            is_monthly=allowance.is_inspected_monthly,
        )
    return build_chain(
        findings,
        rope_set=rope_set,
        assessments=assessments,
        allowance=replace(allowance, table=table, figures=figures),
        table=held,
    )


def outcome(*findings: Finding, **more: object) -> Outcome:
    """What comes of the first rope's first count."""
    return chain(*findings, **more).ropes[0].breaks[0].outcome  # type: ignore[arg-type]


def limits(compared: BreakComparison) -> tuple[float, float]:
    """The allowance as typed and as applied."""
    assert compared.typed is not None
    assert compared.allowed is not None
    assert compared.typed.lay is not None
    assert compared.allowed.lay is not None
    return float(compared.typed.lay), float(compared.allowed.lay)


@pytest.mark.parametrize("row", read_table("lift_rope_allowances.csv"))
def test_the_table_speaks_one_above_the_printed_number(row: dict[str, str]) -> None:
    rope_set = replace(EIGHT, construction=row["rope_class"])
    kind = Distribution(row["distribution"])
    printed = int(row["breaks"])
    assert outcome(broken(printed, kind), rope_set=rope_set) is Outcome.WITHIN
    assert outcome(broken(printed + 1, kind), rope_set=rope_set) is Outcome.EXCEEDS


@pytest.mark.parametrize("row", read_table("other_rope_allowances.csv"))
def test_other_rules_speak_from_the_printed_number(row: dict[str, str]) -> None:
    named = "wires" in row["rope_class"]
    allowance = replace(CONFIRMED, rope_class=row["rope_class"] if named else "")
    rope_set = EIGHT if named else replace(EIGHT, construction=row["rope_class"])
    kind, first = Distribution(row["distribution"]), int(row["first_over"])
    for count, expected in ((first - 1, Outcome.WITHIN), (first, Outcome.EXCEEDS)):
        finding = replace(broken(count, kind), in_one_strand=1)
        assert (
            outcome(finding, table=row["table"], allowance=allowance, rope_set=rope_set)
            is expected
        )


@pytest.mark.parametrize("row", read_table("least_diameters.csv"))
def test_a_diameter_is_held_against_the_row_of_its_size(row: dict[str, str]) -> None:
    nominal = length(row["size"]).value
    least = (
        nominal * float(row["least_percent"]) / 100
        if row["least_percent"]
        else nominal - length(f"{row['loss_inch']} in").value
    )
    rope_set = replace(EIGHT, diameter=length(row["size"]))
    for shift, expected in ((1e-6, Outcome.WITHIN), (-1e-6, Outcome.EXCEEDS)):
        reading = replace(length("1 m"), value=least + shift)
        finding = Finding(
            rope=1,
            kind=FindingKind.DIAMETER,
            at="",
            seen=Seen.YES,
            diameters=(reading, reading),
        )
        # a rope under 8 mm is a rope maker's matter; 5/16 in is 7.94 mm
        found = chain(finding, table=row["table"], rope_set=rope_set)
        compared = found.ropes[0].diameters[0]
        if nominal < 0.00795:
            assert compared.outcome is Outcome.MAKERS_CRITERIA
        else:
            assert compared.outcome is expected
            assert compared.least is not None
            assert float(compared.least) == pytest.approx(least, rel=1e-9)


@pytest.mark.parametrize(
    "allowance",
    [
        replace(CONFIRMED, edition=""),
        replace(CONFIRMED, page=" "),
        replace(CONFIRMED, confirmed_by=""),
        replace(CONFIRMED, date=None),
    ],
)
def test_nothing_is_compared_until_every_key_confirms(allowance: Allowance) -> None:
    compared = chain(broken(99), allowance=allowance).ropes[0].breaks[0]
    assert compared.outcome is Outcome.NOT_CONFIRMED
    assert compared.allowed is None
    assert compared.typed is None


def test_half_of_eleven_is_exceeded_from_six() -> None:
    table = AllowanceTable(
        name="own",
        title="",
        source="own",
        edition="1",
        standing=find_allowance_table("a17-style").standing,
        breaks=find_allowance_table("tsg-t7001-5.1").breaks,
        reduction=find_allowance_table("a17-style").reduction,
        reduced_for=("rouge",),
    )
    for count, expected in ((5, Outcome.WITHIN), (6, Outcome.EXCEEDS)):
        found = build_chain(
            [broken(count, Distribution.ONE_OR_TWO_STRANDS), condition()],
            rope_set=replace(EIGHT, construction="9x19 FC"),
            assessments=(),
            allowance=replace(CONFIRMED, figures=figures_of(table, "9x19")),
            table=table,
        )
        compared = found.ropes[0].breaks[0]
        assert compared.outcome is expected
        assert limits(compared) == (11, 5.5)


def test_the_reduction_is_applied_once_however_many_conditions() -> None:
    compared = (
        chain(
            broken(17),
            condition(),
            condition(FindingKind.CROWN_WEAR),
            condition(FindingKind.GROOVE),
            table="a17-style",
        )
        .ropes[0]
        .breaks[0]
    )
    assert limits(compared) == (32, 16)
    assert len(compared.reduced_by) == 3
    assert compared.outcome is Outcome.EXCEEDS


def test_a_condition_that_the_inspector_does_not_count_reduces_nothing() -> None:
    compared = (
        chain(broken(17), condition(counts=False), table="a17-style").ropes[0].breaks[0]
    )
    assert not compared.reduced_by
    assert compared.outcome is Outcome.WITHIN


def test_nothing_counts_unless_the_inspector_writes_so() -> None:
    seen = Finding(rope=1, kind=FindingKind.ROUGE, at="", seen=Seen.YES)
    (found,) = chain(seen).conditions
    assert found.state is ConditionState.NOT_COUNTED


def test_valley_breaks_are_never_reduced() -> None:
    findings = (broken(1, Distribution.VALLEY), condition())
    compared = chain(*findings, table="a17-style").ropes[0].breaks[0]
    assert not compared.reduced_by
    assert compared.outcome is Outcome.WITHIN


def test_a_table_without_a_reduction_is_never_reduced() -> None:
    compared = chain(broken(16), condition()).ropes[0].breaks[0]
    assert not compared.reduced_by
    assert limits(compared) == (30, 30)


def test_a_condition_of_another_rope_reduces_nothing_here() -> None:
    compared = (
        chain(broken(17), condition(rope=2), table="a17-style").ropes[0].breaks[0]
    )
    assert not compared.reduced_by


def test_the_upper_figure_needs_monthly_inspection() -> None:
    monthly = replace(CONFIRMED, is_inspected_monthly=True)
    assert outcome(broken(33), table="a17-style") is Outcome.EXCEEDS
    assert outcome(broken(33), table="a17-style", allowance=monthly) is Outcome.WITHIN


def test_counts_of_several_ropes_and_lays_are_never_summed() -> None:
    found = chain(broken(16), broken(16), broken(16, rope=2))
    counts = [c.finding.broken for rope in found.ropes for c in rope.breaks]
    assert counts == [16, 16, 16]
    assert Outcome.EXCEEDS not in {
        one.outcome for rope in found.ropes for one in rope.compared
    }


def unequal(**more: object) -> Finding:
    return condition(FindingKind.UNEQUAL_TENSION, rope=None, **more)


def test_unequal_tension_counts_only_through_an_assessment_that_says_unequal() -> None:
    for verdict, state in (
        (Verdict.UNEQUAL, ConditionState.COUNTED),
        (Verdict.CANNOT_TELL, ConditionState.CANNOT_TELL),
        (Verdict.EQUAL, ConditionState.NOT_SHOWN),
        (Verdict.NO_RESULT, ConditionState.NOT_SHOWN),
    ):
        found = chain(
            broken(17),
            unequal(),
            table="a17-style",
            assessments=(made_assessment(verdict, measure_again=(3,)),),
        )
        assert found.conditions[0].state is state
        is_counted = verdict is Verdict.UNEQUAL
        assert bool(found.ropes[0].breaks[0].reduced_by) is is_counted
    assert chain(unequal()).conditions[0].state is ConditionState.NOT_SHOWN


def test_unequal_is_offered_as_evidence_and_reduces_nothing_by_itself() -> None:
    found = chain(
        broken(17), table="a17-style", assessments=(made_assessment(Verdict.UNEQUAL),)
    )
    assert found.conditions[0].state is ConditionState.OFFERED
    assert not found.ropes[0].breaks[0].reduced_by


def test_the_as_found_state_stays_when_the_set_is_equalised_since() -> None:
    found = chain(
        broken(17),
        unequal(),
        table="a17-style",
        assessments=(
            made_assessment(Verdict.UNEQUAL),
            made_assessment(Verdict.EQUAL, series="as left", shares=(1, 1, 1, 1)),
        ),
    )
    shown = found.conditions[0]
    assert shown.state is ConditionState.COUNTED
    assert shown.assessment is not None
    assert shown.assessment.measurement.series.name == "as found"
    assert shown.equalised_since is not None
    assert found.ropes[0].breaks[0].reduced_by


@pytest.mark.parametrize(
    ("construction", "diameter"),
    [("coated", "13 mm"), ("aramid", "13 mm"), ("8x19 IWRC", "6.5 mm")],
)
def test_special_ropes_go_by_the_makers_criteria(
    construction: str, diameter: str
) -> None:
    rope_set = replace(EIGHT, construction=construction, diameter=length(diameter))
    assert needs_makers_criteria(rope_set)
    assert outcome(broken(99), rope_set=rope_set) is Outcome.MAKERS_CRITERIA


def test_there_is_no_row_for_another_class_and_no_guess_without_one() -> None:
    for construction, expected in (
        ("8x25 F", Outcome.NO_ROW),
        ("", Outcome.NO_CLASS),
    ):
        rope_set = replace(EIGHT, construction=construction)
        assert outcome(broken(1), rope_set=rope_set) is expected


def diameter(one: str, other: str, **more: object) -> Finding:
    values: dict[str, object] = {
        "rope": 1,
        "kind": FindingKind.DIAMETER,
        "at": "",
        "seen": Seen.YES,
        "diameters": (length(one), length(other)),
    }
    return Finding(**(values | more))  # type: ignore[arg-type]


def test_a_metric_rope_is_not_interpolated_between_inch_rows() -> None:
    found = chain(diameter("12.0 mm", "12.0 mm"), table="a17-style").ropes[0]
    assert found.diameters[0].outcome is Outcome.NO_ROW


def test_the_smaller_reading_is_told_where_the_mean_is_not_under() -> None:
    compared = chain(diameter("11.6 mm", "12.0 mm")).ropes[0].diameters[0]
    assert compared.outcome is Outcome.WITHIN
    assert compared.is_smaller_under
    assert float(compared.mean) == pytest.approx(0.0118)


def test_rouge_with_a_table_whose_rouge_figures_are_not_held_gives_no_comparison() -> (
    None
):
    rope_set = replace(EIGHT, diameter=length("1/2 in"))
    plain = diameter("12.0 mm", "12.0 mm")
    found = chain(plain, table="a17-style", rope_set=rope_set)
    assert found.ropes[0].diameters[0].outcome is Outcome.WITHIN
    found = chain(plain, condition(counts=False), table="a17-style", rope_set=rope_set)
    assert found.ropes[0].diameters[0].outcome is Outcome.ROUGE_NOT_HELD


def test_the_first_step_of_a_gauge_is_enough_only_with_rouge() -> None:
    gauge = Finding(
        rope=1,
        kind=FindingKind.DIAMETER,
        at="",
        seen=Seen.YES,
        gauge=(GaugeEntry.FIRST_STEP, GaugeEntry.STAYS_OUT),
    )
    # common practice, no source
    assert chain(gauge).ropes[0].gauges[0].outcome is Outcome.WITHIN
    with_rouge = chain(gauge, condition(counts=False)).ropes[0].gauges[0]
    assert with_rouge.outcome is Outcome.EXCEEDS


def test_what_could_not_be_seen_is_not_compared() -> None:
    finding = replace(broken(0), seen=Seen.COULD_NOT_SEE, broken=None)
    assert outcome(finding) is Outcome.COULD_NOT_SEE


def test_a_lay_is_held_against_its_baseline() -> None:
    finding = Finding(
        rope=1,
        kind=FindingKind.LAY_LENGTH,
        at="",
        seen=Seen.YES,
        lay=length("430 mm"),
        lays=5,
        baseline=length("84 mm"),
    )
    change = chain(finding).ropes[0].lays[0]
    assert change.lay == pytest.approx(0.086)
    assert change.change == pytest.approx(0.086 / 0.084 - 1)


@pytest.mark.parametrize(
    ("construction", "expected"),
    [("8x19 FC", "8x19"), ("8 X 19S", ""), ("6×19", "6x19"), ("Seale", "")],
)
def test_the_class_is_read_off_the_construction(
    construction: str, expected: str
) -> None:
    assert rope_class_of(construction) == expected
