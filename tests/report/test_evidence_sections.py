"""What the result was drawn from: plucks, springs, thread, times, photos."""

import base64
import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from tension.condition.checks import acceptance_items
from tension.files.evidence import FileEvidence, hash_file
from tension.files.visit import Photo as PhotoEntry
from tension.files.visit import Visit
from tension.report.content import Evidence, ShownPhoto, build_report
from tension.report.layouts import report_html, report_pdf
from tension.telling.condition import N_ROWS, acceptance_blocks, blank_acceptance
from tension.telling.page import Bullets, Document, Grid, Manner, Photo, Section
from tension.workflow.evidence import gather_evidence, shown_photos
from tests.cli.running import DEMO
from tests.report.test_content import section, words
from tests.synthesis.made_evidence import made_evidence, made_visit

EVIDENCE = made_evidence()


def grids(evidence: Evidence, caption: str) -> list[Grid]:
    """Tables of a report by the beginning of their caption."""
    blocks = (b for s in build_report(evidence).sections for b in s.blocks)
    return [b for b in blocks if isinstance(b, Grid) and b.caption.startswith(caption)]


@pytest.fixture(scope="module")
def memos() -> Evidence:
    return gather_evidence(DEMO / "before-and-after")


def test_every_pluck_stands_with_its_own_value(memos: Evidence) -> None:
    found = grids(memos, "Plucks, each heard by itself")
    assert len(found) == len(memos.hearings)
    for grid in found:
        assert len(grid.rows) == 18  # six ropes, three plucks each
        assert all(re.fullmatch(r"\d+\.\d+ Hz", row[4]) for row in grid.rows)


def test_a_pluck_left_out_says_why(memos: Evidence) -> None:
    hearing = memos.hearings[0]
    assert hearing is not None
    rope = hearing.ropes[0]
    left = replace(rope.plucks[0], is_used=False, reason="a knock", start=1.0)
    ropes = (replace(rope, plucks=(left,)),)
    hearings = (replace(hearing, ropes=ropes), *memos.hearings[1:])
    grid, _ = grids(replace(memos, hearings=hearings), "Plucks")
    assert [row[-1] for row in grid.rows] == ["no: a knock"]


def test_what_the_springs_rest_on_stands_under_its_heading_and_is_no_bullet(
    memos: Evidence,
) -> None:
    (section,) = [
        s for s in build_report(memos).sections if s.heading == "Spring lengths"
    ]
    bullets = [
        one
        for block in section.blocks
        if isinstance(block, Bullets)
        for one in block.items
    ]
    assert bullets
    assert not {"Rests on", "To know"} & set(bullets)


def test_the_springs_have_a_result_of_their_own(memos: Evidence) -> None:
    assert memos.springs is not None
    told = section(build_report(memos), "Spring lengths")
    assert told.count("By length") == 1
    assert told.count("±") >= 6
    assert told.count("Otherwise") == 1


def test_every_file_has_its_time(memos: Evidence) -> None:
    files = section(build_report(memos), "Files, seal and corrections")
    assert files.count(" UTC") == len(memos.files) == len(memos.times)


def test_thread_left_follows_the_turns(memos: Evidence) -> None:
    (grid,) = grids(memos, "Thread left")
    turns = {t.rope: t.turns.value for t in memos.visit.turns}
    for row, rope in zip(grid.rows, memos.visit.rope_set.ropes, strict=True):
        assert rope.take_up_left is not None
        assert rope.ease_left is not None
        drawn = 2.0 * turns.get(rope.number, 0.0)  # M16: 2 mm a turn
        for cell, before, sign in (
            (row[4], rope.take_up_left, -1),
            (row[5], rope.ease_left, 1),
        ):
            shown = float(cell.removesuffix(" mm"))
            assert shown == pytest.approx(before.value * 1e3 + sign * drawn, abs=0.06)


def picture(folder: Path, name: str, **more: object) -> Path:
    """A photo of two halves."""
    path = folder / name
    image = Image.new("RGB", (400, 200), (200, 30, 30))
    image.paste((30, 30, 200), (200, 0, 400, 200))
    image.save(path, **more)  # type: ignore[arg-type]
    return path


def photos_of(folder: Path, *names: str) -> tuple[ShownPhoto, ...]:
    visit = photo_visit(*names)
    files = tuple(
        replace(hash_file(folder / n), path=n) for n in names if (folder / n).is_file()
    )
    return shown_photos(visit, files, folder)


def photo_visit(*names: str) -> Visit:
    entries = tuple(PhotoEntry(file=n, shows="rope tag", by="R. Calder") for n in names)
    return replace(made_visit(), photos=entries, findings=(), checks=())


@pytest.mark.slow
def test_photos_of_any_form_are_shown_with_caption_and_checksum(
    tmp_path: Path,
) -> None:
    names = ("a.jpg", "b.png", "c.webp", "d.gif", "e.tif")
    paths = [picture(tmp_path, name) for name in names]
    photos = photos_of(tmp_path, *names)
    assert [one.sha256 for one in photos] == [hash_file(one).sha256 for one in paths]
    document = build_report(replace(made_evidence(), photos=photos))
    page = report_html(document)
    shown = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    assert len(shown) == len(names)
    for jpeg in shown:
        image = Image.open(io.BytesIO(base64.b64decode(jpeg))).convert("RGB")
        assert image.size == (400, 200)
        red, _, blue = image.getpixel((50, 100))  # type: ignore[misc]
        assert red > 150 > blue
    for number, (name, photo) in enumerate(zip(names, photos, strict=True), 1):
        told = f"{number}: rope tag, R. Calder. {name}, SHA-256 {photo.sha256}"
        assert told in page
    pages = PdfReader(io.BytesIO(report_pdf(document))).pages
    alike = len({photo.jpeg for photo in photos})
    assert sum(len(one.images) for one in pages) >= alike
    assert "".join(p.extract_text() for p in pages).count("rope tag, R. Calder") == 5


