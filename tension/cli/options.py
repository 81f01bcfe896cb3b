"""How commands are declared, and the options that several share: each once, typed."""

import functools
import inspect
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from types import NoneType
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    NamedTuple,
    get_args,
    get_origin,
    get_type_hints,
)

import click

from tension.catalogue.rules import Metric, changed, find_rule
from tension.errors import InvalidValueError
from tension.installation import Ends, rope_order, split_rope_type
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
    from tension.workflow.inputs import Given


class Opt(NamedTuple):
    """An option: what it is for, flags if the name does not tell, the rest.

    The type says how it is read, unless `attributes` of click do. Of a group it says
    what the first option is for. An argument stands in its place without a flag.
    """

    what: str | None
    flags: tuple[str, ...]
    attributes: dict[str, Any]
    is_argument: bool = False

    def flags_of(self, field: str) -> tuple[str, ...]:
        """Give its flags; that of the name of the field if no other is declared."""
        return self.flags or (f"--{field.replace('_', '-')}",)


def opt(what: str | None = None, *flags: str, **attributes: Any) -> Any:
    """Declare the option of a field or parameter; it stands where a default would."""
    return Opt(what, flags, attributes)


def arg(metavar: str | None = None, **attributes: Any) -> Any:
    """Declare the argument of a parameter; it stands where a default would."""
    return Opt(None, (), {"metavar": metavar, **attributes}, is_argument=True)


def _usual(hint: Any) -> dict[str, Any]:
    """How a value of a type is given: attributes of click."""
    if get_origin(hint) is Annotated:
        hint, usual = get_args(hint)
        if isinstance(usual, dict):
            return usual
    kind = next(one for one in get_args(hint) or (hint,) if one is not NoneType)
    if kind is bool:
        return {"is_flag": True}
    if kind is str:
        return {"metavar": "TEXT", "default": "" if hint is str else None}
    if kind is Path:
        return {"type": click.Path(path_type=Path)}
    if kind is int:
        return {"type": int}
    return {"type": Word(kind)} if issubclass(kind, StrEnum) else {}


def _parameter(name: str, hint: Any, said: Opt, field: str = "") -> click.Parameter:
    """Make an option or an argument under a name; flags come from that of the field."""
    usual = {} if "type" in said.attributes else _usual(hint)
    if said.is_argument:
        read = {"type": usual["type"]} if "type" in usual else {}
        return click.Argument([name], **read | said.attributes)
    attributes = {"show_default": "default" in said.attributes, **usual}
    return click.Option(
        [*said.flags_of(field or name), name],
        help=said.what,
        **attributes | said.attributes,
    )


def _said(hint: Any, default: object) -> Any:
    """What is declared of a field or parameter: as its default, or with its type."""
    if isinstance(default, Opt):
        return default
    return get_args(hint)[1] if get_origin(hint) is Annotated else None


def opt_of(kind: type) -> dict[str, Opt]:
    """Give the options that a dataclass declares, by the names of its fields."""
    hints = get_type_hints(kind, include_extras=True)
    found = {one.name: _said(hints[one.name], one.default) for one in fields(kind)}
    return {name: one for name, one in found.items() if isinstance(one, Opt)}


def _group(name: str, kind: type, first: str | None) -> Iterator[click.Parameter]:
    """Make the options of a group; what the first is for may be said apart."""
    hints = get_type_hints(kind, include_extras=True)
    for field, said in opt_of(kind).items():
        told = said._replace(what=first or said.what)
        yield _parameter(f"{name}_{field}", hints[field], told, field)
        first = None


