"""A tree over one record of which the process that reads it dies."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tension.fleet.tree import Tree


@dataclass(frozen=True, kw_only=True, slots=True)
class DeadlyTree(Tree):
    """As a decoder that fails would end a worker, so does the record of lift 3."""

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Die over one record."""
        if "lift 3" in record:
            os._exit(139)
        yield Path(self.name) / record
