"""How options are declared, and those that several commands share: each once, typed.

A command takes a dataclass of options as one value: `@taking(rule=RuleOptions)` gives
it the options of the fields and hands over `rule`.
"""

import functools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tension.catalogue.rules import Metric, find_rule
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
    from tension.workflow.assess import RuleChoice
    from tension.workflow.causes import LiftChoice
    from tension.workflow.inputs import Given

    _ParamType = click.ParamType[Any]
    _StringChoice = click.Choice[str]
else:  # generic in newer releases of click only
    _ParamType = click.ParamType
    _StringChoice = click.Choice

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def opt(*flags: str, **attributes: Any) -> Any:
    """Declare the option of a field, which gives it its name; it stands as default."""
    return functools.partial(click.option, *flags, **attributes)


def named(option: Any, name: str) -> Callable[[Decorated], Decorated]:
    """Give the decorator that adds an option to a command, under a name."""
    decorator: Callable[[Decorated], Decorated] = option(name)
    return decorator


def opt_of(kind: type) -> dict[str, Any]:
    """Give the options that a dataclass declares, by the names of its fields."""
    found = {one.name: one.default for one in fields(kind)}
    return {n: one for n, one in found.items() if isinstance(one, functools.partial)}


def taking(**kinds: type) -> Callable[[Decorated], Decorated]:
    """Give a command groups of options, each handed over as one typed value.

    Parameters
    ----------
    **kinds : type
        By the parameter of the command: a dataclass whose fields stand for options.
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
                named(option, f"{name}_{one}")(gather)
        return gather  # type: ignore[return-value]

    return decorate


def said_of(options: Any) -> dict[str, Any]:
    """Give what a person said by options: by field, quantities as they were typed."""
    found = {one.name: getattr(options, one.name) for one in fields(options)}
    return {
        name: value.text if isinstance(value, Quantity) else value
        for name, value in found.items()
        if value
    }


def require(is_so: object, usage: str) -> None:
    """Refuse wrong usage in one line, which says what to give.

    Raises
    ------
    click.UsageError
        If it is not so.
    """
    if not is_so:
        raise click.UsageError(usage)


class Text(_ParamType):
    """A text that a function reads; what it refuses is wrong usage, in its words."""

    def __init__(self, read: Callable[[str], object], name: str = "text") -> None:
        self.read, self.name = read, name

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Read the text, unless that was done."""
        if not isinstance(value, str):
            return value
        try:
            return self.read(value)
        except InvalidValueError as error:
            self.fail(str(error), param, ctx)


class WholeNumber(click.IntRange):
    """A whole number of a range, named as people name it."""

    name = "whole number"


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


def quantity(dimension: Dimension, name: str) -> Text:
    """Make the type of a text with a unit, such as "3.4 m", above zero."""
    return Text(
        lambda text: require_positive(parse_quantity(text, dimension), name), name
    )


def rope_order(text: str) -> tuple[int, ...]:
    """Read rope numbers parted by spaces or commas.

    Raises
    ------
    InvalidValueError
        If they are no rope numbers.
    """
    numbers = text.replace(",", " ").split()
    if not all(number.isdecimal() and int(number) for number in numbers):
        raise InvalidValueError(
            f'write rope numbers parted by spaces, like "1 2 3 3 2 1", got "{text}"'
        )
    return tuple(map(int, numbers))


def rope_rows(text: str) -> tuple[tuple[int, ...], ...]:
    """Read rows of rope numbers, such as "1 3 5 / 2 4 6"."""
    rows = [rope_order(row) for row in re.sub(r"[\[\]]", " ", text).split("/")]
    return tuple(row for row in rows if row)


def _day(text: str) -> date:
    """A day, in the one order that cannot be misread."""
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        message = f'write the date like 2026-11-20, not "{text}"'
        raise InvalidValueError(message) from None


def _rule(name: str) -> str:
    """The name of a rule that the catalogue has."""
    find_rule(name)
    return name


