"""The record, from disk to memory: every mistake of content at once, a line each."""

from functools import partial
from pathlib import Path

from tension.files.mistakes import read_tables
from tension.files.record_links import contradictions
from tension.files.record_models_whole import Record
from tension.files.record_references import known_from
from tension.files.record_syntax import parse_toml, read_record_text
from tension.files.visit import Visit
from tension.measurement.readings import names_that_are_none


def read_visit(path: Path | str) -> Visit:
    """Read a record.

    Parameters
    ----------
    path : Path or str
        The record, such as ``visit.toml``.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, or with every mistake of content, a line each.

    Examples
    --------
    >>> read_visit("recordings_demo/side-pulls/visit.toml").rope_set.n_ropes
    6
    """
    path = Path(path)
    return visit_from_text(read_record_text(path), path)


def visit_from_text(text: str, path: Path) -> Visit:
    """Read the text of a record.

    Parameters
    ----------
    text : str
        Its text.
    path : Path
        Where it lies; recordings are looked for beside and below.

    Raises
    ------
    FileFormatError
        As `read_visit` does.
    """
    document = parse_toml(text, str(path))
    read = partial(
        read_tables,
        document,
        Record,
        (str(path), text),
        context=known_from(document, path.parent),
    )
    visit = read(told=contradictions(document)).build(path)
    wrong = names_that_are_none(visit.readings, visit.exclusions)
    if told := [(("exclusion", i, "reading"), fault) for i, fault in wrong]:
        read(told=told)
    return visit
