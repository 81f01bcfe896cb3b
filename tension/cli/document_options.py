"""Options of the commands that write documents: paper, units, words."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from tension.quantity.units import UnitSystem
from tension.wording import Terms

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def with_document_options(function: Decorated) -> Decorated:
    """Add paper, units and words of the trade."""
    for option in reversed(
        [
            click.option(
                "--paper",
                type=click.Choice(["a4", "letter"]),
                default="a4",
                show_default=True,
                help="Size of the paper.",
            ),
            click.option(
                "--units",
                type=click.Choice([system.value for system in UnitSystem]),
                default=UnitSystem.SI.value,
                show_default=True,
                help="Units shown; readings stand as typed and in SI.",
            ),
            click.option(
                "--terms",
                type=click.Choice([terms.value for terms in Terms]),
                default=Terms.EUROPE.value,
                show_default=True,
                help="Words of the trade.",
            ),
        ]
    ):
        function = option(function)
    return function