def command(
    name: str,
    cls: type[click.Command] = click.Command,
    made: Mapping[str, type] | None = None,
    **attributes: Any,
) -> Callable[[Callable[..., object]], click.Command]:
    """Make a command of a function, whose parameters say how they are given.

    A parameter is an option (`opt`), an argument (`arg`), or a group of options: a
    dataclass whose fields are such, handed over as one value. Groups that are made as
    the program runs are told by the names of their parameters. What the function gives
    is the exit code.
    """

    def decorate(function: Callable[..., object]) -> click.Command:
        params: list[click.Parameter] = []
        groups: dict[str, type] = {}
        taken = inspect.signature(function).parameters
        hints = {one.name: one.annotation for one in taken.values()}
        for of, hint in {**hints, **(made or {})}.items():
            said = _said(hint, taken[of].default if of in taken else None)
            if isinstance(hint, type) and is_dataclass(hint):
                groups[of] = hint
                params += _group(of, hint, said and said.what)
            else:
                params.append(_parameter(of, hint, said))

        @functools.wraps(function)
        def gather(**given: Any) -> object:
            for of, kind in groups.items():
                own = {field: given.pop(f"{of}_{field}") for field in opt_of(kind)}
                given[of] = kind(**own)
            return function(**given)

        return click.command(name, cls, params=params, **attributes)(gather)

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


class Text(click.ParamType):  # type: ignore[type-arg]
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


