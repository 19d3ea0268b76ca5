"""Waiting on cheap heat as it is done: followed by an integrator of its own, and against every schedule of two runs.

`energyplan.advice.starts` gives the water of a plan, `energyplan.tariffs.waiting` the schedule.
"""

import os
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from energyplan.advice.starts import (
    StartsQuestion,
    _first_start,
    _somebody_there,
    limits_of,
    starts_answer,
    strike_water,
    usual_hours,
)
from energyplan.base.errors import BrewDayError, TariffError
from energyplan.day.brewday import simulate
from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.day.supply import heating
from energyplan.physics.vesselloss import dry_loss_w
from energyplan.plan.file import read_plan
from energyplan.plan.model import Hours, Plan
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.priceline import PriceLine
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.tariffs.waiting import Filling, WaitingPlan, wait_for_cheap_heat

CASES = int(os.environ.get("WAITING_CASES", "8"))
EARLIEST = datetime(2026, 12, 5, 22, tzinfo=UTC)
WAIT_MIN = 600
READY = EARLIEST + timedelta(minutes=WAIT_MIN)


def plan_of(tap_c: float, air_c: float, *, jacket: bool, pump_w: float = 30.0) -> Plan:
    """The demo with another tap, another room, with or without a jacket."""
    plan = read_plan("demo")
    jacketed = {"jacket_thickness_m": 0.01, "jacket_conductivity_w_per_m_k": 0.04} if jacket else {}
    bare = {"jacket_thickness_m": None, "emissivity": 0.25, "heat_loss_w_per_k": None, "pump_w": pump_w}
    return plan.model_copy(
        update={
            "vessel": plan.vessel.model_copy(update=bare | jacketed),
            "batch": plan.batch.model_copy(update={"water_temperature_c": tap_c, "grain_temperature_c": 18.0}),
            "site": plan.site.model_copy(update={"air_c": air_c}),
        }
    )


def line_of(prices: list[int], minutes: int = 60) -> PriceLine:
    """Prices one after the other from the earliest moment on."""
    return PriceLine(
        edges_s=utc_s(EARLIEST) + 60 * minutes * np.arange(len(prices) + 1, dtype=np.int64),
        micro_per_kwh=np.array(prices, dtype=np.int64),
        band=np.zeros(len(prices), dtype=np.int64),
        band_names=("a",),
        currency="EUR",
        zone="Europe/Dublin",
    )


class Follower:
    """The strike water by its heat balance alone: C dT/dt = P - loss, steps of five seconds, Heun's rule."""

    def __init__(self, plan: Plan) -> None:
        day = simulate(plan)
        leg = next(leg for leg in day.course.legs if leg.phase == "ramp")
        grid = np.arange(-10.0, 100.0, 0.25)
        around, shell = surroundings_of(plan), shell_of(plan)
        wetted = float(leg.before.filled_l(leg.from_c)[0]) / (1000 * shell.lid_m2 * shell.height_m)
        loss = np.array([float(dry_loss_w(c, around, shell, "on", wetted)) for c in grid])
        capacity = leg.before.capacity_j_per_k(grid[:, None])[:, 0]
        given = heating(plan, leg.step.ramp_power_w, voltage_v=plan.voltage_v, element_factor=1.0)
        self.heat_w = float(given.most_w) + plan.vessel.pump_heat * plan.vessel.pump_w
        self.meter_w = float(given.most_w) * given.board_factor + plan.vessel.pump_w
        self.standby_w = plan.vessel.standby_w
        self.tap_c, self.strike_c = plan.batch.water_temperature_c, float(leg.outcome.end_c[0])
        self.slope = lambda c, w: (w - np.interp(c, grid, loss)) / np.interp(c, grid, capacity)

    def moved(self, temperature, watts, seconds: float):
        """Temperature after some time at a power."""
        steps = max(int(np.ceil(seconds / 5)), 1)
        for _ in range(steps):
            first = self.slope(temperature, watts)
            second = self.slope(temperature + seconds / steps * first, watts)
            temperature = temperature + seconds / steps * (first + second) / 2
        return temperature

    def followed(self, found: WaitingPlan) -> float:
        """Where a plan's schedule ends [°C]."""
        at, temperature = found.filled, self.tap_c
        for run in found.stretches:
            temperature = self.moved(temperature, 0.0, (run.start - at).total_seconds())
            temperature = self.moved(temperature, self.heat_w, (run.end - run.start).total_seconds())
            at = run.end
        return self.moved(temperature, 0.0, (found.ready - at).total_seconds())


