"""From what a person types to the tree that is meant."""

from pathlib import Path

from tension.errors import FileFormatError
from tension.fleet.folder_tree import FolderTree
from tension.fleet.tree import Tree


def open_tree(text: str) -> Tree:
    """Find the tree that a person means.

    Parameters
    ----------
    text : str
        A folder, or an address such as ``s3://bucket/lifts``.

    Raises
    ------
    FileFormatError
        If there is no such folder, or what reads such addresses is not installed.
    """
    if "://" in text:
        from tension.fleet.url_tree import UrlTree

        return UrlTree.opened(text)
    top = Path(text)
    if top.is_dir():
        return FolderTree(top=top.absolute())
    if top.exists():
        raise FileFormatError(
            f"{top}: this is a file; name the folder that holds the records, or "
            f"use 'tension assess' for one record"
        )
    raise FileFormatError(f"{top}: there is no such folder; check the name")
