"""The best plan and its frontier, against brute force."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product

import pytest

from energyplan.advice.best import best_plan, best_plans
from energyplan.advice.compare import BestChoice, BestPlan, Ramps, frontier_of
from energyplan.advice.odds import does_as_often, weak_steps
from energyplan.advice.pricing import Pricing
from energyplan.advice.ramps import over_codes
from energyplan.advice.variants import with_end_volume, with_ramp_caps, with_wait
from energyplan.base.errors import PlanError, TariffError
from energyplan.circuits.check import check
from energyplan.day.brewday import simulate
from energyplan.plan.model import Circuit, Hours, HouseSupply, OtherLoad, Plan, Step
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import PriceLine

NIGHT_ENDS = datetime(2026, 12, 5, 8, tzinfo=UTC)
NIGHT_BEGINS = datetime(2026, 12, 5, 23, tzinfo=UTC)


def small_plan(builders, **tables) -> Plan:  # type: ignore[no-untyped-def]
    """Strike, mash and a short boil with 3000 W."""
    mash = builders.mash_plan()
    steps = (*mash.steps[:2], mash.steps[2], mash.steps[3].model_copy(update={"hold_s": 1200.0}))
    return builders.mash_plan(*steps, gravity=None, **tables)


@pytest.fixture
def window(line: PriceLine) -> Pricing:
    """Starts from 18:30 to 20:00, three hours before the night's price begins: who waits brews cheaper."""
    first = NIGHT_BEGINS - timedelta(minutes=270)
    return Pricing(line=line, start=first, first=first, last=NIGHT_BEGINS - timedelta(minutes=180))


CHOICE = BestChoice(waits_min=(0.0, 30.0, 90.0), to_the_minute=False, ramp_levels=3)


def brute_force(plan: Plan, pricing: Pricing, found: BestPlan) -> list[tuple[float, float]]:
    """Minutes and cost of every ramp power, wait and start, each simulated and priced alone, with the same wort."""
    base = simulate(plan)
    assert pricing.first is not None
    powers_w: list[float | None] = [None, 1000.0, 2900.0]
    assert {option.ramps.power_w for option in found.frontier} <= set(powers_w)
    points = []
    for power_w, wait_min in product(powers_w, CHOICE.waits_min):
        caps = {} if power_w is None else {step.name: power_w for step in plan.steps if step.heats}
        try:
            dry = with_end_volume(with_ramp_caps(plan, caps), base.wort.end_l, extract_kg=base.wort.extract_kg)
            day = simulate(with_wait(dry.plan, wait_min), extract=base.wort.extract_kg)
        except ValueError:
            continue  # 1000 W don't boil it
        for minute in range(91):
            start = pricing.first + timedelta(minutes=minute)
            points.append((day.duration_s / 60, float(price(day.profiles, pricing.line, start).total)))
    return points


def test_frontier_has_no_dominated_point(builders, window: Pricing) -> None:
    """Against every combination on the grid, simulated and priced one by one."""
    plan = small_plan(builders)
    found = best_plan(plan, "cost", pricing=window, choice=CHOICE)
    points = brute_force(plan, window, found)
    assert len(found.frontier) > 1
    for option in found.frontier:
        better = [p for p in points if p[0] < option.minutes + 1e-3 and p[1] < option.value - 1e-5]
        assert better == []
    for minutes, cost in points:
        assert any(o.minutes <= minutes + 1e-3 and o.value <= cost + 1e-5 for o in found.frontier)


def test_best_for_cost_is_the_cheapest_of_all(builders, window: Pricing) -> None:
    """It waits, and takes more kWh."""
    plan = small_plan(builders)
    found = best_plan(plan, "cost", pricing=window, choice=CHOICE)
    assert found.chosen.value == pytest.approx(min(cost for _, cost in brute_force(plan, window, found)), abs=1e-5)
    assert found.chosen.added_kwh == pytest.approx(found.chosen.day.energy_kwh - simulate(plan).energy_kwh)
    assert found.chosen.wait_min > 0
    assert found.chosen.added_kwh > 0


def test_waits_of_any_minute_are_found(builders, window: Pricing) -> None:
    """Cheaper, or as cheap and shorter, than any wait of 0 to 180 min in steps of three, each priced alone."""
    plan = small_plan(builders)
    found = best_plan(plan, "cost", pricing=window, choice=BestChoice(ramp_levels=1))
    base, costs = simulate(plan), []
    for wait_min in range(0, 181, 3):
        day = simulate(with_wait(plan, float(wait_min)), extract=base.wort.extract_kg)
        search = window.starts(day)
        assert search is not None
        costs.append(float(search.best.cost))
    assert found.chosen.value <= min(costs) + 1e-9
    assert found.chosen.wait_min not in BestChoice().waits_min


