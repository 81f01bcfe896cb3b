"""What holds for every test: the same cases everywhere, files that stay together.

And the same samples are heard once in a process: most of what commands cost is hearing.
"""

import hashlib
import pickle
import sys
from collections.abc import Callable

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, database=None)
settings.load_profile("house")

PLAYED = ("test_listen_played.py", "test_whole_visit.py")
"""These hear what is played at that moment, one after the other on one worker."""

HEARS = "tension.workflow.listening"
_heard: dict[bytes, object] = {}


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Keep the tests of a file on one worker: they share what they made.

    Not by marks: xdist writes these behind the names of tests, and not every version of
    pytest keeps what is written there.
    """
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        """A file is one piece of work, and what hears what is played another."""

        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return "played" if file.endswith(PLAYED) else file

    return ByFile(config, log)


def pytest_runtest_setup() -> None:
    """Where commands have been loaded, let them hear the same samples once."""
    listening = sys.modules.get(HEARS)
    if listening is not None and not hasattr(listening.hear_set, "anew"):
        listening.hear_set = _once(listening.hear_set)  # type: ignore[attr-defined]


def _once(hear: Callable[..., object]) -> Callable[..., object]:
    """Hear, or say what was heard of the same samples and spans."""

    def heard(*given: object) -> object:
        key = hashlib.sha256(pickle.dumps(given)).digest()
        if key not in _heard:
            _heard[key] = hear(*given)
        return _heard[key]

    heard.anew = hear  # type: ignore[attr-defined]
    return heard


@pytest.fixture
def hear_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hear each time, where that is what a test is about."""
    from tension.sound.hear import hear_set

    monkeypatch.setattr(f"{HEARS}.hear_set", hear_set)