def _limit(text: str) -> Quantity:
    """The limit of a rule."""
    limit = require_positive(parse_quantity(text, Dimension.FRACTION), "percent")
    if not 0 < limit.value < 1:
        raise InvalidValueError(
            f"a limit lies between 0 % and 100 %, got {limit.text}; "
            'write it like "10 %"'
        )
    return limit


def _rope_type(text: str) -> tuple[str, str]:
    """Diameter and construction as typed; the diameter has a unit."""
    from tension.workflow.inputs import split_rope_type

    size, construction = split_rope_type(text)
    parse_quantity(size, Dimension.LENGTH)
    return size, construction


LENGTH = quantity(Dimension.LENGTH, "length")
FORCE = quantity(Dimension.FORCE, "force")
MASS = quantity(Dimension.MASS, "kg or lb")
STIFFNESS = quantity(Dimension.STIFFNESS, "n/mm or lbf/in")
LINEAR_DENSITY = quantity(Dimension.LINEAR_DENSITY, "kg/m or lb/ft")
ORDER, ROWS, DAY = Text(rope_order), Text(rope_rows), Text(_day)
PATH = click.Path(path_type=Path)
FILE = click.Path(path_type=Path, dir_okay=False)

paths_argument = click.argument(
    "paths", nargs=-1, required=True, type=PATH, metavar="PATH..."
)
some_paths_argument = click.argument("paths", nargs=-1, type=PATH, metavar="[PATH]...")
record_argument = click.argument("path", type=PATH, default=".", metavar="[PATH]")

SERIES = opt("--series", metavar="NAME", help="Which series; the last if left out.")
JSON = opt("--json", is_flag=True, help="Print JSON.")
CSV = opt("--csv", is_flag=True, help="Print one CSV row per rope.")
TERMS = opt(
    "--terms",
    type=Word(Terms),
    default=Terms.EUROPE.value,
    show_default=True,
    help="Words of the trade.",
)
PLUCKS_EACH = opt(
    "--plucks-each",
    type=WholeNumber(1, 20),
    help="How many plucks each rope got, in one memo.",
)
PAPER = opt(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the paper.",
)


def hitch_opt(what: str) -> Any:
    """Declare at which hitch something is."""
    return opt("--hitch", type=Word(HitchPlace), help=what)


def order_opt(what: str) -> Any:
    """Declare in which order ropes were taken; none where it is not told."""
    return opt("--order", type=ORDER, default="", metavar="NUMBERS", help=what)


def units_opt(what: str) -> Any:
    """Declare the units shown."""
    return opt(
        "--units",
        type=Word(UnitSystem),
        default=UnitSystem.SI.value,
        show_default=True,
        help=f"Units shown; {what}.",
    )


