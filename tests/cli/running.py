"""Running commands in this process, as a person would type them."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from tension.cli.main import command

DEMO = Path(__file__).resolve().parents[2] / "recordings_demo"
MEMOS = DEMO / "six-memos" / "as-found"


@dataclass(frozen=True, kw_only=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """The JSON document on stdout."""
        document: dict[str, Any] = json.loads(self.out)
        return document


def run(*words: str | Path, env: dict[str, str] | None = None) -> Ran:
    """Run ``tension WORDS`` here; an exception that escapes fails the test."""
    result = CliRunner().invoke(
        command, [str(word) for word in words], env=env, catch_exceptions=False
    )
    return Ran(code=result.exit_code, out=result.stdout, err=result.stderr)


def without_command(text: str) -> list[str]:
    """Lines that are wrapped; the command to paste stays on one line."""
    return text.partition("\nNext command:")[0].splitlines()
