"""The list: its order, one line a lift, and every form it is written in."""

import csv
import io
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from tension.errors import ExistingFileError, FileFormatError
from tension.fleet.listing import (
    COLUMNS,
    N_PLAIN,
    Listing,
    Order,
    Row,
    Spool,
    card,
    csv_lines,
    json_lines,
    page_parts,
    require_writable,
    unusable,
    write_list,
)
from tension.fleet.tree import Place
from tension.wording import Terms

DAY = date(2026, 11, 29)


def line(record: str, verdict: str, **more: object) -> Row:
    return unusable(record, [], verdict) | {"lift": record, **more}


LINES = (
    line("a", "equal", spread_percent=3.0, date="2026-11-01"),
    line("b", "unequal", spread_percent=25.0, date="2025-01-01"),
    line("c", "cannot-tell", spread_percent=9.0, probability_over_limit=0.4),
    line("d", "no-result", date="2026-10-01"),
    line(
        "e",
        "cannot-tell",
        spread_percent=11.0,
        probability_over_limit=0.7,
        date="2026-11-28",
    ),
    unusable("f", ["f: it is cut off", "f: write it again"]),
    line("g", "unequal", spread_percent=12.0, date="2026-11-29"),
)


@pytest.fixture
def spool(tmp_path: Path) -> Iterator[Spool]:
    made = Spool(tmp_path)
    yield made
    made.close()


def filled(spool: Spool, lines: tuple[Row, ...] = LINES) -> Spool:
    places = (Place(row["record"]) for row in lines)
    spool.find(places)
    for number, row in reversed(list(enumerate(lines, start=1))):
        spool.add(number, row)
    return spool


def listing(spool: Spool, order: Order = Order.SPREAD, **more: object) -> Listing:
    plain: dict[str, Any] = {"day": DAY, "is_every_record": False, "top": "lifts"}
    return Listing(**(plain | {"terms": Terms.EUROPE} | more), spool=spool, order=order)


ORDERS = [
    (Order.SPREAD, "bgecadf"),
    (Order.CANNOT_TELL, "ecdbgaf"),
    (Order.DAYS_SINCE, "bdaegcf"),
    (Order.RECORD, "abcdefg"),
]


@pytest.mark.parametrize(("order", "wanted"), ORDERS)
def test_lines_come_in_the_order_asked_for(
    spool: Spool, order: Order, wanted: str
) -> None:
    rows = listing(filled(spool), order).rows()
    assert "".join(one["record"] for one in rows) == wanted


def test_days_are_counted_from_the_day_of_the_list(spool: Spool) -> None:
    rows = listing(filled(spool), Order.RECORD).rows()
    days = [one["days_since"] for one in rows]
    assert days == [28, 697, None, 59, 1, None, 0]


@pytest.mark.parametrize(
    ("lower", "upper", "said"),
    [(None, None, ""), (1.25, None, "at least 1.2 %"), (1.0, 9.96, "1.0 to 10.0 %")],
)
def test_a_card_says_within_what_the_true_spread_lies(
    lower: float | None, upper: float | None, said: str
) -> None:
    row = line("a", "equal", lower_percent=lower, upper_percent=upper, place=1)
    assert card(row, Terms.EUROPE)["interval"] == said


def named(record: str, day: str, lift: str = "L", **more: object) -> Row:
    return line(record, "equal", lift=lift, date=day, **more)


def test_a_lift_has_one_line_and_its_newest_record_answers(spool: Spool) -> None:
    filled(
        spool,
        (
            named("x/2025/visit.toml", "2025-05-01"),
            named("x/2026/visit.toml", "2026-05-01"),
            named("x/undated/visit.toml", ""),
            named("x/other/visit.toml", "2024-01-01", lift="M"),
            named("y/2026/visit.toml", "2026-01-01"),
            named("x/there/visit.toml", "2023-01-01", address="elsewhere"),
            named("x/second/visit.toml", "2022-01-01", car_number="2"),
            named("x/nameless/visit.toml", "2021-01-01", lift=""),
            named("x/nameless 2/visit.toml", "2021-01-01", lift=""),
            unusable("x/bad/visit.toml", ["x/bad: gone"]),
        ),
    )
    rows = list(listing(spool, Order.RECORD).rows())
    assert [(one["record"].split("/")[1], one["n_records"]) for one in rows[:1]] == [
        ("2026", 3)
    ]
    assert len(rows) == 8
    assert len(list(listing(spool, is_every_record=True).rows())) == 10


