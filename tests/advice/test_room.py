"""What the day puts into the room: closed against the ledger, by the hours of the local clock."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.advice.heat import Room, _hour_edges_s, _shares, room
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan, Step

KWH = 3.6e6
MORNING = datetime(2026, 12, 5, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def day() -> BrewDay:
    """The packaged day."""
    return simulate(read_plan("demo"))


def closes(found: Room, day: BrewDay) -> None:
    """Heat lost, vapour and steam of the hours are those of the phases; nothing is lost or counted twice."""
    hours = found.hours
    assert sum(hour.heat_kwh for hour in hours) == pytest.approx(sum(p.heat_lost_j for p in day.phases) / KWH, abs=1e-9)
    assert sum(hour.vapour_kwh for hour in hours) == pytest.approx(sum(p.vapour_j for p in day.phases) / KWH, abs=1e-9)
    assert sum(hour.steam_kg for hour in hours) == pytest.approx(day.wort.evaporated_kg, abs=1e-9)
    into_kwh = found.heat_kwh + found.vapour_kwh + found.appliances_kwh
    assert into_kwh + found.elsewhere_kwh == pytest.approx(day.energy_kwh, abs=1e-9)


def test_it_closes_against_the_ledger(day):
    """Sums of the hours are the sums of the phases, and with what leaves otherwise they are the day's kWh."""
    closes(room(day, MORNING, "Europe/Dublin"), day)


@given(plan=st.from_type(Plan), minute=st.integers(0, 1439))
@settings(max_examples=15)
def test_it_closes_for_any_day_at_any_hour(plan: Plan, minute: int):
    """Also with a cold vessel in a warm room, with second heaters, over midnight."""
    day = simulate(plan)
    found = room(day, MORNING.replace(hour=0, minute=0) + timedelta(minutes=minute), "Asia/Kathmandu")
    closes(found, day)
    assert all(hour.begins < hour.ends for hour in found.hours)
    assert all(hour.steam_kg >= 0 for hour in found.hours)


def test_what_goes_elsewhere_is_what_the_ledger_says(builders):
    """Water alone, no second heater: the rest of the kWh is the heat stored in it at the end, to the joule."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0, hold_s=1800.0))
    day = simulate(plan)
    found = room(day, MORNING, "UTC")
    assert found.elsewhere_kwh == pytest.approx(day.stored_j / KWH, abs=1e-9)


def test_heat_of_the_appliances_by_hand(builders):
    """A pump of 30 W whose heat goes to 60 % into the water, electronics of 3 W, no leads: 15 W beside, for an hour."""
    plan = builders.water_plan(Step(name="Hold", target_c=60.0, hold_s=3600.0), water_c=60.0)
    found = room(simulate(plan), MORNING, "UTC")
    assert found.appliances_kwh == pytest.approx((0.4 * 30 + 3) / 1000, abs=1e-6)


def test_the_second_heater_loses_its_share(day):
    """A tenth of what it takes heats the room where it stands, while it is on."""
    without = day.plan.model_copy(update={"second_heater": None})
    with_it, alone = (room(one, MORNING, "Europe/Dublin") for one in (day, simulate(without)))
    heater = day.profiles[1]
    assert with_it.appliances_kwh - alone.appliances_kwh == pytest.approx(0.1 * heater.energy_kwh, abs=1e-6)


def test_a_kilowatt_above_the_loss_makes_one_and_a_half_kilos_of_steam_an_hour(builders):
    """1 kW of net boil power is 1.595 kg/h of steam: 3600 s over 2257 kJ/kg, the latent heat of steam tables.

    Up to 1 % more, because the level falls further and the wall that falls dry loses less. The vapour's heat
    counts from liquid water at 0 °C: 2676 kJ/kg at 100 °C (both from memory).
    """

    def boiled(power_w: float) -> Room:
        plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=power_w))
        return room(simulate(plan), MORNING, "UTC")

    weak, strong = boiled(2000.0), boiled(3000.0)
    assert strong.steam_kg - weak.steam_kg == pytest.approx(1.595, rel=0.01)
    more_kwh = strong.vapour_kwh - weak.vapour_kwh
    assert more_kwh / (strong.steam_kg - weak.steam_kg) == pytest.approx(2676 / 3600, rel=0.005)


def test_a_boil_is_spread_evenly_over_the_hours(builders):
    """A boil of 90 min that begins on the hour: two thirds of its steam in the first, a third in the second."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=5400.0), water_c=98.0)
    day = simulate(plan)
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    start = datetime(2026, 6, 1, 9, tzinfo=UTC) - timedelta(seconds=boil.start_s)
    hours = {hour.begins: hour for hour in room(day, start, "UTC").hours}
    nine, ten = (hours[datetime(2026, 6, 1, hour, tzinfo=UTC)] for hour in (9, 10))
    assert nine.steam_kg == pytest.approx(boil.evaporated_kg * 2 / 3, rel=1e-3)
    assert ten.steam_kg == pytest.approx(boil.evaporated_kg / 3, rel=1e-3)


