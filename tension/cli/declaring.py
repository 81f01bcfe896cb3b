"""How options are declared and read: a field of a dataclass each, texts with units.

A command takes a dataclass of options as one value: `@taking(rule=RuleOptions)` gives
it the options of the fields and hands over `rule`.
"""

import functools
from collections.abc import Callable
from dataclasses import fields
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, Quantity, parse_quantity, require_positive

if TYPE_CHECKING:
    _QuantityParamType = click.ParamType[Quantity]
    _StringChoice = click.Choice[str]
else:  # generic in newer releases of click only
    _QuantityParamType = click.ParamType
    _StringChoice = click.Choice

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


class Opt:
    """An option as it is declared; the field that it stands at gives it its name."""

    def __init__(self, *flags: str, **attributes: Any) -> None:
        self.flags, self._attributes = flags, attributes

    def named(self, name: str) -> Callable[[Decorated], Decorated]:
        """Give the decorator that adds it to a command, under a name."""
        return click.option(*self.flags, name, **self._attributes)


def opt(*flags: str, **attributes: Any) -> Any:
    """Declare the option of a field; it stands where a default would."""
    return Opt(*flags, **attributes)


def opt_of(kind: type) -> dict[str, Opt]:
    """Give the options that a dataclass declares, by the names of its fields."""
    found = {one.name: one.default for one in fields(kind)}
    return {name: option for name, option in found.items() if isinstance(option, Opt)}


def taking(**kinds: type) -> Callable[[Decorated], Decorated]:
    """Give a command groups of options, each handed over as one typed value.

    Parameters
    ----------
    **kinds : type
        By the parameter of the command: a dataclass whose fields stand for
        options.
    """

    def decorate(function: Decorated) -> Decorated:
        @functools.wraps(function)
        def gather(*args: Any, **given: Any) -> Any:
            for name, kind in kinds.items():
                own = {one: given.pop(f"{name}_{one}") for one in opt_of(kind)}
                given[name] = kind(**own)
            return function(*args, **given)

        for name, kind in reversed(kinds.items()):
            for one, option in reversed(opt_of(kind).items()):
                option.named(f"{name}_{one}")(gather)
        return gather  # type: ignore[return-value]

    return decorate


class QuantityText(_QuantityParamType):
    """A text with a unit, such as ``3.4 m``; a bad one is wrong usage."""

    def __init__(self, dimension: Dimension, name: str) -> None:
        self.dimension = dimension
        self.name = name

    def convert(
        self,
        value: str | Quantity,
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Quantity:
        """Read the text; refuse it with the sentence of the parser."""
        if isinstance(value, Quantity):
            return value
        try:
            return require_positive(parse_quantity(value, self.dimension), self.name)
        except InvalidValueError as error:
            self.fail(str(error), param, ctx)


class Word(_StringChoice):
    """One of the words of the record, in any case."""

    def __init__(self, kind: type[StrEnum]) -> None:
        super().__init__([word.value for word in kind], case_sensitive=False)
        self._kind = kind

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Read the word."""
        return self._kind(super().convert(value, param, ctx))


LENGTH = QuantityText(Dimension.LENGTH, "length")
FORCE = QuantityText(Dimension.FORCE, "force")
STIFFNESS = QuantityText(Dimension.STIFFNESS, "n/mm or lbf/in")
LINEAR_DENSITY = QuantityText(Dimension.LINEAR_DENSITY, "kg/m or lb/ft")
PERCENTAGE = QuantityText(Dimension.FRACTION, "percent")
PATH = click.Path(path_type=Path)
FILE = click.Path(path_type=Path, dir_okay=False)
DAY = click.DateTime(["%Y-%m-%d"])


def rope_order(text: str | None) -> tuple[int, ...]:
    """Read rope numbers parted by spaces or commas.

    Raises
    ------
    click.BadParameter
        If they are no rope numbers.
    """
    if not text:
        return ()
    try:
        numbers = tuple(int(part) for part in text.replace(",", " ").split())
    except ValueError:
        numbers = ()
    if not numbers or min(numbers) < 1:
        raise click.BadParameter(
            f'write rope numbers parted by spaces, like "1 2 3 3 2 1", got "{text}"',
            param_hint="--order",
        )
    return numbers


def rope_rows(text: str | None) -> tuple[tuple[int, ...], ...]:
    """Read rows of rope numbers, such as "1 3 5 / 2 4 6"."""
    parts = [part for part in (text or "").split("/") if part.strip()]
    return tuple(rope_order(part.replace("[", " ").replace("]", " ")) for part in parts)
