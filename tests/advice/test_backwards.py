"""Planning backwards: the start for a wanted time, over clock changes, and where the day depends on its hour."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.advice.people import people_day
from energyplan.advice.starts import start_for
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Step
from energyplan.tariffs.clock import local_to_utc, to_local

MINUTE = timedelta(minutes=1)


@pytest.fixture(scope="module")
def day() -> BrewDay:
    """The packaged day."""
    return simulate(read_plan("demo"))


@given(second=st.integers(0, 365 * 86400))
@settings(max_examples=40)
def test_the_latest_full_minute_that_will_do(second: int):
    """Done by then, and not with a minute more; the boil within half a minute either way."""
    day, wanted = simulate(read_plan("demo")), datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    for goal, lasts_s in (("finish", day.duration_s), ("clean", people_day(day).ends_s)):
        start = start_for(day, goal, wanted)
        assert start.second == start.microsecond == 0
        assert start + timedelta(seconds=lasts_s) <= wanted < start + MINUTE + timedelta(seconds=lasts_s)
    onset_s = next(phase.start_s for phase in day.phases if phase.phase == "boil")
    onset = start_for(day, "boil", wanted) + timedelta(seconds=onset_s)
    assert abs(onset - wanted) <= MINUTE / 2


@pytest.mark.parametrize(
    ("zone", "wanted", "hours_shown"),
    [
        ("Europe/Dublin", "2026-03-29T06:00", 1),  # the clock goes from 01:00 to 02:00: an hour more is shown
        ("Europe/Dublin", "2026-10-25T05:00", -1),  # it goes back at 02:00
        ("America/Chicago", "2026-03-08T06:30", 1),
        ("America/Chicago", "2026-11-01T05:00", -1),
        ("Australia/Lord_Howe", "2026-10-04T06:00", 0.5),  # half an hour
        ("Europe/Dublin", "2026-07-04T06:00", 0),
    ],
)
def test_a_clock_change_between_start_and_end_moves_nothing(day, zone, wanted, hours_shown):
    """What passes on the wall clock differs from what passes by as much as the clock moves, and only by that."""
    moment = local_to_utc(wanted, zone)
    start = start_for(day, "finish", moment)
    assert timedelta(0) <= moment - start - timedelta(seconds=day.duration_s) < MINUTE
    shown = to_local(moment, zone).replace(tzinfo=None) - to_local(start, zone).replace(tzinfo=None)
    assert shown - (moment - start) == timedelta(hours=hours_shown)


def test_a_plan_without_a_boil_has_no_boil_to_plan_for(builders):
    """The message says what to ask for instead."""
    day = simulate(builders.water_plan(Step(name="Warm", target_c=60.0)))
    with pytest.raises(PlanError, match="no boil to work back from; name a start or an end"):
        start_for(day, "boil", datetime(2026, 5, 2, 10, tzinfo=UTC))


def test_a_wanted_time_without_an_offset_is_refused(day):
    """A reading of a clock is no moment."""
    with pytest.raises(PlanError, match="offset"):
        start_for(day, "finish", datetime(2026, 5, 2, 10))  # noqa: DTZ001 - that is the fault
