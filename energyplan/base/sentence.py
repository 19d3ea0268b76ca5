"""Sentences: templates with named values that know what they are, so that any face can write them.

>>> from energyplan.base.kinds import CELSIUS, WRITTEN, Style
>>> said = Sentence("Grain into {strike} gives a mash of {mash}.", strike=CELSIUS(71.0), mash=CELSIUS(67.6))
>>> print(said)
Grain into 71 °C gives a mash of 67.6 °C.
>>> words(said, Style("us"))
'Grain into 159.8 °F gives a mash of 153.7 °F.'
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from string import Formatter

from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import PLAIN, Kind, Moment, Style, Value, write
from energyplan.base.records import dataclass

__all__ = ["NOTHING", "SAYABLE", "Listed", "Sayable", "Sentence", "Span", "html_table", "listed", "refusal", "words"]


@dataclass(frozen=True, slots=True, init=False)
class Sentence:
    """A template, and a value for each of its names.

    Parameters
    ----------
    template : str
        Our own words, with names in braces. A second language would be a second template.
    **values : Value, Span, Listed or Sentence
        One for each name. A bare number or text is refused: what it is must be said.

    Raises
    ------
    TypeError
        If a name has no value, a value no name, or a value is bare.
    """

    template: str
    values: tuple[tuple[str, "Sayable"], ...]

    def __init__(self, template: str, /, **values: "Sayable") -> None:
        names = {name for _, name, _, _ in Formatter().parse(template) if name is not None}
        if names != set(values):
            raise TypeError(f"{template!r} names {sorted(names)}, not {sorted(values)}")
        for name, value in values.items():
            if not isinstance(value, SAYABLE):
                raise TypeError(f"{name} = {value!r}: give it a kind, such as KWH({value!r})")
        object.__setattr__(self, "template", template)
        object.__setattr__(self, "values", tuple(values.items()))

    def __getitem__(self, name: str) -> "Sayable":
        return dict(self.values)[name]

    def __str__(self) -> str:
        return words(self)


@dataclass(frozen=True, slots=True)
class Span:
    """A range: both ends of one kind, written with one unit and without false digits.

    >>> from energyplan.base.kinds import KWH
    >>> print(Span(KWH, 6.912, 8.561), Span(KWH, 6.912, 8.561, bare=True))
    6.9 to 8.6 kWh 6.9 to 8.6
    """

    kind: Kind
    low: object
    high: object
    bare: bool = False

    def __str__(self) -> str:
        return words(self)


@dataclass(frozen=True, slots=True)
class Listed:
    """Several things in a row: "a, b and c"; with a semicolon or comma for ``last``, "a; b; c"."""

    items: tuple["Sayable", ...]
    last: str = "and"

    def __str__(self) -> str:
        return words(self)


Sayable = Value | Span | Listed | Sentence
SAYABLE = (Value, Span, Listed, Sentence)
#: What a part of a sentence says where there is nothing to say.
NOTHING = Sentence("")


def listed(items: Iterable[Sayable], last: str = "and") -> Listed:
    """Several things in a row.

    >>> from energyplan.base.kinds import WORD
    >>> print(listed([WORD("a"), WORD("b"), WORD("c")]))
    a, b and c
    """
    return Listed(tuple(items), last)


def words(said: Sayable, style: Style = PLAIN) -> str:
    """A sentence, or a part of one, in the words of a style."""
    if isinstance(said, Value):
        return write(said, style)
    if isinstance(said, Span):
        return _span(said, style)
    if isinstance(said, Listed):
        parts = [words(item, style) for item in said.items]
        if said.last in {";", ","}:
            return f"{said.last} ".join(parts)
        return f" {said.last} ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)
    return said.template.format(**{name: words(value, style) for name, value in said.values})


def refusal(error: EnergyPlanError, style: Style = PLAIN) -> str:
    """What an error says, with all its problems, in the units of whoever reads it."""
    problems = getattr(error, "problems", ())
    if not problems:
        return _in_style(error.said, style) if isinstance(error.said, SAYABLE) else str(error)
    head = str(type(error)(getattr(error, "message", ""), (), getattr(error, "source", "")))
    told = (replace(problem, message=_in_style(problem.message, style)) for problem in problems)
    return "\n".join([head, *(f"  {problem}" for problem in told)])


def _in_style(said: object, style: Style) -> str:
    return words(said, style) if isinstance(said, SAYABLE) else str(said)


def html_table(title: Sayable, heads: Sequence[str], rows: Iterable[Sequence[Sayable | None]]) -> str:
    """A small table for a notebook; nothing that a person wrote is obeyed there.

    >>> from energyplan.base.kinds import KWH, WRITTEN
    >>> html_table(WRITTEN("A <b> day"), ("Step", "Energy"), [(WRITTEN("Boil"), KWH(2.61))])
    '<table><caption>A &lt;b&gt; day</caption><tr><th>Step<th>Energy</tr><tr><td>Boil<td>2.61 kWh</tr></table>'
    """
    from html import escape

    cells = ["".join(f"<td>{'' if one is None else escape(words(one))}" for one in row) for row in rows]
    lines = ["".join(f"<th>{escape(head)}" for head in heads), *cells]
    return f"<table><caption>{escape(words(title))}</caption>{''.join(f'<tr>{line}</tr>' for line in lines)}</table>"


def _span(span: Span, style: Style) -> str:
    last = span.high
    if isinstance(span.low, Moment) and isinstance(last, Moment) and span.low.at.date() == last.at.date():
        last = replace(last, start=last.at.date())  # the day is said once
    low, high = write(span.kind(span.low), style), write(span.kind(last), style)
    if span.kind.key == "energy":
        low, high = (f"{float(end):.1f} kWh" for end in (span.low, span.high))  # type: ignore[arg-type]
    if low == high:
        return low
    unit = low.rpartition(" ")[2]
    if span.bare:
        return f"{low.removesuffix(f' {unit}')} to {high.removesuffix(f' {unit}')}"
    return f"{low.removesuffix(f' {unit}')} to {high}" if high.endswith(f" {unit}") else f"{low} to {high}"
