"""Text that users wrote, made harmless for the places of the app that read Markdown."""

import re

__all__ = ["plain"]

_MARKS = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:&^=\"'/@])")


def plain(text: str) -> str:
    r"""Escape every mark of Markdown, and join lines.

    Examples
    --------
    >>> plain("![x](http://a)")
    '\\!\\[x\\]\\(http\\:\\/\\/a\\)'
    >>> plain("1. Boil\n2. Cool")
    '1\\. Boil 2\\. Cool'
    """
    return _MARKS.sub(r"\\\1", " ".join(text.split()))
