"""On which line of a record each key stands."""

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from tension.files.toml_text import TomlPath, find_lines, line_of

TRICKY = '''\
# [no table]
a = 1
"quoted key" = "a # b = [c]"
dotted.key = 2
list = [
  "x = 1",  # y = [
  "[[no]]",
]
text = """
inside = 3
[[no]]
"""
raw = \'\'\'
z = "
\'\'\'
after = 4

[set] # x
sockets = "one \\\\" # "
inline = { b = 1, "c d" = "}" }

[[rope]]
number = 1
[rope.free_lengths]
"top, car" = "3 m"
[[rope]]
number = 2
'''


def test_strings_lists_and_comments_hold_no_keys() -> None:
    tomllib.loads(TRICKY)
    lines = find_lines(TRICKY)
    wanted: dict[TomlPath, int] = {
        ("a",): 2,
        ("quoted key",): 3,
        ("dotted",): 4,
        ("dotted", "key"): 4,
        ("list",): 5,
        ("text",): 9,
        ("raw",): 13,
        ("after",): 16,
        ("set",): 18,
        ("set", "sockets"): 19,
        ("set", "inline"): 20,
        ("set", "inline", "b"): 20,
        ("rope",): 22,
        ("rope", 0): 22,
        ("rope", 0, "number"): 23,
        ("rope", 0, "free_lengths"): 24,
        ("rope", 0, "free_lengths", "top, car"): 25,
        ("rope", 1): 26,
        ("rope", 1, "number"): 27,
    }
    assert lines == wanted


def test_a_key_without_a_line_of_its_own_has_that_of_its_table() -> None:
    lines = find_lines(TRICKY)
    assert line_of(lines, ("rope", 1, "stagger")) == 26
    assert line_of(lines, ("set", "inline", "b")) == 20
    assert line_of(lines, ("nowhere",)) is None


_VALUES = st.sampled_from(
    ["1", '"x"', '"a # b"', "'[['", '["x",\n"y"]', '"""\nz = 1\n"""', "{ q = 1 }", "[]"]
)


@given(st.lists(st.tuples(st.booleans(), st.lists(_VALUES, max_size=4)), max_size=6))
def test_every_key_is_found_on_the_line_it_was_written(
    tables: list[tuple[bool, list[str]]],
) -> None:
    text, wanted = "", {}
    for i, (is_commented, values) in enumerate(tables):
        text += "# k = 1\n" if is_commented else "\n"
        text += "[[t]]\n"
        for j, value in enumerate(values):
            wanted["t", i, f"k{j}"] = text.count("\n") + 1
            text += f"k{j} = {value}\n"
    tomllib.loads(text)
    lines = find_lines(text)
    assert {path: line for path, line in lines.items() if len(path) == 3} == wanted
