"""A whole record with findings, checks, turns and files, put together by hand."""

from datetime import date
from pathlib import Path

from tension.adjustment.outcome import Turn
from tension.assessment.decide import Verdict
from tension.catalogue.allowances import find_allowance_table
from tension.catalogue.threads import Thread
from tension.condition.acceptance import accept_set
from tension.condition.chain import build_chain
from tension.condition.checks import Check, CheckAnswer, CheckItem
from tension.condition.findings import (
    Allowance,
    Distribution,
    Finding,
    FindingKind,
    Seen,
)
from tension.files.evidence import FileEvidence
from tension.files.visit import Instrument, NoteAnswer, Trim, Visit
from tension.installation import Hitch, HitchPlace, Lift, Rope, RopeSet, Side, Span
from tension.measurement.readings import (
    Exclusion,
    Hold,
    PluckReading,
    PullReading,
    ReturnsReading,
    Series,
    SpringReading,
)
from tension.notes import NoteKind
from tension.quantity.units import Dimension, parse_quantity
from tension.report.content import Evidence
from tests.synthesis.made_results import HOUSE_RULE, force, length, made_assessment
from tests.synthesis.open_book import figures_of

SPAN = "top, car side"


def made_visit(text: str = "", path: Path | None = None) -> Visit:
    """A record in which every free text is `text`, or something ordinary if empty."""

    def told(usual: str) -> str:
        return text or usual

    rope_set = RopeSet(
        n_ropes=4,
        ropes=tuple(
            Rope(number=n, stagger=length("150 mm") if n % 2 == 0 else None)
            for n in range(1, 5)
        ),
        spans=(
            Span(
                name=SPAN,
                side=Side.CAR,
                position=told("top landing"),
                free_length=length("3.40 m"),
            ),
        ),
        hitches=(
            Hitch(
                at=HitchPlace.CAR,
                rows=((1, 3), (2, 4)),
                thread=Thread(name="M16", pitch=0.002),
                spring_free_length=length("160 mm"),
                spring_solid_length=length("96 mm"),
            ),
        ),
        diameter=length("13 mm"),
        construction=told("8x19 FC"),
        linear_density=parse_quantity("0.575 kg/m", Dimension.LINEAR_DENSITY),
        rope_length=length("38 m"),
    )
    return Visit(
        path=path,
        lift=Lift(name=told("Granary Wharf, goods lift 2")),
        rule=HOUSE_RULE,
        rope_set=rope_set,
        particulars=(
            ("date", "2026-11-20"),
            ("measured_by", told("R. Calder")),
            ("qualification", told("lift inspector 4471")),
            ("witness", told("M. Adeyemi")),
            ("place", told("Granary Wharf, core B")),
            ("note", told("Red dust on the crosshead.")),
        ),
        series=(
            Series(name="as found", span=SPAN, arrived="up", load=told("empty")),
            Series(name="as left", span=SPAN, arrived="up", people="2 on top"),
        ),
        readings=(
            PluckReading(
                series="as found", recording=told("as-found/rope-1.m4a"), ropes=(1,)
            ),
            PullReading(
                series="as found",
                rope=2,
                forces=(force("38 lbf"), force("37.5 lbf")),
                deflections=(length("1 in"),),
                hold=Hold.DEFLECTION,
                at=length("4 ft 11 in"),
            ),
            ReturnsReading(
                series="as found",
                rope=3,
                count=5,
                elapsed=(parse_quantity("0.354 s", Dimension.TIME),),
            ),
            SpringReading(
                series="as found",
                rope=4,
                hitch=HitchPlace.CAR,
                lengths=(length("112 mm"),),
            ),
        ),
        turns=(
            Turn(
                after="as found",
                hitch=HitchPlace.CAR,
                rope=1,
                turns=parse_quantity("-1 1/4", Dimension.TURNS),
                round_trips_after=3,
            ),
        ),
        exclusions=(
            Exclusion(
                series="as found",
                reason=told("door slammed"),
                rope=4,
                pluck=2,
                by=told("R. Calder"),
            ),
        ),
        findings=_findings(text),
        allowance=Allowance(
            table="a17-style",
            edition=told("2019"),
            page=told("212"),
            confirmed_by=told("R. Calder"),
            date=date(2026, 11, 20),
            rope_class="8x19",
            figures=figures_of(find_allowance_table("a17-style"), "8x19"),
        ),
        checks=_checks(text),
        instruments=(
            Instrument(
                what=told("spring scale"),
                name=told("50 kg dial"),
                serial=told("S-118"),
                last_check=told("2026-10-02 against 20 kg"),
            ),
        ),
        answers=(
            NoteAnswer(note="223", answer=told("Phone moved away."), by=told("RC")),
        ),
        trims=(
            Trim(
                recording=told("as-found/rope-1.m4a"),
                trimmed=told("as-found/rope-1.trimmed.wav"),
                n_bytes=48211,
                sha256="7e" * 32,
                kept="0.40 s to 6.20 s",
                silenced=told("the rest is silence"),
            ),
        ),
    )


