"""A person's own tables of allowances: what is read, and what each mistake gets."""

import re
from dataclasses import replace
from importlib.resources import files

import pytest

from tension.catalogue import Standing
from tension.catalogue.allowances import RowDistribution, When, allowance_tables
from tension.errors import FileFormatError
from tension.files.record import read_allowance_tables

# Invented numbers.
OWN = """\
format = 1

[[table]]
name = "house"
source = "house rule"
edition = "2026"
least_fraction = "92 %"

[[table.breaks]]
rope_class = "8x*"
breaks = 12
when = "reaches"
standing = "seen"

[[table.breaks]]
rope_class = "*"
fraction_of_wires = "5 %"

[[table.diameter]]
size = "13 mm"
least = "12 mm"
"""


def test_a_table_of_ones_own_is_read_as_the_users_whatever_it_claims() -> None:
    (table,) = read_allowance_tables(OWN, "own.toml")
    assert (table.name, table.standing) == ("house", Standing.USER)
    first, second = table.breaks
    assert table.break_row("8x25", RowDistribution.SPREAD) is first
    assert table.break_row("6x19", RowDistribution.SPREAD) is second
    assert (first.breaks, first.when, first.standing) == (
        12,
        When.REACHES,
        Standing.USER,
    )
    assert second.fraction_of_wires is not None
    assert second.fraction_of_wires.text == "5 %"
    (row,) = table.diameters
    assert row.size_to == row.size
    assert row.least is not None
    assert row.least.text == "12 mm"


WRONG = [
    ('name = "house"\n', "", "line 3: table 1, name: is missing"),
    ('source = "house rule"', 'source = ""', "line 5: table 1, source: must not be"),
    ('least_fraction = "92 %"', 'least_fraction = "920 %"', "line 7: .* to 100 %, not"),
    ('when = "reaches"', 'when = "reach"', 'breaks 1, when: .* mean "reaches"'),
    ("breaks = 12", "breaks = -1", "line 11: .* must be at least 0, not -1"),
    ("breaks = 12\n", "", "line 9: table 1, breaks 1, breaks: write either"),
    ('least = "12 mm"', 'lest = "12 mm"', 'lest: unknown name; did you mean "least"'),
    ('size = "13 mm"', "size = 13", "line 20: .* with its unit in quotes, not 13"),
    ("[[table]]", "[table]", r"line 3: table: write \[\[table\]\] in double brackets"),
]


@pytest.mark.parametrize(("old", "new", "said"), WRONG)
def test_a_mistake_is_told_with_its_line(old: str, new: str, said: str) -> None:
    assert OWN.count(old) >= 1
    text = OWN.replace(old, new, 1)
    text = text.replace("[[table.", "[[x.") if new == "[table]" else text
    with pytest.raises(FileFormatError) as caught:
        read_allowance_tables(text, "own.toml")
    assert any(re.search(f"^own.toml: .*{said}", line) for line in caught.value.lines)


def test_every_mistake_is_told_at_once() -> None:
    text = OWN.replace('source = "house rule"\n', "")
    text = text.replace("breaks = 12", 'breaks = 12\nfraction_of_wires = "10 %"')
    text = text.replace('size = "13 mm"', "brekas = 1").replace('"12 mm"', '"12"')
    with pytest.raises(FileFormatError) as caught:
        read_allowance_tables(text, "own.toml")
    told = "\n".join(caught.value.lines)
    for needed in (
        "table 1, source: is missing",
        "table 1, breaks 1, breaks: write either breaks or fraction_of_wires",
        "table 1, diameter 1, brekas: unknown name",
        "table 1, diameter 1, size: is missing",
        "table 1, diameter 1, least:",
    ):
        assert needed in told, needed


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format = 1", r"table: is missing; write \[\[table\]\]"),
        ("table = []", r"write \[\[table\]\] in double brackets"),
        ("format = 1\n[[table", "line 2: cannot read"),
        ("tables = 3", r"tables: unknown name; did you mean \[\[table\]\]"),
        ("table = [3]", r"write \[\[table\]\] in double brackets"),
    ],
)
def test_what_is_no_table_is_refused(text: str, said: str) -> None:
    with pytest.raises(FileFormatError, match=said):
        read_allowance_tables(text, "own.toml")


def test_figures_of_one_strand_and_side_by_side_are_read() -> None:
    text = """format = 1
[[table]]
name = "house"
source = "house rule"
edition = "3"
by_sight = ["corrosion"]
is_for_examination = true
[[table.breaks]]
rope_class = "8x19"
distribution = "side-by-side"
breaks = 16
adjacent_from = 4
adjacent_to = 5
in_strand = 9
fraction_of_strand = "15 %"
"""
    (table,) = read_allowance_tables(text, "own.toml")
    (row,) = table.breaks
    assert (row.adjacent_from, row.adjacent_to, row.in_strand) == (4, 5, 9)
    assert row.fraction_of_strand is not None
    assert table.is_for_examination
    assert table.by_sight == ("corrosion",)
    with pytest.raises(FileFormatError, match="goes with adjacent_to"):
        read_allowance_tables(text.replace("adjacent_to = 5\n", ""), "own.toml")


def test_the_tables_of_the_catalogue_are_read_alike_from_a_file_of_ones_own() -> None:
    """But for their standing: what a person types is given by the user."""
    text = files("tension.catalogue").joinpath("allowances.toml").read_text("utf-8")
    wanted = tuple(
        replace(
            table,
            standing=Standing.USER,
            breaks=tuple(replace(row, standing=Standing.USER) for row in table.breaks),
            diameters=tuple(
                replace(row, standing=Standing.USER) for row in table.diameters
            ),
        )
        for table in allowance_tables()
    )
    assert read_allowance_tables(text, "own.toml") == wanted
