"""The recipes of DEVELOPERS.md, step by step, each on something that does not exist."""

from collections.abc import Callable
from dataclasses import dataclass

from tests.recipes.tree import Tree

Step = Callable[[Tree], None]
PAGES = "the pages are written"
PAGE = "tests/architecture/test_pages.py::test_written_pages_are_as_the_program_says"


@dataclass(frozen=True, kw_only=True, slots=True)
class Recipe:
    """What is done, and what then says that it was done right."""

    steps: dict[str, Step]
    """Each step of the recipe, in its words."""
    tests: tuple[str, ...]
    """Tests of the repository that pass afterwards."""
    says: str = ""
    """A program that ends well where the new thing works."""
    unheld: tuple[str, ...] = ()
    """Steps that no check misses when they are left out: a person's work."""


def _pages(*names: str) -> Step:
    """Write those of the pages that the recipe changes; a contributor writes all."""
    return lambda tree: tree.pages(*names)


def _note(tree: Tree) -> None:
    tree.put(r'^    NO_PLUCK = 101, "no-pluck"\n', '    ROPE_HUMS = 198, "rope-hums"\n')


def _sentences_of_the_note(tree: Tree) -> None:
    path = tree.root / "tension" / "notes.en.json"
    text = path.read_text(encoding="utf-8")
    sentences = """ "rope-hums": [
  "Rope {rope} hums by itself at the [[landing]].",
  "Wait until rope {rope} is quiet."
 ],
"""
    first, end, rest = text.partition(" ],\n")
    path.write_text(first + end + sentences + rest, encoding="utf-8")


NOTE = Recipe(
    steps={
        "a member of NoteKind": _note,
        "its sentences": _sentences_of_the_note,
        PAGES: _pages("notes.md"),
    },
    tests=(
        "tests/test_wording.py",
        "tests/architecture/test_notes.py",
        f"{PAGE}[notes.md]",
    ),
    says="from tension.notes import NoteKind\n"
    "assert NoteKind.ROPE_HUMS.note(rope=3).text.startswith('Rope 3 hums')",
)


def _rule_row(tree: Tree) -> None:
    tree.add(
        "tension/catalogue/rules.toml",
        """
[[rule]]
name = "granary-wharf-house-rule"
metric = "off-mean"
limit = 0.07
source = "house rule of an imaginary warehouse"
edition = "2026"
standing = "seen"
""",
    )


def _number(tree: Tree) -> None:
    path = tree.root / "tension/workflow/adding.py"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("MOST_TURNS = 60.0", "MOST_TURNS = 59.0"))


NUMBER = Recipe(
    steps={"it is changed where it stands": _number, PAGES: _pages("numbers.md")},
    tests=(f"{PAGE}[numbers.md]",),
    says="from tension.workflow.adding import MOST_TURNS\nassert MOST_TURNS == 59",
)


def _printed_row(tree: Tree) -> None:
    tree.add(
        "tests/reference/equal_tension_rules.csv",
        "granary-wharf-house-rule,7,off-mean\n",
    )


RULE = Recipe(
    steps={
        "one row in the catalogue": _rule_row,
        "one row in tests/reference": _printed_row,
        PAGES: _pages("rules.md"),
    },
    tests=("tests/catalogue/test_rules.py", f"{PAGE}[rules.md]"),
    says="from tension.catalogue.rules import find_rule\n"
    "assert find_rule('granary-wharf-house-rule').limit == 0.07",
)


def _formula(tree: Tree) -> None:
    tree.add(
        "tension/physics/hitch_statics.py",
        '''

def travel_of_spring(*, force: float, rate: float) -> float:
    """Travel of a spring under a force, by Hooke's law.

    Parameters
    ----------
    force : float
        Along the axis. [N]
    rate : float
        Of the spring. [N/m]

    Returns
    -------
    float
        Travel. [m]

    Raises
    ------
    InvalidValueError
        If the rate is not positive.
    """
    require_positive("rate", rate)
    return force / rate
''',
    )


def _formula_tests(tree: Tree) -> None:
    tree.add(
        "tests/physics/test_travel_of_spring.py",
        '''"""Travel of a spring: twice the force, twice the travel."""

from tension.physics.hitch_statics import travel_of_spring


def test_travel_is_as_the_force() -> None:
    assert travel_of_spring(force=300.0, rate=150e3) == 0.002
''',
    )


