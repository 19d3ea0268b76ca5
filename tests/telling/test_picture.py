"""The day as a picture: bounded, by the local clock, every mark and shade named."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from rich.console import Console

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.faces.frames import frame
from energyplan.faces.strip import ASCII_MARKS, ASCII_SHADES, MARKS, SHADES, Strip
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan, Step
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.picture import first_second, picture_told

ZONED = """
[tariff]
name = "Hours"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "{zone}"
prices_include_tax = true
"""
BAND = """
[[tariff.band]]
name = "band {0}"
price = {1}
from = "{2}"
to = "{3}"
"""


def stepped(prices: int, zone: str = "Europe/Dublin") -> str:
    """A tariff of so many prices between 06:00 and 12:00, another one for the rest of the day."""
    step = 360 // prices
    clock = [f"{(360 + place * step) // 60:02d}:{(360 + place * step) % 60:02d}" for place in range(prices + 1)]
    bands = [BAND.format(place, 10 + place, clock[place], clock[place + 1]) for place in range(prices)]
    rest = '[[tariff.band]]\nname = "rest"\nprice = 9\notherwise = true\n'
    return ZONED.format(zone=zone) + "".join(bands) + rest


def answered(start: str, plan: Plan | None = None, tariff: str | None = None) -> Answer:
    """The demo day, or another, from a local start under the two rates, or under other prices."""
    charged = load_tariff("demo") if tariff is None else parse_tariff(tariff)
    return answer(plan or read_plan("demo"), charged, local_to_utc(start, charged.time_zone))


def placed(zone: str) -> Plan:
    """The demo day in a place with another clock."""
    plan = read_plan("demo")
    return plan.model_copy(update={"site": plan.site.model_copy(update={"time_zone": zone})})


@pytest.fixture(scope="module")
def day() -> Answer:
    """The demo day, from night into day rate."""
    return answered("2026-12-05T05:30")


def drawn(found: Answer, encoding: str = "utf-8", style: Style | None = None) -> list[str]:
    """The strip as a terminal of 80 columns shows it."""
    console = Console(file=StringIO(), width=80, color_system=None)
    options = console.options
    options.encoding = encoding
    lines = console.render_lines(Strip(picture_told(found), style or Style()), options, pad=False)
    return ["".join(segment.text for segment in line) for line in lines]


def test_power_spans_carry_the_energy_of_the_vessel(day):
    """Spans follow one another without a gap, and power times time is the vessel's energy."""
    found = frame(picture_told(day).table("vessel"))
    assert (found["start_s"][1:].to_numpy() == found["end_s"][:-1].to_numpy()).all()
    energy_kwh = (found["power_kw"] * (found["end_s"] - found["start_s"])).sum() / 3600
    assert energy_kwh == pytest.approx(day.day.profiles[0].energy_kwh, rel=1e-9)


def test_what_runs_beside_the_vessel_has_its_mean_power(day):
    """Powers times hours are the energy of the second heater."""
    found = frame(picture_told(day).table("appliances"))
    hours = (found["end_s"] - found["start_s"]) / 3600
    beside_kwh = sum(profile.energy_kwh for profile in day.day.profiles[1:])
    assert (found["power_kw"] * hours).sum() == pytest.approx(beside_kwh, rel=1e-6)


def test_prices_cover_the_day_and_rank_from_the_cheapest(day):
    """Night and day rate of the demo: 14.2 and 31.5 ct with 9 % tax, the border at 08:00."""
    found = frame(picture_told(day).table("prices"))
    assert found["price"].tolist() == [0.15478, 0.34335]
    assert found["level"].tolist() == [0, 1]
    assert found["end_s"].iloc[0] == 2.5 * 3600
    assert (found["start_s"].iloc[0], found["end_s"].iloc[-1]) == (first_second(day), day.day.duration_s)


def test_of_too_many_prices_the_shortest_are_left_out():
    """Ninety prices of two minutes each until noon, then one for hours: that one stays; all are in order."""
    rows = frame(picture_told(answered("2026-12-05T09:00", tariff=stepped(180))).table("prices"))
    assert len(rows) == 60
    assert rows["start_s"].is_monotonic_increasing
    assert rows["band"].iloc[-1] == "rest"


