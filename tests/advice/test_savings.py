"""Savings alone and together, against direct simulations."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import combinations

import pytest

from energyplan.advice.measures import MEASURES, MeasureChoice
from energyplan.advice.pricing import Pricing, pricing_of
from energyplan.advice.savings import START, Saving, Savings, saving_of, savings
from energyplan.advice.variants import with_end_volume
from energyplan.base.errors import PlanError
from energyplan.day.brewday import simulate
from energyplan.plan.model import Hours, Plan, Site, Step
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.costs import price
from energyplan.tariffs.tarifffile import load_tariff


@pytest.fixture(scope="module")
def found(demo: Plan) -> Savings:
    """Savings of the packaged plan in energy."""
    return savings(demo)


def changed(plan: Plan, key: str) -> Plan:
    """The plan with one measure taken by hand."""
    after = next(measure for measure in MEASURES if measure.key == key).change(plan, MeasureChoice())
    return after if isinstance(after, Plan) else plan


def test_every_row_is_a_simulated_day(found: Savings) -> None:
    """Each agrees with a day simulated from the changed plan to 1e-9 kWh, with the same volume at the end."""
    base = found.base
    for row in found.rows:
        if row.keys == ("batch",):
            continue
        direct = simulate(row.day.plan, extract=base.wort.extract_kg)
        assert row.saved_kwh == pytest.approx(base.energy_kwh - direct.energy_kwh, abs=1e-9)
        assert row.saved_min == pytest.approx((base.duration_s - direct.duration_s) / 60, abs=1e-9)
        assert direct.wort.end_l == pytest.approx(base.wort.end_l, abs=1e-4)


def test_combination_is_a_direct_simulation(found: Savings, demo: Plan) -> None:
    """All its measures taken by hand, one after the other, give the same energy to 1e-4 kWh."""
    together = found.together
    assert together is not None
    plan = demo
    for key in together.keys:
        plan = changed(plan, key)
    day = with_end_volume(plan, found.base.wort.end_l, extract_kg=found.base.wort.extract_kg)
    assert together.saved_kwh == pytest.approx(found.base.energy_kwh - day.energy_kwh, abs=1e-4)


def test_combination_is_not_the_sum(found: Savings) -> None:
    """Boil length and boil power act on each other, lid and boil power too."""
    assert found.together is not None
    assert abs(found.together.saved_kwh - found.added_up_kwh) > 0.02


def test_levers_that_do_not_meet_do_add_up(demo: Plan) -> None:
    """Cleaning and the boil's length have nothing to do with each other: together is the sum to 1e-4 kWh."""
    found = savings(demo)
    alone = {row.keys[0]: row.saved_kwh for row in found.rows}
    plan = changed(changed(demo, "boil_length"), "cleaning")
    day = with_end_volume(plan, found.base.wort.end_l, extract_kg=found.base.wort.extract_kg)
    both = found.base.energy_kwh - day.energy_kwh
    assert both == pytest.approx(alone["boil_length"] + alone["cleaning"], abs=1e-4)


def test_combination_is_the_best_of_all_subsets(builders) -> None:
    """Brute force over every subset of the levers that apply to a small plan."""
    steps = (
        Step(name="Up", target_c=90.0, lid="off"),
        Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=2800.0),
    )
    plan = builders.water_plan(*steps, site=Site(air_c=10.0))
    found = savings(plan)
    assert found.together is not None
    keys = [row.keys[0] for row in found.rows if row.keys[0] != "batch" and not row.is_gift]
    best_kwh = found.base.energy_kwh
    for size in range(1, len(keys) + 1):
        for some in combinations(keys, size):
            variant = plan
            for measure in MEASURES:
                variant = changed(variant, measure.key) if measure.key in some else variant
            day = with_end_volume(variant, found.base.wort.end_l, extract_kg=0.0)
            best_kwh = min(best_kwh, day.energy_kwh)
    assert found.base.energy_kwh - found.together.saved_kwh == pytest.approx(best_kwh, abs=1e-4)


