"""What pictures draw, row by row: power, temperatures, prices by level, hours, corners; and what the room gets."""

import itertools
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from energyplan.base.sentence import words
from energyplan.day.tasks import Event
from energyplan.faces.frames import document
from energyplan.tariffs.priceline import ESTIMATE
from energyplan.telling.picture import corners, first_second, hours_table, picture_told, room_told, strip_told
from tests.telling.shown import Begun, Given, headings, seen_rows, titles

START_S = Begun.start.timestamp()
PHASES = (
    Given(start_s=0.0, end_s=3600.0, duration_s=3600.0, step="Strike", phase="ramp", mean_w=2786.0),
    Given(start_s=3600.0, end_s=7200.0, duration_s=3600.0, step="Strike", phase="hold", mean_w=238.0),
)


class Line(Given):
    """A price line of seconds of UTC."""

    currency = "EUR"

    def index_at(self, second: int) -> int:
        """Where a second lies."""
        return int(np.searchsorted(self.edges_s, second, side="right")) - 1

    def name_at(self, second: int) -> str:
        """The band there."""
        return str(self.names[self.index_at(second)])


def line(*parts: tuple[float, float, str]) -> Line:
    """Stretches from so many seconds after the start on, at so many cents, the last for two hours."""
    edges_s = [START_S + begin for begin, _, _ in parts]
    return Line(edges_s=np.array([*edges_s, edges_s[-1] + 7200]), names=[name for _, _, name in parts],
                micro_per_kwh=np.array([round(cents * 10_000) for _, cents, _ in parts]))  # fmt: skip


def answered(prices: Line | None = None, **more: Any) -> Any:
    """A day of two hours, whose second heater is on from ten minutes before it."""
    trajectory = Given(
        times_s=np.array([0.0, 3600.0, 3601.0, 7200.0]), temperatures_c=np.array([12.0, 71.0, 71.0, 70.5])
    )
    heater = Given(name="Second heater", edges_s=np.array([-600.0, 600.0, 1800.0]), mean_w=np.array([1500.0, 500.0]))
    given = {
        "plan": Given(circuit=None), "phases": PHASES, "duration_s": 7200.0, "trajectory": trajectory,
        "energy_kwh": 3.0, "profiles": (Given(edges_s=np.array([0.0, 7200.0])), heater),
        "events": (Event(time_s=3600.0, step="Strike", kind="action", action="add grain", mass_kg=5.0),),
    }  # fmt: skip
    price = None if prices is None else Given(line=prices, total=Given(total=None), ends=None)
    return Begun(day=Given(**{**given, **more}), price=price)


def test_power_spans_have_their_clock() -> None:
    """The vessel's phases in kilowatts; what runs beside it, from before the start."""
    told = picture_told(answered())
    vessel, beside = told.table("vessel"), told.table("appliances")
    assert headings(vessel, 0) == ["From", "Until", "Step", "Phase", "Mean power, kW", "Clock", "Until"]
    assert seen_rows(vessel) == [
        ["0.00", "3600.00", "Strike", "ramp", "2.8", "08:30", "09:30"],
        ["3600.00", "7200.00", "Strike", "hold", "0.2", "09:30", "10:30"],
    ]
    assert seen_rows(beside) == [
        ["-600.00", "600.00", "Second heater", "1.5", "08:20", "08:40"],
        ["600.00", "1800.00", "Second heater", "0.5", "08:40", "09:00"],
    ]
    assert vessel.rows[0][4] == 2.786
    assert titles(told) == [
        "The day", "Power of the vessel", "Prices", "Prices", "Hours", "Beside the vessel", "Temperature", "What to do",
    ]  # fmt: skip
    assert first_second(answered()) == -600.0
    assert first_second(answered(profiles=(Given(edges_s=[60.0]),))) == 0.0
    facts = document(strip_told(answered()))
    assert (facts["first_s"], facts["last_s"], facts["time_zone"]) == (-600.0, 7200.0, "Europe/Dublin")


@pytest.mark.parametrize(("count", "kept"), [(120, 120), (121, 120), (130, 120)])
def test_of_too_many_phases_the_longest_are_drawn_in_their_order(count: int, kept: int) -> None:
    """The shortest are left out."""
    phases = tuple(
        Given(
            start_s=float(n),
            end_s=n + 1.0,
            duration_s=float((n * 7) % count + 1),
            step=f"S{n}",
            phase="hold",
            mean_w=1.0,
        )
        for n in range(count)
    )
    rows = strip_told(answered(phases=phases)).table("vessel").rows
    assert len(rows) == kept
    shortest = sorted(phases, key=lambda phase: phase.duration_s)[: count - kept]
    assert [row[2] for row in rows] == [phase.step for phase in phases if phase not in shortest]


