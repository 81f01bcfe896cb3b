"""Size and checksum of a file."""

from pathlib import Path

import pytest

from tension.files.evidence import hash_file

# from memory: the well-known one-block and two-block examples of the SHA-2 standard
EXAMPLES = {
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
}


@pytest.mark.parametrize("content", sorted(EXAMPLES))
def test_checksum_is_that_of_the_known_example(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(content)
    evidence = hash_file(path)
    assert evidence.sha256 == EXAMPLES[content]
    assert evidence.n_bytes == len(content)
    assert evidence.path == path.as_posix()


def test_files_larger_than_one_chunk_are_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(b"a" * 1_000_000 + b"b" * 500_000)
    # from memory: a million letters a are the third example of the standard
    whole = hash_file(path)
    assert whole.n_bytes == 1_500_000
    path.write_bytes(b"a" * 1_000_000)
    assert hash_file(path).sha256 == (
        "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
    )
    assert whole.sha256 != hash_file(path).sha256


def test_a_missing_file_is_the_callers_matter(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        hash_file(tmp_path / "missing")


def test_a_device_without_end_is_not_read() -> None:
    with pytest.raises(OSError, match="no ordinary file"):
        hash_file(Path("/dev/zero"))