def test_best_for_time_is_the_shortest(builders, window: Pricing) -> None:
    """No wait, all elements; caps that the plan set are lifted, as for no other aim."""
    plan = with_ramp_caps(small_plan(builders), {"Mash": 1000.0, "Strike": 2000.0})
    found = best_plan(plan, "time", pricing=window, choice=CHOICE)
    assert found.chosen.ramps == Ramps(kind="all")
    assert found.chosen.minutes == min(option.minutes for option in found.frontier)
    assert found.chosen.minutes < simulate(plan).duration_s / 60
    cheapest = best_plan(plan, "cost", pricing=window, choice=CHOICE)
    assert all(option.ramps.kind != "all" for option in (cheapest.chosen, *cheapest.frontier))


def test_every_option_of_the_frontier_keeps_the_ratings(demo: Plan, free_start: Pricing) -> None:
    """The packaged plan is over as it is; with a boil that the smaller element carries, the options are not."""
    steps = tuple(
        step.model_copy(update={"lid": "ajar", "hold_power_w": 1700.0}) if step.boil else step for step in demo.steps
    )
    gentle = demo.model_copy(update={"steps": steps})
    found = best_plan(gentle, "circuit", pricing=free_start, choice=BestChoice(waits_min=(0.0, 60.0), ramp_levels=2))
    assert found.planned.over == ("breaker",)
    assert found.chosen.over == ()
    assert found.chosen.use_frac is not None
    assert found.planned.use_frac is not None
    assert found.chosen.use_frac < 1 < found.planned.use_frac
    for option in found.frontier:
        assert option.plan.circuit is not None
        assert option.start is not None
        checked = check(option.day.profiles, option.plan.circuit, option.plan.other_loads, option.start, UTC)
        assert over_codes(checked) == ()


def test_another_load_pushes_the_start_away(builders, line: PriceLine) -> None:
    """A car on the circuit until 02:00 keeps the cheapest starts of the night over; a later one is found."""
    car = OtherLoad(name="Car", power_w=2300.0, from_min=0, to_min=120)
    plan = small_plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=16.0), other_loads=(car,))
    midnight = NIGHT_ENDS.replace(hour=0)
    pricing = Pricing(line=line, start=NIGHT_ENDS, first=midnight, last=NIGHT_ENDS)
    found = best_plan(plan, "cost", pricing=pricing, choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
    free = best_plan(
        plan.model_copy(update={"other_loads": ()}), "cost", pricing=pricing, choice=BestChoice(waits_min=(0.0,))
    )
    assert free.chosen.start == midnight
    assert found.chosen.over == ()
    assert found.chosen.start is not None
    assert found.chosen.start > midnight + timedelta(hours=1)  # a breaker bears the rest of the overlap


def test_nothing_keeps_the_ratings(builders, window: Pricing) -> None:
    """A 6 A breaker: the options that break fewest are left."""
    plan = small_plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=6.0))
    found = best_plan(plan, "circuit", pricing=window, choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
    assert found.chosen.over == ("breaker",)


def test_a_switched_vessel_gets_smaller_combinations(builders, window: Pricing) -> None:
    """2000 W of 2000 + 1000 W keep 10 A; the holds get the advised powers."""
    plan = small_plan(
        builders,
        vessel=builders.vessel(2000.0, 1000.0, control="switched"),
        circuit=Circuit(voltage_v=230.0, breaker_a=10.0),
    )
    steps = tuple(s.model_copy(update={"hold_power_w": 2000.0, "lid": "ajar"}) if s.boil else s for s in plan.steps)
    plan = plan.model_copy(update={"steps": steps})
    found = best_plan(plan, "circuit", pricing=window, choice=BestChoice(waits_min=(0.0,)))
    assert found.chosen.over == ()
    assert found.chosen.ramps == Ramps(kind="capped", power_w=2000.0)
    assert found.chosen.plan.steps[1].hold_power_w == 1000.0


def test_fewer_elements_that_stop_the_boil_are_no_option(builders, window: Pricing) -> None:
    """1600 W of 1600 + 1400 W keep 7 A and reach the boil with the lid ajar, but not an open one: it stays over."""
    steps = (
        *builders.mash_plan().steps[:3],
        Step(name="Up", boil=True, lid="ajar"),
        Step(name="Boil", boil=True, hold_s=1800.0),
    )
    circuit = Circuit(voltage_v=230.0, breaker_a=7.0)
    plan = builders.mash_plan(*steps, gravity=None, vessel=builders.vessel(1600.0, 1400.0), circuit=circuit)
    found = best_plan(plan, "circuit", pricing=window, choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
    assert found.chosen.ramps == Ramps()
    assert found.chosen.over == ("breaker",)


def test_every_option_ends_with_the_plans_own_wort(demo: Plan, free_start: Pricing) -> None:
    """Slower ramps evaporate more: water is added, and the litres and the gravity stay."""
    base = simulate(demo).wort
    found = best_plan(demo, "cost", pricing=free_start, choice=BestChoice(waits_min=(0.0, 30.0), ramp_levels=4))
    for option in (found.chosen, *found.frontier):
        assert option.day.wort.end_l == pytest.approx(base.end_l, abs=1e-3)
        assert option.day.wort.gravity_end == pytest.approx(base.gravity_end, abs=2e-5)


def test_fewer_elements_that_would_fail_more_often_are_no_option(demo: Plan, free_start: Pricing) -> None:
    """1800 W of the demo's 2200 W: its boil, which is near the limit on a bad day, would die on many."""
    found = best_plan(demo, "circuit", pricing=free_start, choice=BestChoice(waits_min=(0.0,), ramp_levels=3))
    assert all(option.ramps.kind != "elements" for option in (found.chosen, *found.frontier))


def test_nothing_chosen_fails_where_the_plan_does_not(builders, window: Pricing) -> None:
    """No hold or boil of a chosen plan fails on more than one day in twenty, unless it did so as planned."""
    plan = small_plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=10.0))
    base = simulate(plan)
    for found in best_plans(plan, ("cost", "time", "circuit"), pricing=window, choice=CHOICE):
        for option in (found.chosen, *found.frontier):
            assert does_as_often(option.day, base)
            assert set(weak_steps(option.day)) <= set(weak_steps(base))