def test_temperatures_stand_beside_step_power_and_price() -> None:
    """At the border of two phases the first counts; an estimate is marked."""
    prices = line((-1800, 15.0, "night"), (3600, 30.0, ESTIMATE))
    rows = picture_told(answered(prices)).table("temperature").rows
    assert [row[:4] for row in rows] == [
        (0.0, 12.0, "Strike", "ramp"), (3600.0, 71.0, "Strike", "ramp"), (3601.0, 71.0, "Strike", "hold"),
        (7200.0, 70.5, "Strike", "hold"),
    ]  # fmt: skip
    assert [row[4] for row in rows] == [2786.0, 2786.0, 238.0, 238.0]
    assert [(row[5].per_kwh, row[5].is_estimate) for row in rows] == [
        (0.15, False), (0.30, True), (0.30, True), (0.30, True),
    ]  # fmt: skip
    assert [words(row[6]) for row in rows] == ["08:30", "09:30", "09:30", "10:30"]
    assert [row[5] for row in picture_told(answered()).table("temperature").rows] == [None] * 4


def test_marks_are_what_people_do() -> None:
    """When, in which step, with its amount."""
    marks = picture_told(answered()).table("marks")
    assert seen_rows(marks) == [["3600.00", "09:30", "Strike", "action", "Add the grain: 5.00 kg"]]
    assert words(picture_told(answered()).headline) == (  # type: ignore[arg-type]
        "Temperature, power and price over the day. 3.00 kWh, done at 10:30 if you start at 08:30 on Sat 5 Dec 2026."
    )


def test_prices_are_cut_at_the_day_and_joined_where_they_are_the_same() -> None:
    """From the first appliance to the end; neighbours of one price and band are one; each has its level."""
    prices = line(
        (-7200, 99.0, "before"), (-3600, 15.0, "night"), (600, 15.0, "night"), (1800, 30.0, "day"),
        (3600, 30.0, "peak"), (5400, 15.0, "night"), (7200, 99.0, "after"),
    )  # fmt: skip
    told = strip_told(answered(prices))
    assert seen_rows(told.table("prices")) == [
        ["-600.00", "1800.00", "0.1500 EUR/kWh", "night", "0"], ["1800.00", "3600.00", "0.3000 EUR/kWh", "day", "1"],
        ["3600.00", "5400.00", "0.3000 EUR/kWh", "peak", "1"], ["5400.00", "7200.00", "0.1500 EUR/kWh", "night", "0"],
    ]  # fmt: skip
    assert seen_rows(told.table("levels")) == [["0", "0.1500 EUR/kWh"], ["1", "0.3000 EUR/kWh"]]
    assert not strip_told(answered()).table("prices").rows
    assert not strip_told(answered()).table("levels").rows


@pytest.mark.parametrize(
    ("count", "levels", "first", "last"),
    [(8, 8, "0.1000 EUR/kWh", "0.1700 EUR/kWh"), (16, 8, "0.1000 to 0.1100 EUR/kWh", "0.2400 to 0.2500 EUR/kWh"),
     (9, 8, "0.1000 to 0.1100 EUR/kWh", "0.1800 EUR/kWh")],
)  # fmt: skip
def test_more_prices_than_shades_share_them(count: int, levels: int, first: str, last: str) -> None:
    """As many levels as prices up to eight; then neighbours share one."""
    prices = line(*((n * 60.0 - 600, 10.0 + n, f"band {n}") for n in range(count)))
    rows = strip_told(answered(prices)).table("levels").rows
    assert len(rows) == levels
    assert (words(rows[0][1]), words(rows[-1][1])) == (first, last)


def test_guessed_prices_are_marked_on_the_level_too() -> None:
    """Those of an estimate."""
    prices = line((-600, 10.0, "list"), (3600, 20.0, ESTIMATE))
    told = strip_told(answered(prices))
    assert [row[2].is_estimate for row in told.table("prices").rows] == [False, True]
    assert words(told.table("levels").rows[1][1]) != "0.2000 EUR/kWh"
    assert words(told.table("levels").rows[0][1]) == "0.1000 EUR/kWh"


