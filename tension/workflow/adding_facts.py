"""Facts added to a record: what lift and set are, as far as the record lacks it."""

from collections.abc import Sequence
from typing import Literal

from tension.errors import FileFormatError
from tension.files.additions import Maker
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit


def facts(
    table: Literal["lift", "set"], keys: Sequence[tuple[str, Value | None]]
) -> Maker:
    """Add keys to a table that a record has once.

    Parameters
    ----------
    table : "lift" or "set"
        Which table.
    keys : sequence of (str, Value or None)
        As the record writes them; what is empty or None was not said. A key that
        stands there already is refused when the record is read with both.
    """

    def make(visit: Visit) -> Sequence[NewTable]:
        del visit
        said = tuple((key, value) for key, value in keys if value)
        if not said:
            names = ", ".join(f"--{key.replace('_', '-')}" for key, _ in keys)
            raise FileFormatError(
                f"nothing was said of the {table}, so nothing is added; say {names}"
            )
        return [NewTable(name=table, keys=said)]

    return make
