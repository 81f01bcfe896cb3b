"""Download what others recorded, at pinned versions, outside the repository.

    python -m tests.benchmarks.foreign.fetch

The ordinary clients do it: npm, and apt-get where there is one. A package that
cannot be had is named and skipped. The folder is $TENSION_FOREIGN, or
tension-foreign in the user's cache.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

from tests.benchmarks.foreign.notes import build_catalogue
from tests.benchmarks.foreign.sources import (
    SOURCES,
    Client,
    Source,
    cache_folder,
    unpacked_folder,
)


def commands(source: Source) -> tuple[list[str], ...]:
    """Calls to try in order; the last of apt takes whatever version there is."""
    name, version = source.package, source.version
    if source.client is Client.NPM:
        return (["npm", "pack", "--silent", f"{name}@{version}"],)
    return (
        ["apt-get", "download", "-q", f"{name}={version}"],
        ["apt-get", "download", "-q", name],
    )


def download(source: Source, folder: Path) -> Path | None:
    """Have a package brought into an empty folder; None if it cannot be had."""
    for i, command in enumerate(commands(source)):
        try:
            subprocess.run(command, cwd=folder, check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            continue
        if i:
            print(f"{source.package}: {source.version} has gone, another was taken")
        return next(folder.iterdir(), None)
    return None


def unpack(archive: Path, folder: Path) -> None:
    """Unpack an npm tarball or a Debian package."""
    if archive.suffix == ".deb":
        subprocess.run(["dpkg-deb", "-x", str(archive), str(folder)], check=True)
    else:
        shutil.unpack_archive(archive, folder, "gztar", filter="data")


def bring(source: Source) -> bool:
    """Whether a source lies unpacked in the cache, fetched if need be."""
    folder = unpacked_folder(source)
    if folder.is_dir():
        return True
    cache_folder().mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=cache_folder()) as name:
        into = Path(name) / "in"
        into.mkdir()
        archive = download(source, into)
        if archive is None:
            return False
        out = Path(name) / "out"
        out.mkdir()
        unpack(archive, out)
        folder.parent.mkdir(parents=True, exist_ok=True)
        shutil.move(out, folder)
    return True


def main() -> None:
    """Fetch everything, then measure every note."""
    for source in SOURCES:
        if not bring(source):
            print(f"{source.package} {source.version}: cannot be had, skipped")
    build_catalogue()


if __name__ == "__main__":
    main()
