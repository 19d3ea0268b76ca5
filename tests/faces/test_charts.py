"""Tests of the charts: sound Vega-Lite, bounded, described, and legible for everybody."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import pytest
import vl_convert

from energyplan.advice.answer import Answer, answer
from energyplan.advice.holds import sag_curve as sag_of
from energyplan.advice.starts import StartsQuestion, starts_answer
from energyplan.app import OPTIONS
from energyplan.app.main import STYLE
from energyplan.base.units import Display
from energyplan.faces import charts
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook, chart_look
from energyplan.faces.daychart import presence_chart
from energyplan.faces.frames import frame
from energyplan.faces.weekchart import cost_by_start
from energyplan.plan.file import read_plan
from energyplan.plan.model import Hours
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.currents import currents_told
from energyplan.telling.picture import picture_told, presence_told
from energyplan.telling.ramps import sag_told
from energyplan.telling.starts import starts_told

METRIC = Display("metric")
WORDS = "What this chart shows."
LOOKS = pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])


@pytest.fixture(scope="module")
def day() -> Answer:
    """The demo day, from night into day rate, on a breaker that it passes."""
    tariff, plan = load_tariff("demo"), read_plan("demo")
    assert plan.circuit is not None
    small = plan.circuit.model_copy(update={"breaker_a": 10.0})
    start = local_to_utc("2026-12-05T05:30", tariff.time_zone)
    return answer(plan.model_copy(update={"circuit": small}), tariff, start)


def day_chart(found: Answer, look: ChartLook) -> Any:
    """The day."""
    return charts.day_chart(picture_told(found), look, description=WORDS)


def current_chart(found: Answer, look: ChartLook) -> Any:
    """The circuit."""
    assert found.circuit is not None
    return charts.current_chart(currents_told(found, found.circuit), look, description=WORDS)


def cost_chart(found: Answer, look: ChartLook) -> Any:
    """Three weeks of starts, the most that the app shows."""
    question = StartsQuestion(first=date(2026, 10, 20), last=date(2026, 11, 9), now=datetime(2026, 10, 21, tzinfo=UTC))
    told = starts_told(starts_answer(found.day, load_tariff("demo"), question))
    return cost_by_start(told, look, description=WORDS)


def sag_chart(found: Answer, look: ChartLook) -> Any:
    """The sag of the mash against its cap."""
    curve = sag_of(found.day, "Saccharification")
    marks = charts.sag_marks(curve.target_c, curve.band_k, METRIC, (("set", 400.0), ("advised", 500.0)))
    return charts.sag_curve(frame(sag_told(curve, every=1).table("caps")), marks, look, description=WORDS)


def bar_chart(_found: Answer, look: ChartLook) -> Any:
    """Ranked bars, one of them below zero."""
    frame = pd.DataFrame({"name": ["a lid", "a jacket"], "saved_kwh": [0.4, -0.1], "text": ["0.40 kWh", "-0.10 kWh"]})
    return charts.ranked_bars(frame, look, label="name", value="saved_kwh", title="Saved, kWh", description=WORDS)


DRAWN = pytest.mark.parametrize("draw", [day_chart, current_chart, cost_chart, sag_chart, bar_chart])


@LOOKS
@DRAWN
def test_charts_follow_the_schema_of_vega_lite(day: Answer, draw: Callable[..., Any], look: ChartLook) -> None:
    """Altair checks the whole document against the published schema."""
    document = draw(day, look)
    alt.LayerChart.from_dict(document, validate=True)
    assert document["$schema"].startswith("https://vega.github.io/schema/vega-lite/")


@DRAWN
def test_charts_have_at_most_600_rows_and_words(day: Answer, draw: Callable[..., Any]) -> None:
    """They stay quick, and those who don't see them hear what they show."""
    document = draw(day, LIGHT)
    assert sum(len(rows) for rows in document["datasets"].values()) <= 600
    assert document["description"] == WORDS


@DRAWN
def test_every_drawn_axis_has_a_title_with_its_unit(day: Answer, draw: Callable[..., Any]) -> None:
    """No number stands without its unit: W, kW, A, °C, kWh, a currency, the hour or the clock."""
    units = ("kW", "°C", " A", " W", "kWh", "EUR", "Clock, ", "Start, ")
    titles = [
        title
        for layer in draw(day, LIGHT)["layer"]
        for channel in ("x", "y")
        if (title := _title(layer.get("encoding", {}).get(channel, {}))) is not None
    ]
    assert titles
    assert all(any(title.endswith(unit) or title.startswith(unit) for unit in units) for title in titles)


def _title(channel: dict[str, Any]) -> str | None:
    axis = channel.get("axis") or {}
    title = axis.get("title", channel.get("title"))
    return None if title is None else str(title)