FORMULA = Recipe(
    steps={
        "a function in physics": _formula,
        "its legs": _formula_tests,
        "a paragraph in docs/theory.md": lambda tree: tree.add(
            "docs/theory.md", "\nThe travel of a spring is F/k.\n"
        ),
        PAGES: _pages("nomenclature.md"),
    },
    tests=(
        "tests/physics/test_travel_of_spring.py",
        "tests/architecture/test_docstrings.py",
        "tests/architecture/test_shape.py",
        f"{PAGE}[nomenclature.md]",
    ),
    unheld=("a paragraph in docs/theory.md", PAGES),
)


def _file_form(tree: Tree) -> None:
    tree.add(
        "tension/files/pull_sheet.py",
        '''"""A sheet of side pulls: one force in newtons a line."""

from collections.abc import Sequence
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.atomic import write_atomically


def read_pull_sheet(path: Path) -> tuple[float, ...]:
    """Read the forces [N] of a sheet.

    Raises
    ------
    FileFormatError
        If a line is no number; one line per mistake.
    """
    forces, wrong = [], []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        try:
            forces.append(float(line))
        except ValueError:
            wrong.append(f"{path}, line {number}: write one force, not {line!r}")
    if wrong:
        raise FileFormatError("\\n".join(wrong))
    return tuple(forces)


def write_pull_sheet(forces: Sequence[float], path: Path) -> None:
    """Write forces [N], one a line."""
    lines = "".join(f"{force}\\n" for force in forces)
    write_atomically(path, lines.encode(), overwrite=True)
''',
    )


def _round_trip(tree: Tree) -> None:
    tree.add(
        "tests/files/test_pull_sheet.py",
        '''"""A sheet of pulls is read as it was written; mistakes are told by line."""

from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files.pull_sheet import read_pull_sheet, write_pull_sheet


def test_a_sheet_is_read_as_written(tmp_path: Path) -> None:
    write_pull_sheet((22.0, 23.5), tmp_path / "pulls.txt")
    assert read_pull_sheet(tmp_path / "pulls.txt") == (22.0, 23.5)


def test_every_mistake_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "pulls.txt").write_text("22\\ntwo\\n23\\nthree\\n")
    with pytest.raises(FileFormatError, match="line 2.*\\n.*line 4"):
        read_pull_sheet(tmp_path / "pulls.txt")
''',
    )


FILE_FORM = Recipe(
    steps={
        "one module in files": _file_form,
        "a round-trip test": _round_trip,
        "a section in docs/file-formats.md": lambda tree: tree.add(
            "docs/file-formats.md", "\n## Sheet of pulls\n\nOne force a line.\n"
        ),
        PAGES: _pages("nomenclature.md"),
    },
    tests=(
        "tests/files/test_pull_sheet.py",
        "tests/architecture/test_docstrings.py",
        "tests/architecture/test_shape.py",
        "tests/files/test_record_page.py::test_the_page_is_as_the_models_say",
        f"{PAGE}[nomenclature.md]",
    ),
    unheld=("a section in docs/file-formats.md", PAGES),
)


def _row_of_the_key(tree: Tree) -> None:
    tree.put(
        r"^travel +\| length.*\n",
        "landings | | | how many landings the lift serves\n",
        "tension/files",
    )


def _key_of_the_type(tree: Tree) -> None:
    tree.put(
        r"^class Lift:\n(?:    .*\n|\n)*?    travel: Quantity \| None = None\n",
        '    landings: str = ""\n',
    )


def _row_of_the_test(tree: Tree) -> None:
    tree.add(
        "tests/files/test_record.py",
        """

def test_the_landings_are_read() -> None:
    text = WHOLE.replace("[lift]\\n", '[lift]\\nlandings = "9"\\n')
    assert visit_from_text(text, Path("visit.toml")).lift.landings == "9"
""",
    )


def _record_page(tree: Tree) -> None:
    ran = tree.run("-m", "tests.files.record_page")
    assert not ran.returncode, ran.stderr


