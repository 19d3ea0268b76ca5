"""Tests of the tables: they add up, they are bounded, and their clock is the local one."""

from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.advice.holds import sag_curve
from energyplan.base.units import Display
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan, Step
from energyplan.report import tables
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

METRIC, US = Display("metric"), Display("us")
ZONED = """
[tariff]
name = "Flat"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "{zone}"
prices_include_tax = true

[[tariff.band]]
name = "all day"
price = 30
otherwise = true
"""


def answered(start: str, plan: Plan | None = None, zone: str | None = None) -> Answer:
    """The demo day, or another, from a local start under the two rates, or under one rate in a zone."""
    tariff = load_tariff("demo") if zone is None else parse_tariff(ZONED.format(zone=zone))
    return answer(plan or read_plan("demo"), tariff, local_to_utc(start, tariff.time_zone))


def long_plan(steps: int) -> Plan:
    """A day of very many short steps, up and down."""
    held = tuple(
        Step(name=f"Step {number}", target_c=50.0 + number % 10 * 4, hold_s=120.0, pause_s=60.0)
        for number in range(steps)
    )
    plan = read_plan("demo")
    return plan.model_copy(update={"steps": held, "second_heater": None})


@pytest.fixture(scope="module")
def day() -> Answer:
    """The demo day, from night into day rate."""
    return answered("2026-12-05T05:30")


def test_headings_carry_the_unit_of_the_column() -> None:
    """The end of a column's name becomes its unit."""
    assert tables.heading("lowest_c") == "Lowest, °C"
    assert tables.heading("mean_power_w") == "Mean power, W"
    assert tables.heading("cost_usd") == "Cost, USD"


def test_phases_add_up_to_the_day(day: Answer) -> None:
    """Energies add up to rounding errors, shown costs to the cent."""
    frame = tables.phase_table(day, METRIC)
    rows, whole = frame.iloc[:-1], frame.iloc[-1]
    assert rows["energy_kwh"].sum() == pytest.approx(whole["energy_kwh"], rel=1e-12)
    assert round(rows["cost_eur"].sum(), 2) == whole["cost_eur"]
    assert rows["duration_min"].sum() == pytest.approx(whole["duration_min"], rel=1e-12)


def test_temperatures_in_fahrenheit(day: Answer) -> None:
    """Each temperature is 1.8 times the Celsius plus 32 (definition of the scales)."""
    celsius, fahrenheit = tables.phase_table(day, METRIC), tables.phase_table(day, US)
    for name in ("from", "to", "lowest"):
        expected = celsius[f"{name}_c"] * 1.8 + 32
        assert fahrenheit[f"{name}_f"].dropna().to_numpy() == pytest.approx(expected.dropna().to_numpy())


def test_power_spans_carry_the_energy_of_the_vessel(day: Answer) -> None:
    """Spans follow one another without a gap, and power times time is the vessel's energy."""
    frame = tables.vessel_table(day)
    assert (frame["start_s"][1:].to_numpy() == frame["end_s"][:-1].to_numpy()).all()
    energy_kwh = (frame["power_kw"] * (frame["end_s"] - frame["start_s"])).sum() / 3600
    assert energy_kwh == pytest.approx(day.day.profiles[0].energy_kwh, rel=1e-9)


def test_prices_cover_the_day_and_rank_from_the_cheapest(day: Answer) -> None:
    """Night and day rate of the demo: 14.2 and 31.5 ct with 9 % tax, the border at 08:00."""
    frame = tables.price_table(day)
    assert frame["price_per_kwh"].tolist() == [0.15478, 0.34335]
    assert frame["rank"].tolist() == [0, 1]
    assert frame["end_s"].iloc[0] == 2.5 * 3600
    assert (frame["start_s"].iloc[0], frame["end_s"].iloc[-1]) == (tables.first_second(day), day.day.duration_s)


def test_without_a_tariff_there_are_no_prices() -> None:
    """The table is empty and keeps its columns; the phases have no cost."""
    plain = answer(read_plan("demo"), None, datetime(2026, 12, 5, 8, tzinfo=UTC))
    assert tables.price_table(plain).empty
    assert not [name for name in tables.phase_table(plain, METRIC) if name.startswith("cost")]


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
def test_hours_are_whole_on_the_local_clock(start: str, zone: str, shown: list[str]) -> None:
    """Ticks stand at whole local hours, through clock changes and in zones off by 45 minutes."""
    found = answered(start, zone=zone)
    frame = tables.hour_table(found)
    assert frame["clock"].tolist() == shown
    assert all(found.clock(time_s).minute == 0 for time_s in frame["time_s"])