@pytest.mark.parametrize(
    ("start", "zone", "shown"),
    [
        # Summer time begins in Ireland on 2026-03-29 at 01:00 UTC, which is 01:00 on the clock; it goes to 02:00.
        ("2026-03-28T23:30", "Europe/Dublin", ["00:00", "02:00", "03:00", "04:00", "05:00"]),
        # It ends on 2026-10-25 at 01:00 UTC, which is 02:00 on the clock; it goes back to 01:00.
        ("2026-10-25T00:30", "Europe/Dublin", ["01:00", "01:00", "02:00", "03:00", "04:00"]),
        ("2026-05-01T08:30", "Asia/Kathmandu", ["09:00", "10:00", "11:00", "12:00", "13:00"]),
    ],
)
def test_hours_are_whole_on_the_local_clock(start, zone, shown):
    """Ticks stand at whole local hours, through clock changes and in zones off by 45 minutes."""
    found = answered(start, placed(zone), stepped(1, zone))
    rows = list(picture_told(found).table("hours"))
    assert [row["clock"].raw for row in rows] == shown
    assert all(found.clock(row["time_s"]).minute == 0 for row in rows)


def test_marks_are_in_order_with_amounts(day):
    """What to do comes by the clock."""
    found = frame(picture_told(day).table("marks"), spoken=True)
    assert found["time_s"].is_monotonic_increasing
    assert "Add the grain: 5.80 kg" in found["event"].tolist()


def test_very_long_days_give_bounded_tables_that_keep_their_extremes():
    """Three hundred steps are drawn with a bounded number of points, and the highest temperature is among them."""
    held = tuple(
        Step(name=f"Step {number}", target_c=20.0 + number / 4, hold_s=120.0, pause_s=60.0) for number in range(300)
    )
    plan = read_plan("demo").model_copy(update={"steps": held, "second_heater": None})
    found = answered("2026-12-05T05:30", plan=plan)
    told = picture_told(found)
    curve = frame(told.table("temperature"))
    assert len(curve) <= 242
    assert curve["temperature_c"].max() == found.day.trajectory.temperatures_c.max()
    assert curve["temperature_c"].min() == found.day.trajectory.temperatures_c.min()
    assert len(told.table("vessel").rows) <= 120


@pytest.mark.parametrize("prices", [1, 2, 3, 6, 8, 24])
def test_every_shade_of_the_strip_is_named(prices):
    """As many shades as prices up to eight, then eight ranges; each that is drawn stands in the legend once."""
    start = datetime(2026, 12, 5, 6, 0, tzinfo=UTC)
    found = answered(f"{start:%Y-%m-%dT%H:%M}", tariff=stepped(prices))
    phases, shades, _, *legend = drawn(found)
    named = " ".join(legend)
    seen = sorted({mark for mark in shades if mark != " "})
    within = [place for place in range(prices) if 360 // prices * place < found.day.duration_s / 60 - 5]
    assert len(seen) >= min(len(within), 8)
    assert all(named.count(f"{shade} ") == 1 for shade in seen)
    assert all(named.count(f"{mark} ") == 1 for mark in set(phases))
    assert "EUR/kWh" in named


def test_a_terminal_without_the_marks_gets_others(day):
    """In ASCII the strip has only ASCII, and says as much."""
    lines = drawn(day, encoding="ascii")
    assert all(line.isascii() for line in lines)
    plain = drawn(day)
    assert [ASCII_MARKS[MARKS.index(mark)] for mark in plain[0]] == list(lines[0])
    table = dict(zip(SHADES, ASCII_SHADES, strict=True))
    assert [table[shade] for shade in plain[1]] == list(lines[1])


def test_the_strip_has_no_price_line_without_prices():
    """Three lines: phases, hours, what the marks mean."""
    assert len(drawn(answer(read_plan("demo"), None, datetime(2026, 12, 5, 8, tzinfo=UTC)))) == 3
