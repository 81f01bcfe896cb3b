"""Commands broken off: before each change they make on the disk, and at any moment.

    python -m tests.machine.broken_off --kills 50 --seed 1

Every command that writes is run on a small visit in a child that dies, first before its
first change on the disk, then before its second and so on; then by a kill at a random
moment of its usual run. Afterwards everything that was there must be there, byte by
byte, or what the record says of it; the record must verify; and the command must come
to its end when it is run again.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.cli.running import DEMO
from tests.killing import run_killed

Words = Callable[[Path], Sequence[str | Path]]

LISTED = {0, 2, 3, 10, 11, 12, 13}
"""Exit codes that the program has."""
REPLACED = {
    "visit.toml",
    "visit.corrections.toml",
}
"""Files that a command may change: the record by trimming, corrections by more."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Command:
    """A command that writes, and what stands before it.

    Attributes
    ----------
    name : str
        What it is called in the table.
    words : callable
        Folder to the words of the command line.
    before : tuple of callable
        Commands run once before.
    may_delete : bool
        Whether originals may be gone when the record says so.
    """

    name: str
    words: Words
    before: tuple[Words, ...] = ()
    may_delete: bool = False


def _seal(folder: Path) -> Sequence[str | Path]:
    return ("seal", folder)


def _correct(folder: Path) -> Sequence[str | Path]:
    said = ("--by", "R. Calder", "--reason", "misread", "--text", "Rope 2 was 4.")
    return ("seal", folder, "--correct", *said)


def _trim(folder: Path) -> Sequence[str | Path]:
    return ("trim", folder, "--by", "R. Calder")


def _trim_all(folder: Path) -> Sequence[str | Path]:
    return (*_trim(folder), "--delete-originals")


COMMANDS = (
    Command(name="seal", words=_seal),
    Command(name="seal --correct", words=_correct, before=(_seal,)),
    Command(name="trim", words=_trim, before=(_seal,)),
    Command(
        name="trim --delete-originals",
        words=_trim_all,
        before=(_seal,),
        may_delete=True,
    ),
    Command(name="demo --to", words=lambda folder: ("demo", "--to", folder / "demo")),
    Command(
        name="start",
        words=lambda folder: ("start", folder / "memos", "--ropes", "2"),
    ),
    Command(
        name="report",
        words=lambda folder: ("report", folder, "-o", folder / "report.html"),
    ),
    Command(
        name="acceptance --blank",
        words=lambda folder: ("acceptance", "--blank", folder / "form.html"),
    ),
    Command(
        name="assess --plot",
        words=lambda folder: ("assess", folder, "--plot", folder / "shares.png"),
    ),
)

RECORD = """format = 1
[lift]
name = "Granary Wharf, goods lift 2"
[set]
ropes = 2
linear_density = "0.575 kg/m"
[[span]]
name = "top"
free_length = "3.40 m"
[[rope]]
number = 2
stagger = "+150 mm"
[[series]]
name = "as found"
[[reading]]
kind = "pluck"
rope = 1
recording = "as-found/rope-1.m4a"
[[reading]]
kind = "pluck"
rope = 2
recording = "as-found/rope-2.m4a"
"""


def begin(folder: Path, command: Command) -> None:
    """A visit of two ropes, and what stands before the command."""
    (folder / "as-found").mkdir(parents=True)
    (folder / "memos").mkdir()
    for number in (1, 2):
        source = DEMO / "six-memos" / "as-found" / f"rope-{number}.m4a"
        shutil.copy(source, folder / "as-found")
        shutil.copy(source, folder / "memos")
    (folder / "visit.toml").write_text(RECORD, encoding="utf-8")
    for words in command.before:
        code = act(words(folder))
        assert code == 0, (words(folder), code)


def act(words: Sequence[str | Path]) -> int:
    """Run the program here; what it says is thrown away, but no traceback passes."""
    from tension.cli.main import command as program

    with silenced():
        try:
            code = program.main(
                [str(w) for w in words], prog_name="tension", standalone_mode=False
            )
        except SystemExit as left:
            code = left.code
    return code if isinstance(code, int) else 0


@contextmanager
def silenced() -> Iterator[None]:
    """Standard streams to nowhere."""
    kept = sys.stdout, sys.stderr
    with Path(os.devnull).open("w", encoding="utf-8") as nowhere:
        sys.stdout = sys.stderr = nowhere
        try:
            yield
        finally:
            sys.stdout, sys.stderr = kept


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but unfinished ones."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.endswith(".part")
    }


