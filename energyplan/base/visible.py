"""Text that a person wrote, made harmless wherever it is shown."""

import unicodedata

__all__ = ["visible"]

_OBEYED = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})  # general categories of Unicode


def visible(text: str) -> str:
    r"""Text that a person wrote, with every character that a terminal or a page could obey made visible.

    Control, direction, private and lone surrogate characters become their escapes; everything else stays as written.

    >>> visible("Rest\u202e [link=x]\n")
    'Rest\\u202e [link=x]\\u000a'
    """
    return "".join(_escaped(one) if unicodedata.category(one) in _OBEYED else one for one in text)


def _escaped(character: str) -> str:
    number = ord(character)
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"