KEY = Recipe(
    steps={
        "a row in files/record_keys.txt": _row_of_the_key,
        "a field in the type it becomes": _key_of_the_type,
        "a row in tests/files/test_record.py": _row_of_the_test,
        "docs/file-formats.md is written": _record_page,
    },
    tests=(
        "tests/files/test_record.py::test_the_landings_are_read",
        "tests/files/test_record_page.py",
    ),
)


def _key_of_a_document(tree: Tree) -> None:
    tree.put(
        r"^complete  \| is_complete \| whether every rope has a number\n",
        "again | measure_again | the same as `measure_again`\n",
        "tension/documents",
    )


def _page_of_documents(tree: Tree) -> None:
    ran = tree.run("-m", "tests.documents.page")
    assert not ran.returncode, ran.stderr


DOCUMENT_KEY = Recipe(
    steps={
        "a line in documents/keys.txt": _key_of_a_document,
        "docs/file-formats.md is written": _page_of_documents,
    },
    tests=("tests/documents/test_page.py",),
    says="from tests.cli.running import DEMO, run\n"
    "ran = run('assess', DEMO / 'side-pulls', '--json')\n"
    "assert ran.document['again'] == ran.document['measure_again']",
)


def _command(tree: Tree) -> None:
    tree.add(
        "tension/cli/limit.py",
        '''"""``tension limit``: the limit of a rule."""

import click

from tension.cli import options


@options.command("limit")
def command(name: str = options.arg()) -> None:
    """Say the limit of a published rule.

    \\b
    tension limit gb50310-2002-4.9.5
    """
    from tension.catalogue.rules import find_rule

    click.echo(f"{100 * find_rule(name).limit:g} %")
''',
    )


def _line_in_main(tree: Tree) -> None:
    tree.put(
        r'    "assess": "Say equal.*\n', '    "limit": "Say the limit of a rule.",\n'
    )


def _command_test(tree: Tree) -> None:
    tree.add(
        "tests/cli/test_limit.py",
        '''"""``tension limit``: the figure, or one line."""

from tests.cli.running import run


def test_the_limit_is_said() -> None:
    assert run("limit", "gb50310-2002-4.9.5").out == "5 %\\n"


def test_an_unknown_rule_is_told() -> None:
    ran = run("limit", "nothing")
    assert (ran.code, ran.err.count("\\n")) == (3, 1)
''',
    )


COMMAND = Recipe(
    steps={
        "cli/NAME.py": _command,
        "its line in cli/main.py": _line_in_main,
        PAGES: _pages("cli.md"),
        "tests in tests/cli": _command_test,
    },
    tests=(
        "tests/cli/test_limit.py",
        "tests/architecture/test_front_door.py::test_help_loads_nothing_heavy",
        f"{PAGE}[cli.md]",
    ),
)


def _maker(tree: Tree) -> None:
    path = tree.file_with(r"^def looked\(", "tension/workflow")
    tree.add(
        path,
        '''

def instrument(visit: Visit, what: str, serial: str) -> Tables:
    """Add what was measured with.

    Parameters
    ----------
    visit : Visit
        What the record says.
    what, serial : str
        As a person typed them.
    """
    del visit
    return [NewTable(name="instrument", keys={"what": what, "serial": serial})]
''',
    )


def _word(tree: Tree) -> None:
    makers = tree.file_with(r"^def instrument\(", "tension/workflow")
    module = makers.relative_to(tree.root).with_suffix("").as_posix().replace("/", ".")
    tree.add(
        "tension/cli/add_words.py",
        f'''

@word()
def instrument_command(
    what: str = options.arg(), serial: str = options.arg()
) -> Maker:
    """Add what was measured with, and its number.

    \\b
    tension add instrument "spring scale" 1234
    """
    from {module} import instrument

    return lambda visit: instrument(visit, what, serial)
''',
    )


def _line_in_add(tree: Tree) -> None:
    tree.put(
        r'^    "run": "Round trips of the car .*\n',
        '    "instrument": "What was measured with.",\n',
    )


def _added_words(tree: Tree) -> None:
    tree.put(
        r'^  "turn": "turns after .*\n',
        '  "instrument": "instrument: {what}",\n',
    )