def test_a_ramp_gives_most_of_its_heat_at_its_end(builders):
    """From 20 to 80 °C in a room of 20 °C the loss grows with the temperature: the last half has three quarters.

    A loss in proportion to the excess, and a temperature that rises evenly: the integrals are 1/8 and 3/8 (by hand).
    """
    plan = builders.water_plan(Step(name="Warm", target_c=80.0), water_c=20.0)
    day = simulate(plan)
    middle = datetime(2026, 6, 1, 9, tzinfo=UTC)
    first, second = room(day, middle - timedelta(seconds=day.duration_s / 2), "UTC").hours
    assert second.heat_kwh / (first.heat_kwh + second.heat_kwh) == pytest.approx(0.75, abs=0.02)


@pytest.mark.parametrize(
    ("zone", "start", "minutes"),
    [
        ("Europe/Dublin", "2026-12-05T06:30+00:00", {0}),
        ("Asia/Kathmandu", "2026-12-05T06:30+00:00", {15}),  # UTC+05:45
        ("Australia/Adelaide", "2026-12-05T06:30+00:00", {30}),  # UTC+10:30 in summer
    ],
)
def test_hours_are_those_of_the_local_clock(day, zone, start, minutes):
    """All inner borders are full local hours."""
    hours = room(day, datetime.fromisoformat(start), zone).hours
    assert {hour.begins.astimezone(UTC).minute for hour in hours[1:]} == minutes
    assert all(hour.ends - hour.begins == timedelta(hours=1) for hour in hours[1:-1])


@pytest.mark.parametrize("start", ["2026-03-29T00:10+00:00", "2026-10-24T23:40+00:00"])
def test_nights_of_a_clock_change_have_all_their_hours(day, start):
    """An hour that the clock skips is none, one that it shows twice is two; the sums stay."""
    found = room(day, datetime.fromisoformat(start), "Europe/Dublin")
    closes(found, day)
    plain = room(day, datetime.fromisoformat(start), "UTC")
    assert [hour.begins for hour in found.hours] == [hour.begins for hour in plain.hours]


def test_the_steamiest_hour_is_that_of_the_boil(day):
    """It lies in the boil and holds more than any other."""
    found = room(day, MORNING, "Europe/Dublin")
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    begins_s, ends_s = ((moment - MORNING).total_seconds() for moment in (found.steamiest.begins, found.steamiest.ends))
    assert boil.start_s - 3600 < begins_s < boil.end_s
    assert ends_s > boil.start_s
    assert found.steamiest.steam_kg == max(hour.steam_kg for hour in found.hours)


def test_a_pause_before_the_emptying_is_told(day):
    """The model has no chiller: heat that chilling carries off is counted as given to the room, and a note says so."""
    assert room(day, MORNING, "UTC").stands
    steps = tuple(step for step in day.plan.steps if step.name != "Chill")
    assert not room(simulate(day.plan.model_copy(update={"steps": steps})), MORNING, "UTC").stands


