"""Damaged and wrong records, each made from one good record by one change."""

# ruff: noqa: E501 - one row of the tables on one line
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from tests.end_to_end.bad_files import good

Row = tuple[str, Callable[[Path], list[str]], str, str]

FORCES = ("166.7 N", "165.0 N", "168.1 N", "166.0 N", "167.2 N", "165.9 N")

HEAD = """\
format = 1

[lift]
name = "Granary Wharf, goods lift 2"
drive = "traction"
roping = "1:1"

[visit]
date = 2026-11-20

[rule]
metric = "below-highest"
limit = "10 %"

[set]
ropes = 6
linear_density = "0.58 kg/m"
sockets = "one height"

[[span]]
name = "top"
side = "car"
position = "top landing"
free_length = "3.00 m"

[[hitch]]
at = "car"
rows = [[1, 3, 5], [2, 4, 6]]
thread = "M16"
spring_rate = "150 N/mm"

[[series]]
name = "as found"
span = "top"
"""

PULL = """
[[reading]]
series = "as found"
kind = "pull"
rope = {rope}
force = "{force}"
deflection = "25 mm"
hold = "deflection"
"""

GOOD = HEAD + "".join(
    PULL.format(rope=rope, force=force) for rope, force in enumerate(FORCES, start=1)
)


def write(folder: Path, content: bytes) -> list[str]:
    """Write a record and return the arguments."""
    (folder / "visit.toml").write_bytes(content)
    return ["assess", str(folder)]


def with_text(text: str, folder: Path) -> list[str]:
    """Write a whole text as the record."""
    return write(folder, text.encode())


def changed(old: str, new: str, folder: Path) -> list[str]:
    """Change one place of the good record."""
    if old not in GOOD:
        message = f"the good record does not hold {old!r}"
        raise ValueError(message)
    return with_text(GOOD.replace(old, new, 1), folder)


def added(text: str, folder: Path) -> list[str]:
    """Add something at the end of the good record."""
    return with_text(f"{GOOD}\n{text}\n", folder)


def encoded(encoding: str, folder: Path) -> list[str]:
    """Write the good record, with an umlaut, in some encoding."""
    return write(folder, GOOD.replace("Granary", "Gränary").encode(encoding))


def pluck(recording: str) -> str:
    """Return a reading that names a recording."""
    quoted = recording.replace("\\", "\\\\")
    return (
        '[[reading]]\nseries = "as found"\nkind = "pluck"\nrope = 1\n'
        f'recording = "{quoted}"'
    )


def with_link(folder: Path) -> list[str]:
    """Name a link that leads out of the folder."""
    outside = folder.parent / f"{folder.name}-outside.wav"
    outside.write_bytes(good(1))
    (folder / "link.wav").symlink_to(outside)
    return added(pluck("link.wav"), folder)


def with_linked_folder(folder: Path) -> list[str]:
    """Name a file in a linked folder that lies outside."""
    outside = folder.parent / f"{folder.name}-outside"
    outside.mkdir()
    (outside / "rope.wav").write_bytes(good(1))
    (folder / "inner").symlink_to(outside)
    return added(pluck("inner/rope.wav"), folder)


def outside(folder: Path) -> list[str]:
    """Name a file that exists beside the folder of the record."""
    beside = folder.parent / f"{folder.name}-outside.wav"
    beside.write_bytes(good(1))
    return added(pluck(f"../{beside.name}"), folder)


def absolute(folder: Path) -> list[str]:
    """Name a file outside by its absolute path."""
    beside = folder.parent / f"{folder.name}-outside.wav"
    beside.write_bytes(good(1))
    return added(pluck(str(beside)), folder)


def a_folder(folder: Path) -> list[str]:
    """Put a folder where the record should be."""
    (folder / "visit.toml").mkdir()
    return ["assess", str(folder / "visit.toml")]


def many_ropes(n_ropes: int, folder: Path) -> list[str]:
    """Name a great many ropes, each with a reading."""
    text = HEAD.replace("ropes = 6", f"ropes = {n_ropes}")
    body = "".join(PULL.format(rope=k, force="166 N") for k in range(1, 2001))
    return with_text(text + body, folder)


FREE = 'free_length = "3.00 m"'
FORCE = 'force = "166.7 N"'
DEFLECTION = 'deflection = "25 mm"'
LIMIT = 'limit = "10 %"'

