"""Clock windows of other loads, and the common grid."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.loads import compose, loaded_conductors, rehung, window_s
from energyplan.plan.lines import connection_of, home_of, layout_of
from energyplan.plan.model import Circuit, Line, OtherLoad

Builder = Callable[..., LoadProfile]
DUBLIN = ZoneInfo("Europe/Dublin")
ZONES = ("Europe/Dublin", "America/Denver", "Australia/Lord_Howe", "UTC")
# Days on which a clock of one of the zones changes in 2026, and one on which none does (IANA time zone database).
DAYS = (
    datetime(2026, 3, 28, 12, tzinfo=UTC),
    datetime(2026, 10, 24, 12, tzinfo=UTC),
    datetime(2026, 3, 7, 12, tzinfo=UTC),
    datetime(2026, 10, 31, 12, tzinfo=UTC),
    datetime(2026, 4, 4, 6, tzinfo=UTC),
    datetime(2026, 10, 3, 6, tzinfo=UTC),
    datetime(2026, 6, 10, 6, tzinfo=UTC),
)


def load(from_min: int, to_min: int, name: str = "Oven") -> OtherLoad:
    """Make a load of 1 kW with a window."""
    return OtherLoad(name=name, power_w=1000.0, from_min=from_min, to_min=to_min)


def wall_clock_says_on(from_min: int, to_min: int, local: datetime) -> bool:
    """Look at the clock on the wall."""
    minute = local.hour * 60 + local.minute
    return from_min <= minute < to_min if from_min < to_min else minute >= from_min or minute < to_min


@settings(deadline=None)
@given(st.sampled_from(ZONES), st.sampled_from(DAYS), st.integers(0, 1440), st.integers(0, 1440), st.integers(0, 700))
def test_windows_agree_with_a_look_at_the_wall_clock(
    zone_name: str, day: datetime, from_min: int, to_min: int, shift_min: int
) -> None:
    """Minute by minute over 26 h, clock changes included, the load is on exactly when the wall clock says so."""
    if from_min % 1440 == to_min % 1440 and (from_min, to_min) != (0, 1440):
        return
    zone = ZoneInfo(zone_name)
    begin = day + timedelta(minutes=shift_min)
    intervals = window_s(load(from_min, to_min), begin, begin + timedelta(hours=26), zone)
    for minute in range(26 * 60):
        second = 60.0 * minute + 30.0
        local = (begin + timedelta(seconds=second)).astimezone(zone)
        found = any(left_s <= second < right_s for left_s, right_s in intervals)
        assert found == wall_clock_says_on(from_min, to_min, local), local


def test_hour_that_the_clock_skips_is_skipped() -> None:
    """00:30 to 04:30 is 3 h long on the night of 29 March 2026 in Dublin and 5 h on that of 25 October."""
    for day, hours in ((datetime(2026, 3, 28, 12, tzinfo=UTC), 3.0), (datetime(2026, 10, 24, 12, tzinfo=UTC), 5.0)):
        intervals = window_s(load(30, 270), day, day + timedelta(days=1), DUBLIN)
        assert [(right_s - left_s) / 3600 for left_s, right_s in intervals] == [hours]


def test_window_that_lies_in_the_skipped_hour_never_opens() -> None:
    """01:15 to 01:45 does not exist on 29 March 2026 in Dublin, and exists twice on 25 October."""
    spring, autumn = datetime(2026, 3, 28, 12, tzinfo=UTC), datetime(2026, 10, 24, 12, tzinfo=UTC)
    assert window_s(load(75, 105), spring, spring + timedelta(hours=20), DUBLIN) == []
    assert len(window_s(load(75, 105), autumn, autumn + timedelta(hours=20), DUBLIN)) == 2


@pytest.mark.parametrize(("begin_s", "end_s", "open_s"), [
    (-30.0, 120.0, [(30.0, 90.0)]), (30.0, 120.0, [(0.0, 30.0)]), (-1.0, 1.0, [(1.0, 2.0)]), (59.0, 61.0, [(0.0, 1.0)]),
    (-0.5, 0.5, [(0.5, 1.0)]), (59.5, 60.5, [(0.0, 0.5)]), (60.0, 120.0, []), (-60.0, 0.0, []),
])  # fmt: skip
def test_a_window_is_open_from_its_minute_to_the_second(
    begin_s: float, end_s: float, open_s: list[tuple[float, float]]
) -> None:
    """A window of the minute after noon, seen from some seconds around it: half-open to the fraction of a second."""
    noon = datetime(2026, 6, 1, 12, tzinfo=UTC)
    first, last = noon + timedelta(seconds=begin_s), noon + timedelta(seconds=end_s)
    assert window_s(load(720, 721), first, last, UTC) == open_s


def test_window_wraps_midnight() -> None:
    """22:00 to 02:00 UTC from noon to noon is one interval of 4 h."""
    noon = datetime(2026, 6, 1, 12, tzinfo=UTC)
    assert window_s(load(22 * 60, 120), noon, noon + timedelta(days=1), UTC) == [(36000.0, 50400.0)]


def test_all_day_is_one_interval() -> None:
    """Without from and to a load is always on."""
    noon = datetime(2026, 6, 1, 12, tzinfo=UTC)
    assert window_s(OtherLoad(name="Fridge", power_w=100.0), noon, noon + timedelta(days=3), DUBLIN) == [
        (0.0, 259200.0)
    ]


def test_window_without_length_is_an_error() -> None:
    """From 8 to 8 could mean never or always."""
    noon = datetime(2026, 6, 1, 12, tzinfo=UTC)
    with pytest.raises(PlanError, match="same time"):
        window_s(load(480, 480), noon, noon + timedelta(hours=1), UTC)


def test_grid_carries_all_loads(profile: Builder) -> None:
    """A kettle from 09:10 to 09:15 local cuts the vessel's hour into three steps."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    kettle = load(550, 555, "Kettle")
    start = datetime(2026, 6, 1, 8, tzinfo=UTC)  # 09:00 in Dublin
    loads = compose([vessel], Circuit(voltage_v=230.0), [kettle], start, DUBLIN)
    assert loads.edges_s.tolist() == [0.0, 600.0, 900.0, 3600.0]
    assert loads.appliances[1].other_w.tolist() == [0.0, 1000.0, 0.0]
    assert [a.planned for a in loads.appliances] == [True, False]


