"""Sound files for tests: waves by the standard library, the rest by ffmpeg."""

import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

RATE = 48000


def decaying_tones(
    *, rate: int = RATE, seconds: float = 6.0, seed: int = 1
) -> NDArray[np.float64]:
    """Return a few decaying tones with a little noise, peak about 0.5."""
    time = np.arange(int(rate * seconds)) / rate
    tones = sum(np.sin(2 * np.pi * f * time) for f in (46.5, 62.1, 93.4, 140.2))
    noise = np.random.default_rng(seed).standard_normal(time.size)
    return 0.12 * tones * np.exp(-time / 3) + 0.002 * noise


def wave_bytes(
    values: NDArray[np.float64],
    *,
    rate: int = RATE,
    bits: int = 16,
    is_float: bool = False,
    n_channels: int = 1,
) -> bytes:
    """Return the bytes of a wave file; values are interleaved and full scale ±1."""
    if is_float:
        body = values.astype("<f4" if bits == 32 else "<f8").tobytes()
    elif bits == 8:
        body = (np.clip(np.round(values * 128), -128, 127) + 128).astype("u1").tobytes()
    else:
        top = 2.0 ** (bits - 1)
        whole = np.clip(np.round(values * top), -top, top - 1).astype("<i8")
        body = whole.view("u1").reshape(-1, 8)[:, : bits // 8].tobytes()
    width = bits // 8 * n_channels
    form = struct.pack(
        "<HHIIHH", 3 if is_float else 1, n_channels, rate, rate * width, width, bits
    )
    chunks = b"fmt " + struct.pack("<I", 16) + form
    chunks += b"data" + struct.pack("<I", len(body)) + body
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


def ffmpeg_or_skip() -> str:
    """Return the ffmpeg program, or skip the test."""
    program = shutil.which("ffmpeg")
    if program is None:
        pytest.skip(
            "the ffmpeg program, which makes the files of this test, is missing"
        )
    return program


def encode(wave: Path, target: Path, *options: str) -> Path:
    """Turn a wave file into another form by ffmpeg."""
    command = [ffmpeg_or_skip(), "-hide_banner", "-loglevel", "error", "-y"]
    subprocess.run([*command, "-i", str(wave), *options, str(target)], check=True)
    return target


FORMS: dict[str, tuple[str, ...]] = {
    "8-bit.wav": ("-c:a", "pcm_u8"),
    "16-bit.wav": ("-c:a", "pcm_s16le"),
    "24-bit.wav": ("-c:a", "pcm_s24le"),
    "32-bit.wav": ("-c:a", "pcm_s32le"),
    "float.wav": ("-c:a", "pcm_f32le"),
    "big-end.aiff": (),
    "free.flac": (),
    "plain.mp3": ("-c:a", "libmp3lame", "-b:a", "64k"),
    "vorbis.ogg": ("-c:a", "libvorbis"),
    "music.opus": ("-c:a", "libopus", "-b:a", "64k"),
    "aac.m4a": ("-c:a", "aac", "-b:a", "96k"),
    "alac.m4a": ("-c:a", "alac"),
    "adts.aac": ("-c:a", "aac"),
    "low-rate.3gp": ("-ar", "8000", "-c:a", "aac"),
    "apple.caf": (),
    "browser.webm": ("-c:a", "libopus"),
}


def amr_file(wave: Path, target: Path) -> Path:
    """Encode to AMR with the encoder of the decoding library, or skip the test."""
    import av

    try:
        av.codec.Codec("libopencore_amrnb", "w")
    except av.FFmpegError:
        pytest.skip("this version of the decoding library has no AMR encoder")
    with av.open(str(wave)) as source, av.open(str(target), "w", format="amr") as sink:
        track = sink.add_stream("libopencore_amrnb", rate=8000)
        track.layout = "mono"
        track.bit_rate = 12200
        resampler = av.AudioResampler("s16", "mono", 8000)
        for frame in source.decode(audio=0):
            for part in resampler.resample(frame):
                part.pts = None
                sink.mux(track.encode(part))
        sink.mux(track.encode(None))
    return target
