"""Reports, plans, the blank sheet: HTML in one piece, PDF (tagged, PDF/UA-1), offline.

Neither has links, scripts or pictures from elsewhere; the same record gives the same
bytes.
"""

import base64
import json
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from functools import partial
from importlib.util import find_spec
from itertools import chain
from pathlib import Path
from typing import Any

from tension.adjustment.outcome import Plan
from tension.errors import InvalidValueError, TensionError
from tension.figures.canvas import drawn_svg
from tension.installation import MOST_ROPES
from tension.quantity.units import UnitSystem
from tension.report.visible import bound, readable_marks, shortened, visible
from tension.telling import plans
from tension.telling.lines import TURNING_NUTS, WHAT_THE_RESULT_IS, told, words_of
from tension.telling.page import Block, Document, Paper, Weight
from tension.wording import Terms, say

_TEMPLATES = Path(__file__).with_name("templates")
_PAGE_SIZE = {Paper.A4: "A4", Paper.LETTER: "letter"}
_TYPST_PAPER = {Paper.A4: "a4", Paper.LETTER: "us-letter"}
_FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
_MISSING = (
    "Some characters of this record have no font on this computer and print as empty "
    "boxes; the HTML form and the record itself hold them. This PDF is not marked "
    "PDF/UA for that reason."
)

Plain = dict[str, Any]


def plain_document(document: Document) -> Plain:
    """Turn a document into plain lists and texts, every text made visible."""
    return dict(_plain(document))


def _plain(part: object, name: str = "") -> Any:  # noqa: ANN401 - lists and texts
    """One part; drawings and photos stay as they are."""
    if isinstance(part, Weight | bool | int | float | bytes) or name == "svg":
        return part
    if isinstance(part, str):
        return visible(part)
    if isinstance(part, tuple):
        return [_plain(one) for one in part]
    plain: Plain = {"kind": type(part).__name__.lower()}
    if is_dataclass(part):
        plain |= {f.name: _plain(getattr(part, f.name), f.name) for f in fields(part)}
    return plain


