"""Prices guessed beyond a list: the error that is told is the true one, and no face shows a guess without saying so."""

import io
import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from pyarrow.ipc import open_stream
from pypdf import PdfReader
from rich.console import Console
from streamlit.testing.v1 import AppTest

from energyplan import app
from energyplan.advice.answer import answer
from energyplan.advice.starts import StartsQuestion, starts_answer
from energyplan.app.answers import TariffText
from energyplan.app.storage import Kept, Storage
from energyplan.base.errors import TariffError
from energyplan.base.money import Money
from energyplan.day.brewday import simulate
from energyplan.faces.files import file_bytes
from energyplan.faces.frames import document, frame
from energyplan.faces.strip import hour_picture
from energyplan.faces.terminal import screen, terminal
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.priceline import with_estimate
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.files import file_told
from energyplan.telling.picture import picture_told
from energyplan.telling.report import PARTS, report_told, screen_told
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


def rows_of(prices: np.ndarray) -> str:
    """The list by the hour as a CSV."""
    rows = "\n".join(f"{BEGIN + timedelta(hours=k):%Y-%m-%dT%H:%M},{price}" for k, price in enumerate(prices))
    return f"start,price\n{rows}\n"


def listed(prices: np.ndarray):
    """A tariff with these prices by the hour."""
    return parse_tariff(HEAD, series_texts={"p.csv": rows_of(prices)})


LIST = rows_of(price_year(1)[: 24 * 60])


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


def printed(shown: object) -> str:
    """What the terminal prints."""
    console = Console(file=io.StringIO(), width=200)
    console.print(shown)
    return console.file.getvalue()


def pdf_text(content: bytes) -> str:
    """Words of a PDF."""
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


PAGES = ("", "when", "circuit", "power", "your-brewery", "keep")


def app_words(page: str, _found: object) -> str:
    """Everything that a page of the app writes, charts and tables included, with the list on the desk."""
    at = AppTest.from_file(str(Path(app.__file__)), default_timeout=120)
    at.session_state["storage"] = Storage(found=Kept(texts={}))
    at.query_params["day"], at.query_params["at"] = f"{BEGIN + timedelta(days=67):%Y-%m-%d}", "09:00"
    at.run()
    at.session_state["work"].use_tariff(TariffText(name="list.toml", text=HEAD, series=(("p.csv", LIST),)))
    if page:
        at._page_hash = {info.get("url_pathname"): key for key, info in at._registered_pages.items()}[page]
    at.run()
    assert not at.exception, at.exception[0].message
    parts = [*at.title, *at.header, *at.subheader, *at.text, *at.markdown, *at.caption]
    charts = [
        f"{chart.proto.spec}\n{chart.proto.alt}\n{open_stream(one.data.data).read_pandas().to_csv(index=False)}"
        for chart in at.get("vega_lite_chart")
        for one in chart.proto.datasets
    ]
    tables = [one.value.to_csv(index=False) for one in at.dataframe]
    return "\n".join([*(str(one.value) for one in parts), *charts, *tables]).replace("\\", "")


def file_of(found, ending: str) -> bytes:
    """A day as a file."""
    return file_bytes(file_told(found, ending), ending)


FACES = {
    "screen": lambda found: printed(screen(screen_told(found))),
    "report": lambda found: printed(terminal(report_told(found), detail=2)),
    "parts": lambda found: "\n".join(printed(terminal(told(found), detail=2)) for told in PARTS.values()),
    "pdf": lambda found: pdf_text(file_of(found, ".pdf")),
    "calendar": lambda found: file_of(found, ".ics").decode(),
    "picture": lambda found: re.sub("<[^>]*>", "\n", file_of(found, ".svg").decode()),
    "hover": lambda found: "\n".join(
        str(row["price"]) for row in frame(picture_told(found).table("temperature"), spoken=True).to_dict("records")
    ),
    **{f"page {page}": partial(app_words, page) for page in PAGES},
}
MONEY = re.compile(r"[-\d.,]+ EUR\b")


@pytest.mark.parametrize("face", FACES)
def test_no_face_shows_a_guess_without_saying_so(beyond, face: str) -> None:
    """Every amount and every price that a face writes begins with the mark, or is the other end of one that does."""
    shown = FACES[face](beyond).replace("\\n", "\n")
    # What an estimate is off by is no guess, nor is the other end of a range (in brackets, or after "to").
    told = re.sub(r"off by [\d.]+ EUR/kWh", "", shown)
    bare = [told[max(found.start() - 40, 0) : found.end()] for found in MONEY.finditer(told)]
    bare = [words for words in bare if not re.search(r"est\. [-\d.]+ EUR$|est\. [-\d.]+ to [-\d.]+ EUR$", words)]
    assert not bare
    if face in ("screen", "report", "pdf", "picture", "hover", "page "):
        assert "est. " in shown
    if face in ("screen", "report", "page "):
        assert "off by" in shown


def test_no_amount_of_a_telling_is_without_its_mark(beyond) -> None:
    """Each amount of money in the tables of the report; the CSV's heading; the totals of the JSON."""
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
    walk([one.tables for one in (told, *told.parts, *file_told(beyond, ".pdf").parts)])
    assert amounts
    assert all(amount.is_estimate for amount in amounts)
    header = file_of(beyond, ".csv").decode().splitlines()[0]
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