def test_a_cold_vessel_takes_heat_from_the_room(builders):
    """Water of 5 °C in a room of 20 °C that stands: the hours show heat below zero, and close."""
    plan = builders.water_plan(Step(name="Stand", pause_s=7200.0), water_c=5.0)
    day = simulate(plan)
    found = room(day, MORNING, "UTC")
    assert np.all(np.array([hour.heat_kwh for hour in found.hours]) < 0)
    closes(found, day)


@pytest.mark.parametrize(
    ("hours", "every_h"), [(24.0, 1), (24.1, 2), (48.0, 2), (48.1, 3), (72.1, 6), (200.0, 12), (300.0, 24), (900.0, 24)]
)
def test_a_long_day_is_told_by_every_second_or_third_hour(hours, every_h):
    """At most 24 of them, counted on the clock from midnight; the day's own ends stay."""
    start = datetime(2026, 6, 1, 6, 30, tzinfo=UTC)
    edges_s = _hour_edges_s(start, "UTC", -600.0, 3600.0 * hours - 600.0)
    assert (edges_s[0], edges_s[-1]) == (-600.0, 3600.0 * hours - 600.0)
    clock = [start + timedelta(seconds=float(edge)) for edge in edges_s[1:-1]]
    assert all(at.minute == 0 and at.hour % every_h == 0 for at in clock)
    assert {b - a for a, b in pairwise(clock)} <= {timedelta(hours=every_h)}
    assert clock[0] - start < timedelta(hours=every_h)


def test_a_day_that_begins_and_ends_on_the_hour_has_no_empty_one():
    """From six to eight: two hours."""
    assert _hour_edges_s(datetime(2026, 6, 1, 6, tzinfo=UTC), "UTC", 0.0, 7200.0).tolist() == [0.0, 3600.0, 7200.0]


def test_vapour_of_a_ramp_goes_with_its_pressure(builders):
    """Warmed from 20 to 95 °C with the lid off: the middle of its steam leaves where the pressure's integral halves.

    Saturation pressures by CoolProp (IAPWS-95), 2.3 to 84.6 kPa.
    """
    day = simulate(builders.water_plan(Step(name="Warm", target_c=95.0, lid="off"), water_c=20.0))
    ramp = day.phases[0]
    edges_s = np.linspace(ramp.start_s, ramp.end_s, 101)
    passed = np.cumsum(_shares(day, ramp, edges_s, of_vapour=True))
    at_c = np.interp(edges_s[1:], day.trajectory.times_s, day.trajectory.temperatures_c)
    pressures = np.cumsum([PropsSI("P", "T", 273.15 + c, "Q", 0, "Water") for c in at_c])
    assert passed[-1] == pytest.approx(1.0)
    assert passed == pytest.approx(pressures / pressures[-1], abs=0.02)


def test_a_phase_whose_losses_cancel_is_spread_evenly(builders):
    """Water of 19.9 °C that warms to 20.1 in a room of 20: above and below the air weigh nothing together."""
    day = simulate(builders.water_plan(Step(name="Warm", target_c=20.1), water_c=19.9))
    ramp = day.phases[0]
    edges_s = np.linspace(ramp.start_s, ramp.end_s, 5)
    assert _shares(day, ramp, edges_s, of_vapour=False) == pytest.approx([0.25] * 4)


def test_a_phase_in_part_of_an_hour_gives_that_part(builders):
    """A hold of an hour, looked at for its second quarter and before it."""
    day = simulate(builders.water_plan(Step(name="Hold", target_c=60.0, hold_s=3600.0), water_c=60.0))
    hold = day.phases[-1]
    edges_s = hold.start_s + np.array([-900.0, 0.0, 900.0, 1800.0, 9000.0])
    assert _shares(day, hold, edges_s, of_vapour=True) == pytest.approx([0.0, 0.25, 0.25, 0.5])