def _findings(text: str) -> tuple[Finding, ...]:
    """Findings of several kinds."""
    place = text or "2 m above the car hitch"
    return (
        Finding(
            rope=3,
            kind=FindingKind.ROUGE,
            at=place,
            seen=Seen.YES,
            counts=True,
            photos=("photos/rouge.jpg",),
        ),
        Finding(
            rope=None,
            kind=FindingKind.UNEQUAL_TENSION,
            at=text,
            seen=Seen.YES,
            counts=True,
            series="as found",
        ),
        Finding(
            rope=4,
            kind=FindingKind.BROKEN_WIRES,
            at=place,
            seen=Seen.YES,
            broken=9,
            distribution=Distribution.ONE_OR_TWO_STRANDS,
            lay=length("84 mm"),
            note=text,
        ),
        Finding(
            rope=3,
            kind=FindingKind.DIAMETER,
            at=place,
            seen=Seen.YES,
            diameters=(length("12.6 mm"), length("12.7 mm")),
            by=text,
        ),
        Finding(
            rope=1,
            kind=FindingKind.CROSSED,
            at=place,
            seen=Seen.COULD_NOT_SEE,
        ),
        Finding(
            rope=2,
            kind=FindingKind.LAY_LENGTH,
            at=place,
            seen=Seen.YES,
            lay=length("430 mm"),
            lays=5,
            baseline=length("84 mm"),
        ),
    )


def _checks(text: str) -> tuple[Check, ...]:
    """Some items of the form."""
    return (
        Check(item=CheckItem.WHOLE_SET, answer=CheckAnswer.YES, note=text),
        Check(item=CheckItem.TWIST, rope=3, answer=CheckAnswer.NO, note=text),
        Check(item=CheckItem.OVERTRAVEL, answer=CheckAnswer.COULD_NOT_SEE),
        Check(
            item=CheckItem.CLIPS,
            rope=1,
            distances=(length("52 mm"), length("156 mm")),
            rule="exam-4d-8d",
        ),
        Check(
            item=CheckItem.RUNBY,
            now=length("-4 in"),
            wanted=length("18 in"),
            least=length("6 in"),
        ),
        Check(
            item=CheckItem.RIGHT_ROPE,
            answer=CheckAnswer.YES,
            tag_text=text or "13 mm 8x19 FC 1370/1770, 74.3 kN, 03/2021",
            by=text,
        ),
    )


def made_evidence(text: str = "") -> Evidence:
    """Evidence of an unequal set that was equalised; free texts as in `made_visit`."""
    visit = made_visit(text)
    note = NoteKind.CLIPPED.note(
        recording=text or "as-found/rope-1.m4a", seconds=0.02, ropes=(1,)
    )
    found = made_assessment(Verdict.UNEQUAL, notes=(note,))
    left = made_assessment(
        Verdict.EQUAL, series="as left", shares=(1.01, 0.99, 1.005, 0.995)
    )
    assessments = (found, left)
    return Evidence(
        visit=visit,
        assessments=assessments,
        recorded=assessments,
        main=0,
        chain=build_chain(
            visit.findings,
            rope_set=visit.rope_set,
            assessments=assessments,
            allowance=visit.allowance,
            table=find_allowance_table("a17-style"),
        ),
        acceptance=accept_set(
            visit.checks,
            lift=visit.lift,
            rope_set=visit.rope_set,
            assessments=assessments,
        ),
        files=(
            FileEvidence(path="visit.toml", n_bytes=2210, sha256="a3" * 32),
            FileEvidence(
                path=text or "as-found/rope-1.m4a", n_bytes=48211, sha256="0f" * 32
            ),
        ),
        missing=("photos/rouge.jpg",),
        versions=(("tension", "0.1.0"), ("python", "3.11"), ("numpy", "2.4.6")),
    )