RECORD_MAKERS: list[Row] = [
    # how the text is written down
    ("byte order mark", partial(encoded, "utf-8-sig"), "any result", ""),
    ("UTF-16", partial(encoded, "utf-16"), "any result", ""),
    ("UTF-16 without mark", partial(encoded, "utf-16-be"), "refused", "visit.toml"),
    ("Latin-1", partial(encoded, "latin-1"), "refused", "UTF-8"),
    ("line ends of another system", lambda f: write(f, GOOD.replace("\n", "\r\n").encode()), "any result", ""),
    ("line ends of an old system", lambda f: write(f, GOOD.replace("\n", "\r").encode()), "refused", "visit.toml"),
    ("empty", lambda f: write(f, b""), "refused", "visit.toml"),
    ("comments alone", lambda f: write(f, b"# nothing\n" * 9), "refused", "visit.toml"),
    ("zeros", lambda f: write(f, bytes(999)), "refused", "visit.toml"),
    ("random bytes", lambda f: write(f, np.random.default_rng(2).bytes(9999)), "refused", "visit.toml"),
    ("a sound file", lambda f: write(f, good(1)), "refused", "visit.toml"),
    ("JSON", lambda f: write(f, b'{"format": 1}'), "refused", "visit.toml"),
    ("cut off in a key", lambda f: with_text(GOOD[: GOOD.index("free_length") + 4], f), "refused", "visit.toml"),
    ("cut off in a text", lambda f: with_text(GOOD[: GOOD.index("top landing") + 4], f), "refused", "visit.toml"),
    ("a folder", a_folder, "refused", "visit.toml"),
    ("comma outside quotes", partial(changed, LIMIT, "limit = 5,5"), "refused", "line 13"),
    ("decimal comma in a count", partial(changed, "ropes = 6", "ropes = 6,0"), "refused", "line"),
    ("typographic quotes", partial(changed, '"traction"', "“traction”"), "refused", "line 5"),
    ("backslash in quotes", partial(changed, '"1:1"', '"C:\\Users"'), "refused", "line 6"),
    ("no quotes", partial(changed, '"traction"', "traction"), "refused", "line 5"),
    ("key twice", partial(changed, 'drive = "traction"', 'drive = "drum"\ndrive = "drum"'), "refused", "line"),
    ("table twice", partial(added, "[set]\nropes = 4"), "refused", ""),
    ("nested ten thousand deep", partial(added, "x = " + "[" * 10000 + "]" * 10000), "refused", "visit.toml"),
    ("five million letters", partial(changed, "Granary Wharf", "G" * 5_000_000), "any result", ""),
    ("control character", partial(changed, "Granary", "Gran\x00ary"), "refused", "visit.toml"),
    ("terminal codes in a name", partial(changed, "Granary", "\\u001b[31mGranary"), "any result", ""),
    ("two thousand mistakes", partial(added, "\n".join(f"[[rope]]\nnumbr = {k}" for k in range(2000))), "refused", "numbr"),
    # names
    ("unknown key", partial(changed, "drive =", "driev ="), "refused", "drive"),
    ("unknown table", partial(added, "[lfit]\nname = 'x'"), "refused", "lfit"),
    ("unknown table of readings", partial(added, "[[readings]]\nrope = 1"), "refused", "reading"),
    ("key of another table", partial(changed, "ropes = 6", "ropes = 6\nside = 'car'"), "refused", "side"),
    ("table for an array", lambda f: with_text(GOOD.replace("[[span]]", "[span]"), f), "refused", "span"),
    ("unknown drive", partial(changed, '"traction"', '"rocket"'), "refused", "traction"),
    ("unknown roping", partial(changed, '"1:1"', '"3:7"'), "refused", "2:1"),
    ("unknown side", partial(changed, 'side = "car"', 'side = "left"'), "refused", "counterweight"),
    ("unknown metric", partial(changed, '"below-highest"', '"best"'), "refused", "off-mean"),
    ("unknown rule", partial(changed, 'metric = "below-highest"', 'use = "no such rule"'), "refused", "no such rule"),
    ("unknown kind of reading", partial(changed, 'kind = "pull"', 'kind = "guess"'), "refused", "pluck"),
    ("unknown hitch", partial(changed, 'at = "car"', 'at = "moon"'), "refused", "dead-end-car"),
    ("format of the future", partial(changed, "format = 1", "format = 2"), "refused", "format"),
    ("no format", partial(changed, "format = 1", ""), "refused", "format"),
    ("format as text", partial(changed, "format = 1", 'format = "1"'), "refused", "format"),
    # quantities
    ("number without a unit", partial(changed, FREE, 'free_length = "3.00"'), "refused", "free_length"),
    ("number without quotes", partial(changed, FREE, "free_length = 3.0"), "refused", "free_length"),
    ("negative length", partial(changed, FREE, 'free_length = "-3 m"'), "refused", "free_length"),
    ("length of zero", partial(changed, FREE, 'free_length = "0 m"'), "refused", "free_length"),
    ("length of 3 km", partial(changed, FREE, 'free_length = "3000 m"'), "refused", "free_length"),
    ("length of a hair", partial(changed, FREE, 'free_length = "3 um"'), "refused", "free_length"),
    ("length of 1e300", partial(changed, FREE, 'free_length = "1e300 m"'), "refused", "free_length"),
    ("length in kilograms", partial(changed, FREE, 'free_length = "3 kg"'), "refused", "free_length"),
    ("length with two commas", partial(changed, FREE, 'free_length = "3,0,0 m"'), "refused", "free_length"),
    ("length not a number", partial(changed, FREE, 'free_length = "nan m"'), "refused", "free_length"),
    ("infinite length", partial(changed, FREE, 'free_length = "inf m"'), "refused", "free_length"),
    ("length as a formula", partial(changed, FREE, 'free_length = "9**9**9 m"'), "refused", "free_length"),
    ("empty length", partial(changed, FREE, 'free_length = ""'), "refused", "free_length"),
    ("length as a list", partial(changed, FREE, 'free_length = ["3 m"]'), "refused", "free_length"),
    ("a hundred thousand digits", partial(changed, FREE, f'free_length = "{"9" * 100000} m"'), "refused", "free_length"),
    ("mass for force", partial(changed, FORCE, 'force = "17 kg"'), "refused", "force"),
    ("negative force", partial(changed, FORCE, 'force = "-17 N"'), "refused", "force"),
    ("force of zero", partial(changed, FORCE, 'force = "0 N"'), "refused", "force"),
    ("force of 1e9 N", partial(changed, FORCE, 'force = "1e9 N"'), "any result", "1"),
    ("thousands in doubt", partial(changed, FORCE, 'force = "1,200 N"'), "refused", "force"),
    ("no forces", partial(changed, FORCE, "force = []"), "refused", "force"),
    ("deflection of zero", partial(changed, DEFLECTION, 'deflection = "0 mm"'), "refused", "deflection"),
    ("deflection longer than the rope", partial(changed, DEFLECTION, 'deflection = "5 m"'), "any result", "deflection"),
    ("pull beyond the end", partial(changed, DEFLECTION, f'{DEFLECTION}\nat = "9 m"'), "not equal", "outside its free length"),
    ("linear density of zero", partial(changed, '"0.58 kg/m"', '"0 kg/m"'), "refused", "linear_density"),
    ("linear density of lead", partial(changed, '"0.58 kg/m"', '"580 kg/m"'), "any result", ""),
    ("limit of zero", partial(changed, LIMIT, 'limit = "0 %"'), "refused", "limit"),
    ("negative limit", partial(changed, LIMIT, 'limit = "-5 %"'), "refused", "limit"),
    ("limit of 1000 %", partial(changed, LIMIT, 'limit = "1000 %"'), "any result", ""),
    ("limit without per cent", partial(changed, LIMIT, 'limit = "10"'), "refused", "limit"),
    ("thread of nothing", partial(changed, '"M16"', '"M"'), "refused", "thread"),
    ("spring rate in newtons", partial(changed, '"150 N/mm"', '"150 N"'), "refused", "spring_rate"),
    # ropes
    ("no ropes", partial(changed, "ropes = 6", "ropes = 0"), "refused", "ropes"),
    ("one rope", partial(changed, "ropes = 6", "ropes = 1"), "refused", "rope"),
    ("minus six ropes", partial(changed, "ropes = 6", "ropes = -6"), "refused", "ropes"),
    ("six and a half ropes", partial(changed, "ropes = 6", "ropes = 6.5"), "refused", "ropes"),
    ("true ropes", partial(changed, "ropes = 6", "ropes = true"), "refused", "ropes"),
    ("ropes in words", partial(changed, "ropes = 6", 'ropes = "six"'), "refused", "ropes"),
    ("100000 ropes", partial(many_ropes, 100000), "refused", "at most 10000"),
    ("2000 readings of ropes that are not there", partial(many_ropes, 6), "refused", "at most 10000"),
    ("rope 7 of 6", partial(changed, "rope = 6", "rope = 7"), "refused", "7"),
    ("rope 0", partial(changed, "rope = 6", "rope = 0"), "refused", "rope"),
    ("rope 1e18", partial(changed, "rope = 6", "rope = 1000000000000000000"), "refused", "rope"),
    ("rope twice in the list", partial(added, "[[rope]]\nnumber = 2\n[[rope]]\nnumber = 2"), "refused", "2"),
    ("rope 9 in the rows", partial(changed, "[2, 4, 6]", "[2, 4, 9]"), "refused", "9"),
    ("rope twice in the rows", partial(changed, "[2, 4, 6]", "[2, 4, 4]"), "refused", "4"),
    ("stagger longer than the rope", partial(added, '[[rope]]\nnumber = 2\nstagger = "-4 m"'), "refused", "stagger"),
    ("length of a span that is not there", partial(added, '[[rope]]\nnumber = 2\nfree_lengths = { "x" = "3 m" }'), "refused", "x"),
    # series and readings
    ("no readings", lambda f: with_text(HEAD, f), "refused", ""),
    ("one reading", lambda f: with_text(HEAD + PULL.format(rope=1, force="166 N"), f), "refused", ""),
    ("no series", partial(changed, '[[series]]\nname = "as found"\nspan = "top"', ""), "refused", "as found"),
    ("series twice", partial(added, '[[series]]\nname = "as found"\nspan = "top"'), "refused", "as found"),
    ("span twice", partial(added, '[[span]]\nname = "top"'), "refused", "top"),
    ("series of a span that is not there", partial(changed, 'span = "top"', 'span = "tpo"'), "refused", "top"),
    ("reading of a series that is not there", partial(changed, 'series = "as found"', 'series = "as fuond"'), "refused", "as found"),
    ("reading without a rope", partial(changed, "rope = 1\n", ""), "refused", "rope"),
    ("reading without a kind", partial(changed, 'kind = "pull"\n', ""), "refused", "kind"),
    ("pull without a force", partial(changed, FORCE + "\n", ""), "refused", "force"),
    ("pull without what was held", partial(changed, 'hold = "deflection"\n', ""), "any result", ""),
    ("returns counted as zero", partial(added, '[[reading]]\nseries = "as found"\nkind = "returns"\nrope = 1\ncount = 0\nelapsed = "1 s"'), "refused", "count"),
    ("returns in no time", partial(added, '[[reading]]\nseries = "as found"\nkind = "returns"\nrope = 1\ncount = 5\nelapsed = "0 s"'), "refused", "elapsed"),
    ("spring at a hitch that is not there", partial(added, '[[reading]]\nseries = "as found"\nkind = "spring"\nrope = 1\nhitch = "counterweight"\nlength = "100 mm"'), "any result", ""),
    ("memo of ropes that are not there", partial(added, '[[reading]]\nseries = "as found"\nkind = "pluck"\nrecording = "a.wav"\nropes = [1, 9]'), "refused", "9"),
    ("memo without ropes", partial(added, '[[reading]]\nseries = "as found"\nkind = "pluck"\nrecording = "a.wav"\nropes = []'), "refused", "ropes"),
    ("no plucks each", partial(added, '[[reading]]\nseries = "as found"\nkind = "pluck"\nrecording = "a.wav"\nropes = [1, 2]\nplucks_each = 0'), "refused", "plucks_each"),
    ("everything excluded", partial(added, "\n".join(f'[[exclusion]]\nseries = "as found"\nrope = {k}\nreason = "x"' for k in range(1, 7))), "refused", ""),
    ("exclusion without a reason", partial(added, '[[exclusion]]\nseries = "as found"\nrope = 1'), "refused", "reason"),
    ("turns in words", partial(added, '[[turn]]\nafter = "as found"\nhitch = "car"\nrope = 1\nturns = "a lot"'), "refused", "turns"),
    ("turn after a series that is not there", partial(added, '[[turn]]\nafter = "x"\nhitch = "car"\nrope = 1\nturns = "1"'), "refused", "x"),
    ("date that is not", partial(changed, "2026-11-20", "2026-13-40"), "refused", "line 9"),
    ("date in words", partial(changed, "2026-11-20", '"yesterday"'), "refused", "date"),
    # places
    ("recording that is missing", partial(added, pluck("gone.m4a")), "any result", "gone.m4a"),
    ("recording outside", outside, "refused", "outside"),
    ("recording at an absolute path", absolute, "refused", "beside or below"),
    ("recording on another drive", partial(added, pluck("C:\\memo.wav")), "refused", "memo.wav"),
    ("recording at an address", partial(added, pluck("http://localhost/a.m4a")), "any result", "a.m4a"),
    ("recording over a link", with_link, "refused", "link.wav"),
    ("recording in a linked folder", with_linked_folder, "refused", "inner"),
    ("recording that is the record", partial(added, pluck("visit.toml")), "any result", "visit.toml"),
    ("recording that is the folder", partial(added, pluck(".")), "any result", ""),
    ("recording without a name", partial(added, pluck("")), "refused", "is no path"),
    ("recording with a zero in its name", partial(added, pluck("a\\u0000b.wav").replace("\\\\u", "\\u")), "any result", ""),
]  # fmt: skip
