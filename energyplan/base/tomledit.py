"""Changing single values in a TOML text: comments, order and a person's own spelling of everything else stay."""

from collections.abc import Mapping
from copy import deepcopy
from itertools import pairwise
from typing import Any

from energyplan.base.tomltext import toml_tables

__all__ = ["with_row", "with_values"]

Path = tuple[str | int, ...]


def with_values(text: str, changes: Mapping[Path, Any]) -> str:
    r"""The text with other values at some places; None takes a key out.

    Parameters
    ----------
    text : str
        TOML.
    changes : mapping of tuple to value
        By path of keys, and of places in lists counted from 0. A table on the way that isn't there is made.

    Raises
    ------
    ValueError
        If the text is no TOML, or a place can't be changed.

    Examples
    --------
    >>> print(with_values('[vessel]\npump = "30 W"   # on its plate\n', {("vessel", "pump"): "25 W"}), end="")
    [vessel]
    pump = "25 W"   # on its plate
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    wanted = toml_tables(text)
    try:
        document = tomlkit.parse(text)
        for path, value in changes.items():
            _put(wanted, path, deepcopy(value))
            _put_styled(document, path, value)
        found = tomlkit.dumps(document)
    except (TOMLKitError, LookupError, TypeError, AttributeError) as error:
        raise ValueError(f"can't be changed in its own style ({error}); change it by hand") from None
    return _as_wanted(found, wanted)


def with_row(text: str, table: str, row: Mapping[str, Any]) -> str:
    r"""The text with one more table at the end of a list of them.

    Examples
    --------
    >>> print(with_row('a = 1\n', "brewed", {"plan": "stout.toml"}), end="")
    a = 1
    <BLANKLINE>
    [[brewed]]
    plan = "stout.toml"
    """
    import tomlkit

    wanted = toml_tables(text)
    wanted.setdefault(table, []).append(dict(row))
    one = tomlkit.table()
    for key, value in row.items():
        one.add(key, _inline(value) if isinstance(value, Mapping) else value)
    block = f"[[{table}]]\n{one.as_string()}".rstrip("\n")
    parts = [text.rstrip("\n"), block] if text.strip() else [block]
    return _as_wanted("\n\n".join(parts) + "\n", wanted)


def _inline(values: Mapping[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    table.update(values)
    return table


def _as_wanted(found: str, wanted: Mapping[str, Any]) -> str:
    if toml_tables(found) != wanted:
        raise ValueError("can't be changed in its own style; change it by hand")
    return found


def _put(node: Any, path: Path, value: Any) -> None:
    for key, following in pairwise(path):
        if isinstance(node, dict) and key not in node:
            node[key] = [] if isinstance(following, int) else {}
        node = node[key]
    if value is None:
        del node[path[-1]]
    else:
        node[path[-1]] = value


def _put_styled(node: Any, path: Path, value: Any) -> None:
    import tomlkit

    for key in path[:-1]:
        if key not in node if isinstance(node, Mapping) else False:
            node[key] = tomlkit.table()
        node = node[key]
    last = path[-1]
    if value is None:
        del node[last]
    elif isinstance(last, int) or last in node:
        node[last] = value
    else:
        _add(node, last, value)


def _add(table: Any, key: str, value: Any) -> None:
    """A new key behind the last one of a table, before what is written between it and the next table."""
    import tomlkit
    from tomlkit.items import AoT, InlineTable, Table

    item = _inline(value) if isinstance(value, Mapping) else tomlkit.item(value)
    keys = [name for name, old in table.items() if not isinstance(old, Table | AoT)]
    if not keys or isinstance(table, InlineTable):
        table[key] = item
    else:
        container = table.value if isinstance(table, Table) else table
        container._insert_after(keys[-1], key, item)  # noqa: SLF001 - tomlkit has no public way to say where
