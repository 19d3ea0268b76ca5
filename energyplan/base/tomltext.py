"""TOML: text into tables within bounds, and edits that keep a person's own style."""

import re
import tomllib
from collections.abc import Callable, Mapping
from copy import deepcopy
from itertools import pairwise
from typing import Any

__all__ = ["quoted_text", "toml_tables", "with_row", "with_values"]

DEEPEST = 12


LONGEST_LINE = 20_000


LARGEST_INTEGER = 2**63


_HALF = re.compile("[\ud800-\udfff]")  # of a pair that UTF-16 writes; alone it can't be stored


_PART = r"""(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.){0,100}+"|'[^'\n]{0,100}+')"""


_DEEP_KEY = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{DEEPEST}}}")


def toml_tables(text: str, *, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    r"""Read TOML.

    Parameters
    ----------
    text : str
        The file's text; a byte order mark is left out.
    parse_float : callable
        What makes a number of a text with a point or an exponent.

    Raises
    ------
    ValueError
        If it is no TOML, is nested deeper than any file of ours, or has numbers or lines beyond all use; the
        message says which, without naming the file.

    Examples
    --------
    >>> toml_tables("[a]\nb = 1")
    {'a': {'b': 1}}
    >>> toml_tables("a" + ".a" * 100_000 + " = 1")
    Traceback (most recent call last):
    ValueError: line 1 is longer than 20000 characters
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise ValueError(f"line {number} is longer than {LONGEST_LINE} characters")
        if not line.isascii() and _HALF.search(line):
            raise ValueError(f"line {number} has half a character, which is no text")
    if deep := _DEEP_KEY.search(text):
        line_no = text.count("\n", 0, deep.start()) + 1
        raise ValueError(f"line {line_no} has a key of more than {DEEPEST} parts: nested too deeply")
    try:
        tables = tomllib.loads(text.removeprefix("\ufeff"), parse_float=parse_float)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    except ArithmeticError:
        raise ValueError("a number is too large or too small to be read") from None
    _check_within_bounds(tables)
    return tables


def _check_within_bounds(tables: dict[str, Any]) -> None:
    level: list[Any] = [tables]
    depth = 0
    while level:
        if any(type(value) is int and not -LARGEST_INTEGER <= value < LARGEST_INTEGER for value in level):
            raise ValueError("a whole number has more than 64 bits")
        if depth > DEEPEST:
            raise ValueError(f"nested too deeply: more than {DEEPEST} tables and lists in each other")
        depth += 1
        level = [inner for value in level for inner in _inside(value)]


def _inside(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []


Path = tuple[str | int, ...]


def quoted_text(text: str) -> str:
    r"""A text of one line as a file writes it.

    >>> print(quoted_text('a "b" \\ c'))
    "a \"b\" \\ c"
    """
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


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