def test_a_litre_not_boiled_off_is_not_filled(found: Savings) -> None:
    """A shorter boil needs less water; per litre it saves at least 0.73 kWh (physics of latent heat and heating)."""
    row = next(row for row in found.rows if row.keys == ("boil_length",))
    assert row.water_change_l < -1.0
    assert row.saved_kwh / -row.water_change_l > 0.73


def test_a_jacket_saves_nothing_in_a_boil_of_fixed_power(builders) -> None:
    """The energy of the boil is power times time; only what is boiled off rises."""
    steps = (Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=2500.0),)
    plan = builders.water_plan(*steps, water_c=99.0)
    row = next(row for row in savings(plan).rows if row.keys == ("jacket",))
    boil_kwh = [day.energy_of("boil") for day in (simulate(plan), row.day)]
    assert boil_kwh[0] == pytest.approx(boil_kwh[1], abs=1e-9)
    assert row.water_change_l > 0


def test_a_hold_cap_is_no_measure(found: Savings) -> None:
    """It saves nothing, so it is not among the rows."""
    assert not any("cap" in key or "hold_power" in key for row in found.rows for key in row.keys)


def test_batch_is_counted_for_the_same_litres(found: Savings) -> None:
    """A larger batch takes more, but less per litre."""
    row = next(row for row in found.rows if row.keys == ("batch",))
    per_litre = found.base.energy_kwh / found.base.wort.end_l, row.day.energy_kwh / row.day.wort.end_l
    assert row.day.wort.end_l == pytest.approx(1.25 * found.base.wort.end_l, rel=1e-6)
    assert row.day.energy_kwh > found.base.energy_kwh
    assert row.saved_kwh == pytest.approx((per_litre[0] - per_litre[1]) * found.base.wort.end_l, abs=1e-6)
    assert found.together is not None
    assert "batch" not in found.together.keys
    longer_min = (row.day.duration_s - found.base.duration_s) / 60
    assert longer_min > 5
    assert row.saved_min == pytest.approx(-longer_min)  # its day is longer, whatever a litre's share of it


def test_a_larger_batch_that_does_not_fit_is_left_out(demo: Plan) -> None:
    """The reason is the brew day's error."""
    left_out = dict(savings(demo, choice=MeasureChoice(batch_frac=2.0)).left_out)
    assert "run over" in str(left_out["batch"].error)
    full = dict(savings(demo, choice=MeasureChoice(batch_frac=1.5)).left_out)
    assert full["batch"].code == "no_room"  # a vessel filled beyond nine tenths is no offer


def test_rows_are_ranked(found: Savings) -> None:
    """The most kWh first."""
    assert [row.saved_kwh for row in found.rows] == sorted((row.saved_kwh for row in found.rows), reverse=True)


def test_per_year_is_per_brew_times_brews(found: Savings, demo: Plan) -> None:
    """Energy; no money without prices."""
    row = found.rows[0]
    assert found.per_year_kwh(row) == pytest.approx(20 * row.saved_kwh)
    assert found.per_year_money(row) is None


def test_money_is_priced_from_the_day(demo: Plan, pricing: Pricing) -> None:
    """What a row saves is the difference of two exact prices."""
    found = savings(demo, pricing=pricing)
    row = next(row for row in found.rows if row.keys == ("boil_length",))
    direct = price(row.day.profiles, pricing.line, pricing.start).total
    assert found.base_cost is not None
    assert row.saved_money == found.base_cost - direct
    assert float(found.per_year_money(row) or 0) == pytest.approx(20 * float(row.saved_money or 0))


