"""What a record says beside the readings: instruments, answers to notes, trims.

The record reader hands each ``[[instrument]]``, ``[[answer]]`` and ``[[trim]]`` table
to the function of that name here and gets the value, or every mistake with its key.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from tension.quantity.keys import KeyReader, Mistake

INSTRUMENT_KEYS = ("what", "name", "serial", "setting", "last_check", "note")
ANSWER_KEYS = ("note", "answer", "by", "date", "ropes")
TRIM_KEYS = (
    "recording",
    "trimmed",
    "bytes",
    "sha256",
    "kept",
    "silenced",
    "original",
    "by",
    "date",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Instrument:
    """An instrument used at the visit.

    Attributes
    ----------
    what : str
        Such as "spring scale", "phone", "tape", "stopwatch".
    name, serial, setting : str
        Model, serial number, recorder setting; free text.
    last_check : str
        When and how it was last checked, such as against a known weight.
    note : str
        Free text.
    """

    what: str
    name: str = ""
    serial: str = ""
    setting: str = ""
    last_check: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class NoteAnswer:
    """What a person answered to a note that the program showed.

    Attributes
    ----------
    note : str
        Number or code of the note.
    answer : str
        Free text.
    by, date : str
        Who and when.
    ropes : tuple of int
        Rope numbers concerned.
    """

    note: str
    answer: str
    by: str = ""
    date: str = ""
    ropes: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Trim:
    """A recording of which only the windows around the plucks are kept.

    Attributes
    ----------
    recording : str
        The recording as the readings name it.
    trimmed : str
        The file that is read in its place.
    n_bytes : int
        Size of the original. [1]
    sha256 : str
        Checksum of the original, taken before anything was written.
    kept : str
        Windows kept, in seconds from the start, as text.
    silenced : str
        What was done with the rest.
    original : str
        Whether the original was kept or deleted.
    by, date : str
        Who and when.
    """

    recording: str
    trimmed: str
    n_bytes: int
    sha256: str
    kept: str = ""
    silenced: str = ""
    original: str = "kept"
    by: str = ""
    date: str = ""


def instrument_from_table(
    table: Mapping[str, object],
) -> tuple[Instrument | None, tuple[Mistake, ...]]:
    """Read one ``[[instrument]]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.

    Returns
    -------
    tuple of (Instrument or None, tuple of Mistake)
        The instrument, or None with every mistake found.
    """
    reader = KeyReader(table)
    reader.only(INSTRUMENT_KEYS, {})
    instrument = Instrument(
        what=reader.text("what"),
        name=reader.text("name"),
        serial=reader.text("serial"),
        setting=reader.text("setting"),
        last_check=reader.text_or_day("last_check"),
        note=reader.text("note"),
    )
    _require(reader, "what", 'write what it is, like "spring scale"')
    return (None if reader.mistakes else instrument), tuple(reader.mistakes)


def answer_from_table(
    table: Mapping[str, object],
) -> tuple[NoteAnswer | None, tuple[Mistake, ...]]:
    """Read one ``[[answer]]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.

    Returns
    -------
    tuple of (NoteAnswer or None, tuple of Mistake)
        The answer, or None with every mistake found.
    """
    reader = KeyReader(table)
    reader.only(ANSWER_KEYS, {})
    number = table.get("note")
    note = str(number) if type(number) is int else reader.text("note")
    answer = NoteAnswer(
        note=note,
        answer=reader.text("answer"),
        by=reader.text("by"),
        date=reader.text_or_day("date"),
        ropes=reader.wholes("ropes"),
    )
    _require(reader, "note", "write the number of the note that is answered")
    _require(reader, "answer", "write the answer")
    return (None if reader.mistakes else answer), tuple(reader.mistakes)


def trim_from_table(
    table: Mapping[str, object],
) -> tuple[Trim | None, tuple[Mistake, ...]]:
    """Read one ``[[trim]]`` table.

    Parameters
    ----------
    table : mapping of str to object
        As the TOML parser gives it.

    Returns
    -------
    tuple of (Trim or None, tuple of Mistake)
        The trim, or None with every mistake found.
    """
    reader = KeyReader(table)
    reader.only(TRIM_KEYS, {})
    recordings, trimmed = reader.paths("recording"), reader.paths("trimmed")
    trim = Trim(
        recording=recordings[0] if recordings else "",
        trimmed=trimmed[0] if trimmed else "",
        n_bytes=reader.whole("bytes", lowest=0) or 0,
        sha256=reader.text("sha256"),
        kept=reader.text("kept"),
        silenced=reader.text("silenced"),
        original=reader.text("original"),
        by=reader.text("by"),
        date=reader.text_or_day("date"),
    )
    for key in ("recording", "trimmed", "sha256"):
        _require(reader, key, "these tables are written by 'tension trim'")
    return (None if reader.mistakes else trim), tuple(reader.mistakes)


def _require(reader: KeyReader, key: str, advice: str) -> None:
    """Tell a missing key, unless it is already told to be wrong."""
    if not reader.has(key):
        reader.refuse(key, f"is missing; {advice}")
