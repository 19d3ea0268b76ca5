"""What a log gives reason to say: a code and its numbers, told in words elsewhere."""

from collections.abc import Iterator
from typing import Any

from energyplan.base.records import dataclass

__all__ = ["Remark"]


@dataclass(frozen=True, slots=True, init=False)
class Remark:
    """A code with named numbers; each name ends in its unit.

    >>> Remark("gap", longest_min=12.0)["longest_min"]
    12.0
    """

    code: str
    values: tuple[tuple[str, Any], ...]

    def __init__(self, code: str, /, **values: Any) -> None:
        object.__setattr__(self, "code", code)
        object.__setattr__(self, "values", tuple(values.items()))

    def __getitem__(self, name: str) -> Any:
        return dict(self.values)[name]

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        return iter(self.values)
