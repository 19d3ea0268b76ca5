"""Prices guessed beyond a list: the error that is told is the true one, and no face shows a guess without saying so."""

import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.advice.starts import StartsQuestion, starts_answer
from energyplan.base.errors import TariffError
from energyplan.base.money import Money
from energyplan.day.brewday import simulate
from energyplan.faces.frames import document, table_csv
from energyplan.faces.strip import hour_picture
from energyplan.faces.terminal import terminal
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.priceline import with_estimate
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.day import steps_table
from energyplan.telling.report import report_told, screen_told
from energyplan.telling.starts import starts_told

BEGIN = datetime(2025, 12, 31, 23, tzinfo=UTC)
HEAD = (
    '[tariff]\nname = "By the hour"\ncurrency = "EUR"\nprice_unit = "EUR/MWh"\ntime_zone = "Europe/Vienna"\n'
    'prices_include_tax = false\ntax_percent = 20\n[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
)


def price_year(seed: int, hours: int = 365 * 24) -> np.ndarray:
    """A year of invented prices [EUR/MWh]: week, day, season, and noise that lasts for hours."""
    rng = np.random.default_rng(seed)
    k = np.arange(hours)
    week = 20 * np.isin((k // 24 + 2) % 7, (5, 6))
    day = 25 * np.sin((k % 24 - 7) / 24 * 4 * np.pi) + 10 * np.sin((k % 24 - 14) / 12 * np.pi)
    season = seed % 3 * 10 * np.cos(k / hours * 2 * np.pi)
    noise = np.zeros(hours)
    for hour in range(1, hours):
        noise[hour] = 0.8 * noise[hour - 1] + rng.normal(0, 6 + 2 * seed)
    return np.round(90 - week + day + season + noise, 2)


def listed(prices: np.ndarray):
    """A tariff with these prices by the hour."""
    rows = "\n".join(f"{BEGIN + timedelta(hours=k):%Y-%m-%dT%H:%M},{price}" for k, price in enumerate(prices))
    return parse_tariff(HEAD, series_texts={"p.csv": f"start,price\n{rows}\n"})


@pytest.mark.parametrize("seed", range(4))
def test_the_error_told_is_the_true_one(seed: int) -> None:
    """Mean absolute error of guesses for the next week, made at 40 moments of the year, within 20 % of what is told."""
    prices = price_year(seed)
    told, missed, whole = [], [], listed(prices)
    series = whole.series["prices"]
    for day in range(80, 355, 7):
        cut = replace(series, start_s=series.start_s[: 24 * day], values=series.values[: 24 * day])
        tariff = replace(whole, series={"prices": cut})
        found = with_estimate(tariff, BEGIN + timedelta(days=day + 7))
        assert found is not None
        assert found.estimate is not None
        guessed = found.series["prices"].values[24 * day :] / 1e6
        missed.append(np.abs(guessed - prices[24 * day : 24 * (day + 7)]).mean())
        told.append(float(found.estimate.error_per_kwh) * 1000 / 1.2)
    assert told[-1] == pytest.approx(np.mean(missed), rel=0.2)


def test_the_guess_is_the_same_weekday_and_hour() -> None:
    """Prices that say weekday and local hour: the guess repeats them without an error, over a clock change too."""
    hours = range(24 * 80)
    wall = [to_local(BEGIN + timedelta(hours=k), "Europe/Vienna") for k in range(24 * 100)]
    found = with_estimate(
        listed(np.array([wall[k].weekday() * 24 + wall[k].hour for k in hours])), BEGIN + timedelta(days=100)
    )
    assert found is not None
    assert found.estimate is not None
    assert found.estimate.error_per_kwh == 0
    guessed = found.series["prices"].values[24 * 80 :] / 1e6
    assert guessed.tolist() == [wall[k].weekday() * 24 + wall[k].hour for k in range(24 * 80, 24 * 100)]


def test_no_guess_from_little_or_for_far_away() -> None:
    """Less than two weeks of list, more than 400 days ahead, a moment that the list has."""
    short, long = listed(price_year(0)[: 24 * 10]), listed(price_year(0)[: 24 * 60])
    assert with_estimate(short, BEGIN + timedelta(days=12)) is None
    assert with_estimate(long, BEGIN + timedelta(days=600)) is None
    assert with_estimate(long, BEGIN + timedelta(days=30)) is None


@pytest.fixture(scope="module")
def beyond():
    """The demo's day a week after the end of a list."""
    return answer(read_plan("demo"), listed(price_year(1)[: 24 * 60]), BEGIN + timedelta(days=67, hours=9))


def test_no_face_shows_a_guess_without_saying_so(beyond) -> None:
    """Every amount of money that the report's telling holds is marked; the terminal and JSON say so."""
    amounts: list[Money] = []

    def walk(value: object) -> None:
        if isinstance(value, Money):
            amounts.append(value)
        elif isinstance(value, dict):
            list(map(walk, value.values()))
        elif isinstance(value, tuple | list):
            list(map(walk, value))
        elif hasattr(value, "__dataclass_fields__"):
            list(map(walk, (getattr(value, name) for name in value.__dataclass_fields__)))

    told = report_told(beyond)
    walk([one.tables for one in (told, *told.parts)])
    assert amounts
    assert all(amount.is_estimate for amount in amounts)
    for one in (told, screen_told(beyond)):
        console = Console(file=io.StringIO(), width=200)
        console.print(terminal(one, detail=2))
        shown = console.file.getvalue()
        assert "est. " in shown
        assert "off by" in shown
    header = table_csv(steps_table(beyond)).decode().splitlines()[0]
    assert "cost_estimate_eur" in header.split(",")
    totals = json.loads(json.dumps(document(told), default=str))["totals"]
    assert totals["cost_is_estimate"] is True
    assert totals["estimate_off_per_kwh"] > 0


def test_starts_guess_only_when_asked() -> None:
    """Without being asked no start beyond the list; asked, each amount beyond it is marked and the others are not."""
    tariff, day = listed(price_year(1)[: 24 * 60]), simulate(read_plan("demo"))
    first = (BEGIN + timedelta(days=58)).date()
    question = {"first": first, "last": first + timedelta(days=6), "now": BEGIN + timedelta(days=58, hours=9)}
    plain = starts_answer(day, tariff, StartsQuestion(**question)).search
    assert all(option.start < BEGIN + timedelta(days=60) for option in plain.best_per_day)
    found = starts_answer(day, tariff, StartsQuestion(**question, estimate=True))
    ends = BEGIN + timedelta(days=60) - timedelta(seconds=day.duration_s)
    marks = {option.start > ends: option.cost.is_estimate for option in found.search.best_per_day}
    assert marks == {False: False, True: True}
    told = starts_told(found)
    assert any("An estimate" in str(one) for one in told.sentences)
    assert any("est. " in line.plain for line in hour_picture(told.facts["by_hour"]))


def test_too_short_a_list_refuses_and_says_what_it_covers() -> None:
    """Ten days of list, a start on the twelfth."""
    with pytest.raises(TariffError, match="the list covers 2026-01-01"):
        answer(read_plan("demo"), listed(price_year(0)[: 24 * 10]), BEGIN + timedelta(days=12))
