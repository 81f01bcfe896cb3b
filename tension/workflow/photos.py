"""Photos of a record, made small enough to print and without what else they carry."""

import io
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path

from tension.files.evidence import FileEvidence
from tension.files.visit import Visit
from tension.report.evidence import ShownPhoto

LARGEST = 40_000_000
"""Larger photos are named, not shown. [byte]"""
MOST_PIXELS = 120_000_000
"""Likewise. [1]"""
LONGEST_SIDE = 1200
"""Enough for half a page. [pixel]"""


def shown_photos(
    visit: Visit, files: Sequence[FileEvidence], folder: Path
) -> tuple[ShownPhoto, ...]:
    """Read every photo that a record names.

    Returns
    -------
    tuple of ShownPhoto
        Each file once; one that cannot be shown says why.
    """
    sums = {file.path: file.sha256 for file in files}
    captions: dict[str, list[str]] = {}
    for name, caption in _captions(visit):
        captions.setdefault(name, []).append(caption)
    shown = []
    for name, words in captions.items():
        jpeg, why = (b"", "not there")
        if name in sums:
            jpeg, why = _small_jpeg(folder / name)
        shown.append(
            ShownPhoto(
                file=name,
                caption="; ".join(dict.fromkeys(word for word in words if word)),
                sha256=sums.get(name, ""),
                jpeg=jpeg,
                why_not=why,
            )
        )
    return tuple(shown)


def _captions(visit: Visit) -> Iterator[tuple[str, str]]:
    """Every photo with what it shows."""
    for photo in visit.photos:
        yield photo.file, _joined(photo.shows, photo.by)
    for finding in visit.findings:
        rope = f"rope {finding.rope}" if finding.rope else "the set"
        words = f"{finding.kind.value.replace('-', ' ')}, {rope}"
        for name in finding.photos:
            yield name, _joined(words, finding.at, finding.by)
    for check in visit.checks:
        rope = f"rope {check.rope}" if check.rope else ""
        for name in check.photos:
            yield name, _joined(check.item.value.replace("-", " "), rope, check.by)


def _joined(*parts: str) -> str:
    """Parts of a caption."""
    return ", ".join(part for part in parts if part)


def _small_jpeg(path: Path) -> tuple[bytes, str]:
    """A photo upright and small, without place and time of the camera; or why not."""
    from PIL import Image, ImageOps

    try:
        if path.stat().st_size > LARGEST:
            return b"", f"larger than {LARGEST // 10**6} MB"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return b"", "too many pixels"
                opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        content = io.BytesIO()
        upright.save(content, "JPEG", quality=80)
    except Exception:  # noqa: BLE001 - whatever a broken picture makes of its reader
        return b"", "no picture that can be shown here"
    return content.getvalue(), ""
