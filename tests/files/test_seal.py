"""Seal, corrections and verification of a record and of all it names."""

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from tension.errors import ExistingFileError, FileFormatError
from tension.files.evidence import seal_path
from tension.files.record import read_visit
from tension.files.seal import (
    ChangeKind,
    Correction,
    _read_seal,
    read_sealed,
    rule_words,
    write_seal,
)
from tension.files.visit import Visit, named_files
from tension.workflow.integrity import add_correction, verify

RECORD = """format = 1
[lift]
name = "Granary Wharf, goods lift 2"
[rule]
metric = "below-highest"
limit = "10 %"   # Łódź, "quoted", back\\slash
[set]
ropes = 2
[[span]]
name = "top"
[[series]]
name = "as found"
span = "top"
[[finding]]
rope = 1
kind = "rouge"
seen = "no"
photo = "photos/tag.jpg"
[allowance]
file = "own.toml"
"""
PLUCK = """[[reading]]
series = "as found"
kind = "pluck"
rope = 1
recording = "NAME"
"""
NAMES = ("as-found/rope-1.m4a", "as-found/rope-2.m4a")
RECORD += "".join(PLUCK.replace("NAME", name) for name in NAMES)


def made_visit(folder: Path) -> Visit:
    """A record with two recordings and a photo."""
    record = folder / "visit.toml"
    record.write_text(RECORD, encoding="utf-8")
    for name, content in (
        ("as-found/rope-1.m4a", b"one" * 400),
        ("as-found/rope-2.m4a", b"two" * 400),
        ("photos/tag.jpg", b"photo"),
        ("own.toml", b"# table"),
    ):
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    return read_visit(record)


def seal(folder: Path, visit: Visit) -> Path:
    record = folder / "visit.toml"
    write_seal(visit, record)
    return record


def correct(record: Path, reason: str = "typing error", text: str = "") -> Correction:
    return add_correction(record, Correction(by="R. Calder", reason=reason, text=text))