def test_payback_is_price_over_saving(demo: Plan, pricing: Pricing) -> None:
    """40 EUR for a jacket; a measure that saves no money never pays."""
    found = savings(demo, pricing=pricing, prices={"jacket": 40.0})
    jacket = next(row for row in found.rows if row.keys == ("jacket",))
    assert jacket.payback_brews == pytest.approx(40.0 / float(jacket.saved_money or 0))
    assert next(row for row in found.rows if row.keys == ("cleaning",)).payback_brews is None
    assert found.together is not None
    assert found.together.price == 40.0


def test_a_change_that_costs_money_never_pays(builders, pricing: Pricing) -> None:
    """A jacket on a vessel colder than the air: nothing is earned."""
    plan = builders.water_plan(Step(name="Cool", target_c=16.0, hold_s=3600.0, pump=False), site=Site(air_c=35.0))
    found = savings(plan, pricing=pricing, prices={"jacket": 40.0})
    jacket = next(row for row in found.rows if row.keys == ("jacket",))
    assert jacket.saved_kwh <= 0
    assert jacket.payback_brews is None


def test_best_start_changes_money_not_energy(demo: Plan, free_start: Pricing) -> None:
    """The night is cheaper by more than half."""
    found = savings(demo, pricing=free_start)
    row = next(row for row in found.rows if row.keys == ("start",))
    assert row.saved_kwh == 0
    assert float(row.saved_money or 0) > 1.0
    assert row.start is not None
    assert row.start < free_start.start
    assert found.together is not None
    assert found.together.keys[-1] == "start"
    assert found.objective == "cost"


def test_together_with_the_start_saves_less_money_than_the_sum(demo: Plan, free_start: Pricing) -> None:
    """A kWh saved at night is worth half."""
    found = savings(demo, pricing=free_start)
    assert found.together is not None
    assert found.added_up_money is not None
    assert float(found.together.saved_money or 0) < found.added_up_money


def test_objective_energy_with_prices(demo: Plan, free_start: Pricing) -> None:
    """Ranked by kWh, with money beside it."""
    found = savings(demo, pricing=free_start, objective="energy")
    assert found.rows[0].saved_kwh == max(row.saved_kwh for row in found.rows)
    assert found.rows[-1].keys == ("start",)