def test_profile_before_second_zero(profile: Builder) -> None:
    """A second heater that starts 20 min before the vessel widens the span, other loads included."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    heater = profile("Sparge heater", [(-20, 10, 1)], power_w=1000, voltage_v=230)
    fridge = OtherLoad(name="Fridge", power_w=100.0, duty=0.3)
    loads = compose([vessel, heater], Circuit(voltage_v=230.0), [fridge], datetime(2026, 6, 1, 8, tzinfo=UTC), DUBLIN)
    assert loads.edges_s[0] == -1200.0
    assert loads.appliances[2].other_w.tolist() == [100.0] * 3
    assert loads.appliances[2].mean_w.tolist() == [30.0] * 3


@pytest.mark.parametrize(
    ("name", "motor", "motor_w"),
    [
        ("Fermentation fridge", None, 1000.0),
        ("Mash pump", None, 1000.0),
        ("Kettle", None, 0.0),
        ("Kettle", True, 1000.0),
        ("Fridge", False, 0.0),
        ("Pumpkin roaster", None, 0.0),  # a word within a word is none
        ("Clothes dryer", None, 300.0),  # heats, with a small motor (common practice, no source)
    ],
)
def test_motors_are_guessed_from_whole_words_unless_told(
    profile: Builder, name: str, *, motor: bool | None, motor_w: float
) -> None:
    """Fridges start a motor, dryers a small one; what the brewer says goes before."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    other = OtherLoad(name=name, power_w=1000.0, motor=motor)
    loads = compose([vessel], Circuit(voltage_v=230.0), [other], datetime(2026, 6, 1, 8, tzinfo=UTC), UTC)
    assert loads.appliances[1].motor_w == motor_w


