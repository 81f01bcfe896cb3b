"""Examples in docstrings and in docs/python.md are run, and say the truth."""

import doctest
import importlib
import importlib.util
import pkgutil
import re
from collections.abc import Iterator
from inspect import isfunction
from pathlib import Path

import pytest

import tension

ROOT = Path(__file__).resolve().parents[2]


def modules() -> Iterator[str]:
    yield "tension"
    for found in pkgutil.walk_packages(tension.__path__, "tension."):
        if not found.name.endswith("__main__"):
            yield found.name


def has_examples(name: str) -> bool:
    spec = importlib.util.find_spec(name)
    return bool(
        spec and spec.origin and ">>> " in Path(spec.origin).read_text(encoding="utf-8")
    )


WITH_EXAMPLES = sorted(name for name in modules() if has_examples(name))


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_of_docstrings_hold(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_public_function_has_an_example() -> None:
    bare = [
        name
        for name in dir(tension)
        if isfunction(function := getattr(tension, name))
        and "Examples\n" not in (function.__doc__ or "")
    ]
    assert bare in ([], ["hear_set"])  # it needs recordings; `hear_file` has one


def test_the_page_on_python_runs_as_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    assert len(blocks) >= 5
    (tmp_path / "recordings_demo").symlink_to(ROOT / "recordings_demo")
    monkeypatch.chdir(tmp_path)
    parser = doctest.DocTestParser()
    test = parser.get_doctest("\n".join(blocks), {}, "python.md", "python.md", 0)
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    runner.run(test, out=told.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(told)
    assert (tmp_path / "shares.svg").stat().st_size > 1000
