"""The record in memory: one rope set on one day, and what belongs to it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from tension.adjustment.outcome import Turn
from tension.catalogue.rules import Rule
from tension.condition.checks import Check
from tension.condition.findings import Allowance, Finding
from tension.files.sound_stream import DecodedSound
from tension.files.toml_text import NewTable
from tension.installation import Lift, RopeSet
from tension.measurement.readings import Exclusion, PluckReading, Reading, Series

RECORD_NAME = "visit.toml"


@dataclass(frozen=True, kw_only=True, slots=True)
class Instrument:
    """An instrument used at the visit."""

    what: str  # such as "spring scale", "phone", "tape", "stopwatch"
    # model, serial number, recorder setting; free text
    name: str = ""
    serial: str = ""
    setting: str = ""
    # when and how it was last checked, such as against a known weight
    last_check: str = ""
    note: str = ""  # free text


@dataclass(frozen=True, kw_only=True, slots=True)
class NoteAnswer:
    """What a person answered to a note that the program showed."""

    note: str  # number or code of the note
    answer: str  # free text
    # who and when
    by: str = ""
    date: str = ""
    ropes: tuple[int, ...] = ()  # rope numbers concerned


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo that belongs to the visit rather than to one finding."""

    file: str  # path beside or below the record
    shows: str = ""  # such as "rope tag", "data plate", "car hitch"
    by: str = ""  # who took it


@dataclass(frozen=True, kw_only=True, slots=True)
class Trim:
    """A recording of which only the windows around the plucks are kept."""

    recording: str  # the recording as the readings name it
    trimmed: str  # the file that is read in its place
    n_bytes: int  # size of the original [1]
    sha256: str  # checksum of the original, taken before anything was written
    kept: str = ""  # windows kept, in seconds from the start, as text
    silenced: str = ""  # what was done with the rest
    original: str = "kept"  # whether the original was kept or deleted
    # who and when
    by: str = ""
    date: str = ""


def trim_table(trim: Trim) -> NewTable:
    """Write a trim as the record has it."""
    keys = {name.removeprefix("n_"): value for name, value in asdict(trim).items()}
    return NewTable(name="trim", keys=keys)


@dataclass(frozen=True, kw_only=True, slots=True)
class Visit:
    """Everything a record says; readings, series and turns in order of time."""

    path: Path | None  # the record; None if put together from the command line
    lift: Lift
    rule: Rule  # to assess by
    rope_set: RopeSet  # what hangs in the hoistway
    # date, measured_by, qualification, witness, place, note and the like, as typed
    particulars: tuple[tuple[str, str], ...] = ()
    series: tuple[Series, ...] = ()
    readings: tuple[Reading, ...] = ()
    turns: tuple[Turn, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()  # what is left out and why
    findings: tuple[Finding, ...] = ()  # condition of the ropes
    # which allowance table is used, and whether somebody confirms it
    allowance: Allowance = field(default_factory=Allowance)
    checks: tuple[Check, ...] = ()  # items answered when a set is accepted
    instruments: tuple[Instrument, ...] = ()  # what was measured with
    answers: tuple[NoteAnswer, ...] = ()  # what a person answered to notes
    photos: tuple[Photo, ...] = ()  # of the visit; findings and checks have their own
    trims: tuple[Trim, ...] = ()  # recordings of which only windows are kept
    # sound at hand, by the name that the readings give it; all other recordings are
    # read from their files
    sounds: Mapping[str, DecodedSound] = field(default_factory=dict)


def named_files(visit: Visit) -> tuple[str, ...]:
    """Name every file that a record rests on, itself left out; paths as written.

    Recordings, what is read in their place, photos, the user's own allowance tables.
    """
    deleted = {t.recording for t in visit.trims if t.original == "deleted"}
    named = [
        *(
            r.recording
            for r in visit.readings
            if isinstance(r, PluckReading) and r.recording not in deleted
        ),
        *(trim.trimmed for trim in visit.trims),
        *(photo.file for photo in visit.photos),
        *(photo for finding in visit.findings for photo in finding.photos),
        *(photo for check in visit.checks for photo in check.photos),
        visit.allowance.file,
    ]
    return tuple(dict.fromkeys(name for name in named if name))
