"""Slips in a tariff file, each with its place, its value and the whole sentence that mends it."""

from decimal import Decimal
from fractions import Fraction

import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.tables import money_text, parse_price_unit, reckonable
from energyplan.tariffs.tarifffile import parse_tariff

HEAD = '[tariff]\nname = "Test"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
ALL = '[[tariff.band]]\nname = "all"\nprice = 30\n'
REST = '[[tariff.band]]\nname = "rest"\nprice = 30\notherwise = true\n'


def band(keys: str, name: str = "some") -> str:
    """A band with some keys."""
    return f'[[tariff.band]]\nname = "{name}"\nprice = 20\n{keys}\n'


SLIPS = [
    (HEAD + 'clock = "sun"\n' + ALL, '[tariff] clock = "sun": expected \'wall\' or \'standard\''),
    (HEAD + ALL.replace("[[tariff.band]]", "[tariff.band]"),
     "[tariff.band]: write [[tariff.band]] with double brackets, once for each"),
    (HEAD.replace('"EUR"', '"Euro"') + ALL, '[tariff] currency = "Euro": write three capital letters, as "EUR"'),
    (HEAD.replace('"Test"', '""') + ALL, '[tariff] name = "": write a text that is not empty'),
    (HEAD.replace('"Test"', "7") + ALL, "[tariff] name = 7: write a text in quotes"),
    (HEAD.replace('"Test"', '"' + "x" * 81 + '"') + ALL, f'[tariff] name = "{"x" * 60}": is too long; shorten it'),
    (HEAD.replace('name = "Test"\n', "") + ALL, '[tariff] name: is missing; write name = "Two rates"'),
    (HEAD.replace("ct/kWh", "ct") + ALL,
     '[tariff] price_unit = "ct": write money per kWh or MWh, such as "EUR/kWh" or "ct/kWh"'),
    (HEAD.replace("ct/kWh", "p/kWh") + ALL,
     '[tariff] price_unit = "p/kWh": \'p\' is no money of EUR; write "EUR/kWh" or a word for its cent'),
    (HEAD + 'daily_charge = "3 pounds"\n' + ALL,
     '[tariff] daily_charge = "3 pounds": write a number, or a number with its money: "0.61 EUR"'),
    (HEAD + "prices_include_tax = false\n" + ALL,
     "[tariff] tax_percent: is missing; prices without tax need it: tax_percent = 9"),
    (HEAD + "tax_percent = 9\n" + ALL,
     "[tariff] prices_include_tax: is missing; say whether the prices contain the tax: prices_include_tax = false"),
    (HEAD + "prices_include_tax = true\ntax_percent = 101\n" + ALL, "[tariff] tax_percent = 101: expected 100 or less"),
    (HEAD + "prices_include_tax = true\ntax_percent = -1\n" + ALL, "[tariff] tax_percent = -1: expected 0 or more"),
    (HEAD + "valid_from = 2026-05-02\nvalid_to = 2026-05-01\n" + ALL,
     "[tariff] valid_to = 2026-05-01: lies before valid_from, 2026-05-02; swap them or mend the year"),
    (HEAD + "valid_from = 2026-05-01T10:00:00\n" + ALL,
     "[tariff] valid_from = 2026-05-01 10:00:00: write a date without quotes, as 2026-12-24"),
    (HEAD, "[tariff]: has no price; write a [[tariff.band]] or [tariff.prices]"),
    (HEAD + REST + REST.replace("rest", "left"),
     '[[tariff.band]] otherwise = true: stands in "rest" and "left"; keep it in one band'),
    (HEAD + REST + 'days = "mon"\n',
     ('[[tariff.band]] ("rest") otherwise = true: fills what the other bands leave; '
     "take out its days, months, dates, from and to")),
    (HEAD + band('from = "07:00"') + REST,
     '[[tariff.band]] 1 ("some") to: is missing; write from and to, or leave both out for all day'),
    (HEAD + band('to = "07:00"') + REST,
     '[[tariff.band]] 1 ("some") from: is missing; write from and to, or leave both out for all day'),
    (HEAD + REST + band('from = "07:00"\nto = "07:00"'),
     ('[[tariff.band]] 2 ("some") from = "07:00": is also to, a window of no minutes; for the whole day write '
     'from = "00:00", to = "24:00"')),
    (HEAD + band('from = "24:00"\nto = "07:00"') + REST,
     '[[tariff.band]] 1 ("some") from = "24:00": write "00:00" of the next day'),
    (HEAD + band('months = "jan"\ndates = "01-01"') + REST,
     '[[tariff.band]] 1 ("some") dates: stands beside months; keep one of the two'),
    (HEAD + REST + '[[tariff.add_on]]\nname = "levy"\nprice = 1\nto = "01:00"\n',
     '[[tariff.add_on]] 1 ("levy") from: is missing; write from and to, or leave both out for all day'),
    (HEAD + band('days = "holiday"') + REST,
     '"some" days = "holiday": needs a list of holidays; write [tariff.holidays] with country = "IE"'),
    (HEAD + '[tariff.holidays]\ncountry = "IE"\n' + ALL,
     ('[tariff.holidays] treat_as: is missing, and no band says "holiday": write treat_as = "sun", or days = "holiday" '
     "in a band")),
    (HEAD + '[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\n' + band('days = "holiday"') + REST,
     ('[tariff.holidays] treat_as = "sun": makes holidays an ordinary weekday, but "some" names "holiday"; '
     "keep one of the two")),
    (HEAD + '[tariff.holidays]\ntreat_as = "sun"\n' + ALL,
     '[tariff.holidays] country: is missing; write country = "IE", or add dates'),
    (HEAD + '[[tariff.tier]]\nabove_kwh = -1\nprice = 2\n' + ALL,
     "[[tariff.tier]] 1 above_kwh = -1: expected 0 or more"),
    (HEAD + '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 0\n',
     "[tariff.prices] step_minutes = 0: expected whole minutes from 1 to 1440, such as 15, 30 or 60"),
    (HEAD + '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 1441\n',
     "[tariff.prices] step_minutes = 1441: expected whole minutes from 1 to 1440, such as 15, 30 or 60"),
    (HEAD + '[tariff.prices]\nfile = "p.csv"\nstep_minutes = true\n',
     "[tariff.prices] step_minutes = true: expected whole minutes from 1 to 1440, such as 15, 30 or 60"),
    (HEAD + ALL + '[carbon]\nfile = "sub/c.csv"\n',
     '[carbon] file = "sub/c.csv": write a plain file name; the file lies beside the tariff'),
    (HEAD + ALL + "[tariff.peak_charge]\nwindow_minutes = 15\n",
     "[tariff.peak_charge] price_per_kw_month: is missing; write price_per_kw_month = 3.9"),
    (HEAD + ALL + 'colour = "red"\n',
     ('[[tariff.band]] 1 ("all") colour = "red": is not a key here; known are dates, days, from, months, name, '
     "night_belongs_to, otherwise, price, to")),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), SLIPS, ids=[said[:50] for _, said in SLIPS])