def test_events_are_in_order_and_end_with_done(day: Answer) -> None:
    """What to do comes by the clock."""
    frame = tables.event_table(day, METRIC)
    assert frame["time_s"].is_monotonic_increasing
    assert frame["event"].iloc[-1] == "Done"
    assert "Add the grain: 5.80 kg" in frame["event"].tolist()


def test_very_long_days_give_bounded_tables_that_keep_their_extremes() -> None:
    """Three hundred steps are drawn with a bounded number of points, and the highest temperature is among them."""
    found = answered("2026-12-05T05:30", plan=long_plan(300))
    curve = tables.temperature_table(found, METRIC)
    assert len(curve) <= 242
    assert curve["temperature_c"].max() == found.day.trajectory.temperatures_c.max()
    assert curve["temperature_c"].min() == found.day.trajectory.temperatures_c.min()
    assert len(tables.vessel_table(found)) <= 120
    assert found.circuit is not None
    spans = tables.current_table(found.circuit, found.clock)
    assert len(spans) <= 240
    assert spans["to_a"].max() == pytest.approx(found.circuit.on_a.max())


def test_stacked_currents_reach_the_sum_of_all(day: Answer) -> None:
    """At the middle of every step the top of the stack is the whole current, to what a reader can't tell apart."""
    check = day.circuit
    assert check is not None
    spans = tables.current_table(check, day.clock)
    for left_s, right_s, total_a in zip(check.edges_s[:-1], check.edges_s[1:], check.on_a, strict=True):
        middle_s = (left_s + right_s) / 2
        there = spans[(spans["start_s"] <= middle_s) & (middle_s < spans["end_s"])]
        assert (there["to_a"].max() if len(there) else 0.0) == pytest.approx(total_a, abs=0.1)


def small_breaker() -> Answer:
    """The demo day on a breaker of 10 A."""
    plan = read_plan("demo")
    assert plan.circuit is not None
    small = plan.circuit.model_copy(update={"breaker_a": 10.0})
    return answered("2026-12-05T08:30", plan=plan.model_copy(update={"circuit": small}))


def test_what_is_over_is_where_the_current_passes_the_breaker() -> None:
    """The stretches over are those whose sum of currents is above 10 A."""
    found = small_breaker()
    check = found.circuit
    assert check is not None
    frame = tables.excess_table(check, found.clock)
    over_s = float((np.diff(check.edges_s) * (check.on_a > 10.0)).sum())
    assert (frame["end_s"] - frame["start_s"]).sum() == pytest.approx(over_s)
    assert set(frame["limit_a"]) == {10.0}


def test_findings_come_worst_first() -> None:
    """What is over stands above notes, and those above what is fine."""
    check = small_breaker().circuit
    assert check is not None
    order = [("over", "note", "ok").index(severity) for severity in tables.finding_table(check.findings)["severity"]]
    assert order == sorted(order)
    assert order[0] == 0


def test_equal_ratings_share_a_row(day: Answer) -> None:
    """Ratings come lowest first, and no limit twice."""
    assert day.circuit is not None
    frame = tables.rating_table(day.circuit)
    assert frame["limit_a"].is_monotonic_increasing
    assert frame["limit_a"].is_unique


def test_the_sag_table_is_the_curve(day: Answer) -> None:
    """Caps and temperatures are those of the curve, in the display's unit."""
    curve = sag_curve(day.day, "Strike")
    frame = tables.sag_table(curve, US)
    assert frame["lowest_f"].to_numpy() == pytest.approx(curve.lowest_c * 1.8 + 32)


def test_power_advice_as_a_table(day: Answer) -> None:
    """One row for each hold and boil, with set and advised power."""
    frame = tables.power_table(day.power, METRIC)
    assert frame["advised_w"].tolist() == [row.advised_w for row in day.power.rows]


def test_voltages_as_a_table(day: Answer) -> None:
    """High mains draw most, low mains least."""
    assert day.circuit is not None
    frame = tables.voltage_table(day.circuit).set_index("case")
    assert frame.loc["high", "vessel_a"] > frame.loc["nominal", "vessel_a"] > frame.loc["low", "vessel_a"]
