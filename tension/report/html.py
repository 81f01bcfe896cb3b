"""Report to HTML: one file without links, scripts or pictures from elsewhere."""

import re
from pathlib import Path

from tension.figures.sheet import Paper
from tension.report.document import Document
from tension.report.plain_parts import plain_document
from tension.report.visible import bound

_TEMPLATES = Path(__file__).with_name("templates")
_PAGE_SIZE = {Paper.A4: "A4", Paper.LETTER: "letter"}


def report_html(document: Document, paper: Paper = Paper.A4) -> str:
    """Make an HTML page that prints like the PDF.

    Parameters
    ----------
    document : Document
        The report.
    paper : Paper, optional
        Size of the paper when it is printed.

    Returns
    -------
    str
        The file; texts of people are escaped.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
        finalize=_bound_text,
    )
    plain = plain_document(document)
    return environment.get_template("report.html.j2").render(
        report=plain,
        page_size=_PAGE_SIZE[paper],
        footer_css=_for_css(str(plain["footer"])),
    )


def _bound_text(value: object) -> object:
    """A text whose numbers keep their units; what is markup already stays."""
    return (
        value
        if hasattr(value, "__html__") or not isinstance(value, str)
        else bound(value)
    )


def _for_css(text: str) -> str:
    """A text that may stand in quotation marks in a style sheet."""
    return re.sub(r"[^A-Za-z0-9 .,:;()/·-]", "", text)