def test_a_slip_is_told_whole(text: str, said: str) -> None:
    """One problem, and one line that says where, what and how to mend it."""
    with pytest.raises(TariffError) as caught:
        parse_tariff(text, source="t.toml")
    first, *problems = str(caught.value).splitlines()
    assert first == "t.toml: 1 problem in this tariff"
    assert [line.strip() for line in problems] == [said]


@pytest.mark.parametrize("keys", [
    "valid_from = 2026-05-01\nvalid_to = 2026-05-01\n", "valid_from = 1970-01-01\nvalid_to = 2200-12-31\n",
    "prices_include_tax = true\ntax_percent = 100\n", "prices_include_tax = false\ntax_percent = 0\n",
    'daily_charge = "0.61 EUR"\n', "daily_charge = -1\n", 'clock = "standard"\n',
])  # fmt: skip
def test_what_is_no_slip(keys: str) -> None:
    """The ends of what is allowed."""
    parse_tariff(HEAD + keys + ALL)


# Words for each currency and for its hundredth (from memory).
MONEY_WORDS = {
    "EUR": ("EUR eur €", "ct c Cent cents"), "GBP": ("£ gbp", "p pence penny"), "GIP": ("", "p"), "FKP": ("", "pence"),
    "SHP": ("", "penny"), "USD": ("$", "ct c cent"), "CAD": ("$", "c"), "AUD": ("$", "c"), "NZD": ("$", "c"),
    "SGD": ("$", "c"), "NOK": ("", "øre ore"), "DKK": ("", "Øre"), "SEK": ("", "öre"), "PLN": ("", "gr grosz groszy"),
    "CHF": ("", "rp Rappen centime"), "XPF": ("", "centimes"), "MAD": ("", "centime"), "CZK": ("", "hal haléř haléřů"),
    "INR": ("", "paise paisa"), "PKR": ("", "paise"), "NPR": ("", "paisa"), "CNY": ("", "fen"), "MYR": ("", "sen"),
    "IDR": ("", "sen"), "JPY": ("", "sen"),
}  # fmt: skip


@pytest.mark.parametrize("currency", MONEY_WORDS)
def test_words_of_money(currency: str) -> None:
    """The currency itself, its sign, and words for its hundredth."""
    for words, parts in zip(MONEY_WORDS[currency], (1, 100), strict=True):
        for word in words.split():
            unit = parse_price_unit(f"{word}/MWh", currency)
            assert (unit.money, unit.kwh) == (Fraction(1, parts), 1000)
            assert money_text(f" +12.5 {word} ", currency, Fraction(1)) == Fraction(25, 2 * parts)
            assert money_text(f"-3 {word}", currency, Fraction(1)) == Fraction(-3, parts)


@pytest.mark.parametrize(("word", "currency"), [
    ("$", "EUR"), ("p", "USD"), ("øre", "EUR"), ("sen", "EUR"), ("bob", "GBP"), ("€", "GBP"),
    ("gr", "CZK"), ("fen", "JPY"),
])  # fmt: skip
def test_money_of_another_currency(word: str, currency: str) -> None:
    """Is none of this one."""
    with pytest.raises(ValueError, match="is no money of"):
        parse_price_unit(f"{word}/kWh", currency)
    with pytest.raises(ValueError, match="with its money"):
        money_text(f"12 {word}", currency, Fraction(1))


def test_numbers_that_a_file_may_hold() -> None:
    """Forty decimals and a thousand millions are the most."""
    fits = {"1000": True, "-1000": True, "1000.1": False, "1e-40": True, "1e-41": False, "NaN": False, "inf": False}
    assert {text: reckonable(Decimal(text), Decimal(1000)) for text in fits} == fits
    parse_tariff(HEAD + ALL.replace("30", "1000000000"))
    with pytest.raises(TariffError, match="write a finite number of ordinary size"):
        parse_tariff(HEAD + ALL.replace("30", "1000000001"))


@pytest.mark.parametrize(("slips", "said"), [(100, ""), (101, ", the first 100 of them")])
def test_a_hundred_slips_are_enough(slips: int, said: str) -> None:
    """All are counted, a hundred are told."""
    with pytest.raises(TariffError) as caught:
        parse_tariff(HEAD + ALL + "".join(f"k{number} = 1\n" for number in range(slips)), source="t.toml")
    first, *problems = str(caught.value).splitlines()
    assert first == f"t.toml: {slips} problems in this tariff{said}"
    assert len(problems) == 100
