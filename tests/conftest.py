"""What holds for every test: the same cases everywhere, files that stay together."""

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, database=None)
settings.load_profile("house")

PLAYED = ("test_listen_played.py", "test_whole_visit.py")
"""These hear what is played at that moment, one after the other on one worker."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep the tests of a file on one worker: they share what they made."""
    for item in items:
        group = "played" if item.path.name in PLAYED else item.nodeid.partition("::")[0]
        item.add_marker(pytest.mark.xdist_group(group))