def cost_by_the_second(found: WaitingPlan, follower: Follower, line: PriceLine) -> float:
    """Price times power, second by second [currency]."""
    seconds = np.arange(utc_s(found.filled), utc_s(found.ready))
    on = np.zeros(seconds.size, dtype=bool)
    for run in found.stretches:
        on |= (seconds >= utc_s(run.start)) & (seconds < utc_s(run.end))
    price = line.micro_per_kwh[np.searchsorted(line.edges_s, seconds, side="right") - 1]
    return float((price * (on * follower.meter_w + follower.standby_w)).sum() / 3.6e6 / 1e6)


def best_of_all(follower: Follower, line: PriceLine, air_c: float) -> float:
    """The cheapest schedule of one or two runs, over every minute of either [currency]."""
    heated = [follower.tap_c]
    while heated[-1] < follower.strike_c:
        heated.append(float(follower.moved(heated[-1], follower.heat_w, 60.0)))
    curve = np.array(heated)
    minute = np.arange(curve.size, dtype=float)
    micro = np.repeat(line.micro_per_kwh, np.diff(line.edges_s) // 60)[:WAIT_MIN] / 1e6
    spent = np.concatenate([[0.0], np.cumsum(micro)]) / 60 / 1000

    def paid(begin, end, watts: float):
        return watts * (np.interp(end, np.arange(spent.size), spent) - np.interp(begin, np.arange(spent.size), spent))

    def lasting(first):
        """Cost of a first run of so many minutes, a pause of each length, and the heating that is left."""
        cooled = np.minimum(np.interp(first, minute, curve), follower.strike_c)
        best = np.inf
        for pause in range(WAIT_MIN):
            last = np.interp(follower.strike_c, curve, minute) - np.interp(cooled, curve, minute)
            begin = WAIT_MIN - last - pause - first
            may = (begin >= 0) & ((cooled >= air_c) | (pause == 0))
            cost = (
                paid(begin, begin + first, follower.meter_w)
                + paid(WAIT_MIN - last, WAIT_MIN, follower.meter_w)
                + paid(begin, WAIT_MIN, follower.standby_w)
            )
            best = min(best, float(np.where(may, cost, np.inf).min()))
            cooled = follower.moved(cooled, 0.0, 60.0)
        return best

    whole = float(np.interp(follower.strike_c, curve, minute))
    return lasting(np.append(np.arange(1.0, np.floor(whole)), whole))


@pytest.mark.parametrize("case", range(CASES))
def test_a_schedule_lands_costs_what_it_says_and_none_is_cheaper(case: int) -> None:
    """Followed it lands within 0.3 K of the strike (seen: 0.03 K); cost to 1e-6; no schedule is 0.1 % cheaper."""
    rng = np.random.default_rng(20261127 + case)
    tap_c, air_c = rng.uniform(4, 20), rng.uniform(-5, 32)
    plan = plan_of(tap_c, air_c, jacket=bool(case % 2))
    if case % 3:
        line = line_of([int(micro) for micro in rng.integers(30_000, 400_000, WAIT_MIN // 60)])
    else:
        cheap_min = int(rng.integers(60, WAIT_MIN - 30))
        prices = np.where(np.arange(WAIT_MIN) < cheap_min, 100_000, int(rng.integers(110_000, 400_000)))
        line = line_of([int(micro) for micro in prices], 1)
    found = wait_for_cheap_heat(strike_water(simulate(plan)), line, earliest=EARLIEST, ready=READY)
    follower = Follower(plan)
    assert follower.followed(found) == pytest.approx(follower.strike_c, abs=0.3)
    if found.waits:
        assert float(found.cost) == pytest.approx(cost_by_the_second(found, follower, line), abs=1e-6)
    assert float(found.cost) <= best_of_all(follower, line, air_c) * 1.001
    assert found.cost.units <= found.direct_cost.units
    assert float(found.direct_cost) == pytest.approx(simulated_cost(plan, line), abs=1e-6)


@pytest.mark.parametrize("case", range(max(CASES // 4, 4)))
def test_below_zero_too_a_schedule_lands_and_costs_what_it_says(case: int) -> None:
    """Prices below zero for hours, or all night: heated to the strike and no further, never dearer than straight."""
    rng = np.random.default_rng(case)
    plan = plan_of(rng.uniform(4, 20), rng.uniform(-5, 32), jacket=bool(case % 2))
    low, high = [(-200_000, -1_000), (-50_000, 100_000), (-300_000, 300_000)][case % 3]
    line = line_of([int(micro) for micro in rng.integers(low, high, WAIT_MIN // 60)])
    found = wait_for_cheap_heat(strike_water(simulate(plan)), line, earliest=EARLIEST, ready=READY)
    follower = Follower(plan)
    assert follower.followed(found) == pytest.approx(follower.strike_c, abs=0.3)
    assert found.cost.units <= found.direct_cost.units
    if found.waits:
        assert float(found.cost) == pytest.approx(cost_by_the_second(found, follower, line), abs=1e-6)
    if high < 0 and not found.waits:
        assert found.cost.units == found.direct_cost.units


def simulated_cost(plan: Plan, line: PriceLine) -> float:
    """The first ramp of the simulated day, ending as the water is wanted [currency]."""
    ramp = next(phase for phase in simulate(plan).phases if phase.phase == "ramp")
    ends_s = utc_s(READY) + 0.0
    edges = np.unique(np.concatenate([[ends_s - ramp.duration_s, ends_s], line.edges_s]))
    inside = edges[(edges >= ends_s - ramp.duration_s) & (edges <= ends_s)]
    price = line.micro_per_kwh[np.searchsorted(line.edges_s, inside[:-1], side="right") - 1]
    return float((price * np.diff(inside)).sum() * ramp.mean_w / 3.6e12)


def test_water_from_a_cold_tap_in_a_warm_room_is_not_taken_to_have_warmed() -> None:
    """Tap 8 °C, air 28 °C, bare, one price: all of the heating is planned, as long as the simulated ramp takes."""
    plan = plan_of(8.0, 28.0, jacket=False)
    found = wait_for_cheap_heat(strike_water(simulate(plan)), line_of([200_000] * 10), earliest=EARLIEST, ready=READY)
    ramp = next(phase for phase in simulate(plan).phases if phase.phase == "ramp")
    heated_s = sum((run.end - run.start).total_seconds() for run in found.stretches)
    assert heated_s == pytest.approx(ramp.duration_s, abs=1.0)
    assert found.filled == pytest.approx(READY - timedelta(seconds=ramp.duration_s), abs=timedelta(seconds=1.5))
    assert Follower(plan).followed(found) == pytest.approx(ramp.to_c, abs=0.05)


def test_water_that_is_filled_in_early_is_taken_as_it_is_then() -> None:
    """Asked to stand from the evening on in a warm room it takes less heating, and lands all the same."""
    plan = plan_of(8.0, 28.0, jacket=False)
    water, line = strike_water(simulate(plan)), line_of([200_000] * 10)
    evening = wait_for_cheap_heat(water, line, earliest=EARLIEST, ready=READY, filling=Filling(at=EARLIEST))
    fresh = wait_for_cheap_heat(water, line, earliest=EARLIEST, ready=READY)
    assert evening.filled == EARLIEST
    assert evening.energy_kwh < fresh.energy_kwh - 0.3
    assert Follower(plan).followed(evening) == pytest.approx(71.0, abs=0.1)


def test_somebody_must_be_there_to_fill_it_in() -> None:
    """Cheap from 02:00 to 06:00, nobody there from 23:00 to 06:30: filled in before 23:00, heated in the night."""
    plan = plan_of(10.0, 15.0, jacket=True)
    line = line_of([300_000] * 4 + [50_000] * 4 + [300_000] * 2)
    there = np.ones(WAIT_MIN, dtype=bool)
    there[60:510] = False
    found = wait_for_cheap_heat(
        strike_water(simulate(plan)), line, earliest=EARLIEST, ready=READY, filling=Filling(minutes=there)
    )
    assert there[int((found.filled - EARLIEST) / timedelta(minutes=1))]
    assert found.filled == EARLIEST + timedelta(minutes=59)
    assert found.stretches[0].start > EARLIEST + timedelta(hours=4)
    assert Follower(plan).followed(found) == pytest.approx(71.0, abs=0.1)


def test_leads_and_pump_are_paid_for() -> None:
    """A pump of 100 W and the leads stand in the power that the meter sees."""
    plan = plan_of(10.0, 15.0, jacket=True, pump_w=100.0)
    found = wait_for_cheap_heat(strike_water(simulate(plan)), line_of([200_000] * 10), earliest=EARLIEST, ready=READY)
    ramp = next(phase for phase in simulate(plan).phases if phase.phase == "ramp")
    assert found.meter_w == pytest.approx(ramp.mean_w)
    assert found.direct_kwh == pytest.approx(ramp.energy_j / 3.6e6, rel=1e-6)


def test_only_plain_water_may_wait() -> None:
    """A plan that begins with the grain in is refused."""
    plan = read_plan("demo")
    steps = (plan.steps[1].model_copy(update={"pause_s": 0.0}), *plan.steps[2:])
    with pytest.raises(TariffError, match="only plain water"):
        strike_water(simulate(plan.model_copy(update={"steps": steps})))


def test_the_hours_of_the_plan_are_obeyed_and_told_about() -> None:
    """Every start allowed keeps them; without any the usual ones are those in which people are up."""
    plan = read_plan("demo")
    hours = Hours(earliest_min=8 * 60, somebody_there_min=(7 * 60, 22 * 60), not_on=("sun",))
    mine = plan.model_copy(update={"hours": hours})
    question = StartsQuestion(first=date(2026, 12, 5), last=date(2026, 12, 7), now=EARLIEST)
    search = starts_answer(simulate(mine), load_tariff("demo"), question).search
    starts = [search.first + timedelta(minutes=int(k)) for k in np.flatnonzero(search.allowed)]
    day_s = simulate(mine).duration_s
    assert starts
    assert all(start.hour >= 8 and start.weekday() != 6 for start in starts)
    assert all((start + timedelta(seconds=day_s)).hour < 22 for start in starts)
    assert usual_hours(mine) == hours
    assert usual_hours(plan).somebody_there_min == (360, 1380)


def test_the_water_is_filled_in_while_somebody_is_there() -> None:
    """Somebody until 22:00: the strike for five in the morning is put in by then, else in the cheap night."""
    plan, nightfall = plan_of(10.0, 15.0, jacket=True), datetime(2026, 12, 5, 22, tzinfo=UTC)
    question = StartsQuestion(
        first=date(2026, 12, 5), last=date(2026, 12, 6), now=EARLIEST, mash_at=nightfall + timedelta(hours=7)
    )
    filled = [
        starts_answer(simulate(plan.model_copy(update={"hours": hours})), load_tariff("demo"), question).waiting.filled  # type: ignore[union-attr]
        for hours in (Hours(somebody_there_min=(6 * 60, 22 * 60)), Hours())
    ]
    assert filled[0] <= nightfall < filled[1]


# By hand -------------------------------------------------------------------------------------------------------


def asked(**question: object) -> StartsQuestion:
    """A question about the demo."""
    return StartsQuestion(**{"now": EARLIEST, **question})


@pytest.mark.parametrize(("days", "refused"), [(0, False), (-1, True), (401, True)])
def test_the_last_day_follows_the_first(days: int, refused: bool) -> None:  # noqa: FBT001
    """By nothing to 400 days."""
    day, tariff, first = simulate(read_plan("demo")), load_tariff("demo"), date(2026, 12, 5)
    question = asked(first=first, last=first + timedelta(days=days))
    if refused:
        with pytest.raises(TariffError, match="the last day must follow the first, by 400 days at most"):
            starts_answer(day, tariff, question)
    else:
        search = starts_answer(day, tariff, question).search
        assert (search.first, search.allowed.size) == (datetime(2026, 12, 5, tzinfo=UTC), 1440)


def test_without_a_range_a_week_is_looked_at() -> None:
    """Of the day of now, from its midnight where a moment to compare with was given; seven days."""
    found = starts_answer(simulate(read_plan("demo")), load_tariff("demo"), asked())
    assert found.search.first == datetime(2026, 12, 5, tzinfo=UTC)
    assert found.search.allowed.size == 7 * 1440
    assert (found.habit, found.waiting, found.best_ends) == (None, None, None)


def test_from_now_on_no_start_lies_in_the_past() -> None:
    """Without a day and a moment the first start is this minute, or today's midnight where that is to come."""
    before = datetime.now(UTC).replace(second=0, microsecond=0)
    first = _first_start(StartsQuestion(), before.date(), "UTC")
    assert before <= first <= datetime.now(UTC)
    tomorrow = before.date() + timedelta(days=1)
    assert _first_start(StartsQuestion(), tomorrow, "UTC") == datetime(
        tomorrow.year, tomorrow.month, tomorrow.day, tzinfo=UTC
    )
    assert _first_start(StartsQuestion(first=date(2026, 1, 2)), date(2026, 1, 2), "UTC") == datetime(
        2026, 1, 2, tzinfo=UTC
    )


def test_the_brewer_s_hours_as_limits() -> None:
    """From eight, done by nine at night, never on Sunday and Monday, somebody there from seven to ten.

    Without hours in which somebody is there nothing has to lie in them.
    """
    day = simulate(read_plan("demo"))
    hours = Hours(earliest_min=480, done_by_min=1260, not_on=("sun", "mon"), somebody_there_min=(420, 1320))
    limits = limits_of(day, hours)
    assert (limits.earliest_min, limits.finish_by_min, limits.not_on) == (480, 1260, frozenset({0, 6}))
    assert (limits.attended_from_min, limits.attended_to_min) == (420, 1320)
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    assert (boil.start_s, boil.end_s) in limits.attended
    assert limits.attended == tuple(sorted(limits.attended))
    assert len(limits.attended) > 3
    free = limits_of(day, Hours())
    assert (free.attended, free.attended_from_min, free.attended_to_min) == ((), 0, 1440)


@pytest.mark.parametrize(("hours", "refused"), [(18.0, False), (18.1, True), (0.0, True), (-1.0, True)])
def test_water_waits_for_eighteen_hours_at_most(hours: float, refused: bool) -> None:  # noqa: FBT001
    """It is filled in before the mash, by so long at most."""
    day, tariff = simulate(plan_of(10.0, 15.0, jacket=True)), load_tariff("demo")
    question = asked(first=date(2026, 12, 5), last=date(2026, 12, 5), mash_at=READY,
                     filled_at=READY - timedelta(hours=hours))  # fmt: skip
    if refused:
        with pytest.raises(TariffError, match="filled in before the mash, by 18 h at most"):
            starts_answer(day, tariff, question)
    else:
        assert starts_answer(day, tariff, question).waiting.filled == READY - timedelta(hours=hours)


def test_the_strike_water_of_a_plan() -> None:
    """Its tap, its strike and its air; the table from the colder of tap and air to three kelvins above the strike.

    The heat that it takes is that of the simulated ramp over its time; the meter's less what stands by anyway.
    """
    for tap_c, air_c, low_c in ((8.0, 28.0, 8.0), (15.0, 10.0, 10.0)):
        day = simulate(plan_of(tap_c, air_c, jacket=True))
        water, ramp = strike_water(day), day.phases[0]
        assert (water.tap_c, water.strike_c, water.air_c) == (tap_c, pytest.approx(ramp.to_c), air_c)
        assert (water.temperatures_c[0], water.temperatures_c[-1]) == (low_c, pytest.approx(ramp.to_c + 3.0))
        assert 0.09 < np.diff(water.temperatures_c).max() <= 0.1
        assert water.direct_s == pytest.approx(ramp.duration_s)
        assert water.heat_w == pytest.approx(ramp.heat_j / ramp.duration_s, rel=1e-6)
        assert water.meter_w + water.standby_w == pytest.approx(ramp.mean_w, rel=1e-6)
        rise_j = np.interp([tap_c, ramp.to_c], water.temperatures_c, water.stored_j)
        assert rise_j[1] - rise_j[0] == pytest.approx(ramp.stored_j, rel=1e-3)


@pytest.mark.parametrize(("tap_c", "air_c"), [(72.0, 15.0), (15.0, 72.0)])
def test_water_that_needs_no_keeping_is_no_question(tap_c: float, air_c: float) -> None:
    """Where tap or air are as warm as the strike of 71 °C."""
    with pytest.raises((TariffError, BrewDayError)):
        strike_water(simulate(plan_of(tap_c, air_c, jacket=True)))


def test_somebody_is_there_minute_by_minute() -> None:
    """From ten at night until eight, somebody from seven on: the last hour; round the clock where no hours are."""
    there = _somebody_there(Hours(somebody_there_min=(420, 1320)), EARLIEST, READY, "UTC")
    assert there.size == WAIT_MIN
    assert np.flatnonzero(there).tolist() == [0, *range(540, 600)]
    assert _somebody_there(Hours(), EARLIEST, READY, "UTC") is None
