"""The small changes are what they say, and stand where behaviour is."""

import ast
from importlib.util import module_from_spec
from pathlib import Path

import pytest

from tests.mutation import run
from tests.mutation.changes import ROOMS, changes_of, drawn, source_with, text_with
from tests.mutation.run import ROOT, Changed

TEXT = '''\
"""A text of 3 words."""

LIMIT: Literal[3] = 2


@frozen(slots=True)
def judge(share: float, least: float = 0.5) -> bool:
    """Judge 1 share."""
    return -share + 4 * least < LIMIT and not share is None
'''


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    (tmp_path / "module.py").write_text(TEXT, encoding="utf-8")
    return tmp_path


def test_every_kind_of_slip_is_made_once(tree: Path) -> None:
    made = [(c.kind, c.before, c.after) for c in changes_of(tree, Path("module.py"))]
    sum_of = "-share + 4 * least"
    assert sorted(made) == sorted(
        [
            ("constant", "2", "3"),
            ("constant", "0.5", "0.75"),
            ("constant", "4", "5"),
            ("sign", "-share", "share"),
            ("sign", sum_of, "-share - 4 * least"),
            ("operator", "4 * least", "4 / least"),
            ("comparison", f"{sum_of} < LIMIT", f"{sum_of} <= LIMIT"),
            ("comparison", f"{sum_of} < LIMIT", f"{sum_of} >= LIMIT"),
            ("comparison", "share is None", "share is not None"),
            ("boolean", "not share is None", "share is None"),
            (
                "boolean",
                f"{sum_of} < LIMIT and (not share is None)",
                f"{sum_of} < LIMIT or not share is None",
            ),
        ]
    )


def test_one_change_changes_one_place(tree: Path) -> None:
    before = ast.unparse(ast.parse(TEXT)).splitlines()
    for change in changes_of(tree, Path("module.py")):
        after = source_with(tree, change).splitlines()
        differing = [
            i for i, (a, b) in enumerate(zip(before, after, strict=True)) if a != b
        ]
        assert len(differing) == 1, change
        assert (change.function == "judge") == (change.line > 3)


def test_the_text_with_a_change_differs_where_a_constant_of_the_module_did(
    tree: Path,
) -> None:
    texts = [text_with(tree, change) for change in changes_of(tree, Path("module.py"))]
    changed = TEXT.replace("LIMIT: Literal[3] = 2", "LIMIT: Literal[3] = 3")
    assert sorted(texts) == sorted([changed, *[TEXT] * (len(texts) - 1)])


@pytest.mark.slow
def test_the_same_seed_draws_the_same_and_every_room_is_met() -> None:
    first = drawn(ROOT, 200, 3)
    assert first == drawn(ROOT, 200, 3)
    assert first[:20] == drawn(ROOT, 20, 3)
    assert {change.path.parts[1] for change in first} == set(ROOMS)
    assert len(set(first)) == 200
    ast.parse(source_with(ROOT, first[0]))


def test_a_change_is_in_the_module_read_and_not_on_the_disk(
    tree: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "ROOT", tree)
    path = tree / "module.py"
    path.write_text("LIMIT = 2\n", encoding="utf-8")
    (change,) = changes_of(tree, Path("module.py"))
    finder = Changed(change)
    assert finder.find_spec("another") is None
    spec = finder.find_spec("module")
    assert spec is not None
    module = module_from_spec(spec)
    finder.exec_module(module)
    assert module.LIMIT == 3
    assert path.read_text(encoding="utf-8") == "LIMIT = 2\n"
