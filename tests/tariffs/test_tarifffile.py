"""Reading tariff files: every error of a file at once, each with its place, its value and the fix."""

import pickle
from fractions import Fraction
from pathlib import Path

import pytest

from energyplan.base.errors import FileError, TariffError
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs, parse_tariff

GOOD = """
[tariff]
name = "Test"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Dublin"
[[tariff.band]]
name = "all"
price = 30
"""


def problems_of(text: str, **given) -> str:
    """All problems of a tariff as one text."""
    with pytest.raises(TariffError) as caught:
        parse_tariff(text, source="t.toml", **given)
    assert str(caught.value).startswith("t.toml: ")
    return str(caught.value)


def test_all_errors_of_a_file_come_together() -> None:
    """Eight slips in one file, eight lines, each with table, key, value and fix."""
    text = problems_of(
        GOOD.replace("Europe/Dublin", "Europe/Dubln")
        + 'prise = 3\nfrom = "25:00"\n[[tariff.band]]\nname = "rest"\nprice = "3"\notherwise = "yes"\n'
        "[tariff.peak_charge]\nwindow_minutes = 20\n"
    )
    for expected in (
        "7 problems",
        "[tariff] time_zone = \"Europe/Dubln\": time zone 'Europe/Dubln' is not known; did you mean 'Europe/Dublin'?",
        '[[tariff.band]] 1 ("all") prise = 3: is not a key here; did you mean price?',
        '[[tariff.band]] 1 ("all") from = "25:00": write a time of day',
        '[[tariff.band]] 2 ("rest") price = "3": write a number without quotes',
        '[[tariff.band]] 2 ("rest") otherwise = "yes": write true or false',
        "[tariff.peak_charge] window_minutes = 20: expected 10, 15, 30 or 60",
        "[tariff.peak_charge] price_per_kw_month: is missing; write price_per_kw_month = 3.9",
    ):
        assert expected in text


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (("EUR", "eur"), "[tariff] currency"),
        (("ct/kWh", "kr/kWh"), "'kr' is no money of EUR"),
        (("price = 30", "price = nan"), "write a finite number"),
        (("price = 30", "price = true"), "write a number without quotes"),
        (("price = 30", ""), '[[tariff.band]] 1 ("all") price: is missing; write price = 14.2'),
        (('name = "Test"', "nome = 1"), "nome = 1: is not a key here; did you mean name?"),
        (('name = "Test"', 'name = "Test"\nzzzz = []'), "is not a key here; known are add_on"),
        (('name = "Test"', 'name = "Test"\ntax_percent = 9'), "prices_include_tax: is missing"),
        (('name = "Test"', 'name = "Test"\nprices_include_tax = false'), "tax_percent: is missing"),
        (('name = "Test"', 'name = "Test"\nvalid_from = "2026-01-01"'), "write a date without quotes"),
        (('name = "Test"', 'name = "Test"\nvalid_from = 2026-05-01\nvalid_to = 2026-01-01'), "lies before valid_from"),
        (('name = "Test"', 'name = "Test"\ndaily_charge = "much"'), "a number with its money"),
        (("price = 30", 'price = 30\nfrom = "07:00"'), "to: is missing; write from and to"),
        (("price = 30", 'price = 30\nto = "07:00"'), "from: is missing; write from and to"),
        (("price = 30", 'price = 30\nfrom = "24:00"\nto = "07:00"'), 'write "00:00" of the next day'),
        (("price = 30", 'price = 30\nmonths = "jan"\ndates = "01-01"'), "stands beside months"),
        (("price = 30", 'price = 30\notherwise = true\ndays = "mon"'), "take out its days, months, dates"),
        (("price = 30", 'price = 30\ndays = "holiday"'), "needs a list of holidays"),
        (("[[tariff.band]]", "[[tariff.bond]]"), "did you mean band?"),
    ],
)
def test_each_slip_is_told_with_its_fix(change: tuple[str, str], expected: str) -> None:
    """One slip at a time."""
    assert expected in problems_of(GOOD.replace(*change, 1))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tariff = 3", "tariff = 3: is no table; write its name in brackets"),
        (GOOD.replace("[[tariff.band]]", "[tariff.band]"), "[tariff.band]: write [[tariff.band]] with double brackets"),
        (GOOD.replace("[[tariff.band]]", "band = 5\n[carbon]"), "[tariff] band = 5: write [[tariff.band]]"),
        (GOOD + '[tariff.holidays]\nadd = ["x"]\n', '[tariff.holidays] add 1 = "x": write a date without quotes'),
        (
            GOOD + "[tariff.holidays]\nadd = 2026-01-01\n",
            "[tariff.holidays] add = 2026-01-01: write a list in brackets",
        ),
        (GOOD.replace("EUR", "euro"), 'currency = "euro": write three capital letters, as "EUR"'),
        (GOOD.replace('"EUR"', "3"), "currency = 3: write a text in quotes"),
        (GOOD.replace('"Test"', '""'), "write a text that is not empty"),
        (GOOD.replace("Test", "x" * 81), "is too long; shorten it"),
        (GOOD.replace("[[", "daily_charge = []\n[["), "[tariff] daily_charge: write a number without quotes"),
        (
            GOOD.replace("[[", "tax_percent = -1\nprices_include_tax = false\n[["),
            "tax_percent = -1: expected 0 or more",
        ),
        (GOOD.replace("[[", "tax_percent = 101\nprices_include_tax = false\n[["), "expected 100 or less"),
        (GOOD.replace("[[", 'clock = "moon"\n[['), "clock = \"moon\": expected 'wall' or 'standard'"),
    ],
)
def test_wrong_kinds_of_value_are_told_in_the_file_s_words(text: str, expected: str) -> None:
    """No word of the schema library reaches the reader."""
    shown = problems_of(text)
    assert expected in shown
    assert not {"dictionary", "instance", "tuple", "Input"} & set(shown.split())


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("price = 30", "price = 1e-999999999", "write a finite number of ordinary size"),
        ("price = 30", "price = 1e999999999", "write a finite number of ordinary size"),
        ("price = 30", "price = " + "9" * 5000, "not a TOML file"),
        ("price = 30", "price = " + "[" * 5000, "not a TOML file"),
        ("[[", "valid_to = 0001-01-01\n[[", "expected a date from 1970 to 2200"),
        ("[[", "valid_from = 9999-12-31\n[[", "expected a date from 1970 to 2200"),
    ],
)
def test_numbers_and_dates_out_of_this_world(old: str, new: str, expected: str) -> None:
    """Each is a sentence at once: no endless arithmetic, no overflow, no traceback."""
    assert expected in problems_of(GOOD.replace(old, new, 1))