def faults(folder: Path, command: Command, before: dict[str, bytes]) -> Iterator[str]:
    """What was lost, changed or left half by a command broken off."""
    from tension.files.evidence import has_seal
    from tension.files.record import read_visit
    from tension.workflow.integrity import verify

    now = contents(folder)
    visit = read_visit(folder / "visit.toml")
    trims = {trim.recording: trim for trim in visit.trims}
    for name, content in before.items():
        trim = trims.get(name)
        is_read = trim is not None and trim.trimmed in now
        if name not in now:
            if not (command.may_delete and is_read):
                yield f"{name} is gone"
        elif now[name] != content and name not in REPLACED:
            yield f"{name} was changed"
    if trims and any(trim.trimmed not in now for trim in trims.values()):
        yield "the record tells of a trimmed file that is not there"
    is_trimming = command.words in {_trim, _trim_all}
    if has_seal(folder / "visit.toml") and not is_trimming:
        found = verify(folder)
        if not found.is_same:
            yield f"does not verify: {found.changes[0].text}"


def ends(folder: Path, command: Command) -> Iterator[str]:
    """Run the command again, to its end."""
    from tension.files.evidence import has_seal
    from tension.workflow.integrity import verify

    code = act(command.words(folder))
    if code not in LISTED:
        yield f"run again it ends with {code}"
    if has_seal(folder / "visit.toml") and not verify(folder).is_same:
        yield "run again it does not verify"
    left = {path.name for path in folder.rglob("*.part")} if code == 0 else set()
    if command.name.startswith("trim") and left:
        yield f"run again it leaves {', '.join(sorted(left))}"


def cut_everywhere(command: Command, place: Path) -> tuple[int, list[str]]:
    """Die before the first change on the disk, the second and so on."""
    start = place / "start"
    begin(start, command)
    before = contents(start)
    told: list[str] = []
    at, is_killed = 0, True
    while is_killed:
        at += 1
        one = place / f"at-{at}"
        shutil.copytree(start, one)
        is_killed = run_killed(lambda one=one: act(command.words(one)), one, at)  # type: ignore[misc]
        told += [
            f"before change {at}: {fault}" for fault in faults(one, command, before)
        ]
        told += [f"after change {at}: {fault}" for fault in ends(one, command)]
        shutil.rmtree(one)
    shutil.rmtree(start)
    return at - 1, told


def kill_at_random(
    command: Command, place: Path, kills: int, seed: int
) -> tuple[int, list[str]]:
    """Kill at random moments of a run as long as the first one took."""
    draw = random.Random(f"{seed} {command.name}")  # noqa: S311 - not for secrets
    start = place / "start"
    begin(start, command)
    before = contents(start)
    begun = time.monotonic()
    shutil.copytree(start, place / "first")
    act(command.words(place / "first"))
    usual = time.monotonic() - begun
    shutil.rmtree(place / "first")
    told: list[str] = []
    n_killed = 0
    for number in range(kills):
        one = place / f"kill-{number}"
        shutil.copytree(start, one)
        child = os.fork()
        if child == 0:
            try:
                act(command.words(one))
            except BaseException:  # noqa: BLE001 - told by the exit code
                os._exit(3)
            os._exit(0)
        time.sleep(draw.uniform(0.0, usual))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        n_killed += os.WIFSIGNALED(status)
        told += [f"kill {number}: {fault}" for fault in faults(one, command, before)]
        told += [f"after kill {number}: {fault}" for fault in ends(one, command)]
        shutil.rmtree(one)
    shutil.rmtree(start)
    return n_killed, told


def main() -> int:
    """Break every command off and print what was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50, help="of each command")
    parser.add_argument("--seed", type=int, default=1, help="of the moments")
    parser.add_argument("--only", help="one command")
    given = parser.parse_args()
    print("| command | broken off before each change | killed | lost or wrong |")
    print("|---|---|---|---|")
    n_wrong = 0
    for command in COMMANDS:
        if given.only not in {None, command.name}:
            continue
        with tempfile.TemporaryDirectory() as place:
            n_cuts, told = cut_everywhere(command, Path(place))
        with tempfile.TemporaryDirectory() as place:
            n_killed, more = kill_at_random(
                command, Path(place), given.kills, given.seed
            )
        told += more
        n_wrong += len(told)
        row = f"| `{command.name}` | {n_cuts} | {n_killed} of {given.kills}"
        print(f"{row} | {len(told)} |", flush=True)
        for line in told[:5]:
            print(f"    {line}", file=sys.stderr)
    print(f"\nSeed {given.seed}; a child that came to its end first was not killed.")
    return int(n_wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