@pytest.mark.parametrize("name", [
    "Fridges", "REFRIGERATOR", "Chest freezer", "Air compressor", "Glycol chiller", "Two pumps", "Dehumidifier",
])  # fmt: skip
def test_words_of_motors(profile: Builder, name: str) -> None:
    """Whatever their number or case; the whole of such a load starts."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    start = datetime(2026, 6, 1, 8, tzinfo=UTC)
    found = compose([vessel], Circuit(voltage_v=230.0), [OtherLoad(name=name, power_w=400.0)], start, UTC)
    assert found.appliances[1].motor_w == 400.0


@pytest.mark.parametrize("name", ["Tumble dryer", "Washing machine", "Dishwasher", "Dryer pump"])
def test_a_drum_starts_no_more_than_it_draws(profile: Builder, name: str) -> None:
    """About 300 W of motor (common practice, no source), less where the whole appliance has less; none while off."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    start = datetime(2026, 6, 1, 8, tzinfo=UTC)
    others = [
        OtherLoad(name=name, power_w=2500.0), OtherLoad(name=name, power_w=200.0),
        OtherLoad(name=name, power_w=2500.0, from_min=20 * 60, to_min=21 * 60),
        OtherLoad(name=name, power_w=2500.0, motor=False),
    ]  # fmt: skip
    found = compose([vessel], Circuit(voltage_v=230.0), others, start, UTC)
    assert [one.motor_w for one in found.appliances[1:]] == [300.0, 200.0, 0.0, 0.0]


# Which conductors warm the cable (IEC 60364-5-52, 523.6, and NFPA 70, 310.15(E); from memory): the neutral of two lines
# of three phases carries what they do, that of a split phase only their difference.
@pytest.mark.parametrize(("supply", "places", "loaded"), [
    ({"voltage_v": 230.0}, ("L1",), 2),
    ({"voltage_v": 240.0, "rules": "nec"}, ("L1-L2",), 2),
    ({"voltage_v": 240.0, "rules": "nec"}, ("L1-L2", "L1"), 2),
    ({"voltage_v": 208.0, "rules": "nec"}, ("L1-L2",), 2),
    ({"voltage_v": 208.0, "rules": "nec"}, ("L1-L2", "L2"), 3),
    ({"voltage_between_lines_v": 400.0}, ("L1",), 2),
    ({"voltage_between_lines_v": 400.0}, ("L1-L2",), 2),
    ({"voltage_between_lines_v": 400.0}, ("L1", "L3"), 3),
    ({"voltage_between_lines_v": 400.0}, ("L1-L2", "L1"), 3),
    ({"voltage_between_lines_v": 400.0}, ("L1-L2", "L2-L3"), 3),
    ({"voltage_between_lines_v": 400.0}, ("all",), 3),
])  # fmt: skip
def test_loaded_conductors(profile: Builder, supply: dict[str, object], places: tuple[str, ...], loaded: int) -> None:
    """Counted over what is on at some time of the day; a load whose window is shut does not count."""
    circuit = Circuit(**supply)
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    vessel = replace(vessel, by_line=((places[0], vessel.heater_w_per_v2),))
    others = [OtherLoad(name="Iron", power_w=500.0, line=place) for place in places[1:]]
    start = datetime(2026, 6, 1, 8, tzinfo=UTC)
    line = "L1-L2" if circuit.rules == "nec" else places[0]
    found = compose([replace(vessel, line=line)], circuit, others, start, UTC)
    assert loaded_conductors(found) == loaded
    shut = [one.model_copy(update={"from_min": 20 * 60, "to_min": 21 * 60}) for one in others]
    alone = compose([replace(vessel, line=line)], circuit, shut, start, UTC)
    assert loaded_conductors(alone) == (3 if places[0] == "all" else 2)