series_option = named(SERIES, "series")
json_option = named(JSON, "as_json")
hitch_option = named(
    hitch_opt("At which hitch; the one beside the span if left out."), "hitch"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeOptions:
    """What a set of ropes is, as far as it is known without a record."""

    free_lengths: tuple[Quantity, ...] = opt(
        "--free-length",
        type=LENGTH,
        multiple=True,
        help='Free length, "3.4 m": once, or once per rope.',
    )
    linear_density: Quantity | None = opt(
        "--linear-density",
        type=LINEAR_DENSITY,
        help='Mass per length of one rope, "0.575 kg/m".',
    )
    rope_type: tuple[str, str] | None = opt(
        "--rope",
        type=Text(_rope_type),
        metavar="TEXT",
        help='Diameter and construction, "13 mm 8x19 FC".',
    )
    ends: Ends | None = opt(
        "--ends", type=Word(Ends), help="What holds the two ends of the free length."
    )
    same_height: bool = opt(
        "--same-height", is_flag=True, help="The sockets stand at one height."
    )
    order: tuple[int, ...] = order_opt(
        'Ropes in the order plucked, in one memo or file by file, "1 2 3 3 2 1".'
    )
    plucks_each: int | None = PLUCKS_EACH

    def given(self) -> "Given":
        """Turn the options into what is known of the ropes."""
        from tension.workflow.inputs import Given

        size, construction = self.rope_type or ("", "")
        return Given(
            free_lengths=self.free_lengths,
            linear_density=self.linear_density,
            diameter=parse_quantity(size, Dimension.LENGTH) if size else None,
            construction=construction,
            ends=self.ends or Ends.SOCKET_SHEAVE,
            has_sockets_at_one_height=self.same_height,
            order=self.order,
            plucks_each=self.plucks_each,
        )

    def require_none(self) -> None:
        """Refuse options that a record answers itself."""
        for name, option in opt_of(RopeOptions).items():
            require(
                not getattr(self, name),
                f"{option.args[0]} goes with sound files; with a record, write it in "
                "the record.",
            )


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleOptions:
    """Which rule decides."""

    rule_name: str | None = opt(
        "--rule",
        type=Text(_rule),
        metavar="NAME",
        help="A rule of the catalogue; docs/rules.md lists them.",
    )
    limit: Quantity | None = opt(
        "--limit", type=Text(_limit, "percent"), help='Limit of the rule, "10 %".'
    )
    metric: Metric | None = opt(
        "--metric", type=Word(Metric), help="What the percentage is of."
    )

    def choice(self) -> "RuleChoice":
        """Turn the options into a choice."""
        from tension.workflow.assess import RuleChoice

        limit = self.limit.value if self.limit else None
        return RuleChoice(name=self.rule_name, limit=limit, metric=self.metric)


@dataclass(frozen=True, kw_only=True, slots=True)
class FormOptions:
    """How the result is shown."""

    units: UnitSystem = units_opt("what was typed is echoed as typed")
    terms: Terms = TERMS
    json: bool = JSON


@dataclass(frozen=True, kw_only=True, slots=True)
class TableOptions(FormOptions):
    """How a table of ropes is shown."""

    csv: bool = CSV


def require_one_form(*, json: bool, csv: bool) -> None:
    """Refuse two forms of output at once."""
    require(not (json and csv), "Give --json or --csv, not both.")


@dataclass(frozen=True, kw_only=True, slots=True)
class DocumentOptions:
    """How a document is laid out."""

    paper: str = PAPER
    units: UnitSystem = units_opt("readings stand as typed and in SI")
    terms: Terms = TERMS


class Drawing:
    """A figure asked for, or none; each command declares what is drawn."""

    plot: Path | None
    overwrite: bool

    def require_drawable(self, inputs: Sequence[Path]) -> None:
        """Refuse a figure that cannot be written before any work is done."""
        from tension.workflow.outputs import require_drawable, require_no_input

        if self.plot:
            require_drawable(self.plot, overwrite=self.overwrite)
            require_no_input(self.plot, inputs)

    def require_drawable_beside_records(self, paths: Sequence[Path]) -> None:
        """Refuse likewise; folders of records are looked through only if need be."""
        from tension.workflow.lift_records import find_records

        is_there = self.plot is not None and self.plot.exists()
        self.require_drawable([])
        if is_there:
            self.require_drawable([r for path in paths for r in find_records(path)])


def plot_opt(what: str) -> Any:
    """Declare a figure; what is drawn stands in the help."""
    return opt("--plot", type=FILE, metavar="FILE", help=what)


def drawing_of(what: str) -> type[Drawing]:
    """Declare the options of a figure."""

    @dataclass(frozen=True, kw_only=True)
    class Drawn(Drawing):
        plot: Path | None = plot_opt(what)
        overwrite: bool = opt(
            "--overwrite", is_flag=True, help="Let --plot replace a file."
        )

    return Drawn


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftOptions:
    """Which lift, and when it was re-roped."""

    lift: str | None = opt(
        "--lift", metavar="NAME", help="Which lift, where the records are of several."
    )
    re_roped: tuple[date, ...] = opt(
        "--re-roped",
        type=DAY,
        multiple=True,
        metavar="DAY",
        help="A day of re-roping that no record tells, 2025-03-14.",
    )

    def choice(self, rule: "RuleChoice | None" = None) -> "LiftChoice":
        """Turn the options into a choice, days in order."""
        from tension.workflow.assess import RuleChoice
        from tension.workflow.causes import LiftChoice

        days = tuple(sorted(self.re_roped))
        return LiftChoice(lift=self.lift, re_roped=days, rule=rule or RuleChoice())
