"""What every document holds: versions, files it rests on, notes, reasons."""

import platform
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version

from tension.documents.shape import Document, shape
from tension.files.evidence import FileEvidence
from tension.notes import Note, NoteKind
from tension.version import __version__

SCHEMA_VERSION = 1

_PACKAGES = ("numpy", "av")
_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}

NOTE = shape(
    """
    code     | | stable name, see [notes.md](notes.md)
    number   | | number to quote
    text     | | what was found
    next_act | | what to do
    ropes    | | rope numbers concerned; empty for the set
    """,
    number=lambda note: _NUMBER_OF.get(note.code),
)

REASON = shape(
    """
    code     | | stable name, see [notes.md](notes.md)
    text     | | what was found
    next_act | | what to do
    """
)
"""Why there is no answer, or none of the kind asked for."""

RIVAL = shape(
    """
    fundamental_hz | fundamental_frequency | another way to count the partials
    probability    |                       | its probability
    """
)

ENVELOPE = shape(
    """
    schema_version | | 1
    command        | | the command that answered
    software       | | versions of `python`, `tension`, `numpy`, `av`
    inputs[]       | |
    notes[]        | |
    """,
    schema_version=lambda _: SCHEMA_VERSION,
    command=lambda told: told[0],
    software=lambda _: software_versions(),
    inputs=(
        shape(
            """
            path   |         | the file, as the record or the command line names it; a
                               record by its own name
            bytes  | n_bytes | its size
            sha256 |         | its checksum
            """
        ),
        lambda told: told[1],
    ),
    notes=(NOTE, lambda told: told[2]),
)


def software_versions() -> dict[str, str]:
    """Tell the versions of this program, of Python and of what reads sound."""
    found = {"python": platform.python_version(), "tension": __version__}
    for name in _PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def envelope(
    command: str, inputs: Sequence[FileEvidence] = (), notes: Sequence[Note] = ()
) -> Document:
    """Make the part that every document of a command has."""
    return ENVELOPE.of((command, inputs, notes))


def errors_document(command: str, lines: Sequence[str]) -> Document:
    """Tell why a command could not use its input."""
    document = envelope(command) | {"errors": list(lines)}
    if command in {"assess", "demo", "listen"}:
        document["verdict"] = "no-result"
    return document