WORD = Recipe(
    steps={
        "one of `workflow/adding.py`": _maker,
        "`NAME_command`": _word,
        "its line in the list of `cli/add.py`": _line_in_add,
        "what it adds in words": _added_words,
        PAGES: _pages("cli.md"),
    },
    tests=(f"{PAGE}[cli.md]",),
    says="""import shutil, tempfile
from pathlib import Path
from tests.cli.running import DEMO, run
folder = Path(tempfile.mkdtemp()) / 'visit'
shutil.copytree(DEMO / 'side-pulls', folder)
ran = run('add', 'instrument', 'spring scale', '12', '--in', folder)
text = (folder / 'visit.toml').read_text()
shutil.rmtree(folder.parent)
assert ran.code == 0, ran.err
assert 'serial = "12"' in text
assert 'instrument: spring scale' in ran.out + ran.err, ran.out + ran.err
""",
)


def _question(tree: Tree) -> None:
    tree.put(
        r'^    _key\("visit.measured_by"\),\n',
        '    _key("visit.place"),\n',
    )


def _words_of_question(tree: Tree) -> None:
    tree.put(r'^  "measured_by": "Who measures",\n', '  "place": "Where",\n')


def _row_of_new_record(tree: Tree) -> None:
    tree.put(r'^witness +\| "name".*\n', "place | | machine room, car top, pit\n")


QUESTION = Recipe(
    steps={
        "a Question": _question,
        "its words": _words_of_question,
        "a row in `files/new_record.txt`": _row_of_new_record,
    },
    tests=("tests/files/test_new_record.py",),
    says="""import shutil, sys, tempfile
from pathlib import Path
from tension.cli.start_questions import QUESTIONS
from tests.cli.running import MEMOS
from tests.cli.test_start import answer
folder = Path(tempfile.mkdtemp())
for memo in MEMOS.iterdir():
    shutil.copy(memo, folder)
place = [question.key for question in QUESTIONS].index('place')
ran = answer(['start', str(folder)], [''] * place + ['W. Example'])
text = (folder / 'visit.toml').read_text()
shutil.rmtree(folder)
assert 'place = "W. Example"' in text, text
""",
)


def _figure(tree: Tree) -> None:
    tree.add(
        "tension/figures/forces.py",
        '''"""Forces of side pulls as points."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_forces(forces: Sequence[float], axes: "Axes") -> None:
    """Draw forces [N] over the number of the rope."""
    axes.plot(range(1, len(forces) + 1), forces, "o", color="0.0")
    axes.set_xlabel("Rope")
    axes.set_ylabel("Force / N")
''',
    )


FIGURE = Recipe(
    steps={"draw_what(result, axes)": _figure},
    tests=("tests/architecture/test_docstrings.py",),
    says="""from matplotlib.figure import Figure
from tension.figures.forces import draw_forces
axes = Figure().subplots()
draw_forces([22.0, 23.0], axes)
assert axes.get_ylabel().endswith('/ N')
""",
)


def _dependency(tree: Tree) -> None:
    path = tree.root / "pyproject.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("dependencies = [\n", 'dependencies = [\n    "attrs>=25",\n', 1)
    )


DEPENDENCY = Recipe(
    steps={
        "a line in pyproject.toml": _dependency,
        "a paragraph in docs/decisions.md": lambda tree: tree.add(
            "docs/decisions.md", "\n**attrs makes classes.** 0.1 MiB, 0.01 s, MIT.\n"
        ),
    },
    tests=("tests/architecture/test_dependencies.py",),
    unheld=("a line in pyproject.toml",),
)

RECIPES: dict[str, Recipe | None] = {
    "A rule": RULE,
    "A number": NUMBER,
    "A formula": FORMULA,
    "A file form": FILE_FORM,
    "A key of the record": KEY,
    "A key of a document": DOCUMENT_KEY,
    "A note": NOTE,
    "A sentence": None,
    "A language": None,
    "A command": COMMAND,
    "A word of `add`": WORD,
    "A question of `start`": QUESTION,
    "A figure": FIGURE,
    "A dependency": DEPENDENCY,
}
"""By the words they begin with in DEVELOPERS.md; None where nothing new is added.

A sentence changes a module that the tests of telling hold, and nothing chooses a
language yet.
"""