def test_a_photo_stands_upright_and_says_nothing_of_its_camera(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # a phone held upright
    exif[0x010F] = "Some Camera"
    exif.get_ifd(0x8825)[1] = "N"
    picture(tmp_path, "a.jpg", exif=exif)
    (photo,) = photos_of(tmp_path, "a.jpg")
    image = Image.open(io.BytesIO(photo.jpeg))
    assert image.size == (200, 400)
    assert not image.getexif()
    assert b"Some Camera" not in photo.jpeg


def test_a_large_photo_is_made_small(tmp_path: Path) -> None:
    Image.new("RGB", (4000, 3000)).save(tmp_path / "a.jpg")
    (photo,) = photos_of(tmp_path, "a.jpg")
    assert max(Image.open(io.BytesIO(photo.jpeg)).size) == 1200


@settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(cut=st.integers(0, 3000), content=st.binary(max_size=60), is_cut=st.booleans())
def test_a_broken_photo_is_named_and_the_report_is_made(
    tmp_path: Path, cut: int, content: bytes, *, is_cut: bool
) -> None:
    path = picture(tmp_path, "a.jpg")
    path.write_bytes(path.read_bytes()[:cut] if is_cut else content)
    (photo,) = photos_of(tmp_path, "a.jpg")
    assert bool(photo.jpeg) is not bool(photo.why_not)
    assert photo.sha256
    evidence = replace(EVIDENCE, photos=(photo,), assessments=())  # nothing to draw
    assert "a.jpg, SHA-256" in section(build_report(evidence), "Photos")


def test_a_photo_that_is_not_there_is_told(tmp_path: Path) -> None:
    (photo,) = photos_of(tmp_path, "a.jpg")
    told = words(build_report(replace(made_evidence(), photos=(photo,))))
    assert "a.jpg, SHA-256 none. Not shown: not there" in told


class _Cells(HTMLParser):
    """Labels of the cells of each table beside its headings."""

    def __init__(self) -> None:
        super().__init__()
        self.headings: list[str] = []
        self.labels: list[str | None] = []
        self.tables: list[tuple[list[str], list[str | None]]] = []
        self.is_heading = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.headings, self.labels = [], []
            self.tables.append((self.headings, self.labels))
        self.is_heading = tag == "th"
        if tag == "th":
            self.headings.append("")
        if tag == "td":
            self.labels.append(dict(attrs).get("data-label"))

    def handle_data(self, data: str) -> None:
        if self.is_heading:
            self.headings[-1] += data

    def handle_endtag(self, tag: str) -> None:
        self.is_heading = self.is_heading and tag != "th"


def test_on_a_phone_every_cell_tells_its_heading_and_no_word_is_broken(
    memos: Evidence,
) -> None:
    page = report_html(build_report(memos))
    assert "overflow-wrap: anywhere" not in page
    assert "@media screen and (max-width: 640px)" in page
    cells = _Cells()
    cells.feed(page)
    assert len(cells.tables) > 8
    for headings, labels in cells.tables:
        wanted = [heading or None for heading in headings]
        assert labels == wanted * (len(labels) // len(headings))


def every_word(document: Document) -> str:
    return words(document).lower()


def test_nothing_of_cranes_in_the_acceptance_of_a_lift() -> None:
    evidence = made_evidence()
    assert evidence.acceptance is not None
    told = str(acceptance_blocks(evidence.acceptance, Manner())).lower()
    assert "crane" not in told + every_word(blank_acceptance())
    assert not [r for i in acceptance_items() for r in i.rules if "crane" in r.text]


def test_the_blank_form_has_room_for_what_is_measured() -> None:
    document = blank_acceptance()
    (figures,) = [s for s in document.sections if s.heading == "Figures to write down"]
    grids = [block for block in figures.blocks if isinstance(block, Grid)]
    for word in ("diameters", "Clips", "Springs", "Photos"):
        (grid,) = [g for g in grids if word in g.caption]
        assert len(grid.rows) >= N_ROWS
        assert all(cell == "\n" for row in grid.rows for cell in row[1:])
    assert "Runby now" in str(figures)


def test_the_last_page_is_not_a_handful_of_bullets(memos: Evidence) -> None:
    last: Section = build_report(memos).sections[-1]
    assert not any(isinstance(block, Bullets) for block in last.blocks)
    assert last.is_whole
    pages = PdfReader(io.BytesIO(report_pdf(build_report(memos)))).pages
    assert last.heading in pages[-1].extract_text()


def test_a_photo_is_a_block_with_a_file_beside_it() -> None:
    photo = ShownPhoto(file="a.jpg", caption="tag", sha256="ab" * 32, jpeg=b"x")
    document = build_report(replace(made_evidence(), photos=(photo,)))
    blocks = [b for s in document.sections for b in s.blocks if isinstance(b, Photo)]
    assert [b.caption for b in blocks] == [f"1: tag. a.jpg, SHA-256 {'ab' * 32}"]
    assert FileEvidence(path="a.jpg", n_bytes=1, sha256="ab" * 32).path in str(blocks)
