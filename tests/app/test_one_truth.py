"""One number per quantity: what several pages say of a day is the same on all of them."""

import re
from collections.abc import Callable
from typing import Any

import pytest

Open = Callable[..., Any]
PLANS = ({}, {"plan": "lakeside", "tariff": "two_rate"}, {"batch.water": "24 L"}, {"units": "us"}, {"at": "13:15"})


@pytest.mark.parametrize("query", PLANS, ids=str)
def test_energy_cost_end_and_current_are_the_same_everywhere(visit: Open, query: dict[str, str]) -> None:
    """First sentence, tiles and table of the day; the cost of this start on When; the current on Circuit."""
    there = visit(**query)
    words, headline = there.words, there.headline
    energy, cost, currency = re.search(r"([\d.]+) kWh and ([\d.]+) ([A-Z]{3})", headline).groups()
    end = re.search(r"done at (\d\d:\d\d|\w+ \d+ \w+ \d\d:\d\d) if", headline)[1]
    for tile in (f"Energy **{energy} kWh**", f"Cost **{cost} {currency}**", f"Done at **{end}**"):
        assert tile in words
    total = there.at.dataframe[0].value.iloc[-1]
    assert f"{float(total['energy_kwh']):.2f}" == energy
    assert f"{float(total['cost']):.2f}" == cost
    current = re.search(r"Current \*\*([\d.]+ A)", words)[1]
    assert current in there.go("circuit").headline
    assert f"costs {cost} {currency}" in (said := there.go("when").words) or f"{cost} {currency}" in there.headline, (
        said
    )