def test_the_clock_of_a_chart_names_whole_hours_and_the_zone(day: Answer) -> None:
    """06:00 to 10:00 in Dublin for a day from 05:30."""
    document = day_chart(day, LIGHT)
    axes = [axis for layer in document["layer"] if (axis := layer["encoding"].get("x", {}).get("axis"))]
    hours = document["datasets"]["hours"]
    assert [hour["time_s"] for hour in hours] == [1800.0, 5400.0, 9000.0, 12600.0, 16200.0]
    assert [hour["clock"] for hour in hours] == ["06:00", "07:00", "08:00", "09:00", "10:00"]
    assert axes[0]["title"] == "Clock, Europe/Dublin"
    drawn = vl_convert.vegalite_to_svg({**document, "width": 800})
    assert all(f">{hour['clock']}<" in drawn for hour in hours)


@DRAWN
def test_the_rows_of_a_data_set_have_the_same_columns(day: Answer, draw: Callable[..., Any]) -> None:
    """What hands them to the browser reads the names of the columns in the first row."""
    for rows in draw(day, LIGHT)["datasets"].values():
        assert {tuple(row) for row in rows} <= {tuple(row) for row in rows[:1]}


@pytest.mark.parametrize("name", ["demo", "lakeside"])
def test_another_day_is_the_same_chart_with_other_data(name: str) -> None:
    """Times, powers, temperatures and amperes stand in the data; a chart is made anew only for another kind of day."""
    tariff, charts_of = load_tariff("demo"), list[Any]()
    plan = read_plan(name)
    for litres in (plan.batch.water_l, plan.batch.water_l - 3.3):
        other = plan.model_copy(update={"batch": plan.batch.model_copy(update={"water_l": litres})})
        found = answer(other, tariff, local_to_utc("2026-12-05T08:30", tariff.time_zone))
        present = presence_chart(presence_told(found), LIGHT)
        charts_of.append((day_chart(found, LIGHT), current_chart(found, LIGHT), present))
    for one, other in zip(*charts_of, strict=True):
        assert one["datasets"] != other["datasets"]
        assert _without_data(one) == _without_data(other)


def _without_data(document: dict[str, Any]) -> dict[str, Any]:
    return {name: part for name, part in document.items() if name not in ("datasets", "description")}


def test_phases_keep_their_colours(day: Answer) -> None:
    """The colours of the phases are those of the terminal and of the sheets."""
    from energyplan.faces.charttheme import PHASE_COLOURS

    scales = [
        layer["encoding"]["color"]["scale"]
        for layer in day_chart(day, LIGHT)["layer"]
        if layer["encoding"].get("color", {}).get("field") == "phase"
    ]
    for scale in scales:
        assert dict(zip(scale["domain"], scale["range"], strict=True)).items() <= PHASE_COLOURS.items()


