"""How commands and options are declared: a group loaded late, a field an option.

A command takes a dataclass of options as one value: `@taking(rule=RuleOptions)` gives
it the options of the fields and hands over `rule`.
"""

import functools
import importlib
from collections.abc import Callable, Mapping
from dataclasses import fields
from difflib import get_close_matches
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


class WholeNumber(click.IntRange):
    """A whole number of a range, named as people name it."""

    name = "whole number"


class Day(click.DateTime):
    """A day, in the one order that cannot be misread."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Read the day; refuse it without the codes of a format."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f'write the date like 2026-11-20, not "{value}"', param, ctx)


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
DAY = Day(["%Y-%m-%d"])


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


class LazyGroup(click.Group):
    """A group that imports a command only when it is called.

    Parameters
    ----------
    *args, **attributes
        Of `click.Group`.
    loaded : mapping of str to (str, str)
        What each command is for, and "module:name" of where it is, in the order listed.
    heading : str
        Over the list.
    unknown : str
        What is said of a word that is none of them: with two places, for the word and
        for the suggestion.
    """

    def __init__(
        self,
        *args: Any,
        loaded: Mapping[str, tuple[str, str]],
        heading: str,
        unknown: str,
        **attributes: Any,
    ) -> None:
        super().__init__(*args, **attributes)
        self._loaded, self._heading, self._unknown = loaded, heading, unknown

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands in the order a job goes."""
        del ctx
        return list(self._loaded)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        del ctx
        entry = self._loaded.get(cmd_name.lower())
        if entry is None:
            return None
        module, _, name = entry[1].partition(":")
        command: click.Command = getattr(importlib.import_module(module), name)
        return command

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the list of commands without importing them."""
        del ctx
        with formatter.section(self._heading):
            formatter.write_dl([(name, of[0]) for name, of in self._loaded.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest command for a misspelt one."""
        if args and args[0].lower() not in self._loaded:
            near = get_close_matches(args[0].lower(), self._loaded, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(self._unknown.format(args[0], hint))
        return super().resolve_command(ctx, args)
