"""A tariff file into a `Tariff`, or every reason why not, at once."""

import importlib.resources
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

from pydantic import ValidationError

from energyplan.base.errors import FileError, Problem, TariffError
from energyplan.base.files import STANDARD_INPUT, read_text
from energyplan.base.tomltext import toml_tables
from energyplan.tariffs.coverage import coverage_problems
from energyplan.tariffs.series import Series, read_all_series
from energyplan.tariffs.tables import TariffFile
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffrules import rule_problems, translated_problems

__all__ = ["DEMO_TARIFF", "load_tariff", "packaged_tariffs", "parse_tariff"]

#: The packaged tariff that ``demo`` names.
DEMO_TARIFF = "two_rate"

_MAX_TARIFF_BYTES = 1_000_000
_MAX_SERIES_BYTES = 20_000_000
_MOST_PROBLEMS = 100


def packaged_tariffs() -> dict[str, Path]:
    """Paths of the demo tariffs by name; ``demo`` is the default one.

    An installed package carries the folder inside itself, a checkout beside it.

    >>> "demo" in packaged_tariffs()
    True
    """
    inside = Path(str(importlib.resources.files("energyplan"))) / "tariffs_demo"
    folder = inside if inside.is_dir() else inside.parent.parent / "tariffs_demo"
    found = {path.stem: path for path in sorted(folder.glob("*.toml"))}
    if DEMO_TARIFF in found:
        found["demo"] = found[DEMO_TARIFF]
    return found


def load_tariff(path: str | Path, *, check_coverage: bool = True, near: date | None = None) -> Tariff:
    """Read a tariff and the series beside it.

    Parameters
    ----------
    path : str or Path
        A TOML file, or the name of a packaged tariff such as ``demo``.
    check_coverage : bool
        Whether minutes without a band, or with two, are an error now. A report that lists them
        turns it off; pricing such a day is an error all the same.
    near : date, optional
        The day that is asked about: a gap is named by its first date from there on.

    Raises
    ------
    FileError
        If the file, or a series it names, can't be read.
    TariffError
        If it says something impossible; all problems are listed.

    Examples
    --------
    >>> load_tariff("demo").currency
    'EUR'
    """
    chosen = packaged_tariffs().get(str(path), Path(path))
    text = _read_text(chosen, _MAX_TARIFF_BYTES)
    tariff = _build(text, str(path), lambda name: _read_beside(chosen, name))
    return _covered(tariff, near) if check_coverage else tariff


def parse_tariff(
    text: str,
    *,
    source: str = "tariff",
    series_texts: Mapping[str, str] | None = None,
    check_coverage: bool = True,
) -> Tariff:
    """Read a tariff from text, as an upload gives it.

    Parameters
    ----------
    text : str
        The TOML.
    source : str
        What to call it in messages.
    series_texts : mapping of str to str
        Texts of the series files by file name.
    check_coverage : bool
        As for `load_tariff`.

    Raises
    ------
    TariffError
        If it says something impossible; all problems are listed.
    """
    texts = dict(series_texts or {})

    def given(name: str) -> str:
        if name not in texts:
            raise FileError(f"series file {name!r} was not given; hand it in together with the tariff")
        return _limited(texts[name], name, _MAX_SERIES_BYTES)

    tariff = _build(_limited(text, source, _MAX_TARIFF_BYTES), source, given)
    return _covered(tariff) if check_coverage else tariff


def _limited(text: str, name: str, limit_bytes: int) -> str:
    if len(text) > limit_bytes:
        raise FileError(f"{name} has {len(text)} characters; expected at most {limit_bytes}")
    return text


def _covered(tariff: Tariff, near: date | None = None) -> Tariff:
    if problems := coverage_problems(tariff, near=near):
        raise _error(problems, tariff.source)
    return tariff


def _build(text: str, source: str, series_text: Callable[[str], str]) -> Tariff:
    file = _parsed_file(text, source)
    problems = rule_problems(file)
    series: dict[str, Series] = {}
    if not problems:
        series, problems = read_all_series(file, series_text)
    if problems:
        raise _error(problems, source)
    return Tariff(file=file, source=source, series=series)


def _parsed_file(text: str, source: str) -> TariffFile:
    if not text.strip():
        raise TariffError("the file is empty; a tariff begins with the table [tariff]", source=source)
    try:
        tables = toml_tables(text, parse_float=Decimal)
    except ValueError as error:
        raise TariffError(f"not a TOML file: {error}", source=source) from None
    try:
        return TariffFile.model_validate(tables)
    except ValidationError as error:
        raise _error(translated_problems(error, tables), source) from None


def _error(problems: tuple[Problem, ...], source: str) -> TariffError:
    count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
    first = f", the first {_MOST_PROBLEMS} of them" if len(problems) > _MOST_PROBLEMS else ""
    return TariffError(f"{count} in this tariff{first}", problems[:_MOST_PROBLEMS], source)


def _read_text(path: Path, limit_bytes: int) -> str:
    if str(path) == STANDARD_INPUT:
        return read_text(path, limit_bytes, what="a tariff")
    try:
        size_bytes = path.stat().st_size
        if not path.is_file():
            raise FileError(f"{path} is no file; name a tariff file, or demo")
        if size_bytes > limit_bytes:
            raise FileError(f"{path} has {size_bytes} bytes; expected at most {limit_bytes}")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise FileError(f"{path} is not text in UTF-8; save it as UTF-8") from None
    except FileNotFoundError:
        raise FileError(f"{path} does not exist; name a tariff file, or demo") from None
    except PermissionError:
        raise FileError(f"{path} may not be read; check its permissions") from None
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{path} can't be read ({error})") from None


def _read_beside(tariff_path: Path, name: str) -> str:
    """Text of a series file, which must lie in the tariff's own folder."""
    path = tariff_path.parent / name
    if path.is_symlink():
        raise FileError(f"{name} is a link; put the file itself beside the tariff")
    return _read_text(path, _MAX_SERIES_BYTES)
