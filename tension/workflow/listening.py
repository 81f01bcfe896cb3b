"""From the recordings a record names to what was heard of each rope."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence, hash_file
from tension.files.natural_order import natural_key
from tension.files.sound import read_recording, read_two_at_a_time, recording_of
from tension.files.sound_stream import LONGEST
from tension.files.visit import Visit
from tension.installation import Ends, HitchPlace, Span
from tension.measurement.readings import Exclusion, PluckReading, Series
from tension.measurement.rope_figures import find_free_lengths
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.elsewhere import is_left_out, refuse_files_of_other_series
from tension.workflow.rounds import (
    duration_of,
    hear_rounds,
    require_few,
    without_copies,
)

_CLAMPED_ENDS = {Ends.SOCKET_SHEAVE: 1, Ends.SOCKET_SOCKET: 2, Ends.SHEAVE_SHEAVE: 0}

_LARGE = 2_000_000
"""Size of a file from which on its reading is told. [bytes]"""

_LONG = 1_000_000
"""Length from which on listening is told. [samples]"""

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """What was heard in the recordings of one series, and the files it rests on.

    Attributes
    ----------
    hearing : SetHearing
        All ropes of the set.
    recordings : tuple of Recording
        As read, in the order of the record.
    evidence : tuple of FileEvidence
        Size and checksum of every file that exists.
    """

    hearing: SetHearing
    recordings: tuple[Recording, ...]
    evidence: tuple[FileEvidence, ...]


def listen_to_series(
    visit: Visit,
    series: Series,
    span: Span,
    progress: Progress | None = None,
    prior_factor: float = 1.0,
) -> Heard | None:
    """Read and hear every recording of one series.

    Parameters
    ----------
    visit : Visit
        The record.
    series : Series
        Which series.
    span : Span
        Where the ropes were plucked.
    progress : callable, optional
        Called with one line for each file read.
    prior_factor : float, optional
        On every width of what is expected before listening. [1]

    Returns
    -------
    Heard or None
        None if the series holds no recording.
    """
    named = [
        reading
        for reading in visit.readings
        if isinstance(reading, PluckReading) and reading.series == series.name
    ]
    if not named:
        return None
    exclusions = [e for e in visit.exclusions if e.series == series.name]
    readings = sorted(named, key=_by_name)
    require_few([r for r in readings if not is_left_out(exclusions, r)])
    read = refuse_files_of_other_series(
        visit, readings, read_recordings(visit, readings, progress)
    )
    if progress and any(len(r.samples) > _LONG for r, _ in read):
        progress("listening")
    takes = [
        Take(
            recording=recording,
            ropes=reading.ropes,
            plucks_each=reading.plucks_each,
            excluded_plucks=_excluded_plucks(exclusions, reading.recording),
        )
        for reading, (recording, _) in zip(readings, read, strict=True)
        if not is_left_out(exclusions, reading)
    ]
    takes, notes = without_copies(takes)
    hearing = hear_rounds(
        takes, find_spans(visit, span), find_prior(visit, span, prior_factor)
    )
    recordings = {recording.name: recording for recording, _ in read}
    evidence = {file.path: file for _, file in read if file is not None}
    return Heard(
        hearing=replace(hearing, notes=(*hearing.notes, *notes)),
        recordings=tuple(recordings[reading.recording] for reading in named),
        evidence=tuple(evidence.values()),
    )


def _by_name(reading: PluckReading) -> tuple[object, ...]:
    """The order in which readings are heard: by name, not as they stand."""
    path = Path(reading.recording)
    return (path.parent.as_posix(), natural_key(path), reading.ropes)


def read_recordings(
    visit: Visit, readings: Sequence[PluckReading], progress: Progress | None
) -> list[tuple[Recording, FileEvidence | None]]:
    """Read the recordings of some readings, with size and checksum of each file.

    Parameters
    ----------
    visit : Visit
        The record; a trimmed file stands in for its original.
    readings : sequence of PluckReading
        Which readings.
    progress : callable or None
        Called with one line for each large file.

    Returns
    -------
    list of (Recording, FileEvidence or None)
        One per reading; no evidence of a file that is missing.
    """
    folder = visit.path.parent if visit.path else Path()
    trimmed = {trim.recording: trim.trimmed for trim in visit.trims}
    files = [trimmed.get(r.recording, r.recording) for r in readings]
    unique = dict(zip(files, (r.recording for r in readings), strict=True))
    seconds = [0.0]

    def read(file: str) -> tuple[Recording, FileEvidence | None]:
        if sound := visit.sounds.get(unique[file]):
            recording = recording_of(sound, unique[file])
            seconds.append(duration_of(recording))
            return recording, sound.origin
        if progress and is_large(folder / file):
            progress(f"reading {file}")
        _require_not_longer(sum(seconds))
        recording = read_recording(folder / file, name=unique[file])
        seconds.append(duration_of(recording))
        return recording, _evidence(folder / file, file)

    found = dict(zip(unique, read_two_at_a_time(read, unique), strict=True))
    _require_not_longer(sum(seconds))
    return [found[file] for file in files]


def _require_not_longer(seconds: float) -> None:
    """Refuse more sound in one series than is heard in a bearable time."""
    if seconds > LONGEST:
        raise FileFormatError(
            f"the recordings of one series last more than {LONGEST / 60:.0f} min "
            "together; cut out the parts with the plucks, or leave some out with an "
            "exclusion"
        )


def require_bearable(series: Iterable[Sequence[Recording]]) -> None:
    """Refuse more sound in several series than is heard in a bearable time.

    Raises
    ------
    FileFormatError
        If they last longer together than one series may.
    """
    if sum(duration_of(one) for own in series for one in own) > LONGEST:
        raise FileFormatError(
            f"the recordings of all series last more than {LONGEST / 60:.0f} min "
            "together; cut out the parts with the plucks, or keep a record per visit"
        )


def is_large(path: Path) -> bool:
    """Tell whether reading a file takes long enough to be told.

    Returns
    -------
    bool
        Whether it holds more than 2 MB.
    """
    try:
        return path.stat().st_size > _LARGE
    except OSError:
        return False


def _evidence(path: Path, name: str) -> FileEvidence | None:
    """Size and checksum under the name the record uses."""
    try:
        return replace(hash_file(path), path=name)
    except OSError:
        return None


def _excluded_plucks(
    exclusions: Sequence[Exclusion], recording: str
) -> tuple[int, ...]:
    """Plucks that the record leaves out of one recording."""
    return tuple(
        e.pluck for e in exclusions if e.recording == recording and e.pluck is not None
    )


def find_spans(visit: Visit, span: Span) -> tuple[RopeSpan, ...]:
    """Tell what is known of each rope's span before listening."""
    rope_set = visit.rope_set
    lengths = find_free_lengths(rope_set, span)
    place = {
        "car": (HitchPlace.CAR, HitchPlace.DEAD_END_CAR),
        "counterweight": (
            HitchPlace.COUNTERWEIGHT,
            HitchPlace.DEAD_END_COUNTERWEIGHT,
        ),
    }[span.side.value]
    rods = [h.rod_free.value for h in rope_set.hitches if h.at in place and h.rod_free]
    return tuple(
        RopeSpan(
            number=number,
            free_length=lengths.lengths.get(number),
            rod_free=rods[0] if rods else None,
            n_clamped_ends=_CLAMPED_ENDS[span.ends],
        )
        for number in range(1, rope_set.n_ropes + 1)
    )


def find_prior(visit: Visit, span: Span, factor: float = 1.0) -> HearingPrior:
    """Expect the wave speed that the mass on that side would give, if it is known.

    Parameters
    ----------
    visit : Visit
        The record.
    span : Span
        Where the ropes are plucked.
    factor : float, optional
        On every width of what is expected. [1]
    """
    lift, rope_set = visit.lift, visit.rope_set
    mass = lift.car_mass if span.side.value == "car" else lift.counterweight_mass
    density = rope_set.linear_density
    if mass is None or density is None:
        return HearingPrior().widened(factor)
    n_parts = rope_set.n_ropes * lift.roping.n_falls
    tension = mass.value * STANDARD_GRAVITY / n_parts
    speed = math.sqrt(tension / density.value)
    return HearingPrior(wave_speed=speed).widened(factor)
