"""Reads the tables of printed numbers."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent


def read_table(name: str) -> list[dict[str, str]]:
    """Rows of one table as printed text; lines that start with # are its header."""
    lines = (FOLDER / name).read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    if not rows:
        raise ValueError(f"{name} holds no rows")
    return rows
