r"""TOML text into tables, within bounds that files of people keep: a file made to exhaust the reader is refused.

The reader of the standard library spends time and memory with the square of a key's parts (a few hundred kilobytes
of ``a.a.a.a…`` take all the memory there is), and takes whole numbers of any length.
"""

import re
import tomllib
from collections.abc import Callable
from typing import Any

__all__ = ["toml_tables"]

DEEPEST = 12
LONGEST_LINE = 20_000
LARGEST_INTEGER = 2**63
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