def test_of_two_records_of_one_day_the_later_in_the_tree_answers(spool: Spool) -> None:
    filled(spool, (named("x/1/v", "2026-05-01"), named("x/2/v", "2026-05-01")))
    (only,) = listing(spool).rows()
    assert only["record"] == "x/2/v"


def test_csv_and_json_lines_hold_the_same(spool: Spool) -> None:
    shown = listing(filled(spool))
    table = list(csv.DictReader(io.StringIO("".join(csv_lines(shown)))))
    objects = [json.loads(text) for text in json_lines(shown)]
    assert [set(one) for one in objects] == [{*COLUMNS, "schema_version"}] * 7
    for cells, one in zip(table, objects, strict=True):
        assert cells["record"] == one["record"]
        spread = one["spread_percent"]
        assert cells["spread_percent"] == ("" if spread is None else repr(spread))
    assert table[-1]["reason"] == "f: it is cut off f: write it again"


def test_a_text_of_a_person_begins_no_formula_in_a_spreadsheet(spool: Spool) -> None:
    filled(spool, (line("=1+2", "equal", lift="@SUM(A1)"),))
    (cells,) = csv.DictReader(io.StringIO("".join(csv_lines(listing(spool)))))
    assert (cells["record"], cells["lift"]) == ("'=1+2", "'@SUM(A1)")


def test_parquet_holds_the_same_with_types(spool: Spool, tmp_path: Path) -> None:
    parquet = pytest.importorskip(
        "pyarrow.parquet", reason="Parquet needs the extra 'fleet'"
    )
    row = LINES[0] | {"record": "\udcff", "shares_percent": [99.5, None, 100.5]}
    filled(spool, (row, *LINES[1:]))
    write_list(listing(spool, Order.RECORD), tmp_path / "l.parquet", overwrite=False)
    table = parquet.read_table(tmp_path / "l.parquet")
    assert table.column_names == list(COLUMNS)
    assert table.num_rows == 7
    first = table.to_pylist()[0]
    assert first["record"] == "\\udcff"
    assert first["shares_percent"] == [99.5, None, 100.5]
    assert first["days_since"] == 28
    assert str(table.schema.field("spread_percent").type) == "double"


def test_parquet_without_its_package_is_refused_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(FileFormatError, match="which is not installed"):
        require_writable(tmp_path / "l.parquet", overwrite=False)


def test_nothing_is_written_over_unless_asked(spool: Spool, tmp_path: Path) -> None:
    path = tmp_path / "l.csv"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(ExistingFileError, match="--overwrite"):
        require_writable(path, overwrite=False)
    with pytest.raises(ExistingFileError, match="--overwrite"):
        write_list(listing(filled(spool)), path, overwrite=False)
    assert path.read_text(encoding="utf-8") == "mine"
    write_list(listing(spool), path, overwrite=True)
    assert path.read_text(encoding="utf-8-sig").startswith("record,lift,")
    assert [p.name for p in tmp_path.glob("*l.csv*")] == ["l.csv"]


def test_an_ending_that_is_not_known_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"\.csv, \.jsonl, \.parquet, \.html"):
        require_writable(tmp_path / "list.xlsx", overwrite=False)


