"""Coded sound to samples."""

import io
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def decode(file: Path | bytes) -> tuple[Array, float]:
    """Samples of the louder channel and the sampling rate of any coded sound.

    Parameters
    ----------
    file : Path or bytes
        A file, or what one holds.
    """
    import av

    opened: str | IO[bytes] = str(file) if isinstance(file, Path) else io.BytesIO(file)
    with av.open(opened) as container:
        stream = container.streams.audio[0]
        rate = float(stream.rate)
        resampler = av.AudioResampler(format="fltp")
        parts = [
            out.to_ndarray()
            for frame in container.decode(stream)
            for out in resampler.resample(frame)
        ]
    channels = np.concatenate(parts, axis=1).astype(float)
    return channels[int(np.argmax(np.sum(channels**2, axis=1)))], rate
