"""Findings and checks of a record: what is read, and what each mistake gets."""

from pathlib import Path

import pytest

from tension.condition.findings import (
    KEYS_OF,
    Distribution,
    Finding,
    FindingKind,
    GaugeEntry,
    Seen,
)
from tension.errors import FileFormatError
from tension.files.record import visit_from_text

SIX = "format = 1\n[set]\nropes = 6\n"


def written(**table: object) -> str:
    """A finding as it stands in a record."""
    lines = [f"{key} = {_toml(value)}\n" for key, value in table.items()]
    return f"[[finding]]\n{''.join(lines)}"


def _toml(value: object) -> str:
    """A value as TOML writes it."""
    return str(value).lower() if isinstance(value, bool) else repr(value)


def read(**table: object) -> Finding:
    """The finding of a record that has one."""
    (finding,) = visit_from_text(SIX + written(**table), Path("visit.toml")).findings
    return finding


def mistakes(text: str = "", **table: object) -> dict[str, str]:
    """Every mistake in a finding, by key."""
    with pytest.raises(FileFormatError) as caught:
        visit_from_text(SIX + (text or written(**table)), Path("visit.toml"))
    places = [line.split(": ", 3)[2:] for line in caught.value.lines]
    return {place.split(", ")[1]: told for place, told in places}


def test_a_count_of_broken_wires_is_read_with_its_lay() -> None:
    finding = read(
        rope=4,
        kind="broken-wires",
        at="at the socket",
        broken=9,
        distribution="one-or-two-strands",
        lay="78 mm",
        photo=["photos/rope 4.jpg"],
    )
    assert (finding.broken, finding.distribution) == (
        9,
        Distribution.ONE_OR_TWO_STRANDS,
    )
    assert finding.lay is not None
    assert finding.lay.value == pytest.approx(0.078)
    assert finding.lay.text == "78 mm"
    assert finding.seen is Seen.YES
    assert finding.photos == ("photos/rope 4.jpg",)


def test_a_diameter_is_two_readings_or_a_gauge_tried_both_ways() -> None:
    finding = read(
        rope=1,
        kind="diameter",
        diameters=["12.6 mm", "12.7 mm"],
        gauge=["first-step", "stays-out"],
    )
    assert [d.value for d in finding.diameters] == pytest.approx([0.0126, 0.0127])
    assert finding.gauge == (GaugeEntry.FIRST_STEP, GaugeEntry.STAYS_OUT)
    assert (
        "two readings"
        in mistakes(rope=1, kind="diameter", diameters=["12 mm"])["diameters"]
    )
    assert (
        "two directions"
        in mistakes(rope=1, kind="diameter", gauge=["stays-out"])["gauge"]
    )
    assert "is missing" in mistakes(rope=1, kind="diameter", seen="yes")["diameters"]


def test_every_mistake_is_told_at_once() -> None:
    found = mistakes(
        rope=9, kind="broken-wires", broken=-1, distribution="spred", lays=2, seen="si"
    )
    assert set(found) == {"rope", "broken", "distribution", "lays", "seen"}
    assert 'did you mean "spread"?' in found["distribution"]
    assert 'goes with kind = "lay-length"' in found["lays"]


def test_an_unknown_key_gets_a_suggestion() -> None:
    assert mistakes(kind="rouge", seen="yes", phot="a.jpg")["phot"] == (
        'unknown name; did you mean "photo"?'
    )


def test_only_unfavourable_conditions_that_were_seen_can_count() -> None:
    assert (
        "goes with" in mistakes(rope=1, kind="kink", seen="yes", counts=True)["counts"]
    )
    assert (
        'needs seen = "yes"'
        in mistakes(rope=1, kind="rouge", seen="could-not-see", counts=True)["counts"]
    )


@pytest.mark.parametrize(
    "path", ["../other.jpg", "/etc/passwd", "C:\\photo.jpg", "a/../../b.jpg", ""]
)
def test_a_photo_outside_the_record_is_refused(path: str) -> None:
    assert "below the record" in mistakes(kind="rouge", seen="yes", photo=path)["photo"]


def test_broken_wires_are_counted_per_rope() -> None:
    found = mistakes(kind="broken-wires", broken=3, distribution="spread")
    assert "counted per rope" in found["rope"]


def test_no_broken_wire_is_a_finding_too() -> None:
    finding = read(rope=1, kind="broken-wires", broken=0)
    assert finding.seen is Seen.NO


def test_a_finding_of_the_whole_set_has_no_rope() -> None:
    finding = read(kind="rouge", seen="yes")
    assert (finding.rope, finding.seen) == (None, Seen.YES)


def test_the_kind_is_asked_for_and_suggested() -> None:
    assert "is missing" in mistakes(rope=1)["kind"]
    assert 'did you mean "birdcage"' in mistakes(kind="birdcages")["kind"]


def test_every_kind_has_its_keys() -> None:
    assert set(KEYS_OF) == set(FindingKind)


