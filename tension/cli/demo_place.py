"""Where the demo recordings are: in the wheel, or beside the package in a clone."""

from pathlib import Path


def find_demo() -> Path:
    """Find the folder of the demo recordings.

    Raises
    ------
    FileFormatError
        If this copy of the program came without them.
    """
    from tension.errors import FileFormatError

    package = Path(__file__).resolve().parent.parent
    for folder in (package / "recordings_demo", package.parent / "recordings_demo"):
        if (folder / "README.md").is_file():
            return folder
    raise FileFormatError(
        "the demo recordings did not come with this copy of the program; "
        "install it again from its source folder or wheel"
    )
