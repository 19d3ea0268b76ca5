"""Writing changes into the files of a plan: each where its value stands, and nothing else is touched.

A quantity is written in the units of whoever wrote it, in as few digits as read back as the same value.
"""

import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from energyplan.base.errors import FileError, PlanError, UnitsError
from energyplan.base.files import check_place, write_all
from energyplan.base.tomltext import toml_tables, with_row, with_values
from energyplan.base.units import COMMON, FAHRENHEIT, QUANTITY, Kind, fewest_digits, read_quantity
from energyplan.plan.brewery import OF_A_LOSS, BrewedDay, Brewery, text_alone
from energyplan.plan.file import PlanFiles, PlanText, plan_files
from energyplan.plan.model import Plan
from energyplan.plan.steps import read_action
from energyplan.plan.values import kind_at

__all__ = [
    "At",
    "Typed",
    "changed_texts",
    "plan_spelled",
    "plan_text",
    "respelled",
    "says",
    "with_brewed",
    "write_brewed",
    "write_copy",
    "write_plan",
]

At = tuple[str | int, ...]
#: Quantities as somebody typed them, by where they stand.
Typed = tuple[tuple[At, str], ...]
MOST_DIGITS = 7  # of a number that people write
_TIDY = {"m": "cm", "m2": "cm2", "s": "min"}  # where people write otherwise than a kind is kept; common practice
_LOSS = ("vessel", "heat_loss")
BY_HAND = "can't be changed in its own style; change it by hand"


def write_plan(files: PlanFiles, after: Plan) -> tuple[Path, ...]:
    """Change a plan in the files in which its values stand: its own, and that of the brewery it uses.

    Parameters
    ----------
    files : PlanFiles
        The plan as it was read.
    after : Plan
        What it shall be; steps, elements and loads are as many as before.

    Returns
    -------
    tuple of Path
        The files that were changed.

    Raises
    ------
    PlanError
        If the plan came from no file, or its text can't be changed.
    FileError
        If a file can't be written; then all are as they were.
    """
    return _write(files, *changed_texts(files, after))


def changed_texts(files: PlanFiles, after: Plan, typed: Typed = ()) -> tuple[PlanText, PlanText | None]:
    """A changed plan's own text, and that of the brewery that it uses; each value where it stood.

    A quantity is written as it was typed, where that still says what the plan says.

    Raises
    ------
    PlanError
        If a text can't be changed.
    """
    mine, its = _split(files, {**dict(_as_typed(files, after, typed)), **_changes(files.plan, after)})
    own = replace(files.own, text=_changed(files.own, mine, typed))
    shared = files.shared and replace(files.shared, text=_changed(files.shared, its, typed))
    if plan_files(own, shared).plan != after:
        raise PlanError(BY_HAND, source=files.own.name)
    return own, shared


def write_brewed(files: PlanFiles, day: BrewedDay) -> Path:
    """Keep a brewed day in the brewery's file, or in the plan's where it uses none.

    Raises
    ------
    PlanError, FileError
        As for `write_plan`.
    """
    holder = with_brewed(files.own if files.shared is None else files.shared, day)
    if holder.path is None:
        copied = f"make a file of the plan first: energyplan report {files.own.name} --write FILE"
        raise FileError(f"{holder.name} is packaged, or came from standard input; {copied}")
    _write(files, *((holder, None) if files.shared is None else (files.own, holder)))
    return holder.path


def with_brewed(holder: PlanText, day: BrewedDay) -> PlanText:
    """A file's text with a brewed day at its end; one of the same plan and date goes.

    Raises
    ------
    PlanError
        If the text can't be changed.
    """
    row = Brewery(brewed=(day,)).model_dump(by_alias=True, exclude_none=True, context={"file": True})["brewed"][0]
    rows = toml_tables(holder.text).get("brewed", [])
    again = [place for place, one in enumerate(rows) if (one.get("date"), one.get("plan")) == (day.date, day.plan)]
    gone: list[At] = [("brewed",)] if len(again) == len(rows) else [("brewed", place) for place in reversed(again)]
    try:
        text = with_values(holder.text, dict.fromkeys(gone)) if again else holder.text
        return replace(holder, text=with_row(text, "brewed", {k: v for k, v in _plain(row).items() if v != {}}))
    except ValueError as error:
        raise PlanError(str(error), source=holder.name) from None


def write_copy(files: PlanFiles, after: Plan, path: Path, *, force: bool = False) -> tuple[str, ...]:
    """Write a changed plan into a file of its own; what the brewery says otherwise is said there.

    Returns
    -------
    tuple of str
        The tables of the brewery that are left out, because the day has no use for them.

    Raises
    ------
    PlanError, FileError
        As for `write_plan`; also if the file exists and ``force`` is not given.
    """
    check_place(path, force=force)
    text = plan_text(files, after, beside=path.parent)
    write_all({path: text.encode()}, force=force)
    tables = toml_tables(text)
    if files.shared is None or "uses" in tables:
        return ()
    return tuple(key for key in toml_tables(files.shared.text) if key not in (*tables, "schema"))


