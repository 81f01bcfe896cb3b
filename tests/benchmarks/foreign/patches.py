"""Samples of the patch files of an old sound card, as free collections still use them.

The layout of GF1 patches is written from memory: a header of 129 bytes, an instrument
of 63, layers of 47, samples of 96 bytes each before their data.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SAMPLE = np.dtype(
    [
        ("name", "S7"),
        ("fractions", "u1"),
        *((part, "<u4") for part in ("size", "loop", "loop_end")),
        ("rate", "<u2"),
        *((part, "<u4") for part in ("low", "high", "root")),
        ("tune", "<i2"),
        ("balance", "u1"),
        ("envelope", "V18"),
        ("modes", "u1"),
        ("scale", "V4"),
        ("reserved", "V36"),
    ]
)
WIDE, UNSIGNED, LOOPS, REVERSED = 1, 2, 4, 16


@dataclass(frozen=True, kw_only=True, slots=True)
class PatchSample:
    """One sample of a patch.

    Attributes
    ----------
    name : str
        In its header.
    samples : ndarray, shape (n_samples,)
        Full scale 1.
    loops_from : int or None
        First sample of the loop.
    rate, root : float
        Sampling rate and root frequency. [Hz]
    """

    name: str
    samples: Array
    loops_from: int | None
    rate: float
    root: float


def read_patch(held: bytes) -> Iterator[PatchSample]:
    """Samples of the first layer of a patch file's content."""
    if not held.startswith(b"GF1PATCH"):
        return
    n_samples = held[129 + 63 + 6]
    at = 129 + 63 + 47
    for _ in range(n_samples):
        header = np.frombuffer(held, SAMPLE, 1, at)[0]
        at += SAMPLE.itemsize
        size, modes = int(header["size"]), int(header["modes"])
        kind = ("u" if modes & UNSIGNED else "i") + ("2" if modes & WIDE else "1")
        width = 2 if modes & WIDE else 1
        steps = np.frombuffer(held[at : at + size // width * width], f"<{kind}")
        at += size
        if modes & REVERSED or not len(steps):
            continue
        half = float(1 << (8 * width - 1))
        samples = steps.astype(float) / half - (1.0 if modes & UNSIGNED else 0.0)
        yield PatchSample(
            name=bytes(header["name"]).split(b"\0")[0].decode("latin-1"),
            samples=samples,
            loops_from=int(header["loop"]) // width if modes & LOOPS else None,
            rate=float(header["rate"]),
            root=float(header["root"]) / 1000.0,
        )