def test_what_is_over_carries_a_sign_and_a_word(day: Answer) -> None:
    """Over is never told by colour alone."""
    texts = [
        layer["encoding"]["text"]["value"]
        for layer in current_chart(day, LIGHT)["layer"]
        if "value" in layer["encoding"].get("text", {})
    ]
    assert set(texts) == {"▲ over"}


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(first: str, second: str) -> float:
    """Contrast ratio (WCAG 2.2, definition)."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@LOOKS
def test_text_reads_on_every_price_shade(look: ChartLook) -> None:
    """At least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3)."""
    assert min(contrast(look.ink, shade) for shade in (*look.prices, look.paper)) >= 4.5
    assert min(contrast(look.faint, look.paper), contrast(look.over, look.paper)) >= 4.5


@LOOKS
def test_phases_stand_out_from_the_paper(look: ChartLook) -> None:
    """At least 3 to 1 for what has to be seen (WCAG 2.2, success criterion 1.4.11); a pause is named beside it."""
    assert min(contrast(look.phases[name], look.paper) for name in ("ramp", "hold", "boil")) >= 3


@LOOKS
def test_cheap_and_dear_differ_in_lightness(look: ChartLook) -> None:
    """From cheap to dear the shade goes one way, so that it reads without any hue."""
    for shades in (look.prices, look.costs):
        steps = [luminance(after) - luminance(before) for before, after in pairwise(shades)]
        assert all(step < 0 for step in steps) or all(step > 0 for step in steps)


# Machado, Oliveira, Fernandes (2009), A physiologically-based model for simulation of color vision deficiency,
# IEEE TVCG 15(6), 1291-1298: matrices for severity 1.0, from memory.
DEFICIENCIES = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


def seen(colour: str, deficiency: str) -> Any:
    """A colour as seen with a deficiency, in linear light."""
    channels = np.array([int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return np.clip(np.array(DEFICIENCIES[deficiency]) @ linear, 0, 1)


def lightness(linear: Any) -> float:
    """CIE lightness L* (CIE 15:2004)."""
    y = float(np.dot([0.2126, 0.7152, 0.0722], linear))
    return 116 * y ** (1 / 3) - 16 if y > 216 / 24389 else y * 24389 / 27


@LOOKS
@pytest.mark.parametrize("deficiency", list(DEFICIENCIES))
def test_neighbouring_appliances_differ_in_lightness(look: ChartLook, deficiency: str) -> None:
    """Appliances stacked on one another are at least 10 L* apart for eyes that see no red or no green."""
    for below, above in pairwise(look.appliances):
        apart = abs(lightness(seen(below, deficiency)) - lightness(seen(above, deficiency)))
        assert apart >= 10, (below, above, apart)


def test_the_look_follows_the_theme() -> None:
    """Dark charts are drawn in the dark set."""
    assert chart_look(dark=True) is DARK
    assert chart_look(dark=False) is LIGHT


WEEKLY = """
[tariff]
name = "Weekend cheaper"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Dublin"
[[tariff.band]]
name = "weekend"
price = 20
days = "sat-sun"
[[tariff.band]]
name = "dear"
price = 40
days = "mon-fri"
from = "07:00"
to = "22:00"
[[tariff.band]]
name = "night"
price = 10
otherwise = true
"""


def test_starts_have_a_row_of_prices_and_costs_for_each_kind_of_day(day: Answer) -> None:
    """A week from Saturday on, not before six: a row each for what differs, prices as they are, no line before six."""
    question = StartsQuestion(
        first=date(2026, 12, 5), last=date(2026, 12, 11), now=datetime(2026, 12, 5, 9, tzinfo=UTC),
        hours=Hours(earliest_min=360),
    )  # fmt: skip
    told = starts_told(starts_answer(day.day, parse_tariff(WEEKLY), question))
    data = cost_by_start(told, LIGHT, description=WORDS)["datasets"]
    # Sunday's late starts run into Monday, Friday's into Saturday.
    assert [row["days"] for row in data["kinds"]] == ["Sat 5 Dec", "Sun 6 Dec", "Mon to Thu", "Fri 11 Dec"]
    spans = [(row["minute"], row["to_min"], row["price"]) for row in data["prices"] if row["days"] == "Mon to Thu"]
    assert spans == [(0, 420, 0.1), (420, 1320, 0.4), (1320, 1440, 0.1)]
    assert min(row["minute"] for row in data["costs"]) == 360
    assert all(0 <= row["y"] - row["kind"] <= 1 for row in data["costs"])
    best, now, dearest = (row["label"] for row in data["marks"])
    assert (best.split()[0], now.split()[0], dearest.split()[0]) == ("best", "now", "dearest")


def test_a_picture_has_at_most_seven_kinds_of_day_and_says_what_is_left_out(day: Answer) -> None:
    """Prices by the hour, each day another: seven rows, the best and the dearest among them."""
    hours = 24 * 16
    prices = np.random.default_rng(4).uniform(50, 300, hours)
    rows = "\n".join(
        f"{datetime(2026, 11, 30, tzinfo=UTC) + timedelta(hours=k):%Y-%m-%dT%H:%M},{prices[k]:.2f}"
        for k in range(hours)
    )
    head = (
        WEEKLY.split("[[tariff.band]]", maxsplit=1)[0]
        + '[tariff.prices]\nfile = "p.csv"\nunit = "EUR/MWh"\nstep_minutes = 60\n'
    )
    tariff = parse_tariff(head, series_texts={"p.csv": f"start,price\n{rows}\n"})
    question = StartsQuestion(first=date(2026, 12, 1), last=date(2026, 12, 12), now=datetime(2026, 12, 1, tzinfo=UTC))
    told = starts_told(starts_answer(day.day, tariff, question))
    data = cost_by_start(told, LIGHT, description=WORDS)["datasets"]
    assert len(data["kinds"]) == 7
    assert told.facts["more_days"].raw == 5
    assert {row["text"] for row in data["marks"]} == {"best", "now", "dearest"}
    assert sum(len(rows) for rows in data.values()) <= 600


def test_the_dot_of_what_is_assumed_stands_out() -> None:
    """On the page and in the fields of both themes."""
    found = re.search(r"--assumed: light-dark\((#\w+), (#\w+)\)", STYLE.read_text(encoding="utf-8"))
    assert found is not None
    for theme, dot in zip(("light", "dark"), found.groups(), strict=True):
        grounds = [OPTIONS[f"theme.{theme}.{name}"] for name in ("backgroundColor", "secondaryBackgroundColor")]
        assert min(contrast(dot, str(ground)) for ground in grounds) >= 4.5
