"""Ways in which a record comes back damaged, each with a word its reason must hold."""

from collections.abc import Callable
from pathlib import Path


def _cut(record: Path) -> None:
    text = record.read_bytes()
    record.write_bytes(text[: len(text) // 2])


def _emptied(record: Path) -> None:
    record.write_bytes(b"")


def _binary(record: Path) -> None:
    record.write_bytes(bytes(range(256)) * 40)


def _zeros(record: Path) -> None:
    record.write_bytes(bytes(4096))


def _no_unit(record: Path) -> None:
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace('"25 mm"', '"25"'), encoding="utf-8")


def _misspelt(record: Path) -> None:
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace("deflection", "deflexion"), encoding="utf-8")


def _folder(record: Path) -> None:
    record.unlink()
    record.mkdir()


def _link_to_nowhere(record: Path) -> None:
    record.unlink()
    record.symlink_to("gone.toml")


def _no_series(record: Path) -> None:
    text = record.read_text(encoding="utf-8")
    record.write_text(text.split("[[series]]")[0], encoding="utf-8")


def _other_coding(record: Path) -> None:
    record.write_bytes(b"\xff\xfe" + record.read_text("utf-8").encode("utf-16-le"))


def _recordings_alone(record: Path) -> None:
    record.unlink()
    (record.parent / "memo 1.m4a").write_bytes(b"sound")


WAYS: tuple[Callable[[Path], None], ...] = (
    _cut,
    _emptied,
    _binary,
    _zeros,
    _no_unit,
    _misspelt,
    _folder,
    _link_to_nowhere,
    _no_series,
    _other_coding,
    _recordings_alone,
)