class Page(HTMLParser):
    """What a page loads, and the text of its table and its scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.rows = 0
        self.scripts: list[str] = []
        self._is_script = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        self.rows += tag == "tr"
        self.loads += [value or "" for key, value in attrs if key in {"src", "href"}]
        self.loads += ["" for _ in range(tag in {"link", "img", "iframe"})]
        self._is_script = tag == "script"
        if self._is_script:
            self.scripts.append("")
        assert not any(key.startswith("on") for key in names)

    def handle_endtag(self, tag: str) -> None:
        self._is_script = self._is_script and tag != "script"

    def handle_data(self, data: str) -> None:
        if self._is_script:
            self.scripts[-1] += data


def page(spool: Spool, order: Order = Order.SPREAD, **more: object) -> str:
    return "".join(page_parts(listing(spool, order, **more)))


def test_the_page_needs_no_network_and_no_script_to_show_its_first_lines(
    spool: Spool,
) -> None:
    text = page(filled(spool))
    parsed = Page(text)
    assert parsed.loads == []
    assert "default-src 'none'" in text
    assert "http" not in text.split("</head>")[1]
    assert not re.search(r"url\(|@import|fetch\(|XMLHttp|innerHTML|eval\(", text)
    assert parsed.rows == 1 + len(LINES)
    assert len(json.loads(parsed.scripts[0])) == len(LINES)


def test_the_page_fits_a_phone(spool: Spool) -> None:
    text = page(filled(spool))
    assert 'name="viewport" content="width=device-width' in text
    narrow = text.split("@media (max-width: 760px)")[1].split("\n}\n")[0]
    assert "thead { display: none; }" in narrow
    assert "display: block; width: 100%" in narrow
    assert "overflow-wrap: anywhere" in text
    assert not re.search(r"[ ;{](?:min-)?width: [3-9]\d\dpx", text)
    assert "min-height: 48px" in text  # of everything that is touched


def test_texts_of_people_do_nothing_on_the_page(spool: Spool) -> None:
    evil = "</script><script>alert(1)</script><b onclick=x>\u202e&amp;"
    filled(spool, (line("x", "unequal", lift=evil, reason=evil),))
    parsed = Page(page(spool, top=evil))
    assert len(parsed.scripts) == 2
    assert not set("<>&") & set(parsed.scripts[0])
    (card,) = json.loads(parsed.scripts[0])
    assert card["lift"] == evil.replace("\u202e", "[U+202E]")


def test_the_page_speaks_the_words_of_the_trade(spool: Spool) -> None:
    filled(spool, (line("x", "equal", reason="The [[lift]] hangs even."),))
    american = page(spool, terms=Terms.NORTH_AMERICA)
    assert "Rope tension, elevators" in american
    assert "The elevator hangs even." in american
    assert "[[" not in american.split("<script>")[0]


def test_a_long_list_stands_whole_in_the_page_but_shows_its_first_lines(
    spool: Spool,
) -> None:
    n_lines = 3 * N_PLAIN
    filled(spool, tuple(line(f"{n}", "equal", date="") for n in range(n_lines)))
    parsed = Page(page(spool))
    assert parsed.rows == 1 + N_PLAIN
    assert len(json.loads(parsed.scripts[0])) == n_lines


@pytest.mark.skipif(shutil.which("node") is None, reason="the script needs node")
@pytest.mark.parametrize(("order", "wanted"), ORDERS)
def test_the_script_sorts_as_the_program_does(
    spool: Spool, order: Order, wanted: str
) -> None:
    other = Order.RECORD if order is Order.SPREAD else Order.SPREAD
    assert _asked(page(filled(spool), other), order, "", "") == wanted


@pytest.mark.skipif(shutil.which("node") is None, reason="the script needs node")
@pytest.mark.parametrize(
    ("verdict", "words", "wanted"),
    [
        ("unequal", "", "bg"),
        ("", "CUT off", "f"),
        ("cannot-tell", "nothing such", ""),
        ("", "cannot tell", "ec"),
    ],
)
def test_the_script_filters(
    spool: Spool, verdict: str, words: str, wanted: str
) -> None:
    assert _asked(page(filled(spool)), Order.SPREAD, verdict, words) == wanted


def _asked(text: str, order: Order, verdict: str, words: str) -> str:
    """What the script of a page answers, as letters."""
    cards, script = Page(text).scripts
    ask = (
        f"{script}\nconst found = chosen({cards}, {json.dumps(order)}, "
        f"{json.dumps(verdict)}, {json.dumps(words)});\n"
        "console.log(found.map((card) => card.record).join(''));"
    )
    done = subprocess.run(
        ["node", "-e", ask], capture_output=True, text=True, check=True
    )
    return done.stdout.strip()
