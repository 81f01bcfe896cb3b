"""Where a command may write: never over anything that it reads."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from tension.errors import ExistingFileError
from tension.files.natural_order import find_recordings
from tension.files.record import read_visit
from tension.files.visit import named_files
from tension.workflow.inputs import find_record, is_record


def require_no_input(output: Path, paths: Sequence[Path]) -> None:
    """Refuse to write over a file that is read, whatever was asked.

    Parameters
    ----------
    output : Path
        Where to.
    paths : sequence of Path
        What the command was pointed at: records, folders, sound files.

    Raises
    ------
    ExistingFileError
        If it is one of them, or a file that a record names, or its seal or corrections.
    """
    if not output.exists():
        return
    for path in paths:
        for read in _read_for(path):
            if read.exists() and Path(output).samefile(read):
                raise ExistingFileError(
                    f"{output}: this file is read here and is never written over; "
                    "give another name"
                )


def _read_for(path: Path) -> Iterator[Path]:
    """Every file that is read where a path is given."""
    if is_record(path):
        record = find_record(path)
        yield record
        yield from record.parent.glob("*.toml")
        for name in named_files(read_visit(record)):
            yield record.parent / name
    elif path.is_dir():
        yield from find_recordings(path)
    else:
        yield path