class Word(click.Choice):  # type: ignore[type-arg]
    """One of the words of the record, in any case."""

    def __init__(self, kind: type[StrEnum]) -> None:
        super().__init__([word.value for word in kind], case_sensitive=False)
        self._kind = kind

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Read the word."""
        return self._kind(super().convert(value, param, ctx))


def _quantity(dimension: Dimension, name: str) -> dict[str, Any]:
    """How a text with a unit is given, such as "3.4 m", above zero."""

    def read(text: str) -> Quantity:
        return require_positive(parse_quantity(text, dimension), name)

    return {"type": Text(read, name)}


def read_day(text: str) -> date:
    """Read a day, in the one order that cannot be misread.

    Raises
    ------
    InvalidValueError
        If it is no such day.
    """
    try:
        return datetime.strptime(re.sub("[./ ]", "-", text), "%Y-%m-%d").date()
    except ValueError:
        message = f'write the date like 2026-11-20, not "{text[:30]}"'
        raise InvalidValueError(message) from None


def _limit(text: str) -> Quantity:
    """The limit of a rule."""
    limit = parse_quantity(text, Dimension.FRACTION)
    changed(find_rule(None), limit=limit.value)  # or it is none
    return limit


Length = Annotated[Quantity | None, _quantity(Dimension.LENGTH, "length")]
Force = Annotated[Quantity | None, _quantity(Dimension.FORCE, "force")]
Mass = Annotated[Quantity | None, _quantity(Dimension.MASS, "kg or lb")]
Stiffness = Annotated[Quantity | None, _quantity(Dimension.STIFFNESS, "n/mm or lbf/in")]
LinearDensity = Annotated[
    Quantity | None, _quantity(Dimension.LINEAR_DENSITY, "kg/m or lb/ft")
]
_ORDER = {"type": Text(rope_order), "default": "", "metavar": "NUMBERS"}
Order = Annotated[tuple[int, ...], _ORDER]
Day = Annotated[date | None, {"type": Text(read_day), "metavar": "DATE"}]
FILE = {"type": click.Path(path_type=Path, dir_okay=False), "metavar": "FILE"}
File = Annotated[Path | None, FILE]

Paths = Annotated[tuple[Path, ...], arg("PATH...", nargs=-1, required=True)]
SomePaths = Annotated[tuple[Path, ...], arg("[PATH]...", nargs=-1)]
RecordPath = Annotated[Path, arg("[PATH]", default=".")]

Series = Annotated[
    str | None, opt("Which series; the last if left out.", metavar="NAME")
]
PlucksEach = Annotated[
    int | None,
    opt("How many plucks each rope got, in one memo.", type=WholeNumber(1, 20)),
]
Json = Annotated[bool, opt("Print JSON.", "--json")]
TradeWords = Annotated[Terms, opt("Words of the trade.", default=Terms.EUROPE.value)]
PaperSize = Annotated[
    str, opt("Size of the paper.", type=click.Choice(["a4", "letter"]), default="a4")
]


def units_opt(what: str) -> Any:
    """Declare the units shown."""
    return opt(f"Units shown; {what}.", default=UnitSystem.SI.value)


@dataclass(frozen=True, kw_only=True, slots=True)
class Ropes:
    """What a set of ropes is, as far as it is known without a record."""

    free_lengths: Annotated[
        tuple[Quantity, ...], {**get_args(Length)[1], "multiple": True}
    ] = opt('Free length, "3.4 m": once, or once per rope.', "--free-length")
    linear_density: LinearDensity = opt('Mass per length of one rope, "0.575 kg/m".')
    rope_type: tuple[str, str] | None = opt(
        'Diameter and construction, "13 mm 8x19 FC".',
        "--rope",
        type=Text(split_rope_type),
        metavar="TEXT",
    )
    ends: Ends | None = opt("What holds the two ends of the free length.")
    same_height: bool = opt("The sockets stand at one height.")
    order: Order = opt(
        'Ropes in the order plucked, in one memo or file by file, "1 2 3 3 2 1".'
    )
    plucks_each: PlucksEach

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
        for name, option in opt_of(Ropes).items():
            require(
                not getattr(self, name),
                f"{option.flags_of(name)[0]} goes with sound files; with a record, "
                "write it in the record.",
            )


@dataclass(frozen=True, kw_only=True, slots=True)
class Rule:
    """Which rule decides."""

    rule_name: str | None = opt(
        "A rule of the catalogue; docs/rules.md lists them.",
        "--rule",
        type=Text(lambda name: name and find_rule(name).name),
        metavar="NAME",
    )
    limit: Quantity | None = opt(
        'Limit of the rule, "10 %".', type=Text(_limit, "percent")
    )
    metric: Metric | None = opt("What the percentage is of.")

    def choice(self) -> "RuleChoice":
        """Turn the options into a choice."""
        from tension.workflow.assess import RuleChoice

        limit = self.limit.value if self.limit else None
        return RuleChoice(name=self.rule_name, limit=limit, metric=self.metric)


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """How the result is shown."""

    units: UnitSystem = units_opt("what was typed is echoed as typed")
    terms: TradeWords
    json: Json


@dataclass(frozen=True, kw_only=True, slots=True)
class Table(Form):
    """How a table of ropes is shown."""

    csv: bool = opt("Print one CSV row per rope.")


def require_one_form(*, json: bool, csv: bool) -> None:
    """Refuse two forms of output at once."""
    require(not (json and csv), "Give --json or --csv, not both.")


@dataclass(frozen=True, kw_only=True, slots=True)
class Layout:
    """How a document is laid out."""

    paper: PaperSize
    units: UnitSystem = units_opt("readings stand as typed and in SI")
    terms: TradeWords


class Drawing:
    """A figure asked for, or none."""

    plot: Path | None
    overwrite: bool

    def require_drawable(self, inputs: Sequence[Path]) -> None:
        """Refuse a figure that cannot be written before any work is done."""
        from tension.workflow.outputs import require_output

        if self.plot:
            require_output(self.plot, "figure", inputs, overwrite=self.overwrite)

    def draw(
        self, draw: Callable[[Any], object], size: tuple[float, float] | None = None
    ) -> None:
        """Draw the figure, if one is asked for; its size [inch] if it has none."""
        from tension.workflow.outputs import write_figure

        if self.plot:
            write_figure(self.plot, draw, size, overwrite=self.overwrite)

    def require_drawable_beside_records(self, paths: Sequence[Path]) -> None:
        """Refuse likewise; folders of records are looked through only if need be."""
        from tension.workflow.causes import find_records

        is_there = self.plot is not None and self.plot.exists()
        self.require_drawable([])
        if is_there:
            self.require_drawable([r for path in paths for r in find_records(path)])


@dataclass(frozen=True, kw_only=True)
class Plot(Drawing):
    """A figure alone; each command says what is drawn."""

    plot: File = opt()
    overwrite: bool = opt("Let --plot replace a file.")


@dataclass(frozen=True, kw_only=True, slots=True)
class Lift:
    """Which lift, and when it was re-roped."""

    lift: str | None = opt(
        "Which lift, where the records are of several.", metavar="NAME"
    )
    re_roped: Annotated[
        tuple[date, ...], {**get_args(Day)[1], "metavar": "DAY", "multiple": True}
    ] = opt("A day of re-roping that no record tells, 2025-03-14.")
