"""Seals and corrections that no program wrote: an answer, never a crash."""

import contextlib
import os
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tension.files.evidence import seal_path
from tension.files.seal import ChangeKind, text_sha256
from tension.files.toml_text import toml_value
from tension.workflow.integrity import verify
from tests.files.test_seal import correct, made_visit, seal

KEPT = settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def written(value: object) -> str:
    """Any value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return toml_value(value)
    if isinstance(value, list):
        return f"[{', '.join(map(written, value))}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{toml_value(k)} = {written(v)}" for k, v in value.items())
        return f"{{ {inside} }}"
    return str(value)


ODD = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(2**63), 2**63 - 1),
        st.text(st.characters(exclude_categories=["Cs"]), max_size=8),
        st.sampled_from(["../../x", "/dev/zero", "a\0b", "visit.toml", "0" * 64]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["path", "bytes", "sha256", "x"]), inner),
    ),
    max_leaves=6,
)


def forge(document: dict[str, Any]) -> str:
    """A file with a right checksum over whatever it holds."""
    body = {k: v for k, v in document.items() if k != "seal"}
    above = "".join(f"{k} = {written(v)}\n" for k, v in body.items()) + "[seal]\n"
    return f'{above}sha256_of_all_above = "{text_sha256(above)}"\n'


@pytest.mark.slow
@KEPT
@given(data=st.data())
def test_a_forged_seal_with_a_right_checksum_gets_an_answer(
    tmp_path: Path, data: st.DataObject
) -> None:
    with contextlib.suppress(FileNotFoundError):
        seal_path(tmp_path / "visit.toml").unlink()
    record = seal(tmp_path, made_visit(tmp_path))
    path = seal_path(record)
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    names = [*document, "file", "missing", "more"]
    for name in data.draw(st.lists(st.sampled_from(names), min_size=1, max_size=3)):
        document[name] = data.draw(ODD)
        if data.draw(st.booleans()):
            del document[name]
    path.write_text(forge(document), encoding="utf-8")
    found = verify(record)
    assert found.is_same or found.changes[0].text


@pytest.mark.slow
@KEPT
@given(content=st.binary(max_size=200), which=st.sampled_from(["seal", "corrections"]))
def test_any_bytes_in_its_place_are_a_change(
    tmp_path: Path, content: bytes, which: str
) -> None:
    with contextlib.suppress(FileNotFoundError):
        seal_path(tmp_path / "visit.toml").unlink()
    record = seal(tmp_path, made_visit(tmp_path))
    (tmp_path / f"visit.{which}.toml").write_bytes(content)
    try:
        found = verify(record)
    finally:
        (tmp_path / f"visit.{which}.toml").unlink()
    assert not found.is_same
    assert found.changes[0].path == f"visit.{which}.toml"


def as_folder(path: Path) -> None:
    path.mkdir()


def as_pipe(path: Path) -> None:
    os.mkfifo(path)


def as_lost_link(path: Path) -> None:
    path.symlink_to("nowhere")


def as_loop(path: Path) -> None:
    path.symlink_to(path.name)


@pytest.mark.parametrize("odd", [as_folder, as_pipe, as_lost_link, as_loop])
@pytest.mark.parametrize("which", ["visit.seal.toml", "visit.corrections.toml"])
def test_what_is_no_file_is_a_change(
    tmp_path: Path, odd: Callable[[Path], None], which: str
) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    correct(record, text="A word.")
    (tmp_path / which).unlink()
    odd(tmp_path / which)
    (change, *_) = verify(record).changes
    assert change.path == which
    assert change.kind in {ChangeKind.SEAL, ChangeKind.CORRECTIONS}


def test_nested_brackets_are_a_change(tmp_path: Path) -> None:
    record = seal(tmp_path, made_visit(tmp_path))
    deep = "x = " + "[" * 50_000 + "]" * 50_000 + "\n[seal]\n"
    content = f'{deep}sha256_of_all_above = "{text_sha256(deep)}"\n'
    seal_path(record).write_text(content, encoding="utf-8")
    assert not verify(record).is_same


def test_the_seal_of_another_record_is_told(tmp_path: Path) -> None:
    record = seal(tmp_path, made_visit(tmp_path))
    other = tmp_path / "visit-2.toml"
    other.write_text("format = 1\n", encoding="utf-8")
    seal_path(other).write_bytes(seal_path(record).read_bytes())
    (change,) = verify(other).changes
    assert "the seal of visit.toml, not of visit-2.toml" in change.text


def test_a_file_that_became_a_link_out_of_the_folder_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "visit"
    folder.mkdir()
    record = seal(folder, made_visit(folder))
    photo = folder / "photos/tag.jpg"
    (tmp_path / "tag.jpg").write_bytes(photo.read_bytes())
    photo.unlink()
    photo.symlink_to(tmp_path / "tag.jpg")
    (change,) = verify(record).changes
    assert "leads out of" in change.text


def test_each_record_of_a_folder_has_corrections_of_its_own(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    other = tmp_path / "second.toml"
    other.write_bytes(record.read_bytes())
    from tension.files.seal import write_seal

    write_seal(visit, other)
    correct(record, text="A word on the first.")
    assert verify(other).is_same
    correct(other, text="A word on the second.")
    assert verify(other).is_same
    assert verify(record).is_same


@pytest.mark.parametrize("text", ['correction = ["a"]\n', "[correction]\n", "a = 1\n"])
def test_corrections_of_another_form_are_a_change(tmp_path: Path, text: str) -> None:
    record = seal(tmp_path, made_visit(tmp_path))
    (tmp_path / "visit.corrections.toml").write_text(text, encoding="utf-8")
    (change,) = verify(record).changes
    assert "can no longer be read" in change.text
