"""What all tables of a plan share, and its values that are no quantities: shares, names, times of day."""

import re
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, ValidationInfo, WithJsonSchema

__all__ = ["MINUTES_PER_DAY", "ClockTime", "Name", "PercentShare", "Share", "Table", "from_file"]

Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]
_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]
MINUTES_PER_DAY = 24 * 60


class Table(BaseModel):
    """A table of a file: frozen, and without keys that nobody knows."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False, defer_build=True)


def from_file(info: ValidationInfo) -> bool:
    """Whether a value is read from a file, where text with a unit is due."""
    return bool(info.context and info.context.get("file"))


def _read_clock(value: object, info: ValidationInfo) -> int:
    if not from_file(info) and isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MINUTES_PER_DAY:
        return value
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", value) if isinstance(value, str) else None
    if match is None or int(match[2]) > 59 or int(match[1]) * 60 + int(match[2]) > MINUTES_PER_DAY:
        raise ValueError('expected a time of day from "00:00" to "24:00"')
    return int(match[1]) * 60 + int(match[2])


def _read_percent(value: object) -> object:
    match = _PERCENT.fullmatch(value) if isinstance(value, str) else None
    if isinstance(value, str) and match is None:
        raise ValueError('expected a share such as "10 %", or a number from 0 to 1')
    return float(match[1]) / 100 if match else value


def _write_clock(value: int) -> str:
    return f"{value // 60:02d}:{value % 60:02d}"


PercentShare = Annotated[
    float,
    BeforeValidator(_read_percent),
    Field(ge=0.0, le=1.0, allow_inf_nan=False),
    WithJsonSchema({"type": ["string", "number"], "description": "a share", "examples": ["10 %", 0.1]}),
]

ClockTime = Annotated[
    int,
    BeforeValidator(_read_clock),
    PlainSerializer(_write_clock, return_type=str),
    WithJsonSchema({"type": "string", "description": "time of day, local clock", "examples": ["17:30"]}),
]
