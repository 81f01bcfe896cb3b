"""What a sound font's samples are, which presets use them, and where their loops begin.

Only what a bench needs of SoundFont 2.04 (chunks and generators by the numbers of that
open specification, from memory): sample headers, 16-bit samples, and for each preset
its zones. A bank with Ogg-coded samples (sample type bit 4) is read as well.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PRESET = np.dtype(
    [("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("bag", "<u2"), ("x", "V12")]
)
INSTRUMENT = np.dtype([("name", "S20"), ("bag", "<u2")])
BAG = np.dtype([("generator", "<u2"), ("modulator", "<u2")])
GENERATOR = np.dtype([("kind", "<u2"), ("amount", "<i2")])
HEADER = np.dtype(
    [
        ("name", "S20"),
        *((part, "<u4") for part in ("start", "end", "loop", "loop_end", "rate")),
        ("key", "u1"),
        ("cents", "i1"),
        ("link", "<u2"),
        ("type", "<u2"),
    ]
)
TABLES = {
    "phdr": PRESET,
    "pbag": BAG,
    "pgen": GENERATOR,
    "inst": INSTRUMENT,
    "ibag": BAG,
    "igen": GENERATOR,
    "shdr": HEADER,
}
LOOP_START, LOOP_START_COARSE = 2, 45
USES_INSTRUMENT, VELOCITIES, USES_SAMPLE, MODES, ROOT = 41, 44, 53, 54, 58
CODED = 0x10


@dataclass(frozen=True, kw_only=True, slots=True)
class Zone:
    """One sample as one preset uses it.

    Attributes
    ----------
    preset : str
        Name of the preset.
    bank, program : int
        Its number.
    sample : int
        Number of the sample.
    key : int
        Root key.
    velocity : int
        Lowest velocity at which it sounds.
    loops_from : int or None
        First sample of the loop, counted from the start of the sample; None without.
    """

    preset: str
    bank: int
    program: int
    sample: int
    key: int
    velocity: int
    loops_from: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SoundFont:
    """An open sound font.

    Attributes
    ----------
    tables : dict of str to ndarray
        The records of the bank, by chunk name.
    pool : bytes
        All sample data.
    """

    tables: dict[str, NDArray[np.void]]
    pool: memoryview

    def name_of(self, sample: int) -> str:
        """Name in the sample's header."""
        return text(self.tables["shdr"][sample]["name"])

    def rate_of(self, sample: int) -> float:
        """Sampling rate. [Hz]"""
        return float(self.tables["shdr"][sample]["rate"])

    def read(self, sample: int) -> Array:
        """Samples from start to end, full scale 1."""
        header = self.tables["shdr"][sample]
        start, end = int(header["start"]), int(header["end"])
        if int(header["type"]) & CODED:
            from tests.benchmarks.foreign.decoding import decode

            return decode(bytes(self.pool[start:end]))[0]
        steps = np.frombuffer(self.pool[2 * start : 2 * end], dtype="<i2")
        return steps.astype(float) / 32768.0

    def zones(self) -> Iterator[Zone]:
        """Every sample of every preset."""
        presets = self.tables["phdr"]
        for preset, after in pairwise(presets):
            for generators in self._bags("pbag", "pgen", preset["bag"], after["bag"]):
                if USES_INSTRUMENT in generators:
                    yield from self._zones_of(preset, generators)

    def _bags(
        self, bags: str, generators: str, first: int, last: int
    ) -> Iterator[dict[int, int]]:
        """Generators of each zone, those of a global first zone below them."""
        shared: dict[int, int] = {}
        edges = self.tables[bags]["generator"][int(first) : int(last) + 1]
        for i, (start, end) in enumerate(pairwise(edges)):
            listed = self.tables[generators][int(start) : int(end)]
            found = {int(g["kind"]): int(g["amount"]) for g in listed}
            if i == 0 and not found.keys() & {USES_INSTRUMENT, USES_SAMPLE}:
                shared = found
                continue
            yield shared | found

    def _zones_of(self, preset: np.void, above: dict[int, int]) -> Iterator[Zone]:
        """Zones of the instrument that a zone of a preset uses."""
        number = above[USES_INSTRUMENT]
        first, last = self.tables["inst"]["bag"][number : number + 2]
        for found in self._bags("ibag", "igen", first, last):
            if USES_SAMPLE not in found:
                continue
            sample = found[USES_SAMPLE] & 0xFFFF
            header = self.tables["shdr"][sample]
            key = found.get(ROOT, -1)
            ranges = [g[VELOCITIES] & 0xFF for g in (above, found) if VELOCITIES in g]
            yield Zone(
                preset=text(preset["name"]),
                bank=int(preset["bank"]),
                program=int(preset["program"]),
                sample=sample,
                key=key if 0 <= key <= 127 else int(header["key"]),
                velocity=max(ranges, default=0),
                loops_from=loop_start(header, found),
            )


def text(name: bytes) -> str:
    """A name up to its first zero."""
    return name.split(b"\0")[0].decode("latin-1").strip()


def loop_start(header: np.void, generators: dict[int, int]) -> int | None:
    """Where the loop of a zone begins, counted from the start of its sample."""
    if generators.get(MODES, 0) not in {1, 3}:
        return None
    shift = generators.get(LOOP_START, 0)
    shift += 32768 * generators.get(LOOP_START_COARSE, 0)
    start = 0 if int(header["type"]) & CODED else int(header["start"])
    return max(0, int(header["loop"]) + shift - start)


def chunks(whole: memoryview) -> Iterator[tuple[str, memoryview]]:
    """Names and contents of the chunks of a RIFF list, lists opened."""
    at = 0
    while at + 8 <= len(whole):
        name = bytes(whole[at : at + 4]).decode("latin-1")
        size = int.from_bytes(whole[at + 4 : at + 8], "little")
        body = whole[at + 8 : at + 8 + size]
        if name in {"RIFF", "LIST"}:
            yield from chunks(body[4:])
        else:
            yield name, body
        at += 8 + size + size % 2


def read_soundfont(path: Path) -> SoundFont:
    """Read a bank.

    Parameters
    ----------
    path : Path
        The file.
    """
    found = dict(chunks(memoryview(path.read_bytes())))
    if "smpl" not in found or not TABLES.keys() <= found.keys():
        raise ValueError(f"{path.name} is no sound font")
    tables = {
        name: np.frombuffer(found[name], dtype=kind) for name, kind in TABLES.items()
    }
    return SoundFont(tables=tables, pool=found["smpl"])
