"""What a tariff file may say beyond the shape of its tables, and how its errors are worded."""

import difflib
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from energyplan.base.errors import Problem
from energyplan.tariffs.dayrules import EVERY_DAY, HOLIDAY, MINUTES_PER_DAY, clock_text
from energyplan.tariffs.tables import AddOn, Band, Rule, TariffFile, TariffTable, money_text, parse_price_unit
from energyplan.tariffs.tariff import holiday_problems

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

__all__ = ["rule_problems", "translated_problems"]

# What to write where a required key is missing.
_EXAMPLES = {
    "tariff": "the table [tariff] with name, currency, price_unit and time_zone",
    "name": 'name = "Two rates"',
    "currency": 'currency = "EUR"',
    "price_unit": 'price_unit = "ct/kWh"',
    "time_zone": 'time_zone = "Europe/Dublin"',
    "price": "price = 14.2",
    "file": 'file = "prices.csv"',
    "step_minutes": "step_minutes = 30",
    "window_minutes": "window_minutes = 15",
    "price_per_kw_month": "price_per_kw_month = 3.9",
    "export_price": "export_price = 5.0",
    "above_kwh": "above_kwh = 300",
}

_REPEATED = frozenset({"band", "add_on", "tier"})
_WORDED = {
    "model_type": "is no table; write its name in brackets on a line of its own, its keys below",
    "tuple_type": "write a list in brackets",
    "string_type": "write a text in quotes",
    "string_too_short": "write a text that is not empty",
    "string_too_long": "is too long; shorten it",
    "string_pattern_mismatch": 'write three capital letters, as "EUR"',
}


def translated_problems(error: "ValidationError", tables: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Problems of a file that doesn't fit the schema, in the file's own words.

    Parameters
    ----------
    error : pydantic.ValidationError
        What the schema said.
    tables : mapping
        The file as read, for names and values.
    """
    return tuple(_translated(detail, tables) for detail in error.errors(include_url=False))


def _translated(detail: "ErrorDetails", tables: Mapping[str, Any]) -> Problem:
    location = [part for part in detail["loc"] if part not in ("constrained-str", "decimal", "str")]
    where = _where(location, tables)
    value = _value_text(detail["input"])
    key = str(location[-1]) if location else ""
    if detail["type"] == "missing":
        return Problem(where=where, message=f"is missing; write {_EXAMPLES.get(key, key)}")
    if detail["type"] == "extra_forbidden":
        return Problem(where=where, value=value, message=_unknown_key(location, key))
    return Problem(where=where, value=value, message=_worded(detail, key))


def _worded(detail: "ErrorDetails", key: str) -> str:
    """What the schema says, in words that a reader of the file knows."""
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "literal_error":
        return f"expected {context['expected']}"
    if kind in ("greater_than_equal", "less_than_equal"):
        return f"expected {context['ge']} or more" if "ge" in context else f"expected {context['le']} or less"
    if kind == "tuple_type" and key in _REPEATED:
        return f"write [[tariff.{key}]] with double brackets, once for each"
    message = _WORDED.get(kind, detail["msg"].removeprefix("Value error, "))
    return message[:1].lower() + message[1:]


def _value_text(value: object) -> str:
    if isinstance(value, str):
        return f'"{value[:60]}"'
    if isinstance(value, bool):
        return str(value).lower()
    return str(value) if isinstance(value, (int, Decimal, date)) else ""


def _where(location: list[int | str], tables: Mapping[str, Any]) -> str:
    """Path of a key as it stands in the file: ``[[tariff.band]] 2 ("night") price``."""
    names: list[str] = []
    keys: list[str] = []
    number = ""
    node: Any = tables
    for part in location:
        node = node[part] if _has(node, part) else None
        if isinstance(part, str):
            (names if _is_tables(node) else keys).append(part)
        elif keys:
            keys.append(str(part + 1))
        else:
            label = node.get("name") if isinstance(node, dict) else None
            number = f" {part + 1}" + (f" ({_value_text(label)})" if isinstance(label, str) else "")
    table = ".".join(names)
    shown = [f"[[{table}]]{number}" if number else f"[{table}]"] if names else []
    return " ".join([*shown, *keys]) or "file"


def _is_tables(node: object) -> bool:
    return isinstance(node, dict) or (isinstance(node, list) and any(isinstance(item, dict) for item in node))


def _has(node: object, part: int | str) -> bool:
    if isinstance(node, dict):
        return part in node
    return isinstance(node, list) and isinstance(part, int) and part < len(node)


def _unknown_key(location: list[int | str], key: str) -> str:
    known = _known_keys([part for part in location[:-1] if isinstance(part, str)])
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    if near:
        return f"is not a key here; did you mean {near[0]}?"
    return f"is not a key here; known are {', '.join(sorted(known))}"


def _known_keys(path: list[str]) -> list[str]:
    model: type[BaseModel] = TariffFile
    for part in path:
        for name, info in model.model_fields.items():
            if (info.alias or name) == part:
                model = _inner_model(info.annotation) or model
    return [info.alias or name for name, info in model.model_fields.items()]


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    """Table inside an annotation such as ``tuple[Band, ...]`` or ``Holidays | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_inner_model(part) for part in getattr(annotation, "__args__", ()))
    return next((model for model in inner if model is not None), None)


def rule_problems(file: TariffFile) -> tuple[Problem, ...]:
    """Problems of a file whose tables are each well formed."""
    table = file.tariff
    problems = [*_money_problems(table), *_base_problems(table), *_holiday_rules(table)]
    for index, band in enumerate(table.band):
        problems += _window_problems(f'[[tariff.band]] {index + 1} ("{band.name}")', band)
    for index, add_on in enumerate(table.add_on):
        problems += _window_problems(f'[[tariff.add_on]] {index + 1} ("{add_on.name}")', add_on)
    return (*problems, *_file_name_problems(file), *holiday_problems(table))