def plan_text(files: PlanFiles, after: Plan, *, beside: Path | None = None) -> str:
    """The text of a changed plan as a file of its own.

    Parameters
    ----------
    files : PlanFiles
        The plan as it was read.
    after : Plan
        What it shall be.
    beside : Path, optional
        The folder in which it will lie: there it goes on using its brewery's file, its prices and the plans of its
        brewed days. Without one, or where the brewery is packaged, the text holds all that the brewery does.
    """
    own, shared, changes = files.own, files.shared, _changes(files.plan, after)
    if beside is not None:
        changes |= _renamed(files.own, beside)
    if shared is not None and (beside is None or shared.path is None):
        own, shared = replace(own, text=text_alone(own.text, shared.text)), None
    elif shared is not None and shared.path is not None:
        changes["uses",] = Path(os.path.relpath(shared.path, beside)).as_posix()
    own = replace(own, text=_changed(own, changes))
    if plan_files(own, shared).plan != after:
        raise PlanError(BY_HAND, source=files.own.name)
    return own.text


def _renamed(own: PlanText, beside: Path) -> dict[At, Any]:
    """How files that a plan's own text names are called in another folder."""
    tables, folder = toml_tables(own.text), Path() if own.path is None else own.path.parent
    named: dict[At, str] = {
        ("brewed", place, "plan"): row["plan"] for place, row in enumerate(tables.get("brewed", ()))
    }
    if "tariff" in tables:
        named["tariff",] = tables["tariff"]
    moved = folder.resolve() != beside.resolve()
    return {
        at: Path(os.path.relpath(folder / name, beside)).as_posix()
        for at, name in named.items() if moved and name.endswith(".toml") and not Path(name).is_absolute()
    }  # fmt: skip


def plan_spelled(plan: Plan, typed: Typed = ()) -> str:
    """A plan as a file of its own, quantities as they were typed, else in the units of the trade."""
    import tomli_w

    return tomli_w.dumps(_spelled({}, (), _plain(_dumped(plan)), dict(typed)))


def _changes(before: Plan, after: Plan) -> dict[At, Any]:
    """What stands differently in the files of two plans; None where a key goes."""
    return dict(_differences(_dumped(before), _dumped(after)))


def _dumped(plan: Plan) -> dict[str, Any]:
    return plan.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, context={"file": True})


def _differences(before: Any, after: Any, at: At = ()) -> Iterator[tuple[At, Any]]:
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        for key in dict.fromkeys([*before, *after]):
            yield from _differences(before.get(key), after.get(key), (*at, key))
    elif _is_rows(before) and _is_rows(after) and len(before) == len(after):
        for place, (mine, its) in enumerate(zip(before, after, strict=True)):
            yield from _differences(mine, its, (*at, place))
    elif before != after:
        yield at, _plain(after)


def _is_rows(value: Any) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(row, Mapping) for row in value)


def _plain(value: Any) -> Any:
    """As TOML has it: lists for tuples."""
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list | tuple) else value


def _split(files: PlanFiles, changes: Mapping[At, Any]) -> tuple[dict[At, Any], dict[At, Any]]:
    """Changes of the plan's own file, and of the brewery's."""
    own, shared = toml_tables(files.own.text), toml_tables(files.shared.text) if files.shared else {}
    in_shared = {path for path in changes if _stands_in_shared(path, own, shared)}
    in_shared -= {path for path in OF_A_LOSS if changes.get(path) and _there(own, _LOSS)}  # beside the plan's own loss
    mine = {path: value for path, value in changes.items() if path not in in_shared}
    return mine, {path: changes[path] for path in in_shared}


def _stands_in_shared(path: At, own: Mapping[str, Any], shared: Mapping[str, Any]) -> bool:
    """Whether a value stands in the brewery's file; a new one stands where its table does, there first."""
    if _there(own, path) or _there(shared, path):
        return not _there(own, path)
    is_row = any(isinstance(key, int) for key in path)
    for length in range(len(path) - 1, 0, -1):
        in_own, in_shared = (_there(tables, path[:length]) for tables in (own, shared))
        if in_own or in_shared:
            return in_shared and not (in_own and is_row)
    return False


def _there(tables: Any, path: At) -> bool:
    for key in path:
        try:
            tables = tables[key]
        except (LookupError, TypeError):
            return False
    return True


def _changed(file: PlanText, changes: Mapping[At, Any], typed: Typed = ()) -> str:
    tables = toml_tables(file.text)
    wanted = {path: _spelled(tables, path, value, dict(typed)) for path, value in changes.items()}
    try:
        return with_values(file.text, {p: v for p, v in wanted.items() if v is not None or _there(tables, p)})
    except ValueError as error:
        raise PlanError(str(error), source=file.name) from None


