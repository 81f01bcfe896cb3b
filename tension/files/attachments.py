"""What a record says beside the readings: instruments, answers to notes, trims."""

from dataclasses import dataclass


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
class Photo:
    """A photo that belongs to the visit rather than to one finding.

    Attributes
    ----------
    file : str
        Path beside or below the record.
    shows : str
        Such as "rope tag", "data plate", "car hitch".
    by : str
        Who took it.
    """

    file: str
    shows: str = ""
    by: str = ""


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