def test_layouts() -> None:
    """North American 240 V is split phase, 120 V and European 230 V one phase, unless entered."""
    assert layout_of(Circuit(voltage_v=240.0, rules="nec")) == "split phase"
    assert layout_of(Circuit(voltage_v=120.0, rules="nec")) == "one phase"
    assert layout_of(Circuit(voltage_v=230.0, layout="three phase")) == "three phase"


@pytest.mark.parametrize(("circuit", "line", "place"), [
    (Circuit(voltage_v=230.0), None, "L1"),
    (Circuit(voltage_v=230.0, layout="three phase", line="L2"), None, "L2"),
    (Circuit(voltage_v=230.0, layout="three phase", line="L2"), "L3", "L3"),
    (Circuit(voltage_v=230.0, layout="three phase"), "all", "all"),
    (Circuit(voltage_v=230.0, layout="three phase", line="all"), None, None),
    (Circuit(voltage_v=240.0, rules="nec"), None, None),
    (Circuit(voltage_v=240.0, rules="nec"), "all", "L1-L2"),
])  # fmt: skip
def test_places_of_a_load(circuit: Circuit, line: Line | None, place: str | None) -> None:
    """A load hangs where it is said to, else where the circuit does; on several lines nobody knows."""
    assert connection_of(circuit, line) == place
    assert home_of(Circuit(voltage_v=240.0, rules="nec")) == "L1-L2"


def test_line_that_is_not_there_is_an_error(profile: Builder) -> None:
    """One phase has no L2."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    iron = OtherLoad(name="Iron", power_w=100.0, line="L2")
    with pytest.raises(PlanError, match="L2"):
        compose([vessel], Circuit(voltage_v=230.0), [iron], datetime(2026, 6, 1, tzinfo=UTC), UTC)


def test_no_load_and_naive_start_are_errors(profile: Builder) -> None:
    """Nothing to check, or no zone on the start."""
    circuit = Circuit(voltage_v=230.0)
    with pytest.raises(PlanError, match="no loads"):
        compose([], circuit, (), datetime(2026, 6, 1, tzinfo=UTC), UTC)
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    with pytest.raises(PlanError, match="no time zone"):
        compose([vessel], circuit, (), datetime(2026, 6, 1), UTC)  # noqa: DTZ001


def test_nearly_equal_edges_are_joined(profile: Builder) -> None:
    """Edges closer than a microsecond make no step of their own."""
    first = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    second = profile("Heater", [(0, 60 + 1e-9, 1)], power_w=1000, voltage_v=230)
    loads = compose([first, second], Circuit(voltage_v=230.0), (), datetime(2026, 6, 1, tzinfo=UTC), UTC)
    assert loads.edges_s.size == 2
    assert np.diff(loads.edges_s).min() > 1.0


REHUNG = [
    ({"voltage_v": 230.0}, "L1"),
    ({"voltage_v": 240.0, "rules": "nec"}, "L1-L2"),
    ({"voltage_v": 240.0, "rules": "nec", "line": "L2"}, "L1-L2"),
    ({"voltage_v": 230.0, "layout": "three phase", "line": "L2"}, "L2"),
    ({"voltage_v": 230.0, "layout": "three phase", "line": "L2-L3"}, "L2"),
    ({"voltage_between_lines_v": 400.0, "line": "all"}, "L1"),
]


@pytest.mark.parametrize(("supply", "place"), REHUNG)
def test_a_plan_without_lines_hangs_at_its_own_voltage(profile: Builder, supply: dict[str, object], place: str) -> None:
    """Where the outlet has the voltage between its conductors that both circuits are named by."""
    vessel = replace(profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230), line="L1")
    heater = replace(vessel, name="Second heater", by_line=(("L2", vessel.heater_w_per_v2),))
    found = rehung((vessel, heater), Circuit(**supply))
    assert [(one.name, one.line, one.by_line) for one in found] == [("Vessel", place, ()), ("Second heater", place, ())]
