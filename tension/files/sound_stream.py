"""A sound track block by block: decoded or handed over, damage counted."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.files.decimation import Decimator, LevelWatch, Samples, as_full_scale
from tension.files.evidence import FileEvidence
from tension.notes import Note, NoteKind, Refusal

if TYPE_CHECKING:
    import av

LOWEST_RATE = 200.0  # lowest sampling rate that is taken for sound [Hz]
HIGHEST_RATE = 384_000.0  # highest sampling rate that is taken for sound [Hz]
LONGEST = 3600.0  # longest recording that is read [s]
MOST_SAMPLES = 2 * 48_000 * 3600
"""Most samples that are decoded, channels counted apart: an hour of two. [1]"""
SHORTEST = 0.3  # shortest recording in which a rope could have been heard [s]
SILENT_RANGE = 4e-5
"""A recording that moves less than this is silent: about one step of 16 bit. [1]"""

_CONTAINERS = (
    "wav,w64,aiff,au,flac,mp3,ogg,mov,mp4,m4a,3gp,3g2,mj2,aac,amr,caf,matroska,webm,asf"
)
_BLOCK = 65536  # samples handed on at once
_LONGEST_GAP = 60.0  # time stamps further apart make no sense [s]
_MOST_CHANNELS = 2  # channels that are read
_ABSURD_SAMPLE = 1e6  # of full scale; beyond it a sample is damage [1]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DecodedSound:
    """Sound that somebody else decoded: samples in place of a file.

    Raises
    ------
    InvalidValueError
        If the samples are no numbers, or of another shape.
    """

    # full scale ±1, or whole numbers of their full width, shape (n_samples,) or
    # (n_channels, n_samples), of which the first two are listened to [1]
    samples: NDArray[np.generic]
    sampling_rate: float  # of the samples [Hz]
    codec: str = ""  # how it was coded before, such as "aac"; empty if not known
    # the file it was decoded from, with size and checksum, if that is known
    origin: FileEvidence | None = None

    def __post_init__(self) -> None:
        """Refuse what is no sound at all."""
        if self.samples.ndim not in {1, 2} or self.samples.dtype.kind not in "fi":
            raise InvalidValueError(
                "samples must be numbers of shape (n_samples,) or (n_channels, "
                f"n_samples), got {self.samples.dtype} {self.samples.shape}"
            )


class SoundStream:
    """A sound track handed on block by block, levels and damage watched meanwhile."""

    codec = ""
    declared_length = float("nan")  # nan where it is only an estimate [s]

    def __init__(self, sampling_rate: float, n_channels_inside: int) -> None:
        self.levels = LevelWatch(sampling_rate=sampling_rate)
        self.sampling_rate = sampling_rate  # [Hz]
        self._n_channels_inside = n_channels_inside
        self.is_broken_off = False  # reading ended early: with an error, or a cut file
        self._n_samples = 0  # handed on, silence filled in included
        self._n_filled = 0  # of silence that stands for what could not be read
        self._n_not_numbers = 0  # not a number or infinite
        self._n_packets = self._n_voice_packets = 0  # of Opus, coded for speech
        self._is_changed = False  # rate or channels changed, which ends the reading

    @property
    def longest(self) -> float:
        """How much of this recording is read at most [s]."""
        per_second = self.sampling_rate * self._n_channels_inside
        return min(LONGEST, MOST_SAMPLES / per_second) if per_second else LONGEST

    @property
    def length(self) -> float:
        """How much was handed on, silence filled in included. [s]."""
        return self._n_samples / self.sampling_rate if self.sampling_rate else 0.0

    def close(self) -> None:
        """Close what it comes from."""

    def blocks(self) -> Iterator[Samples]:
        """Hand the samples on, shape (n_channels, n_samples), full scale ±1. [1]."""
        waiting: list[Samples] = []
        n_waiting = 0
        for piece in self._pieces():
            waiting.append(piece)
            n_waiting += piece.shape[1]
            self._n_samples += piece.shape[1]
            if n_waiting >= _BLOCK:
                yield self._seen(waiting)
                waiting, n_waiting = [], 0
            if self._n_samples > self.longest * self.sampling_rate:
                return
        if waiting:
            yield self._seen(waiting)

    def decimated(self) -> tuple[Samples, float]:
        """Read to the end, keeping only decimated samples [1]; they, and their rate."""
        decimator: Decimator | None = None
        pieces = []
        for block in self.blocks():  # the rate is known from the first on
            decimator = decimator or Decimator(self.sampling_rate)
            pieces.append(decimator.push(block))
        if decimator is None:
            return np.zeros((1, 0), np.float32), self.sampling_rate
        pieces.append(decimator.finish())
        return np.concatenate(pieces, axis=1), decimator.sampling_rate

    def _pieces(self) -> Iterator[Samples]:
        """Yield samples as they come."""
        raise NotImplementedError

    def refusals(self, name: str) -> Iterator[Refusal]:
        """Yield why what was handed on cannot be used at all, the gravest first."""
        levels, rate = self.levels, self.sampling_rate
        n_read = self._n_samples - self._n_filled
        if self.declared_length == 0:
            yield NoteKind.TOO_SHORT.refusal(recording=name, seconds=0.0)
        if n_read <= 0 or n_read < 0.5 * self._n_samples:
            yield NoteKind.FILE_DAMAGED.refusal(recording=name)
        if not LOWEST_RATE <= rate <= HIGHEST_RATE:
            yield absurd_rate(name, rate)
        if self.length > self.longest:
            yield too_long(name, f"more than {self.longest / 60:.0f} min", self.longest)
        if self.length < SHORTEST:
            yield NoteKind.TOO_SHORT.refusal(recording=name, seconds=self.length)
        if self._n_not_numbers > 0.5 * self._n_samples:
            yield NoteKind.NO_NUMBERS.refusal(recording=name)
        if levels.lowest == levels.highest == 0:
            yield NoteKind.ALL_ZEROS.refusal(recording=name)
        if levels.highest - levels.lowest < SILENT_RANGE:
            yield NoteKind.SILENT.refusal(recording=name)

    def notes(self, name: str) -> Iterator[Note]:
        """Yield what the reader of a result must know of the track."""
        if self._is_changed:
            yield NoteKind.FORMAT_CHANGES.note(recording=name, seconds=self.length)
        elif self.is_broken_off or self.length < 0.98 * self.declared_length - 0.2:
            yield NoteKind.CUT_OFF.note(recording=name, seconds=self.length)
        if self._n_filled:
            lost = self._n_filled / self.sampling_rate
            yield NoteKind.PARTS_LOST.note(recording=name, seconds=lost)
        if (n := self._n_not_numbers) > 0:
            yield NoteKind.NOT_NUMBERS.note(recording=name, n_samples=n)
        if "amr" in self.codec:
            yield NoteKind.CODEC_CUTS_LOWS.note(recording=name, codec="AMR")
        elif self._n_voice_packets > 0.5 * self._n_packets:
            yield NoteKind.CODEC_CUTS_LOWS.note(recording=name, codec="Opus voice")

    def _seen(self, pieces: list[Samples]) -> Samples:
        """One block, with silence where a sample [1] is no number or beyond any scale.

        Flipped bits make such samples.
        """
        block = np.concatenate(pieces, axis=1)
        with np.errstate(all="ignore"):
            if not np.isfinite(block.sum()):
                is_bad = ~np.isfinite(block)
                self._n_not_numbers += int(is_bad.any(axis=0).sum())
                block[is_bad] = 0
        if max(-float(block.min()), float(block.max())) >= _ABSURD_SAMPLE:
            block[np.abs(block) >= _ABSURD_SAMPLE] = 0
        self.levels.see(block)
        return block


class DecodedStream(SoundStream):
    """Decoded sound."""

    def __init__(self, sound: DecodedSound) -> None:
        rows, rate = np.atleast_2d(sound.samples), float(sound.sampling_rate)
        super().__init__(rate if np.isfinite(rate) and rate > 0 else 0.0, len(rows))
        self.codec = sound.codec
        if self.sampling_rate:
            self.declared_length = rows.shape[1] / rate
        self._rows = rows[:_MOST_CHANNELS]

    def _pieces(self) -> Iterator[Samples]:
        """Yield the samples of the channels that are listened to."""
        for start in range(0, self._rows.shape[1], _BLOCK):
            yield as_full_scale(self._rows[:, start : start + _BLOCK])


class FileStream(SoundStream):
    """An open sound track of a file."""

    def __init__(
        self, container: "av.container.InputContainer", track: "av.AudioStream"
    ) -> None:
        context = track.codec_context
        super().__init__(float(context.sample_rate), int(context.layout.nb_channels))
        self._container = container
        self._track = track
        self._decoder = _choose_decoder(context)
        self.codec = str(context.name)
        self.declared_length = _declared_length(container, track)
        self._origin: float | None = None

    def close(self) -> None:
        """Close the file."""
        self._container.close()

    def _pieces(self) -> Iterator[Samples]:
        """Yield decoded frames, with silence where frames are missing."""
        for frame in self._frames():
            if self._has_changed(frame):
                self._is_changed = True
                return
            if (piece := _to_float(frame)) is not None:
                yield from self._missing_before(frame)
                yield piece

    def _has_changed(self, frame: "av.AudioFrame") -> bool:
        """Say whether a frame no longer has the rate and channels of the first."""
        if self._n_samples == 0:
            # only the first frame knows for certain: AAC may double the rate
            self.sampling_rate = self.levels.sampling_rate = float(frame.sample_rate)
            self._n_channels_inside = int(frame.layout.nb_channels)
        here = (float(frame.sample_rate), int(frame.layout.nb_channels))
        return here != (self.sampling_rate, self._n_channels_inside)

    def _missing_before(self, frame: "av.AudioFrame") -> Iterator[Samples]:
        """Yield silence for what is missing before a frame, by its time stamp."""
        base = self._track.time_base
        if frame.pts is None or base is None:
            return
        # as a fraction would be rounded, a thousand times a recording
        stamp = frame.pts * base.numerator / base.denominator
        here = self._n_samples / self.sampling_rate
        if self._origin is None:
            self._origin = stamp - here
        gap = stamp - self._origin - here
        if 0 < gap <= max(0.02, 0.75 * frame.samples / self.sampling_rate):
            return  # rounding of the stamps
        if 0 < gap < _LONGEST_GAP:
            n_missing = round(gap * self.sampling_rate)
            self._n_filled += n_missing
            n_channels = min(_MOST_CHANNELS, self._n_channels_inside)
            for start in range(0, n_missing, _BLOCK):
                n_here = min(_BLOCK, n_missing - start)
                yield np.zeros((n_channels, n_here), dtype=np.float32)
        elif gap < -0.02 or gap >= _LONGEST_GAP:
            self._origin = stamp - here  # the stamps make no sense: start anew

    def _frames(self) -> "Iterator[av.AudioFrame]":
        """Yield frames; a packet that cannot be decoded is passed over."""
        import av

        packets = self._container.demux(self._track)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except (av.FFmpegError, ValueError, OSError, MemoryError):
                self.is_broken_off = True
                packet = None
            try:
                self._count(packet)
                yield from self._decoder.decode(packet)
            except (av.FFmpegError, ValueError, OSError, MemoryError):
                pass  # the gap shows in the time stamp of the next frame
            if packet is None:
                return

    def _count(self, packet: "av.Packet | None") -> None:
        """Count packets; in Opus the first byte tells speech coding from music."""
        if packet is None or not packet.size:
            return
        self._n_packets += 1
        if "opus" in self.codec:
            # RFC 6716, section 3.1: configurations 0-15 hold a speech layer
            self._n_voice_packets += memoryview(packet)[0] >> 3 < 16


def open_track(path: Path, end: int | None, name: str) -> FileStream | Refusal | None:
    """Open the sound track of a file up to some byte; None if it does not open so.

    Only containers of the list are opened, and only this one file: a playlist that
    names other files is refused.
    """
    import av

    try:
        container = _open_container(path, end)
    except (av.FFmpegError, ValueError, OSError, MemoryError):
        return None
    try:
        track = _find_track(container, name)
        if not isinstance(track, Refusal):
            return FileStream(container, track)
    except (av.FFmpegError, ValueError, OSError, AttributeError, ZeroDivisionError):
        track = NoteKind.FILE_DAMAGED.refusal(recording=name)
    container.close()
    return track


def absurd_rate(name: str, rate: float) -> Refusal:
    """Refuse a recording for its sampling rate. [Hz]."""
    return NoteKind.ABSURD_RATE.refusal(
        recording=name, rate=rate, lowest=LOWEST_RATE, highest=HIGHEST_RATE
    )


def too_long(name: str, length: str, longest: float) -> Refusal:
    """Refuse a recording for its length; ``longest`` [s] is read at most."""
    limit = f"{longest / 60:.0f} min"
    return NoteKind.TOO_LONG.refusal(recording=name, length=length, limit=limit)


def _open_container(path: Path, end: int | None) -> "av.container.InputContainer":
    """Open a container up to some byte with every door to other files shut."""
    import av

    av.logging.set_level(None)
    address, doors = f"file:{path.resolve()}", "file"
    if end is not None:
        # what follows the sound is looked through eight bytes a step: it is cut off
        address, doors = f"subfile,,start,0,end,{end},,:{address}", "file,subfile"
    options = {"format_whitelist": _CONTAINERS, "protocol_whitelist": doors}
    try:
        return av.open(address, container_options=options, metadata_errors="replace")
    except TypeError:  # version 19 took the parameter away and replaces by itself
        return av.open(address, container_options=options)


def _find_track(
    container: "av.container.InputContainer", name: str
) -> "av.AudioStream | Refusal":
    """Return the first sound track that can be decoded, or a refusal."""
    if not container.streams.audio:
        return NoteKind.NO_SOUND_TRACK.refusal(recording=name)
    for track in container.streams.audio:
        if track.codec_context is not None:
            rate = track.codec_context.sample_rate
            if rate and not LOWEST_RATE <= rate <= HIGHEST_RATE:
                return absurd_rate(name, rate)
            return track
    return NoteKind.UNKNOWN_CODEC.refusal(recording=name, codec="unknown")


def _choose_decoder(context: "av.AudioCodecContext") -> "av.AudioCodecContext":
    """Prefer the speech decoder that also reads comfort noise, where there is one."""
    import av

    if context.name != "amrnb":
        return context
    try:
        decoder = av.CodecContext.create("libopencore_amrnb", "r")
        decoder.sample_rate = context.sample_rate
        decoder.layout = "mono"
    except (av.FFmpegError, ValueError, AttributeError):
        return context
    return decoder


def _declared_length(
    container: "av.container.InputContainer", track: "av.AudioStream"
) -> float:
    """Return the length by the index, where the kind of file has an exact one."""
    kinds = set(container.format.name.split(","))
    is_exact = bool(kinds & {"mov", "mp4", "flac", "wav", "aiff"})
    if not is_exact or not track.duration or track.time_base is None:
        return float("nan")
    return float(track.duration * track.time_base)


def _to_float(frame: "av.AudioFrame") -> Samples | None:
    """Return one frame as channels in rows, full scale ±1; None if it holds nothing."""
    n_inside = int(frame.layout.nb_channels)
    if not frame.samples or not n_inside:
        return None
    try:
        values: NDArray[np.generic] = frame.to_ndarray()
    except ValueError:  # whole numbers of 64 bit, which no recorder writes
        return None
    if values.shape[0] != n_inside:
        values = values.reshape(-1, n_inside).T
    return as_full_scale(values[:_MOST_CHANNELS])
