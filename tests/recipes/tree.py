"""A copy of the tree in which a recipe is followed."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("tension", "tests", "docs")
COPIED_FILES = ("DEVELOPERS.md", "README.md", "pyproject.toml")


class Tree:
    """The copy; files are found by what stands in them, not by their names."""

    def __init__(self, root: Path) -> None:
        self.root = root
        for name in COPIED:
            shutil.copytree(
                ROOT / name, root / name, ignore=shutil.ignore_patterns("__pycache__")
            )
        for name in COPIED_FILES:
            shutil.copy(ROOT / name, root / name)
        (root / "recordings_demo").symlink_to(ROOT / "recordings_demo")

    def file_with(self, pattern: str, under: str = "tension") -> Path:
        """The one file below a folder in which a pattern stands."""
        found = [
            path
            for path in sorted((self.root / under).rglob("*.*"))
            if path.suffix in {".py", ".txt", ".json"}
            and re.search(pattern, path.read_text(encoding="utf-8"), re.MULTILINE)
        ]
        assert len(found) == 1, (pattern, found)
        return found[0]

    def add(self, name: str | Path, text: str) -> None:
        """A new file, or lines at the end of one."""
        path = self.root / name
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(before + text, encoding="utf-8")

    def put(self, pattern: str, text: str, under: str = "tension") -> None:
        """Put text behind the one place of the one file where a pattern stands."""
        path = self.file_with(pattern, under)
        before = path.read_text(encoding="utf-8")
        found = list(re.finditer(pattern, before, re.MULTILINE))
        assert len(found) == 1, (pattern, path)
        end = found[0].end()
        path.write_text(before[:end] + text + before[end:], encoding="utf-8")

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run Python in the copy, as a contributor would."""
        return subprocess.run(
            [sys.executable, *words],
            cwd=self.root,
            env={**os.environ, "PYTHONPATH": str(self.root), "COLUMNS": "80"},
            capture_output=True,
            text=True,
            timeout=600,
            check=False,
        )

    def pages(self, *names: str) -> None:
        """Write pages of docs/ that are written from the program."""
        ran = self.run("-m", "tests.architecture.pages", *names)
        assert not ran.returncode, (names, ran.stderr)