def test_nothing_to_save(builders) -> None:
    """Water that is there already: no measure helps, and there is no combination."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=30.0), site=Site(air_c=30.0), water_c=25.0,
        vessel=builders.vessel(heat_loss_w_per_k=0.01),
    )  # fmt: skip
    found = savings(plan, choice=MeasureChoice(water_c=20.0))
    assert found.together is None
    assert len(found.left_out) >= 8


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda plan: savings(plan, prices={"jakcet": 40.0}), "jakcet: no such measure"),
        (lambda plan: savings(plan, objective="cost"), "needs prices"),
    ],
)
def test_what_makes_no_sense_is_refused(demo: Plan, call: Callable[[Plan], Savings], message: str) -> None:
    """The message says what to do."""
    with pytest.raises(PlanError, match=message):
        call(demo)


def test_a_start_needs_both_ends(demo: Plan, pricing: Pricing) -> None:
    """Without a window the start is not up for choice."""
    half = Pricing(line=pricing.line, start=pricing.start, first=pricing.start - timedelta(hours=1))
    assert not half.may_move
    assert half.starts(simulate(demo)) is None


def test_what_something_else_pays_for_is_no_part_of_the_best(found: Savings, demo: Plan) -> None:
    """A warm room and warm water count only for those who have them for nothing."""
    assert {row.keys[0] for row in found.rows if row.is_gift} == {"warm_place", "warm_water"}
    assert found.together is not None
    assert not {"warm_place", "warm_water"} & set(found.together.keys)
    free = savings(demo, choice=MeasureChoice(for_nothing=frozenset({"warm_water"}))).together
    assert free is not None
    assert "warm_water" in free.keys
    assert "warm_place" not in free.keys
    assert free.saved_kwh > found.together.saved_kwh + 0.2


def test_weeks_of_rest_cost_no_time(demo: Plan, builders) -> None:
    """A pause of twenty days before the cleaning: at most twice the steps of one day."""
    counts = []
    for days in (1, 20):
        steps = tuple(
            step.model_copy(update={"pause_s": days * 86_400.0}) if step.name == "Cleaning" else step
            for step in demo.steps
        )
        day = simulate(demo.model_copy(update={"steps": steps}))
        counts.append(len(day.trajectory.times_s))
    assert counts[1] < 2 * counts[0]


def test_no_start_is_proposed_outside_the_brewers_hours(demo: Plan) -> None:
    """Without hours: not before six, done by eleven at night; with them, from six into the night: theirs."""
    tariff = load_tariff("demo")
    late = demo.model_copy(update={"hours": Hours(earliest_min=1080, done_by_min=300)})
    starts = []
    for plan in (demo, late):
        pricing = pricing_of(plan, tariff, datetime(2026, 12, 5, 8, 30, tzinfo=UTC), any_start=True)
        row = next(row for row in savings(plan, pricing=pricing).rows if row.keys == ("start",))
        assert row.start is not None
        starts.append(to_local(row.start, tariff.time_zone))
    assert starts[0].hour >= 6
    assert starts[1].hour >= 18
    assert all((start + timedelta(seconds=simulate(demo).duration_s)).hour < 23 for start in starts)


@pytest.mark.parametrize(("date", "hours"), [((2026, 3, 29), 23), ((2026, 10, 25), 25), ((2026, 12, 5), 24)])
def test_the_starts_up_for_choice_are_those_of_one_local_day(
    demo: Plan, date: tuple[int, int, int], hours: int
) -> None:
    """From midnight to the last minute before the next, on the days the clocks change too (Dublin)."""
    pricing = pricing_of(demo, load_tariff("demo"), datetime(*date, 12, tzinfo=UTC), any_start=True)
    assert pricing.first is not None
    assert pricing.last is not None
    first, last = (to_local(moment, "Europe/Dublin") for moment in (pricing.first, pricing.last))
    assert (first.hour, first.minute, last.hour, last.minute) == (0, 0, 23, 59)
    assert first.date() == last.date()
    assert pricing.last - pricing.first == timedelta(hours=hours, minutes=-1)


def test_ticked_changes_are_one_simulated_day(demo: Plan, found: Savings) -> None:
    """One alone is its row; some together are what they were in the combination; none is nothing."""
    jacket = next(row for row in found.rows if row.keys == ("jacket",))
    assert isinstance(alone := saving_of(demo, ["jacket"]), Saving)
    assert alone.saved_kwh == pytest.approx(jacket.saved_kwh, abs=1e-4)
    assert found.together is not None
    assert isinstance(together := saving_of(demo, found.together.keys), Saving)
    assert together.saved_kwh == pytest.approx(found.together.saved_kwh, abs=1e-4)
    assert isinstance(nothing := saving_of(demo, []), Saving)
    assert nothing.saved_kwh == 0


def test_ticked_changes_that_cannot_be_say_why(builders) -> None:
    """A jacket on a vessel whose loss was measured."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=builders.vessel(heat_loss_w_per_k=5.0))
    assert getattr(saving_of(plan, ["jacket"]), "code", "") == "measured_loss"


def test_a_ticked_start_is_the_cheapest_that_the_changed_day_has(demo: Plan) -> None:
    """Within the hours of the same day, costed by hand."""
    tariff = load_tariff("two_rate")
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    pricing = pricing_of(demo, tariff, start, any_start=True)
    found = saving_of(demo, ["jacket", "start"], pricing=pricing)
    assert isinstance(found, Saving)
    assert found.keys == ("jacket", "start")
    assert found.start is not None
    after = price(found.day.profiles, pricing.line, found.start).total
    assert found.saved_money == pricing.cost(simulate(demo)) - after
    hours = [datetime(2026, 12, 5, hour, tzinfo=UTC) for hour in range(7, 16)]
    assert all(after.units <= price(found.day.profiles, pricing.line, hour).total.units for hour in hours)


