"""What a docstring must tell: units and shapes, and everything at the front door.

Where names and types say all, one line does; what can be raised, ruff checks.
"""

import ast
import inspect
import re
from pathlib import Path

from numpydoc.docscrape import FunctionDoc, NumpyDocString

import tension
from tests.architecture.shape import public_functions

PACKAGE = Path(tension.__file__).parent
MEASURE = re.compile(r"\[.+\]|shape|unit|[Ss]hare")
NUMBER = re.compile(r"\b(float|ndarray|NDArray|Floats)\b")


def _numbers_without_unit(node: ast.FunctionDef) -> list[str]:
    """Arguments that are numbers and of which no unit, shape or choice is told."""
    text = ast.get_docstring(node) or ""
    told = NumpyDocString(inspect.cleandoc(text))
    words = {
        name.strip(" *"): " ".join([item.type, *item.desc])
        for item in told["Parameters"]
        for name in item.name.split(",")
    }
    every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return [
        argument.arg
        for argument in every
        if argument.annotation is not None
        and NUMBER.search(ast.unparse(argument.annotation))
        and not MEASURE.search(words.get(argument.arg, text))
    ]


def test_numbers_have_a_unit_or_a_shape() -> None:
    missing = [
        f"{where}({name})"
        for where, node in public_functions(PACKAGE)
        for name in _numbers_without_unit(node)
    ]
    assert not missing


def test_the_front_door_tells_every_argument() -> None:
    for name in dir(tension):
        function = getattr(tension, name)
        if not inspect.isfunction(function):
            continue
        told = {
            part.strip(" *")
            for item in FunctionDoc(function)["Parameters"]
            for part in item.name.split(",")
        }
        assert told >= set(inspect.signature(function).parameters), name