def report_html(document: Document, paper: Paper = Paper.A4) -> str:
    """Make an HTML page that prints like the PDF; texts of people are escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
        finalize=lambda value: bound(value) if type(value) is str else value,
    )
    environment.filters["base64"] = lambda jpeg: base64.b64encode(jpeg).decode("ascii")
    plain = plain_document(document)
    return environment.get_template("report.html.j2").render(
        report=plain,
        page_size=_PAGE_SIZE[paper],
        # what may stand in quotation marks in a style sheet
        footer_css=re.sub(r"[^A-Za-z0-9 .,:;()/·-]", "", plain["footer"]),
    )


class PdfMakerMissingError(TensionError):
    """The package that makes the PDF has no wheel for this computer."""


def report_pdf(document: Document, paper: Paper = Paper.A4) -> bytes:
    """Make a PDF/UA-1 file.

    Where a character has no font, even among those of the system, it is a plain PDF and
    a sentence on the first page says so.

    Raises
    ------
    PdfMakerMissingError
        If the package that makes it is not installed.
    """
    photos: dict[str, bytes] = {}
    plain = plain_document(document)
    for section in plain["sections"]:
        for block in section["blocks"]:
            if block["kind"] == "photo":  # a file of its own, named in its place
                name = f"photo-{len(photos) + 1}.jpg"
                photos[name], block["jpeg"] = block["jpeg"], name
    return _laid_out("report.typ", plain, paper, photos=photos)


@contextmanager
def _at_the_maker(photos: dict[str, bytes] | None = None) -> Iterator[str]:
    """A folder with the templates, two faces and photos, for as long as it is needed.

    The two faces alone: a font of boxes beside them would hide gaps.

    Raises
    ------
    PdfMakerMissingError
        If the package that makes the PDF is not installed.
    """
    if find_spec("typst") is None:
        raise PdfMakerMissingError(
            "the package that makes PDF files (typst) is not installed here; "
            "write the report as .html and print that to PDF, a plan or a blank sheet "
            "on another computer"
        )
    with tempfile.TemporaryDirectory() as name:
        from matplotlib import get_data_path

        fonts = (Path(get_data_path()) / "fonts" / "ttf" / one for one in _FONTS)
        for part in (*_TEMPLATES.glob("*.typ"), *fonts):
            shutil.copyfile(part, Path(name) / part.name)
        for part_name, content in (photos or {}).items():
            (Path(name) / part_name).write_bytes(content)
        yield name


def _data(plain: Plain) -> str:
    """What a template is filled with."""
    return readable_marks(json.dumps(plain, ensure_ascii=False))


def _laid_out(
    template: str,
    plain: Plain,
    paper: Paper,
    *,
    kind: str = "pdf",
    photos: dict[str, bytes] | None = None,
) -> bytes:
    """Lay a template out: own font, then those of the system, then without the mark."""
    inputs = {"data": _data(plain), "paper": _TYPST_PAPER[paper]}
    with _at_the_maker(photos) as folder:
        import typst

        maker: Any = typst.compile
        lay_out: Callable[..., bytes] = partial(
            maker, f"{folder}/{template}", root=folder, font_paths=[folder]
        )
        if kind != "pdf":
            return lay_out(format=kind, sys_inputs=inputs, ppi=200)
        for is_own in (True, False):
            how = {"ignore_system_fonts": is_own, "pdf_standards": "ua-1"}
            try:
                return lay_out(format="pdf", sys_inputs=inputs, **how)
            except typst.TypstError as error:
                if "could not be displayed" not in str(error):
                    raise
        return lay_out(format="pdf", sys_inputs=inputs | {"missing": _MISSING})


def first_that_fits(
    pages: Iterable[tuple[Block, ...]], title: str, subject: str
) -> tuple[Block, ...]:
    """Choose the first of several first pages that fits on letter and on A4 paper.

    The last if none does; the first where the package that makes PDF is not installed.
    A picture without a drawing is taken by its height.
    """
    every = list(pages)
    blocks = dict.fromkeys(chain.from_iterable(every))
    places = {block: place for place, block in enumerate(blocks)}
    told: Plain = {
        "title": visible(title),
        "subject": visible(subject),
        "parts": [_plain(block) for block in places],
        "pages": [[places[block] for block in page] for page in every],
    }
    if find_spec("typst") is None:
        return every[0]
    inputs = {"data": _data(told)}
    with _at_the_maker() as folder:
        import typst
        from matplotlib.ft2font import FT2Font

        font = FT2Font(f"{folder}/{_FONTS[0]}")
        has_all = all(font.get_char_index(ord(sign)) for sign in set(inputs["data"]))
        if not has_all:
            inputs["missing"] = _MISSING
        found = typst.query(
            f"{folder}/fit.typ",
            "<chosen>",
            field="value",
            one=True,
            root=folder,
            font_paths=[folder],
            ignore_system_fonts=has_all,
            sys_inputs=inputs,
        )
    return every[-1 if (chosen := json.loads(found)) is None else chosen]


def plan_pdf(
    plan: Plan,
    *,
    subject: str,
    footer: str,
    units: UnitSystem = UnitSystem.SI,
    terms: Terms = Terms.EUROPE,
    paper: Paper = Paper.A4,
) -> bytes:
    """Lay a plan out for the car top, its subject on top and its footer on every page.

    Raises
    ------
    PdfMakerMissingError
        If the package that makes it is not installed.
    """
    lines = [[sign, text] for sign, (text,) in plans.outcome_lines(plan, units, terms)]
    plain: Plain = {
        "title": "Plan of turns",
        "subject": subject,
        "footer": footer,
        "rotation": say(plans.rotation_text(plan.hitch), terms),
        "lines": lines,
        "pictures": [_picture(plan, i + 1, units) for i in range(len(plan.stages))],
    }
    return _laid_out("plan.typ", plain, paper)


def _picture(plan: Plan, number: int, units: UnitSystem) -> Plain:
    """The nuts of one stage, and what the picture shows in words."""
    from tension.figures.adjustment import draw_plan

    svg = drawn_svg(lambda axes: draw_plan(plan, axes, units, number), (7.0, 3.2))
    steps = sorted(plan.stages[number - 1].steps, key=lambda step: step.turn.rope)
    told = [plans.nut_text(step.turn, units) for step in steps]
    return {"svg": svg, "alt": ". ".join(["Nuts as seen facing them", *told])}


def blank_sheet(
    kind: str, *, n_ropes: int, paper: Paper, lift: str, terms: Terms
) -> bytes:
    """Lay the page for the car top out, to be filled in by hand: pdf, png or svg.

    A lift without a name has a line to write it on.

    Raises
    ------
    InvalidValueError
        If the number of ropes does not fit on one page.
    PdfMakerMissingError
        If the package that makes it is not installed.
    """
    if not 1 <= n_ropes <= MOST_ROPES:
        raise InvalidValueError(told("layouts.too-many", most=MOST_ROPES, n=n_ropes))
    cautions = " ".join((*TURNING_NUTS, *WHAT_THE_RESULT_IS))
    words = {**words_of("layouts"), "cautions": cautions}
    plain: Plain = {
        name: say(text.format(n=n_ropes, most=MOST_ROPES), terms)
        for name, text in words.items()
    }
    plain |= {"n_ropes": n_ropes, "lift": visible(shortened(lift, 44, " …"))}
    return _laid_out("sheet.typ", plain, paper, kind=kind)
