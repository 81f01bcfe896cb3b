"""The work on one record, wherever it runs: from its path to its line."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from tension.errors import TensionError, lines_of
from tension.fleet.cache import RowCache
from tension.fleet.rows import FAULT, LiftRow, row_of, unusable
from tension.fleet.tree import Tree
from tension.fleet.unchanged import Rested, key_of, now, quick_key_of

if TYPE_CHECKING:
    from tension.workflow.assess import RuleChoice


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """What is the same for every record of a run; passed to every worker.

    Attributes
    ----------
    tree : Tree
        Where the records lie.
    choice : RuleChoice or None
        Another rule, limit or metric than the records'.
    cache : RowCache or None
        Lines of earlier runs; None to compute all anew and keep nothing.
    is_every_byte_read : bool
        Whether records that bear the same marks as before are read all the same.
    """

    tree: Tree
    choice: "RuleChoice | None" = None
    cache: RowCache | None = None
    is_every_byte_read: bool = False


def line_of_record(record: str, job: Job) -> LiftRow:
    """Answer one record: from an earlier run if its bytes are the same, else anew.

    Parameters
    ----------
    record : str
        Path of the record from the top of the tree.
    job : Job
        What is the same for every record.

    Returns
    -------
    LiftRow
        The line; "unusable" with every reason if the record cannot be used.
    """
    try:
        with job.tree.at_hand(record) as path:
            return replace(_answer(path, job), record=record)
    except (TensionError, OSError) as error:
        return unusable(record, job.tree.named(record, lines_of(error)))
    except Exception as error:  # noqa: BLE001 - the other records must get their line
        return unusable(record, [fault_text(record, type(error).__name__)], FAULT)


def untouched(record: str, job: Job) -> LiftRow | None:
    """Find the line of a record that nobody touched since its bytes were last read.

    Parameters
    ----------
    record : str
        Path of the record from the top of the tree.
    job : Job
        What is the same for every record.

    Returns
    -------
    LiftRow or None
        None if something may have changed.
    """
    folder = job.tree.folder
    if job.cache is None or job.is_every_byte_read or folder is None:
        return None
    path = folder / record
    row = job.cache.find_quick(quick_key_of(path, job.choice), path.parent)
    return None if row is None else replace(row, record=record)


def fault_text(record: str, what: str) -> str:
    """Say that the program failed over a record."""
    return (
        f"{record}: the program failed here ({what}), which is a fault of the program; "
        "run 'tension assess' on this record alone and report what it prints"
    )


def _answer(path: Path, job: Job) -> LiftRow:
    """The line of a record, kept under the bytes it rests on."""
    from tension.files.record import read_visit
    from tension.workflow.assess import assess_record

    if job.cache is None:
        return row_of(assess_record(path, choice=job.choice))
    began = now()
    visit = read_visit(path)
    rested = Rested.seen(path, visit)
    key = key_of(path, visit, job.choice)
    row = job.cache.find(key)
    if row is None:
        row = row_of(assess_record(path, choice=job.choice))
        if key_of(path, read_visit(path), job.choice) != key:
            return row  # changed meanwhile: right or wrong, it is not kept
        job.cache.keep(key, row)
    if job.tree.folder is not None and rested.is_settled(began):
        job.cache.keep_quick(quick_key_of(path, job.choice), key, rested)
    return row