def _money_problems(table: TariffTable) -> list[Problem]:
    problems = []
    units = [("[tariff] price_unit", table.price_unit)]
    if table.prices is not None and table.prices.unit is not None:
        units.append(("[tariff.prices] unit", table.prices.unit))
    for where, text in units:
        try:
            parse_price_unit(text, table.currency)
        except ValueError as error:
            problems.append(Problem(where=where, value=f'"{text}"', message=str(error)))
    amounts = [("[tariff] daily_charge", table.daily_charge)]
    if table.peak_charge is not None:
        amounts.append(("[tariff.peak_charge] price_per_kw_month", table.peak_charge.price_per_kw_month))
    for where, amount in amounts:
        try:
            money_text(amount, table.currency, Fraction(1))
        except ValueError as error:
            problems.append(Problem(where=where, value=f'"{amount}"', message=str(error)))
    return problems + _tax_and_validity_problems(table)


def _tax_and_validity_problems(table: TariffTable) -> list[Problem]:
    problems = []
    if table.prices_include_tax is False and table.tax_percent is None:
        problems.append(
            Problem(where="[tariff] tax_percent", message="is missing; prices without tax need it: tax_percent = 9")
        )
    if table.prices_include_tax is None and table.tax_percent is not None:
        problems.append(
            Problem(
                where="[tariff] prices_include_tax",
                message="is missing; say whether the prices contain the tax: prices_include_tax = false",
            )
        )
    if table.valid_from and table.valid_to and table.valid_to < table.valid_from:
        problems.append(
            Problem(
                where="[tariff] valid_to",
                value=str(table.valid_to),
                message=f"lies before valid_from, {table.valid_from}; swap them or mend the year",
            )
        )
    return problems


def _base_problems(table: TariffTable) -> list[Problem]:
    """Bands or a series, not both and not neither; at most one band for what is left."""
    problems = []
    if table.band and table.prices is not None:
        problems.append(
            Problem(where="[tariff.prices]", message="stands beside bands; keep the bands or the series, not both")
        )
    if not table.band and table.prices is None:
        problems.append(Problem(where="[tariff]", message="has no price; write a [[tariff.band]] or [tariff.prices]"))
    rest = [band for band in table.band if band.otherwise]
    if len(rest) > 1:
        names = " and ".join(f'"{band.name}"' for band in rest)
        problems.append(
            Problem(where="[[tariff.band]] otherwise", value="true", message=f"stands in {names}; keep it in one band")
        )
    problems += [
        Problem(
            where=f'[[tariff.band]] ("{band.name}") otherwise',
            value="true",
            message="fills what the other bands leave; take out its days, months, dates, from and to",
        )
        for band in rest
        if band.limited
    ]
    return problems


def _window_problems(where: str, rule: Rule) -> list[Problem]:
    problems = []
    start, end = rule.from_minute, rule.to_minute
    if (start is None) != (end is None):
        missing = "from" if start is None else "to"
        problems.append(
            Problem(where=f"{where} {missing}", message="is missing; write from and to, or leave both out for all day")
        )
    elif start is not None and end is not None and start == end:
        problems.append(
            Problem(
                where=f"{where} from",
                value=f'"{clock_text(start)}"',
                message='is also to, a window of no minutes; for the whole day write from = "00:00", to = "24:00"',
            )
        )
    if start == MINUTES_PER_DAY:
        problems.append(Problem(where=f"{where} from", value='"24:00"', message='write "00:00" of the next day'))
    if rule.months is not None and rule.dates is not None:
        problems.append(Problem(where=f"{where} dates", message="stands beside months; keep one of the two"))
    return problems


def _holiday_rules(table: TariffTable) -> list[Problem]:
    rules: tuple[Band | AddOn, ...] = (*table.band, *table.add_on)
    naming = [rule.name for rule in rules if HOLIDAY in rule.days and rule.days != EVERY_DAY]
    holidays = table.holidays
    if holidays is None:
        return [
            Problem(
                where=f'"{name}" days',
                value='"holiday"',
                message='needs a list of holidays; write [tariff.holidays] with country = "IE"',
            )
            for name in naming
        ]
    if not naming and holidays.treat_as in (None, "holiday"):
        return [
            Problem(
                where="[tariff.holidays] treat_as",
                message='is missing, and no band says "holiday": write treat_as = "sun", or days = "holiday" in a band',
            )
        ]
    if naming and holidays.treat_as not in (None, "holiday"):
        return [
            Problem(
                where="[tariff.holidays] treat_as",
                value=f'"{holidays.treat_as}"',
                message=f'makes holidays an ordinary weekday, but "{naming[0]}" names "holiday"; keep one of the two',
            )
        ]
    return []


def _file_name_problems(file: TariffFile) -> list[Problem]:
    """Series files must be plain names: nothing outside the tariff's own folder is read."""
    sources = (
        ("[tariff.prices] file", file.tariff.prices),
        ("[carbon] file", file.carbon),
        ("[own_generation] file", file.own_generation),
    )
    return [
        Problem(
            where=where, value=f'"{source.file}"', message="write a plain file name; the file lies beside the tariff"
        )
        for where, source in sources
        if source is not None and not _plain_name(source.file)
    ]


def _plain_name(name: str) -> bool:
    return name not in (".", "..") and not set(name) & set("/\\:\0") and name.isprintable()
