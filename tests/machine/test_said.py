"""Nothing that the commands say of a fixed draw of records changes by accident."""

from pathlib import Path

import pytest

from tests.machine.said import HISTORY, NAMES, Line, kept, said_of

ANEW = """
If this change means to say something else, write it anew in the same commit, and tell
the user in docs/changelog.md:  python -m tests.machine.said
To hold both states together whole:  python -m tests.machine.said --out FOLDER"""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("said")


def _first_differing(lines: list[Line], before: list[str]) -> str:
    """The lines that differ first, as they were and as they are."""
    now = [line.kept for line in lines]
    at = next(
        (i for i, (a, b) in enumerate(zip(now, before, strict=False)) if a != b),
        min(len(now), len(before)),
    )
    was = "\n".join(f"  was  {line}" for line in before[at : at + 3])
    is_now = "\n".join(f"  is   {line.whole}" for line in lines[at : at + 3])
    return f"{was}\n{is_now}"


@pytest.mark.parametrize("name", [*NAMES, HISTORY])
def test_the_commands_say_what_they_said(name: str, place: Path) -> None:
    said, before = said_of(name, place), kept().get(name, {})
    differing = [
        f"record {name}, tension {words}:\n{_first_differing(lines, then)}"
        for words, lines in said.items()
        if [line.kept for line in lines] != (then := before.get(words, []))
    ]
    assert not differing, "\n".join([*differing[:4], ANEW])
    assert list(said) == list(before)
