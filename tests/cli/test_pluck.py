"""``tension pluck``: what was heard of each file, and why nothing was."""

import json
import re
from pathlib import Path

import pytest

from tests.cli.running import DEMO, MEMOS, run


def test_a_file_that_is_not_there_is_a_line_on_stderr_and_a_document() -> None:
    ran = run("pluck", "nofile.wav", "--json")
    assert ran.code == 3
    assert len(ran.err.splitlines()) == 1
    assert "not there" in ran.err
    assert ran.err.count("nofile.wav") == 1
    assert json.loads(ran.out)["recordings"][0]["ropes"][0]["refused"]


def test_a_file_that_is_not_there_is_told_once() -> None:
    ran = run("pluck", "nofile.wav")
    assert ran.code == 3
    assert (ran.out + ran.err).count("not there") == 1


def test_good_files_are_heard_beside_one_that_is_missing() -> None:
    ran = run("pluck", MEMOS / "rope-2.m4a", "nofile.wav")
    assert ran.code == 0
    assert "fundamental 9.6" in ran.out
    assert "no number" in ran.out


def test_a_folder_without_sound_is_told_what_to_name(tmp_path: Path) -> None:
    ran = run("pluck", tmp_path, "--json")
    assert ran.code == 3
    assert "name the folder" in ran.err
    assert ran.document["errors"]


@pytest.mark.slow
def test_a_memo_of_many_plucks_fits_the_screen() -> None:
    order = "1 2 3 4 5 6 6 5 4 3 2 1"
    memo = DEMO / "one-memo" / "all-ropes.m4a"
    lines = run("pluck", memo, "--order", order, "--plucks-each", "3").out.splitlines()
    assert max(map(len, lines[1:])) <= 80
    for number in range(1, 7):
        assert any(line.startswith(f"Rope {number}: fundamental") for line in lines)


def test_files_are_numbered_as_they_come() -> None:
    ran = run("pluck", MEMOS / "rope-2.m4a", MEMOS / "rope-5.m4a")
    assert "Rope 1: fundamental 9.6" in ran.out
    assert "Rope 2: fundamental 11.4" in ran.out
    for heads in ("Pluck +from +to +over noise", "Partial +at +level +decay"):
        assert len(re.findall(f"^{heads}$", ran.out, re.MULTILINE)) == 2
    assert f"\n\n{MEMOS / 'rope-5.m4a'}\n" in ran.out


def test_one_sentence_on_several_ropes_stands_once(tmp_path: Path) -> None:
    for number in (1, 2, 3):
        copied = tmp_path / f"rope-{number}.m4a"
        copied.write_bytes((MEMOS / "rope-1.m4a").read_bytes())
    ran = run("assess", tmp_path, "--same-height")
    assert ran.code == 3
    assert ran.err.count("one and the same sound") == 1
