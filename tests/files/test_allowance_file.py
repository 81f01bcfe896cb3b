"""A person's own tables of allowances: what is read, and what each mistake gets."""

import re

import pytest

from tension.catalogue.allowances import When
from tension.catalogue.standing import Standing
from tension.errors import FileFormatError
from tension.files.allowance_file import read_allowance_tables

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

[[table.breaks]]
rope_class = "*"
fraction_of_wires = "5 %"

[[table.diameter]]
size = "13 mm"
least = "12 mm"
"""


def test_a_table_of_ones_own_is_read_as_given_by_the_user() -> None:
    (table,) = read_allowance_tables(OWN, "own.toml")
    assert (table.name, table.standing) == ("house", Standing.USER)
    first, second = table.breaks
    assert (first.breaks, first.when, first.standing) == (
        12,
        When.REACHES,
        Standing.USER,
    )
    assert second.fraction_of_wires == pytest.approx(0.05)
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
    ('size = "13 mm"', "size = 13", "line 19: .* with its unit in quotes, not 13"),
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


def test_a_file_without_a_table_and_one_that_is_no_toml_are_told() -> None:
    with pytest.raises(FileFormatError, match=r"add a \[\[table\]\]"):
        read_allowance_tables("format = 1\n", "own.toml")
    with pytest.raises(FileFormatError, match="line 2: cannot read"):
        read_allowance_tables("format = 1\nthis\n", "own.toml")
