"""Tariff files: read into a `Tariff`, or every reason why not, at once; written around a list of prices."""

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from energyplan.base.errors import FileError, Problem, TariffError
from energyplan.base.files import PACKAGE, STANDARD_INPUT, read_text
from energyplan.base.records import dataclass
from energyplan.base.tomltext import toml_tables
from energyplan.tariffs.coverage import coverage_problems
from energyplan.tariffs.series import Series, read_all_series
from energyplan.tariffs.tables import TariffFile, parse_price_unit
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffrules import rule_problems, translated_problems

if TYPE_CHECKING:
    from energyplan.tariffs.pricelist import PriceList

__all__ = [
    "DEMO_TARIFF",
    "ListTerms",
    "currency_of_unit",
    "list_tariff_toml",
    "load_tariff",
    "packaged_tariffs",
    "parse_tariff",
]

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
    inside = PACKAGE / "tariffs_demo"
    folder = inside if inside.is_dir() else PACKAGE.parent / "tariffs_demo"
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


_ADDER = re.compile(
    r"(?:(?P<name>[^:]+):)?\s*(?P<price>[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>\S+/\S+)"
    r"(?:\s+(?P<begin>\d{1,2}:\d{2})\s*-\s*(?P<end>\d{1,2}:\d{2}))?(?:\s+(?P<days>[A-Za-z][A-Za-z, -]*))?\s*"
)
_SIGNS = {"€": "EUR", "£": "GBP", "p": "GBP", "pence": "GBP", "øre": "DKK", "öre": "SEK", "gr": "PLN"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ListTerms:
    """What comes around a list of prices.

    Parameters
    ----------
    name : str
        What to call the tariff.
    currency : str
        ISO 4217 code.
    time_zone : str
        IANA zone.
    tax_percent : Decimal, optional
        Tax on top of prices and adders; left out, they contain it.
    adders : tuple of str
        Each ``"0.12 EUR/kWh"``, with a name before a colon, hours and days behind it if it has any:
        ``"network: 6.1 ct/kWh 17:00-21:00 mon-fri"``.
    """

    name: str
    currency: str
    time_zone: str
    tax_percent: Decimal | None = None
    adders: tuple[str, ...] = ()


def currency_of_unit(unit: str) -> str | None:
    """Currency that a unit of price names; None for a bare cent.

    >>> currency_of_unit("EUR/MWh"), currency_of_unit("ct/kWh")
    ('EUR', None)
    """
    word = unit.partition("/")[0].strip()
    if re.fullmatch(r"[A-Za-z]{3}", word):
        return word.upper()
    return _SIGNS.get(word)


def list_tariff_toml(found: "PriceList", terms: ListTerms, series_file: str) -> str:
    """The text of a tariff file that takes its prices from a list.

    Parameters
    ----------
    found : PriceList
        The list, as `read_price_list` gives it.
    terms : ListTerms
        What comes around it.
    series_file : str
        Name of the file beside it in which `PriceList.csv_text` stands.

    Raises
    ------
    TariffError
        If the unit is no price of the currency, or an adder is not understood.
    """
    import tomli_w

    try:
        parse_price_unit(found.reading.unit, terms.currency)
    except ValueError as error:
        raise TariffError(f"unit of the list {found.reading.unit!r}: {error}") from None
    table: dict[str, Any] = {
        "name": terms.name[:80],
        "currency": terms.currency,
        "price_unit": f"{terms.currency}/kWh",
        "time_zone": terms.time_zone,
        "prices_include_tax": terms.tax_percent is None,
    }
    if terms.tax_percent is not None:
        table["tax_percent"] = terms.tax_percent
    table["prices"] = {
        "file": series_file,
        "unit": found.reading.unit,
        "clock": "utc",
        "step_minutes": found.reading.step_min,
    }
    if terms.adders:
        table["add_on"] = _adders(terms.adders, terms.currency)
    return tomli_w.dumps({"tariff": table})


def _adders(texts: Sequence[str], currency: str) -> list[dict[str, Any]]:
    return [_adder(text, number, currency) for number, text in enumerate(texts, start=1)]


def _adder(text: str, number: int, currency: str) -> dict[str, Any]:
    found = _ADDER.fullmatch(text)
    if found is None:
        raise TariffError(f'adder "{text}": write a price with its unit, such as "network: 6.1 ct/kWh 17:00-21:00"')
    try:
        unit = parse_price_unit(found["unit"], currency)
        per_kwh = Fraction(Decimal(found["price"].replace(",", "."))) * unit.money / unit.kwh
    except (ValueError, InvalidOperation) as error:
        raise TariffError(f'adder "{text}": {error}') from None
    row: dict[str, Any] = {
        "name": (found["name"] or f"adder {number}").strip(),
        "price": Decimal(f"{Decimal(per_kwh.numerator) / Decimal(per_kwh.denominator):.9f}").normalize(),
    }
    if found["days"]:
        row["days"] = found["days"].strip()
    if found["begin"]:
        row |= {"from": found["begin"], "to": found["end"]}
    return row
