"""Options that several commands share, and the texts they are read from."""

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tension.errors import InvalidValueError
from tension.installation import Ends, HitchPlace
from tension.quantity.units import (
    Dimension,
    Quantity,
    UnitSystem,
    parse_quantity,
    require_positive,
)
from tension.wording import Terms

if TYPE_CHECKING:
    _QuantityParamType = click.ParamType[Quantity]
else:  # generic in newer releases of click only
    _QuantityParamType = click.ParamType

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


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


LENGTH = QuantityText(Dimension.LENGTH, "length")
FORCE = QuantityText(Dimension.FORCE, "force")
STIFFNESS = QuantityText(Dimension.STIFFNESS, "n/mm or lbf/in")
LINEAR_DENSITY = QuantityText(Dimension.LINEAR_DENSITY, "kg/m or lb/ft")
PERCENTAGE = QuantityText(Dimension.FRACTION, "percent")

paths_argument = click.argument(
    "paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH..."
)

record_argument = click.argument(
    "path", type=click.Path(path_type=Path), default=".", metavar="[PATH]"
)


def one_of_words(words: type[StrEnum]) -> click.Choice[str]:
    """Read one of a few words, in any case."""
    return click.Choice([word.value for word in words], case_sensitive=False)


def with_rope_options(function: Decorated) -> Decorated:
    """Add what a set of ropes is, as far as it is known without a record."""
    for option in reversed(
        [
            click.option(
                "--free-length",
                "free_lengths",
                type=LENGTH,
                multiple=True,
                help='Free length, "3.4 m": once, or once per rope.',
            ),
            click.option(
                "--linear-density",
                type=LINEAR_DENSITY,
                help='Mass per length of one rope, "0.575 kg/m".',
            ),
            click.option(
                "--rope",
                "rope_type",
                metavar="TEXT",
                help='Diameter and construction, "13 mm 8x19 FC".',
            ),
            click.option(
                "--ends",
                type=click.Choice([end.value for end in Ends]),
                help="What holds the two ends of the free length.",
            ),
            click.option(
                "--same-height",
                is_flag=True,
                help="The sockets stand at one height.",
            ),
            click.option(
                "--order",
                metavar="NUMBERS",
                help="Ropes in the order plucked, in one memo or file by file, "
                '"1 2 3 3 2 1".',
            ),
            click.option(
                "--plucks-each",
                type=click.IntRange(1, 20),
                help="How many plucks each rope got, in one memo.",
            ),
        ]
    ):
        function = option(function)
    return function


def with_rule_options(function: Decorated) -> Decorated:
    """Add which rule decides."""
    for option in reversed(
        [
            click.option(
                "--rule",
                "rule_name",
                metavar="NAME",
                help="A rule of the catalogue; docs/rules.md lists them.",
            ),
            click.option(
                "--limit",
                type=PERCENTAGE,
                help='Limit of the rule, "10 %".',
            ),
            click.option(
                "--metric",
                type=click.Choice(
                    ["below-highest", "above-lowest", "off-mean", "range-of-mean"]
                ),
                help="What the percentage is of.",
            ),
        ]
    ):
        function = option(function)
    return function


def with_terms_option(function: Decorated) -> Decorated:
    """Add which words of the trade are used."""
    return click.option(
        "--terms",
        type=click.Choice([terms.value for terms in Terms]),
        default=Terms.EUROPE.value,
        show_default=True,
        help="Words of the trade.",
    )(function)


def with_form_options(function: Decorated) -> Decorated:
    """Add how the result is shown."""
    for option in reversed(
        [
            click.option(
                "--units",
                type=click.Choice([system.value for system in UnitSystem]),
                default=UnitSystem.SI.value,
                show_default=True,
                help="Units shown; what was typed is echoed as typed.",
            ),
            with_terms_option,
            click.option("--json", "as_json", is_flag=True, help="Print JSON."),
        ]
    ):
        function = option(function)
    return function


def with_record_options(function: Decorated) -> Decorated:
    """Add which record is added to, and how."""
    for option in reversed(
        [
            click.option(
                "--in",
                "place",
                type=click.Path(path_type=Path),
                default=".",
                metavar="PATH",
                help="The record or its folder; this folder if left out.",
            ),
            click.option(
                "--dry-run", is_flag=True, help="Show the lines, write nothing."
            ),
            click.option(
                "--by", default="", metavar="NAME", help="Who; for a sealed record."
            ),
            click.option("--reason", default="", metavar="TEXT", help="Why; likewise."),
        ]
    ):
        function = option(function)
    return function


with_series_option = click.option(
    "--series", metavar="NAME", help="Which series; the last if left out."
)

with_hitch_option = click.option(
    "--hitch",
    type=one_of_words(HitchPlace),
    help="At which hitch; the one beside the span if left out.",
)


def with_order_options(function: Decorated) -> Decorated:
    """Add which rope each file is of."""
    for option in reversed(
        [
            click.option(
                "--order",
                metavar="NUMBERS",
                help='Ropes in the order plucked, "6 5 4 3 2 1".',
            ),
            click.option(
                "--plucks-each",
                type=click.IntRange(1, 20),
                help="How many plucks each rope got, in one memo.",
            ),
        ]
    ):
        function = option(function)
    return function


def with_condition_options(function: Decorated) -> Decorated:
    """Add under what a series was read."""
    for option in reversed(
        [
            click.option(
                "--same", is_flag=True, help="Load, people, arrival as before."
            ),
            click.option("--load", metavar="TEXT", help="In the car."),
            click.option("--people", metavar="TEXT", help="Who stands on the car."),
            click.option(
                "--arrived",
                type=click.Choice(["up", "down"], case_sensitive=False),
                help="Direction the car came from.",
            ),
            click.option(
                "--neighbours",
                type=click.Choice(["free", "damped"], case_sensitive=False),
                help="The other ropes while one rings.",
            ),
            click.option("--taken", metavar="TEXT", help="Date and time."),
        ]
    ):
        function = option(function)
    return function
