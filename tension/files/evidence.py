"""What a result rests on: size and checksum of every file that was read."""

import errno
import hashlib
from dataclasses import dataclass
from pathlib import Path

_CHUNK = 1 << 20


@dataclass(frozen=True, kw_only=True, slots=True)
class FileEvidence:
    """One file as it was when it was read.

    Attributes
    ----------
    path : str
        How the record or the command line names it, with forward slashes.
    n_bytes : int
        Size. [byte]
    sha256 : str
        SHA-256 of the bytes, 64 hexadecimal digits.
    """

    path: str
    n_bytes: int
    sha256: str


def hash_file(path: Path, name: str | None = None) -> FileEvidence:
    """Read a file once and return its size and checksum, under a name if it has one.

    Both come from the same bytes, so they belong together even if the file grows.

    Raises
    ------
    OSError
        If it is missing, cannot be read or is no ordinary file; whether that matters
        is for the caller to say.

    Notes
    -----
    SHA-256 of FIPS 180-4.
    """
    if not path.is_file() and path.exists():
        # a device or a pipe may have no end
        raise OSError(errno.EINVAL, "no ordinary file", str(path))
    digest = hashlib.sha256()
    n_bytes = 0
    with path.open("rb") as opened:
        while chunk := opened.read(_CHUNK):
            digest.update(chunk)
            n_bytes += len(chunk)
    return FileEvidence(
        path=path.as_posix() if name is None else name,
        n_bytes=n_bytes,
        sha256=digest.hexdigest(),
    )