def test_a_start_that_saves_nothing_is_no_change(demo) -> None:
    """Begun at the cheapest minute, or outside one's hours: another start that costs as much or more is not offered."""
    tariff = load_tariff("demo")
    for hour in (0, 1, 2, 3):
        start = datetime(2026, 12, 5, hour, 30, tzinfo=UTC)
        found = savings(demo, pricing=pricing_of(demo, tariff, start, any_start=True))
        moved = [row for row in found.rows if row.keys == (START,)]
        assert all(float(row.saved_money) > 0 for row in moved if row.saved_money is not None)
        together = found.together
        assert together is not None
        assert START in together.keys or together.start == start
        if START in together.keys:
            pricing = pricing_of(demo, tariff, start, any_start=True)
            assert pricing.cost(together.day, together.start).units < pricing.cost(together.day).units
    assert not moved


def test_each_number_of_a_saving_is_that_of_two_days(demo: Plan, free_start: Pricing) -> None:
    """kWh, minutes, litres, money and start of every row beside the planned day, and of all together."""
    found = savings(demo, pricing=free_start, prices={"jacket": 40.0, "boil_power": 1.0}, brews_per_year=12.0)
    day = simulate(demo)
    assert float(found.base_cost) == pytest.approx(float(price(day.profiles, free_start.line, free_start.start).total))
    assert (found.brews_per_year, found.objective, found.zone) == (12.0, "cost", free_start.clock)
    assert found.hours == free_start.hours
    assert found.start == to_local(free_start.start, free_start.clock)
    for row in (*found.rows, found.together):
        share = day.wort.end_l / row.day.wort.end_l if row.keys == ("batch",) else 1.0
        assert row.per_brew_share == pytest.approx(share)
        assert row.saved_kwh == pytest.approx(day.energy_kwh - share * row.day.energy_kwh)
        assert row.saved_min == pytest.approx((day.duration_s - row.day.duration_s) / 60)
        assert row.water_change_l == pytest.approx(row.day.plan.batch.water_l - 27.0)
        cost = float(price(row.day.profiles, free_start.line, row.start).total)
        assert float(row.saved_money) == pytest.approx(float(found.base_cost) - share * cost, abs=2e-6)
        assert row.is_gift is bool({"warm_place", "warm_water"} & set(row.keys))
        asked = [{"jacket": 40.0, "boil_power": 1.0}[key] for key in row.keys if key in ("jacket", "boil_power")]
        assert row.price == (sum(asked) if asked else None)
        assert (row.start != free_start.start) is (START in row.keys)
    alone = [row for row in found.rows if row.keys[0] in found.together.keys]
    assert found.added_up_kwh == pytest.approx(sum(row.saved_kwh for row in alone))
    assert found.added_up_money == pytest.approx(sum(float(row.saved_money) for row in alone))
    assert found.together.payback_brews is None
    money = [float(row.saved_money) for row in found.rows]
    assert money == sorted(money, reverse=True)
    assert float(found.per_year_money(found.rows[0])) == pytest.approx(12 * money[0], abs=1e-5)


def test_each_measure_of_the_best_combination_is_worth_something(demo: Plan, found: Savings) -> None:
    """Without any one of them the day takes more; those that were left out of it would save nothing more."""
    assert found.together is not None
    best, keys = found.together.day.energy_kwh, set(found.together.keys)
    for key in keys:
        fewer = saving_of(demo, keys - {key})
        assert isinstance(fewer, Saving)
        assert fewer.day.energy_kwh > best
    for row in found.rows:
        if row.keys[0] in keys or row.is_gift or row.keys == ("batch",):
            continue
        more = saving_of(demo, keys | set(row.keys))
        assert not isinstance(more, Saving) or more.day.energy_kwh >= best - 2e-3