def test_texts_that_are_too_long() -> None:
    """Uploads have the limits of files."""
    with pytest.raises(FileError, match="at most 1000000"):
        parse_tariff("#" * 1_000_001)


def test_a_file_without_prices() -> None:
    """Bands or a series, one of the two."""
    assert "has no price" in problems_of(GOOD.split("[[tariff.band]]", maxsplit=1)[0])
    both = GOOD + '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
    assert "stands beside bands" in problems_of(both)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("", "the file is empty"), ("= 3", "not a TOML file"), ("[carbon]\nfile = 'a.csv'\n", "tariff: is missing")],
)
def test_files_that_are_no_tariff(text: str, expected: str) -> None:
    """Empty, not TOML, something else."""
    assert expected in problems_of(text)


@pytest.mark.parametrize("name", ["../p.csv", "/etc/passwd", "a\\\\b.csv", "..", "C:p.csv"])
def test_series_files_lie_beside_the_tariff(name: str) -> None:
    """Nothing outside the tariff's own folder is ever opened."""
    text = GOOD + f'[carbon]\nfile = "{name}"\n'
    assert "write a plain file name" in problems_of(text)


def test_a_series_that_was_not_handed_in() -> None:
    """An upload without its series says which one."""
    text = GOOD + '[carbon]\nfile = "c.csv"\n'
    assert "c.csv: series file 'c.csv' was not given" in problems_of(text)


def test_files_on_disk(tmp_path: Path) -> None:
    """Missing, a folder, a link, too large, not UTF-8: each a sentence."""
    tariff = tmp_path / "t.toml"
    series = tmp_path / "c.csv"
    tariff.write_text("\ufeff" + GOOD + '[carbon]\nfile = "c.csv"\n', encoding="utf-8")
    with pytest.raises(TariffError, match="does not exist"):
        load_tariff(tariff)
    series.write_text("start,carbon\n2026-01-01T00:00,200\n", encoding="utf-8")
    assert load_tariff(tariff).series["carbon"].values.tolist() == [200_000_000]
    series.rename(tmp_path / "real.csv")
    series.symlink_to(tmp_path / "real.csv")
    with pytest.raises(TariffError, match="is a link"):
        load_tariff(tariff)
    with pytest.raises(FileError, match="does not exist"):
        load_tariff(tmp_path / "none.toml")
    with pytest.raises(FileError, match="no file"):
        load_tariff(tmp_path)
    tariff.write_bytes(b"\xff\xfe")
    with pytest.raises(FileError, match="UTF-8"):
        load_tariff(tariff)
    tariff.write_text("#" * 1_000_001, encoding="utf-8")
    with pytest.raises(FileError, match="at most 1000000"):
        load_tariff(tariff)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permissions are told in a sentence (patched: the tests may run as a user who may read all)."""
    path = tmp_path / "t.toml"
    path.write_text(GOOD, encoding="utf-8")

    def refuse(*_: object, **__: object) -> str:
        raise PermissionError

    monkeypatch.setattr(Path, "read_text", refuse)
    with pytest.raises(FileError, match="may not be read"):
        load_tariff(path)


def test_the_packaged_tariffs_read() -> None:
    """Each demo tariff is whole, never expires, and names its money; they can be pickled for caches."""
    found = packaged_tariffs()
    assert {"demo", "two_rate", "three_band", "dear_evening"} <= set(found)
    assert found["demo"] == found["two_rate"]
    for path in found.values():
        tariff = load_tariff(path)
        assert tariff.table.valid_to is None
        assert pickle.loads(pickle.dumps(tariff)).name == tariff.name  # noqa: S301 - our own bytes


def test_money_of_the_daily_charge() -> None:
    """61.0 under ct/kWh is 61 cents; 9 % tax comes on top where prices are without."""
    tax = "daily_charge = 61.0\nprices_include_tax = false\ntax_percent = 9\n[[tariff.band]]"
    tariff = parse_tariff(GOOD.replace("[[tariff.band]]", tax))
    assert tariff.daily_charge == Fraction("0.61") * Fraction("1.09")


def test_a_floating_price_is_read_to_the_last_digit() -> None:
    """0.1 + 0.2 in binary is not 0.3; the file's decimals are."""
    tariff = parse_tariff(GOOD.replace("price = 30", "price = 14.2000001"))
    assert tariff.unit.nano_per_kwh(tariff.table.band[0].price) == 142_000_001