def test_a_plan_whose_own_boil_stops_is_known(builders, window: Pricing) -> None:
    """Its options are no worse than it, so they are kept; the weak step is named."""
    plan = small_plan(builders)
    steps = tuple(s.model_copy(update={"hold_power_w": 1000.0}) if s.boil else s for s in plan.steps)
    weak = plan.model_copy(update={"steps": steps})
    found = best_plan(weak, "cost", pricing=window, choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
    assert "Boil" in found.weak


def test_a_way_that_keeps_the_contract_comes_before_one_that_breaks_it(builders, window: Pricing) -> None:
    """3500 W beside 500 W of the house pass 3.4 kW; elements of 2500 W do not, whatever is cheaper or quicker."""
    plan = small_plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=16.0))
    elements = tuple(plan.vessel.elements[0].model_copy(update={"power_w": watts}) for watts in (2500.0, 1000.0))
    vessel = plan.vessel.model_copy(update={"elements": elements})
    supply = HouseSupply(contracted_w=3400.0, base_load_w=500.0)
    plan = plan.model_copy(update={"vessel": vessel, "supply": supply})
    for aim in ("cost", "circuit"):
        found = best_plan(plan, aim, pricing=window, choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
        assert found.planned.over == ("contract",)
        assert found.chosen.over == ()
        assert found.chosen.ramps == Ramps(kind="elements", power_w=2500.0)
    broken = plan.model_copy(update={"supply": HouseSupply(contracted_w=400.0, base_load_w=500.0)})
    assert "contract" in best_plan(broken, "cost", pricing=window, choice=BestChoice(waits_min=(0.0,))).idle_over


def test_over_with_everything_off_is_apart(builders, window: Pricing) -> None:
    """A breaker too large for its cable is no reason against an option."""
    circuit = Circuit(voltage_v=230.0, breaker_a=32.0, cable_mm2=1.5, cable_length_m=5.0)
    found = best_plan(
        small_plan(builders, circuit=circuit), "circuit", pricing=window, choice=BestChoice(waits_min=(0.0,))
    )
    assert found.chosen.over == ()
    assert "cable_protection" in found.idle_over


def test_somebody_is_there_for_all_of_it(builders, line: PriceLine) -> None:
    """From nine on: switching on, mashing in and the boil lie in those hours, whatever is cheaper at night."""
    pricing = Pricing(
        line=line, start=NIGHT_ENDS, first=NIGHT_ENDS.replace(hour=0), last=NIGHT_ENDS + timedelta(hours=4),
        hours=Hours(somebody_there_min=(540, 1320)),
    )  # fmt: skip
    found = best_plan(small_plan(builders), "cost", pricing=pricing, choice=CHOICE)
    assert found.frontier
    for option in found.frontier:
        assert option.start is not None
        assert option.start >= NIGHT_ENDS + timedelta(hours=1)


def test_without_prices_energy_is_weighed(builders) -> None:
    """The frontier is kWh against minutes; the start is the one given."""
    plan = small_plan(builders, circuit=Circuit(voltage_v=230.0))
    start = datetime(2026, 6, 1, 9, tzinfo=UTC)
    found = best_plan(plan, "circuit", start=start, choice=CHOICE)
    assert found.chosen.cost is None
    assert found.chosen.value == found.chosen.energy_kwh
    assert found.chosen.start == start
    assert found.chosen.use_frac is None
    assert found.chosen.peak_a is not None


def test_without_prices_start_or_circuit(builders) -> None:
    """Still a shortest day."""
    found = best_plan(small_plan(builders), "time", choice=BestChoice(waits_min=(0.0,), ramp_levels=1))
    assert found.chosen.start is None
    assert found.chosen.peak_a is None


def test_limits_that_no_start_meets_are_an_error(builders, window: Pricing) -> None:
    """Not even the plan itself fits into them."""
    tight = replace(window, hours=Hours(earliest_min=1230, done_by_min=1260))
    with pytest.raises(TariffError, match="no start meets the limits"):
        best_plan(small_plan(builders), "cost", pricing=tight, choice=CHOICE)


def test_frontier_of_equal_options_keeps_one(builders, window: Pricing) -> None:
    """Neither is better than the other."""
    found = best_plan(small_plan(builders), "cost", pricing=window, choice=CHOICE)
    assert frontier_of([*found.frontier, *found.frontier]) == found.frontier


def test_waiting_cools_and_heats_again(builders) -> None:
    """The strike water coasts: lid on, elements off; afterwards the day goes on as planned."""
    plan = small_plan(builders)
    waiting = with_wait(plan, 60.0)
    day = simulate(waiting)
    rest = next(phase for phase in day.phases if phase.phase == "pause")
    assert waiting.steps[1].name == "Strike kept warm"
    assert rest.duration_s == pytest.approx(3600.0, abs=1e-6)
    assert rest.lowest_c < 70.0
    assert day.energy_kwh > simulate(plan).energy_kwh
    assert with_wait(plan, 0.0) == plan


def test_the_name_of_the_wait_is_free(builders) -> None:
    """A step of that name makes it another; long names stay within their limit."""
    plan = small_plan(builders)
    steps = (plan.steps[0], plan.steps[1].model_copy(update={"name": "Strike kept warm"}), *plan.steps[2:])
    assert with_wait(plan.model_copy(update={"steps": steps}), 10.0).steps[1].name == "Kept warm 0"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda plan: best_plan(plan, "cost"), "needs prices"),
        (lambda plan: best_plan(plan.model_copy(update={"circuit": None}), "circuit"), r"needs a \[circuit\]"),
        (lambda _: BestChoice(waits_min=(30.0,)), "0 among them"),
        (lambda _: BestChoice(waits_min=(0.0, 9000.0)), "0 to 1440"),
        (lambda _: BestChoice(ramp_levels=0), "1 to 50"),
    ],
)
def test_what_makes_no_sense_is_refused(demo: Plan, call: Callable[[Plan], object], message: str) -> None:
    """The message says what to do."""
    with pytest.raises(PlanError, match=message):
        call(demo)


def test_only_plain_strike_water_may_wait(builders) -> None:
    """Not water that is no strike, nor a day that begins with the grain or a boil."""
    for steps in (
        (Step(name="Warm", target_c=60.0),),
        (Step(name="Boil", boil=True, hold_s=60.0),),
    ):
        with pytest.raises(PlanError, match="only plain strike water"):
            with_wait(builders.water_plan(*steps), 30.0)


def test_as_many_levels_of_a_ramp_as_are_said() -> None:
    """One to fifty."""
    assert (BestChoice(ramp_levels=1).ramp_levels, BestChoice(ramp_levels=50).ramp_levels) == (1, 50)
    for levels in (0, 51):
        with pytest.raises(PlanError, match="ramp_levels"):
            BestChoice(ramp_levels=levels)
