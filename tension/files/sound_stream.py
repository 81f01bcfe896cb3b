"""A sound track block by block: decoded or handed over, damage counted, decimated."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.files import sound_contents as contents
from tension.files.evidence import FileEvidence
from tension.notes import NoteKind, Refusal

if TYPE_CHECKING:
    import av

Samples = NDArray[np.float32]
"""Full scale ±1, shape (n_samples,) or (n_channels, n_samples). [1]"""

LOWEST_RATE = 200.0
"""Lowest sampling rate that is taken for sound. [Hz]"""
HIGHEST_RATE = 384_000.0
"""Highest sampling rate that is taken for sound. [Hz]"""
LONGEST = 3600.0
"""Longest recording that is read. [s]"""
MOST_SAMPLES = 2 * 48_000 * 3600
"""Most samples that are decoded, channels counted apart: an hour of two. [1]"""

TARGET_RATE = 4000.0
"""Lowest sampling rate left after decimation. [Hz]"""

_HALF_WIDTH = 32
"""Half the length of the filter, in samples after decimation."""
_STOP_BAND = 90.0
"""Depth of the stop band the window is chosen for. [dB]"""
_TRANSFORM = 1024
"""Samples after decimation in one transform."""

_CONTAINERS = (
    "wav,w64,aiff,au,flac,mp3,ogg,mov,mp4,m4a,3gp,3g2,mj2,aac,amr,caf,matroska,webm,asf"
)
_BLOCK = 65536
_LONGEST_GAP = 60.0
_MOST_CHANNELS = 2


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


@dataclass(kw_only=True, slots=True)
class Tally:
    """What happened while one file was decoded."""

    n_samples: int = 0  # read, silence filled in included
    n_filled: int = 0  # of silence that stands for what could not be read
    n_not_numbers: int = 0  # not a number or infinite
    n_packets: int = 0
    n_voice_packets: int = 0  # coded for speech (Opus only)
    is_broken_off: bool = False  # reading ended with an error
    is_changed: bool = False  # rate or channels changed, which ends the reading
    is_too_long: bool = False  # the longest length was passed, which ends it too


class DecodedStream:
    """Decoded sound handed on block by block, as from a file."""

    def __init__(self, sound: DecodedSound) -> None:
        rows = np.atleast_2d(sound.samples)
        rate = float(sound.sampling_rate)
        self._rows = rows[:_MOST_CHANNELS]
        self.sampling_rate = rate if np.isfinite(rate) and rate > 0 else 0.0  # [Hz]
        self.n_channels = self._rows.shape[0]  # handed on
        self.codec = sound.codec
        self.declared_length = rows.shape[1] / self.sampling_rate if rate > 0 else 0.0
        self.longest = min(LONGEST, MOST_SAMPLES / (rows.shape[0] * max(rate, 1.0)))
        self.tally = Tally()

    def blocks(self) -> Iterator[Samples]:
        """Hand the samples on, shape (n_channels, n_samples), full scale ±1. [1]."""
        for start in range(0, self._rows.shape[1], _BLOCK):
            block = as_full_scale(self._rows[:, start : start + _BLOCK])
            self.tally.n_samples += block.shape[1]
            yield without_no_numbers(block, self.tally)


class SoundStream:
    """An open sound track of a file."""

    def __init__(
        self, container: "av.container.InputContainer", track: "av.AudioStream"
    ) -> None:
        self._container = container
        self._track = track
        self._time_base = track.time_base
        context = track.codec_context
        self._decoder = _choose_decoder(context)
        self.sampling_rate = float(context.sample_rate)  # [Hz]
        self._n_channels_inside = int(context.layout.nb_channels)
        self.n_channels = min(_MOST_CHANNELS, self._n_channels_inside)  # handed on
        self.codec = str(context.name)
        # by the index of the file; nan where it is only an estimate [s]
        self.declared_length = _declared_length(container, track)
        self.tally = Tally()
        self._origin: float | None = None

    @property
    def longest(self) -> float:
        """How much of this recording is read at most [s]."""
        per_second = self.sampling_rate * self._n_channels_inside
        return min(LONGEST, MOST_SAMPLES / per_second) if per_second else LONGEST

    def close(self) -> None:
        """Close the file."""
        self._container.close()

    def blocks(self) -> Iterator[Samples]:
        """Decode the track, shape (n_channels, n_samples), full scale ±1. [1]."""
        waiting: list[Samples] = []
        n_waiting = 0
        for piece in self._pieces():
            waiting.append(piece)
            n_waiting += piece.shape[1]
            self.tally.n_samples += piece.shape[1]
            if n_waiting >= _BLOCK:
                yield without_no_numbers(np.concatenate(waiting, axis=1), self.tally)
                waiting, n_waiting = [], 0
            if self.tally.n_samples > self.longest * self.sampling_rate:
                self.tally.is_too_long = True
                return
        if waiting:
            yield without_no_numbers(np.concatenate(waiting, axis=1), self.tally)

    def _pieces(self) -> Iterator[Samples]:
        """Yield decoded frames, with silence where frames are missing."""
        for frame in self._frames():
            if self._is_changed(frame):
                self.tally.is_changed = True
                return
            piece = _to_float(frame, self.n_channels)
            if piece is None:
                continue
            yield from self._missing_before(frame)
            yield piece

    def _is_changed(self, frame: "av.AudioFrame") -> bool:
        """Say whether a frame no longer has the rate and channels of the first."""
        if self.tally.n_samples == 0:
            # only the first frame knows for certain: AAC may double the rate
            self.sampling_rate = float(frame.sample_rate)
            self._n_channels_inside = int(frame.layout.nb_channels)
            self.n_channels = min(_MOST_CHANNELS, self._n_channels_inside)
        here = (float(frame.sample_rate), int(frame.layout.nb_channels))
        return here != (self.sampling_rate, self._n_channels_inside)

    def _missing_before(self, frame: "av.AudioFrame") -> Iterator[Samples]:
        """Yield silence for what is missing before a frame, by its time stamp."""
        base = self._time_base
        if frame.pts is None or base is None:
            return
        # as a fraction would be rounded, a thousand times a recording
        stamp = frame.pts * base.numerator / base.denominator
        here = self.tally.n_samples / self.sampling_rate
        if self._origin is None:
            self._origin = stamp - here
        gap = stamp - self._origin - here
        if 0 < gap <= max(0.02, 0.75 * frame.samples / self.sampling_rate):
            return  # rounding of the stamps
        if 0 < gap < _LONGEST_GAP:
            n_missing = round(gap * self.sampling_rate)
            self.tally.n_filled += n_missing
            for start in range(0, n_missing, _BLOCK):
                n_here = min(_BLOCK, n_missing - start)
                yield np.zeros((self.n_channels, n_here), dtype=np.float32)
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
                self.tally.is_broken_off = True
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
        self.tally.n_packets += 1
        if "opus" in self.codec:
            # RFC 6716, section 3.1: configurations 0-15 hold a speech layer
            self.tally.n_voice_packets += memoryview(packet)[0] >> 3 < 16


def open_sound(path: Path, name: str) -> SoundStream | Refusal:
    """Open the sound track of a file, by its contents; it is to be closed.

    Only containers of the list are opened, and only this one file: a playlist that
    names other files is refused.
    """
    import av

    chunk = contents.find_sound_chunk(path)
    if chunk == contents.NO_CHUNK:
        return contents.refuse_by_contents(path, name)
    try:
        container = _open_container(path, chunk.end if chunk else None)
    except (av.FFmpegError, ValueError, OSError, MemoryError):
        return contents.refuse_by_contents(path, name)
    try:
        track = _find_track(container, name)
        if isinstance(track, Refusal):
            container.close()
            return track
        return SoundStream(container, track)
    except (av.FFmpegError, ValueError, OSError, AttributeError, ZeroDivisionError):
        container.close()
        return NoteKind.FILE_DAMAGED.refusal(recording=name)


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
    tracks = list(container.streams.audio)
    if not tracks:
        return NoteKind.NO_SOUND_TRACK.refusal(recording=name)
    usable = [track for track in tracks if track.codec_context is not None]
    if not usable:
        return NoteKind.UNKNOWN_CODEC.refusal(recording=name, codec="unknown")
    rate = usable[0].codec_context.sample_rate
    if rate and not LOWEST_RATE <= rate <= HIGHEST_RATE:
        return absurd_rate(name, rate)
    return usable[0]


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
    if not kinds & {"mov", "mp4", "flac", "wav", "aiff"}:
        return float("nan")
    if not track.duration or track.time_base is None:
        return float("nan")
    return float(track.duration * track.time_base)


def _to_float(frame: "av.AudioFrame", n_channels: int) -> Samples | None:
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
    return as_full_scale(values[:n_channels])


def as_full_scale(values: NDArray[np.generic]) -> Samples:
    """Turn samples of any width to full scale ±1 [1]; of 8 bit they stand about 128."""
    if values.dtype == np.uint8:
        return (values.astype(np.float32) - np.float32(128)) / np.float32(128)
    if values.dtype.kind == "i":
        scale = np.float32(2.0 ** (8 * values.dtype.itemsize - 1))
        return values.astype(np.float32) / scale
    return np.asarray(values, dtype=np.float32)


def without_no_numbers(block: Samples, tally: Tally) -> Samples:
    """Put silence where samples [1] are not a number, and count them."""
    with np.errstate(all="ignore"):
        if np.isfinite(block.sum()):
            return block
    is_bad = ~np.isfinite(block)
    tally.n_not_numbers += int(is_bad.any(axis=0).sum())
    return np.where(is_bad, np.float32(0), block)


def decimation_factor(sampling_rate: float) -> int:
    """Return the largest whole factor that leaves `TARGET_RATE` [Hz], to 0.1 %."""
    return max(1, int(1.001 * sampling_rate / TARGET_RATE))


class Decimator:
    """Keep every m-th sample of a stream behind a linear-phase low pass.

    Output sample k stands at the time of input sample k m: the filter is symmetric and
    its delay is taken off, so times and frequencies are unchanged. A factor m of 1
    passes the stream through; all channels are filtered alike.

    Notes
    -----
    Windowed ideal low pass, cut-off at 0.9 of the new half rate, Kaiser window of
    length 64 m + 1: flat to 0.8 and closed from 1.0 of the new half rate [1]_. The
    convolution is done block by block in the frequency domain (overlap-save, [2]_);
    the part of each spectrum above the new half rate is left out before going back.

    References
    ----------
    .. [1] A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing, chapter on
       design by windowing (Kaiser window).
    .. [2] The same, chapter on the discrete Fourier transform (overlap-save method).
    """

    def __init__(self, factor: int, n_channels: int = 1) -> None:
        self.factor = factor
        self._delay = _HALF_WIDTH * factor
        self._n_block = _TRANSFORM * factor
        self._advance = self._n_block - 2 * self._delay
        self._n_in = 0
        self._n_out = 0
        self._response = _response(factor) if factor > 1 else np.empty(0)
        # zeros stand before the first sample, so that sample 0 is the first one out
        lead = self._delay if factor > 1 else 0
        self._held: list[Samples] = [np.zeros((n_channels, lead), dtype=np.float32)]
        self._n_held = lead

    def push(self, samples: Samples) -> list[Samples]:
        """Take the next samples [1], shape (n_channels, n), and give what is ready."""
        self._n_in += samples.shape[1]
        if self.factor == 1:
            self._n_out += samples.shape[1]
            return [samples]
        self._held.append(samples)
        self._n_held += samples.shape[1]
        if self._n_held < self._n_block:
            return []
        return self._take_blocks()

    def finish(self) -> list[Samples]:
        """End the stream and give what was held back [1], shape (n_channels, n)."""
        n_wanted = -(-self._n_in // self.factor) - self._n_out
        if self.factor == 1 or n_wanted <= 0:
            return []
        tail = np.zeros((self._held[0].shape[0], self._n_block), dtype=np.float32)
        self._held.append(tail)
        self._n_held += self._n_block
        ready = np.concatenate(self._take_blocks(), axis=1)[:, :n_wanted]
        return [ready]

    def _take_blocks(self) -> list[Samples]:
        """Filter as many whole blocks as are held."""
        held = np.concatenate(self._held, axis=1)
        ready = []
        start = 0
        while start + self._n_block <= held.shape[1]:
            ready.append(self._filter(held[:, start : start + self._n_block]))
            start += self._advance
        rest = held[:, start:].copy()
        self._held, self._n_held = [rest], rest.shape[1]
        self._n_out += sum(block.shape[1] for block in ready)
        return ready

    def _filter(self, block: Samples) -> Samples:
        """Filter one block and keep every m-th sample of its valid part."""
        spectrum = np.fft.rfft(block, axis=1)[:, : _TRANSFORM // 2 + 1] * self._response
        few = np.fft.irfft(spectrum, n=_TRANSFORM, axis=1) / self.factor
        return few[:, _HALF_WIDTH:-_HALF_WIDTH].astype(np.float32)


def _response(factor: int) -> NDArray[np.float64]:
    """Return the zero-phase response at the frequencies that are kept."""
    delay = _HALF_WIDTH * factor
    time = np.arange(-delay, delay + 1)
    cut_off = 0.45 / factor
    beta = 0.1102 * (_STOP_BAND - 8.7)
    kernel = 2 * cut_off * np.sinc(2 * cut_off * time) * np.kaiser(time.size, beta)
    around_zero = np.zeros(_TRANSFORM * factor)
    around_zero[time] = kernel / kernel.sum()
    response: NDArray[np.float64] = np.fft.rfft(around_zero).real[: _TRANSFORM // 2 + 1]
    return response


def decimated(samples: Samples, sampling_rate: float) -> tuple[Samples, float]:
    """Decimate samples [1], shape (n_samples,), and give their new rate. [Hz]."""
    factor = decimation_factor(sampling_rate)
    decimator = Decimator(factor)
    pieces = [*decimator.push(samples[np.newaxis]), *decimator.finish()]
    return np.concatenate(pieces, axis=1)[0], sampling_rate / factor