def _spelled(tables: Any, path: At, value: Any, typed: Mapping[At, str]) -> Any:
    """Quantities as somebody typed them or as they stood, else in the unit in which the one before was written."""
    if isinstance(value, Mapping):
        return {key: _spelled(tables, (*path, key), one, typed) for key, one in value.items()}
    if isinstance(value, list):
        return [_spelled(tables, (*path, place), one, typed) for place, one in enumerate(value)]
    if not isinstance(value, str):
        return value
    kind, likes = kind_at(path, Plan), (typed.get(path), _at(tables, path), *_of_rows(tables, path))
    if kind is None:
        return next((like for like in likes if isinstance(like, str) and says(path, like, value)), value)
    return respelled(read_quantity(value, kind), kind, *likes)


def says(path: At, text: str, wanted: str) -> bool:
    """Whether a text with quantities says, where it stands in a plan, what another one says."""
    if (kind := kind_at(path, Plan)) is not None:
        return reads_as(text, kind, read_quantity(wanted, kind))
    try:
        return "before" in path and read_action(text) == read_action(wanted)
    except UnitsError:
        return False


def _at(tables: Any, path: At) -> Any:
    for key in path if _there(tables, path) else ():
        tables = tables[key]
    return tables


def _of_rows(tables: Any, path: At) -> Iterator[Any]:
    """What stands at the same key of the other rows of a list: rows may have moved."""
    for place in (place for place, key in enumerate(path) if isinstance(key, int)):
        rows = _at(tables, path[:place])
        for row in rows if isinstance(rows, list) else ():
            if _there(row, path[place + 1 :]):
                yield _at(row, path[place + 1 :])


def _as_typed(files: PlanFiles, after: Plan, typed: Typed) -> Iterator[tuple[At, Any]]:
    """Values that stay, but that somebody typed otherwise than they stand in a file."""
    tables, dumped = [toml_tables(file.text) for file in (files.own, files.shared) if file], _dumped(after)
    for path, text in typed:
        stands = next((_at(one, path) for one in tables if _there(one, path)), None)
        if isinstance(stands, str) and stands != text and _there(dumped, path):
            whole = path[:-1] if isinstance(path[-1], int) else path  # a text of a row is written with its list
            yield whole, _plain(_at(dumped, whole))


def _write(files: PlanFiles, own: PlanText, shared: PlanText | None) -> tuple[Path, ...]:
    """Write what differs from what was read."""
    contents: dict[Path, bytes] = {}
    for before, file in ((files.own, own), (files.shared, shared)):
        if before is None or file is None or file.text == before.text:
            continue
        if file.path is None:
            raise FileError(f"{file.name} is packaged, or came from standard input; name a file for a copy")
        contents[file.path] = file.text.encode()
    write_all(contents, force=True)
    return tuple(contents)


def spelled(value: float, kind: Kind, unit: str) -> str | None:
    """A value as text in a unit, in the fewest digits that read back as the same value; None where it takes too many.

    Examples
    --------
    >>> from energyplan.base.units import MASS, POWER, VOLUME
    >>> spelled(1400.0, POWER, "kW"), spelled(26.497882488, VOLUME, "gal"), spelled(5.0, MASS, "lb")
    ('1.4 kW', '7 gal', None)
    """
    number: float | None = None
    if (factor := COMMON[kind.unit].get(unit)) is not None:
        number = float(Decimal(repr(value)) / factor)
    elif kind.unit == "degC" and unit in FAHRENHEIT:
        number = value * 1.8 + 32.0
    if number is None:
        return None
    place = math.floor(math.log10(abs(number))) if number else 0  # of the first digit
    for digits in range(MOST_DIGITS):
        text = f"{fewest_digits(round(number, digits - place))} {unit}"
        if reads_as(text, kind, value):
            return text
    return None


def reads_as(text: str, kind: Kind, value: float) -> bool:
    """Whether a text says just that value."""
    try:
        return read_quantity(text, kind) == value
    except UnitsError:
        return False


def respelled(value: float, kind: Kind, *likes: object) -> str:
    """A value as text: as one of some texts if that says it, else in the unit of one, else in that of the trade.

    Parameters
    ----------
    likes : str
        How it is, or was, written; the likeliest first. What is no text is left aside.

    Examples
    --------
    >>> from energyplan.base.units import LENGTH, POWER, VOLUME
    >>> respelled(1400.0, POWER, "1.8 kW"), respelled(0.47, LENGTH), respelled(26.497882488, VOLUME, "7.0 gal")
    ('1.4 kW', '47 cm', '7.0 gal')
    """
    texts = [like for like in likes if isinstance(like, str)]
    for text in texts:
        if reads_as(text, kind, value):
            return text
    own, units = kind.written(value), [match[2] for text in texts if (match := QUANTITY.fullmatch(text))]
    for unit in (*units, _TIDY.get(kind.unit, kind.unit)):
        found = spelled(value, kind, unit)
        if found is not None and len(found) <= len(own) + len(unit):
            return found
    return own