def test_mistakes_in_a_check_are_told_with_their_key() -> None:
    text = '[[check]]\nitem = "clips"\nrope = 9\ndistances = ["4"]\nnow = "1 m"\n'
    found = mistakes(text)
    assert set(found) == {"rope", "distances", "now"}
    assert 'goes with item = "runby"' in found["now"]
    assert "rule" in mistakes('[[check]]\nitem = "clips"\nrule = "mine"\n')
    assert "answer" in mistakes('[[check]]\nitem = "whole-set"\n')


SET = """format = 1
[set]
ropes = 6
diameter = "13 mm"
construction = "8x19 Seale FC"
"""


def told(text: str) -> str:
    """Everything that is wrong in a record of such ropes."""
    with pytest.raises(FileFormatError) as caught:
        visit_from_text(SET + text, Path("visit.toml"))
    return str(caught.value)


def test_a_class_that_the_construction_cannot_have_is_refused() -> None:
    assert 'is "9x19", but the construction of [set] is "8x19 Seale FC"' in told(
        '[allowance]\nrope_class = "9x19"\n'
    )
    read_well = visit_from_text(SET + '[allowance]\nrope_class = "8x19"\n', Path("v"))
    assert read_well.allowance.rope_class == "8x19"


@pytest.mark.parametrize(
    "table",
    [
        '[[finding]]\nrope = 1\nkind = "broken-wires"\nbroken = 9\n'
        'distribution = "spread"\nlay = "{lay}"\n',
        '[[finding]]\nrope = 1\nkind = "lay-length"\nlay = "{lay}"\n',
        '[[finding]]\nrope = 1\nkind = "lay-length"\nlay = "84 mm"\n'
        'baseline = "{lay}"\n',
        '[[check]]\nrope = 1\nitem = "new-lay"\nlength = "{lay}"\n',
    ],
)
def test_a_length_that_can_be_no_lay_is_refused_wherever_it_stands(table: str) -> None:
    for lay in ("1000 mm", "10 mm"):
        assert "a lay is about 6.5" in told(table.format(lay=lay))
    visit_from_text(SET + table.format(lay="84 mm"), Path("v"))


def test_several_lays_together_are_held_to_one() -> None:
    lays = '[[finding]]\nrope = 1\nkind = "lay-length"\nlay = "{}"\nlays = 5\n'
    visit_from_text(SET + lays.format("430 mm"), Path("v"))
    assert "each of 5 lays" in told(lays.format("84 mm"))


COUNT = """[[finding]]
rope = 1
kind = "broken-wires"
broken = 12
distribution = "side-by-side"
"""


def test_more_side_by_side_than_a_strand_shows_are_refused() -> None:
    assert "a strand of 19 wires has at most 9" in told(COUNT + "adjacent = 10\n")
    (finding,) = visit_from_text(SET + COUNT + "adjacent = 4\n", Path("v")).findings
    assert finding.adjacent == 4
    assert "more than the 12 broken" in told(COUNT + "in_one_strand = 13\n")


FIGURES = """[allowance]
table = "tsg-t7001-5.1"
edition = "2023"
page = "12"
confirmed_by = "R. Calder"
date = 2026-11-20

[[allowance.figure]]
what = "spread"
breaks = 30

[[allowance.figure]]
what = "diameter"
least_fraction = "90 %"
"""


def test_the_figures_of_the_open_book_are_read() -> None:
    allowance = visit_from_text(SET + FIGURES, Path("v")).allowance
    spread, diameter = allowance.figure("spread"), allowance.figure("diameter")
    assert spread is not None
    assert spread.breaks == 30
    assert diameter is not None
    assert diameter.least_fraction is not None
    assert diameter.least_fraction.text == "90 %"
    assert allowance.figure("valley") is None


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (("breaks = 30", 'breaks = "30"'), "whole number"),
        (("breaks = 30\n", ""), "breaks: is missing; write breaks or"),
        (("breaks = 30", 'breaks = 30\nfraction_of_wires = "10 %"'), "stands beside"),
        (("breaks = 30", 'least = "12 mm"'), 'goes with what = "diameter"'),
        (("", ""), "twice"),
    ],
)
def test_a_figure_that_cannot_be_meant_is_told(
    edit: tuple[str, str], message: str
) -> None:
    text = FIGURES.replace(*edit)
    if message == "twice":
        text = FIGURES + '\n[[allowance.figure]]\nwhat = "spread"\nbreaks = 31\n'
    assert message in told(text)


ROPE = '[[rope]]\nnumber = 3\nlinear_density = "0.61 kg/m"\n'


def test_a_rope_of_another_reel_has_its_own_mass() -> None:
    read_well = visit_from_text(SET + ROPE, Path("v"))
    density = read_well.rope_set.ropes[2].linear_density
    assert density is not None
    assert density.value == pytest.approx(0.61)
    with pytest.raises(FileFormatError, match=r"write linear_density into \[set\]"):
        visit_from_text("format = 1\n[set]\nropes = 6\n" + ROPE, Path("v"))