@pytest.mark.parametrize(
    ("hours", "clocks"),
    [(0.5, ["09:00"]), (0.49, []), (3, ["09:00", "10:00", "11:00"]), (12, [f"{hour:02d}:00" for hour in range(9, 21)]),
     (13, ["10:00", "12:00", "14:00", "16:00", "18:00", "20:00"]),
     (25, ["09:00", "12:00", "15:00", "18:00", "21:00", "00:00", "03:00", "06:00", "09:00"]),
     (37, ["12:00", "18:00", "00:00", "06:00", "12:00", "18:00"]),
     (73, ["12:00", "00:00", "12:00", "00:00", "12:00", "00:00"]),
     (145, ["00:00"] * 6)],
)  # fmt: skip
def test_an_axis_has_at_most_a_dozen_hours(hours: float, clocks: list[str]) -> None:
    """Whole hours of the clock to the end, every one, second, third, sixth or twelfth, or midnights."""
    table = hours_table(answered(duration_s=3600.0 * hours, profiles=(Given(edges_s=[0.0]),)))
    assert [words(row[1]) for row in table.rows] == clocks
    assert all(((Begun.start + timedelta(seconds=row[0])).minute, row[0] >= 0) == (0, True) for row in table.rows)


@pytest.mark.parametrize(("count", "most"), [(10, 10), (11, 10), (500, 40)])
def test_corners_keep_ends_and_extremes(count: int, most: int) -> None:
    """The highest and lowest of every stretch, in order, each once; few points are all kept."""
    values = np.sin(np.arange(count) * 0.7) * np.arange(count)
    kept = corners(np.arange(float(count)), values, most)
    assert kept == sorted(set(kept))
    assert {0, count - 1, int(values.argmax()), int(values.argmin())} <= set(kept)
    assert len(kept) <= most + 2
    if count <= most:
        assert kept == list(range(count))
    borders = np.linspace(0, count, most // 2, dtype=int)
    for low, high in itertools.pairwise(borders):
        inside = [values[at] for at in kept if low <= at < high]
        assert max(inside) == values[low:high].max()
        assert min(inside) == values[low:high].min()


def hour(begin: int, steam_kg: float) -> Given:
    """An hour of the day."""
    at = datetime(2026, 12, 5, begin, tzinfo=UTC)
    return Given(begins=at, ends=at + timedelta(hours=1), heat_kwh=0.3, appliances_kwh=0.03, steam_kg=steam_kg,
                 vapour_kwh=steam_kg * 0.63)  # fmt: skip


GETS = (
    "The room gets 0.66 kWh of heat and 3.00 kg of steam, 2.00 kg of it from 10:00 to 11:00. The steam carries another "
    "1.89 kWh out of the window, or to the walls on which it condenses."
)
ELSEWHERE = "The other 0.45 kWh leave with wort, grain and water, or are still in the vessel."
STANDS = "The pause before the vessel is emptied counts as standing wort; a chiller takes most of its heat away."


@pytest.mark.parametrize(
    ("steam_kg", "stands", "headline", "said"),
    [
        (3.0, False, GETS, [ELSEWHERE]), (3.0, True, GETS, [ELSEWHERE, STANDS]),
        (0.049, False, "The room gets 0.66 kWh of heat and next to no steam.", [ELSEWHERE]),
        (0.05, False, GETS.replace("3.00 kg", "0.05 kg"), [ELSEWHERE]),
    ],
)  # fmt: skip
def test_what_the_room_gets(
    monkeypatch: pytest.MonkeyPatch, steam_kg: float, headline: str, said: list[str], *, stands: bool
) -> None:
    """Heat, steam and its fullest hour; what leaves otherwise; each hour by the local clock."""
    hours = (hour(9, 1.0), hour(10, 2.0))
    gets = Given(hours=hours, heat_kwh=0.6, appliances_kwh=0.06, vapour_kwh=1.89, steam_kg=steam_kg, elsewhere_kwh=0.45,
                 stands=stands, steamiest=hours[1])  # fmt: skip
    monkeypatch.setattr("energyplan.advice.heat.room", lambda *_: gets)
    told = room_told(answered())
    assert words(told.headline) == headline  # type: ignore[arg-type]
    assert [words(one) for one in told.sentences] == said
    table = told.table("by_hour")
    assert titles(told) == ["The room", "Hour by hour"]
    assert headings(table, 0, short=True) == ["from", "heat kWh", "pump, leads kWh", "Steam, kg", "with it kWh"]
    assert seen_rows(table, detail=1) == [
        ["09:00", "10:00", "0.30", "0.03", "1.00", "0.63"], ["10:00", "11:00", "0.30", "0.03", "2.00", "1.26"],
    ]  # fmt: skip
    facts = document(told)
    assert {key: facts[key] for key in ("heat_kwh", "appliances_kwh", "vapour_kwh", "steam_kg", "elsewhere_kwh")} == {
        "heat_kwh": 0.6, "appliances_kwh": 0.06, "vapour_kwh": 1.89, "steam_kg": steam_kg, "elsewhere_kwh": 0.45,
    }  # fmt: skip
