"""JSON: everything that is told, raw and in SI, for another program."""

from collections.abc import Mapping
from typing import Any

from energyplan import __version__
from energyplan.base.kinds import PLAIN, Value, raw
from energyplan.base.sentence import Listed, Sentence, Span, words
from energyplan.telling.told import Found, Table, Told, cell

__all__ = ["SCHEMA", "document", "part_document", "rows"]

SCHEMA = 2


def document(told: Told) -> dict[str, Any]:
    """One document: version, facts, tables, findings, and what is said in words.

    >>> from energyplan.base.kinds import KWH
    >>> found = document(Told(key="day", title="The day", facts={"energy_kwh": KWH(7.6661)}))
    >>> found["schema"], found["energy_kwh"]
    (2, 7.6661)
    """
    return {"energyplan": __version__, "schema": SCHEMA, **part_document(told)}


def part_document(told: Told) -> dict[str, Any]:
    """A topic without the version: what stands inside a larger document."""
    found: dict[str, Any] = {key: _plain(value) for key, value in told.facts.items()}
    found |= {table.key: rows(table) for table in told.tables}
    if told.findings:
        found["findings"] = [_found(one) for one in told.findings]
    said = [*([told.headline] if told.headline else []), *told.sentences, *told.cautions]
    if said:
        found["said"] = [words(one) for one in said]
    for part in told.parts:
        found[part.key] = part_document(part)
    return found


def rows(table: Table) -> list[dict[str, Any]]:
    """The rows of a table; its total is a fact, not a row."""
    return [
        {column.key: _plain(cell(column, one)) for column, one in zip(table.columns, row, strict=True) if column.key}
        for row in table.rows
    ]


def _found(found: Found) -> dict[str, Any]:
    return {
        "code": found.code,
        "severity": found.severity,
        "message": words(found.said, PLAIN),
        "mend": words(found.mend) if found.mend else None,
        "rule": found.rule,
        "margin_frac": found.margin_frac,
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Value):
        return raw(value)
    if isinstance(value, Span):
        return [raw(value.kind(value.low)), raw(value.kind(value.high))]
    if isinstance(value, Sentence | Listed):
        return words(value)
    return rows(value) if isinstance(value, Table) else _nested(value)


def _nested(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, tuple | list) else value
