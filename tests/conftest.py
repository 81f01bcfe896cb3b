"""What holds for every test: the same cases everywhere, files that stay together.

And what takes long is done once in a run: the same samples are heard once, by whichever
worker is first, and what one process compiles, the next ones that tests start need not.
"""

import hashlib
import os
import pickle
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, database=None)
settings.load_profile("house")

PLAYED = ("test_listen_played.py", "test_whole_visit.py")
"""These hear what is played at that moment, one after the other on one worker."""

HEAR = ("tension.workflow.listening",)
_heard: dict[str, object] = {}
_places: list[Path] = []


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Keep the tests of a file on one worker: they share what they made.

    Not by marks: xdist writes these behind the names of tests, and not every version of
    pytest keeps what is written there.
    """
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):  # type: ignore[misc]
        """A file is one piece of work, and what hears what is played another."""

        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return "played" if file.endswith(PLAYED) else file

    return ByFile(config, log)


@pytest.fixture(scope="session", autouse=True)
def _kept_for_the_run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what is heard and compiled where all workers of a run find it."""
    is_worker = "PYTEST_XDIST_WORKER" in os.environ
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if is_worker else folder  # each worker has one below it
    _places.append(folder / "heard")
    _places[0].mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as environment:
        environment.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        environment.setenv("PYTHONPYCACHEPREFIX", str(folder / "compiled"))
        yield


def pytest_runtest_setup() -> None:
    """Where commands have been loaded, let them hear the same samples once."""
    if "TENSION_HEARS_ANEW" in os.environ:
        return  # the program is not the same from one test to the next
    for listening in filter(None, map(sys.modules.get, HEAR)):
        if not hasattr(listening.hear_set, "anew"):
            listening.hear_set = _once(listening.hear_set)  # type: ignore[attr-defined]


def _once(hear: Callable[..., object]) -> Callable[..., object]:
    """Hear, or say what was heard of the same samples and spans."""

    def heard(*given: object) -> object:
        key = hashlib.sha256(pickle.dumps(given)).hexdigest()
        kept = _places[0] / key
        if key not in _heard and kept.exists():
            _heard[key] = pickle.loads(kept.read_bytes())  # noqa: S301 - our own
        elif key not in _heard:
            _heard[key] = hear(*given)
            new = kept.with_name(f"{key}-{os.getpid()}")
            new.write_bytes(pickle.dumps(_heard[key]))
            new.replace(kept)  # whole or not there
        return _heard[key]

    heard.anew = hear  # type: ignore[attr-defined]
    return heard


@pytest.fixture
def hear_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hear each time, where that is what a test is about."""
    from tension.sound.hear import hear_set

    for listening in HEAR:
        monkeypatch.setattr(f"{listening}.hear_set", hear_set)