def test_a_sealed_record_is_the_same_until_a_byte_changes(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    found = verify(record)
    assert found.is_same
    assert len(found.files) == 5
    assert len(found.sha256) == 64


def test_what_a_seal_says_is_read_back(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    read = _read_seal(seal_path(record))
    assert read.record_text == RECORD
    assert read.rule == rule_words(visit.rule)
    assert [f.path for f in read.files] == ["visit.toml", *named_files(visit)]
    assert "authorship" in seal_path(record).read_text(encoding="utf-8")


@pytest.mark.slow
def test_every_changed_byte_is_found(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    correct(record, text="The tape was read by M. Adeyemi.")
    names = (
        "visit.toml",
        *named_files(visit),
        "visit.seal.toml",
        "visit.corrections.toml",
    )
    files = {name: (tmp_path / name).read_bytes() for name in names}
    places = [(name, i) for name, content in files.items() for i in range(len(content))]
    generator = np.random.default_rng(20261120)
    chosen = generator.choice(len(places), size=1000, replace=True)
    for place in chosen:
        name, index = places[place]
        content = bytearray(files[name])
        content[index] ^= int(generator.integers(1, 256))
        (tmp_path / name).write_bytes(bytes(content))
        found = verify(record)
        assert not found.is_same, (name, index)
        assert name in {change.path for change in found.changes}
        (tmp_path / name).write_bytes(files[name])
    assert verify(record).is_same


@pytest.mark.parametrize("edit", [lambda b: b + b"\n", lambda b: b[:-1], lambda _: b""])
@pytest.mark.parametrize(
    "name",
    ["visit.toml", "visit.seal.toml", "visit.corrections.toml", "photos/tag.jpg"],
)
def test_a_lengthened_or_shortened_file_is_found(
    tmp_path: Path, name: str, edit: Callable[[bytes], bytes]
) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    correct(record, text="A word.")
    path = tmp_path / name
    path.write_bytes(edit(path.read_bytes()))
    assert not verify(record).is_same


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    (tmp_path / "as-found/rope-2.m4a").unlink()
    found = verify(record).changes
    assert [(c.kind, c.path) for c in found] == [
        (ChangeKind.MISSING, "as-found/rope-2.m4a")
    ]


def test_a_file_named_after_sealing_is_told(tmp_path: Path) -> None:
    record = seal(tmp_path, made_visit(tmp_path))
    more = PLUCK.replace("NAME", "as-left/rope-1.m4a")
    record.write_text(RECORD + more, encoding="utf-8")
    found = {c.path: c.kind for c in verify(record).changes}
    assert found.pop("visit.toml") is ChangeKind.CHANGED
    assert found == {"as-left/rope-1.m4a": ChangeKind.NOT_SEALED}


def test_a_file_that_was_missing_when_sealed_stays_told_as_missing(
    tmp_path: Path,
) -> None:
    visit = made_visit(tmp_path)
    (tmp_path / "photos/tag.jpg").unlink()
    record = seal(tmp_path, visit)
    assert _read_seal(seal_path(record)).missing == ("photos/tag.jpg",)
    assert verify(record).is_same


def test_a_file_that_was_missing_and_comes_later_is_told(tmp_path: Path) -> None:
    """Else a recording slipped in after sealing would pass."""
    visit = made_visit(tmp_path)
    tag = tmp_path / "photos/tag.jpg"
    tag.unlink()
    record = seal(tmp_path, visit)
    tag.write_bytes(b"another photo")
    (change,) = verify(record).changes
    assert (change.kind, change.path) == (ChangeKind.NOT_SEALED, "photos/tag.jpg")
    assert "was not there when the record was sealed" in change.text
    correct(record)
    assert verify(record).is_same
    tag.write_bytes(b"a third photo")
    assert not verify(record).is_same


def test_a_correction_settles_a_reading_whose_file_is_not_there(
    tmp_path: Path,
) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    record.write_text(RECORD + PLUCK.replace("NAME", "gone.m4a"), encoding="utf-8")
    kinds = {c.kind for c in verify(record).changes}
    assert kinds == {ChangeKind.CHANGED, ChangeKind.NOT_SEALED}
    made = correct(record)
    assert made.missing == ("gone.m4a",)
    assert verify(record).is_same
    (tmp_path / "gone.m4a").write_bytes(b"found again")
    assert not verify(record).is_same
    assert correct(record).missing == ()
    assert verify(record).is_same


def test_a_rule_changed_after_sealing_is_shown_line_by_line(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    record.write_text(RECORD.replace("10 %", "20 %"), encoding="utf-8")
    (change,) = verify(record).changes
    assert [line for line in change.lines if "%" in line] == [
        '- limit = "10 %"   # Łódź, "quoted", back\\slash',
        '+ limit = "20 %"   # Łódź, "quoted", back\\slash',
    ]


def test_a_corrected_rule_is_accepted_and_stays_visible(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    new = RECORD.replace("10 %", "20 %")
    record.write_text(new, encoding="utf-8")
    changed = read_visit(record)
    correct(record, reason="the house rule has 20 %")
    found = verify(record)
    assert found.is_same
    assert [words for _, words in found.rules] == [
        rule_words(visit.rule),
        rule_words(changed.rule),
    ]
    assert read_sealed(record).record_text == new


def test_corrections_are_tied_to_the_one_before(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    first = correct(record, text="First.")
    second = correct(record, text="Second.")
    sealed = _read_seal(seal_path(record))
    assert (first.previous, second.previous) == (sealed.sha256, first.sha256)
    path = tmp_path / "visit.corrections.toml"
    text = path.read_text(encoding="utf-8")
    start, end = text.index("\n[[correction]]"), text.rindex("\n[[correction]]")
    path.write_text(text[:start] + text[end:], encoding="utf-8")
    (change,) = verify(record).changes
    assert change.kind is ChangeKind.CORRECTIONS
    path.write_bytes(text.encode() + b"\xff")
    with pytest.raises(FileFormatError, match="is no text; it was changed"):
        correct(record, text="Third.")


def test_a_correction_needs_a_name_a_reason_and_something_to_put_right(
    tmp_path: Path,
) -> None:
    visit = made_visit(tmp_path)
    record = seal(tmp_path, visit)
    with pytest.raises(FileFormatError, match="nothing changed"):
        correct(record)
    with pytest.raises(FileFormatError, match="say why: --reason TEXT"):
        correct(record, reason=" ", text="words")


def test_a_seal_is_never_written_over_another(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    seal(tmp_path, visit)
    with pytest.raises(ExistingFileError, match="sealed already"):
        seal(tmp_path, visit)


def test_verifying_without_a_seal_says_how_to_make_one(tmp_path: Path) -> None:
    made_visit(tmp_path)
    with pytest.raises(FileFormatError, match="tension seal"):
        verify(tmp_path / "visit.toml")


def test_a_record_that_is_no_text_is_sealed_and_verified_too(tmp_path: Path) -> None:
    visit = made_visit(tmp_path)
    (tmp_path / "visit.toml").write_bytes(b"\xff\xfe\x00f")
    record = seal(tmp_path, visit)
    assert verify(record).is_same
    record.write_bytes(b"\xff\xfe\x00g")
    assert verify(record).changes[0].lines == ()


@pytest.mark.parametrize("fault", ["write", "fsync", "name"])
@pytest.mark.parametrize("what", ["seal", "correction"])
def test_a_fault_while_writing_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str, what: str
) -> None:
    visit = made_visit(tmp_path)
    record = tmp_path / "visit.toml"
    if what == "correction":
        seal(tmp_path, visit)
        correct(record, text="First.")
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}

    def fail(*_args: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    if fault == "write":
        monkeypatch.setattr(Path, "write_bytes", fail)
    elif fault == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr(os, "link", fail)
        monkeypatch.setattr(Path, "replace", fail)
    write: Callable[[], object] = partial(seal, tmp_path, visit)
    if what == "correction":
        write = partial(correct, record, text="Second.")
    with pytest.raises(FileFormatError, match="nothing was changed"):
        write()
    monkeypatch.undo()
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before
