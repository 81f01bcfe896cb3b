"""The demo set as sound to be played, and its record without readings."""

import re
from pathlib import Path

import numpy as np

from tension.files.sound import open_sound
from tension.files.sound_stream import SoundStream
from tests.capture.made_source import Made
from tests.capture.null_sink import write_wav

DEMO = Path(__file__).resolve().parents[2] / "recordings_demo" / "six-memos"


def memo(rope: int) -> tuple[Made, int]:
    """Samples and rate of one memo."""
    opened = open_sound(DEMO / "as-found" / f"rope-{rope}.m4a", "memo")
    assert isinstance(opened, SoundStream)
    samples = np.concatenate([block[0] for block in opened.blocks()])
    rate = round(opened.sampling_rate)
    opened.close()
    return samples.astype(np.float64), rate


def write_memos(folder: Path) -> dict[int, Path]:
    """Every memo as WAV, by rope."""
    paths = {}
    for rope in range(1, 7):
        samples, rate = memo(rope)
        paths[rope] = folder / f"memo-{rope}.wav"
        write_wav(paths[rope], samples, rate)
    return paths


def write_empty_record(folder: Path) -> Path:
    """The record of the demo before anything was measured."""
    folder.mkdir()
    text = (DEMO / "visit.toml").read_text(encoding="utf-8")
    record = folder / "visit.toml"
    first = text.index("[[reading]]")
    rest = re.split(r"(?m)^(?=\[\[)", text[first:])
    kept = [part for part in rest if not part.startswith("[[reading]]")]
    record.write_text(text[:first] + "".join(kept), encoding="utf-8")
    return record
