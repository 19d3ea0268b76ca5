"""Pieces of the choices, by hand: what comes before what, what is tried, and what is counted."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from energyplan.advice.answer import _taking, next_quarter
from energyplan.advice.best import _by_cost, _Chooser, _has_hours, _used_frac
from energyplan.advice.boil import COLD_KG_PER_L, BoilPower, Evaporation
from energyplan.advice.compare import BestChoice, frontier_of, rank
from energyplan.advice.drawcosts import Loads, _knots, _other_w
from energyplan.advice.ramps import _parts, _Ramps
from energyplan.advice.savings import _payback_brews, _rank
from energyplan.advice.uncertainty import Failure, _chance, _put, _summed
from energyplan.base.errors import PlanError
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.circuits.findings import Remedy
from energyplan.plan.model import Element, OtherLoad, Step
from energyplan.tariffs.priceline import PriceLine


def euros(amount):
    """Money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


# The best plan ---------------------------------------------------------------------------------------------------


def option(minutes, value, wait_min=0.0, peak_a=None, use_frac=None):
    """A way to brew, as far as it is ranked."""
    return SimpleNamespace(minutes=minutes, value=value, wait_min=wait_min, peak_a=peak_a, use_frac=use_frac)


def test_what_is_asked_for_comes_first_then_the_other():
    """Shortest, cheapest, least used; equal ones by cost or length, then by the shorter wait."""
    one = option(300.0, 2.5, 30.0, 12.0, 0.75)
    assert rank(one, "time") == (300.0, 2.5, 30.0)
    assert rank(one, "cost") == (2.5, 300.0, 30.0)
    assert rank(one, "circuit") == (0.75, 2.5, 300.0)
    assert rank(option(300.0, 2.5, 0.0, 12.0), "circuit") == (12.0, 2.5, 300.0)
    assert rank(option(300.0, 2.5), "circuit") == (0.0, 2.5, 300.0)


def test_the_frontier_has_nothing_that_is_longer_and_as_dear():
    """Of five ways the three of which none is both as short and as cheap as another."""
    ways = {name: option(*at) for name, at in {
        "short": (300, 3.0), "as short, dearer": (300, 3.1), "longer, as dear": (310, 3.0),
        "longer, cheaper": (320, 2.0), "longest, cheapest": (400, 1.0),
    }.items()}  # fmt: skip
    found = frontier_of(list(ways.values())[::-1])
    assert [name for one in found for name, way in ways.items() if way is one] == [
        "short", "longer, cheaper", "longest, cheapest",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("given", "refused"),
    [({"waits_min": (0.0, 1440.0)}, False), ({"waits_min": (0.0, 1441.0)}, True), ({"waits_min": (0.0, -1.0)}, True),
     ({"waits_min": (30.0,)}, True), ({"ramp_levels": 1}, False), ({"ramp_levels": 50}, False),
     ({"ramp_levels": 0}, True), ({"ramp_levels": 51}, True)],
)  # fmt: skip
def test_what_may_be_varied_has_borders(given, refused):
    """Waits of a day at most, none among them; one to fifty powers."""
    if refused:
        with pytest.raises(PlanError, match="expected"):
            BestChoice(**given)
    else:
        BestChoice(**given)


@pytest.mark.parametrize(
    ("control", "levels", "highest_w", "tried"),
    [
        ("modulated", 5, 3000.0, [1000.0, 1600.0, 2300.0, 2900.0]),  # not the weakest third of 100 to 2900 W
        ("modulated", 2, 3000.0, [1000.0]), ("modulated", 1, 3000.0, []), ("modulated", 5, 100.0, []),
        ("modulated", 50, 600.0, [200.0, 300.0, 400.0, 500.0]), ("switched", 5, 3000.0, [1000.0, 2000.0]),
        ("switched", 2, 3000.0, [1000.0]),
    ],
)  # fmt: skip
def test_the_powers_that_are_tried_for_ramps(builders, control, levels, highest_w, tried):
    """Below the highest that is set, evenly thinned; of 1 and 2 kW in switches each alone."""
    vessel = builders.vessel(1000.0, 2000.0, control=control)
    held = SimpleNamespace(plan=SimpleNamespace(vessel=vessel), choice=BestChoice(ramp_levels=levels))
    assert _Chooser._levels_w(held, highest_w) == pytest.approx(tried)


def test_starts_are_tried_by_their_cost_on_full_quarters():
    """The best, then every allowed quarter of an hour; only the best where the hour makes no difference."""
    first = datetime(2026, 12, 5, 8, 50, tzinfo=UTC)
    units, allowed = np.array([5] * 60), np.ones(60, dtype=bool)
    units[[10, 25, 40, 55]] = [4, 3, 9, 3]  # 9:00, 9:15, 9:30, 9:45
    allowed[55] = False
    best = first + timedelta(minutes=26)
    search = SimpleNamespace(best=SimpleNamespace(start=best), first=first, allowed=allowed, units=units)
    assert list(_by_cost(search, windows=False)) == [best]
    hours = [first + timedelta(minutes=minute) for minute in (25, 10, 40)]
    assert list(_by_cost(search, windows=True)) == [best, *hours]


@pytest.mark.parametrize(
    ("from_min", "to_min", "hours"),
    [(0, 1440, False), (0, 0, False), (600, 660, True), (1380, 60, True), (600, 600, False)],
)
def test_a_load_of_all_day_has_no_hours(from_min, to_min, hours):
    """Whether it lies on the circuit or elsewhere in the house."""
    load = OtherLoad(name="Oven", power_w=2000.0, from_min=from_min, to_min=to_min)
    for others, house in (((load,), ()), ((), (load,))):
        assert list(_has_hours(SimpleNamespace(other_loads=others, house_loads=house))) == [hours]


def test_how_much_of_each_rating_is_used():
    """The circuit's peak on what the whole circuit passes, the vessel's current on its own plug; none of none."""
    ratings = [SimpleNamespace(whole_circuit=True, limit_a=16.0), SimpleNamespace(whole_circuit=False, limit_a=13.0),
               SimpleNamespace(whole_circuit=True, limit_a=0.0)]  # fmt: skip
    checked = SimpleNamespace(
        peak_a=12.0, ratings=ratings, appliances=[SimpleNamespace(on_a=np.array([0.0, 6.5, 3.0]))]
    )
    assert list(_used_frac(checked)) == [0.75, 0.5]


# Ramps and elements ----------------------------------------------------------------------------------------------


def test_parts_of_the_elements_are_tried_strongest_first():
    """Of 2, 1.5 and 0.5 kW all but all of them, one of each sum."""
    elements = tuple(Element(power_w=power_w, voltage_v=230.0) for power_w in (2000.0, 1500.0, 500.0))
    found = [tuple(one.power_w for one in part) for part in _parts(elements)]
    assert found == [(2000, 1500), (2000, 500), (2000,), (1500,), (500,)]


def test_the_settings_of_a_ramp_that_are_tried(builders):
    """The two dozen highest of a switched vessel; of a pulsed one all elements, which draw what every cap draws."""
    switched = builders.water_plan(
        Step(name="Warm", target_c=60.0), vessel=builders.vessel(1000.0, 550.0, 270.0, 130.0, 70.0, control="switched")
    )
    tried = _Ramps._tried(None, switched)
    assert len(tried) == 24
    assert tried[0] == 2020.0
    assert list(tried) == sorted(tried, reverse=True)
    assert _Ramps._tried(None, builders.water_plan(Step(name="Warm", target_c=60.0))) == (3000.0,)


# Money -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("paid", "saved", "brews"),
    [(20.0, 0.5, 40.0), (None, 0.5, None), (20.0, 0.0, None), (20.0, -0.1, None), (20.0, None, None)],
)
def test_a_price_is_earned_after_so_many_brews(paid, saved, brews):
    """20 EUR at 0.50 EUR a brew: 40; what saves nothing never earns it."""
    found = _payback_brews(paid, None if saved is None else euros(saved))
    assert found == (brews if brews is None else pytest.approx(brews))


def test_changes_are_ranked_by_what_is_asked_for():
    """Money where it is asked for and known, else kWh."""
    row = SimpleNamespace(saved_money=euros(0.25), saved_kwh=0.9)
    assert _rank(row, "cost") == pytest.approx(0.25)
    assert _rank(row, "energy") == 0.9
    assert _rank(SimpleNamespace(saved_money=None, saved_kwh=0.9), "cost") == 0.9


# The boil --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "refused"),
    [({"per_h": 0.0}, False), ({"per_h": 0.5}, False), ({"per_h": 0.501}, True), ({"litres_per_h": 0.0}, False),
     ({"litres_per_h": -0.1}, True), ({"litres_per_h": float("nan")}, True)],
)  # fmt: skip
def test_a_wanted_evaporation_has_borders(given, refused):
    """Nothing to half of the volume an hour, or litres."""
    if refused:
        with pytest.raises(PlanError, match="expected"):
            Evaporation(**given)
    else:
        Evaporation(**given)


def test_an_evaporation_in_kilograms():
    """6 % of 30 L are 1.8 L an hour at 20 °C (0.99821 kg/L, IAPWS-95); litres are taken as they are."""
    assert pytest.approx(0.99821, abs=1e-5) == COLD_KG_PER_L
    assert Evaporation().kg_per_h(30.0) == pytest.approx(1.8 * 0.99821, rel=1e-5)
    assert Evaporation(litres_per_h=3.0).kg_per_h(30.0) == pytest.approx(3 * 0.99821, rel=1e-5)


def test_all_elements_boil_to_a_trace():
    """Two thousandths more than they give is let pass; three are not."""
    power = BoilPower(
        step="Boil", lid="off", boiling_c=100.0, volume_l=30.0, dry_w=400.0, latent_j_per_kg=2.26e6, least_w=2004.0,
        least_range_w=(1900.0, 2100.0), worst_least_w=2300.0, rolling_w=2200.0, wanted_w=1800.0, watched_w=2200.0,
        advised_w=2300.0, least_kg_per_h=2.0, most_w=2000.0,
    )  # fmt: skip
    assert power.boils
    assert not replace(power, least_w=2004.1).boils


# Draws -----------------------------------------------------------------------------------------------------------


def test_energy_before_some_times():
    """1 kW from 100 to 200 s in one draw, from 150 to 250 s in the other."""
    loads = Loads(
        from_s=np.array([[100.0, 150.0]]), to_s=np.array([[200.0, 250.0]]), power_w=np.array([[1000.0, 1000.0]])
    )
    found = loads.before_j(np.array([0, 100, 160, 300]))
    assert found.tolist() == [[0, 0], [0, 0], [60e3, 10e3], [100e3, 100e3]]
    assert loads.kept(np.array([False, True])).from_s.tolist() == [[150.0]]
    assert loads.energy_kwh == pytest.approx([1 / 36, 1 / 36])


def line(**fields):
    """Prices that change at 0, 10 and 20 minutes."""
    return PriceLine(
        edges_s=np.array([-3600, 0, 600, 1200, 7200]), micro_per_kwh=np.array([1, 2, 3, 4]), currency="EUR", zone="UTC",
        band=np.zeros(4, dtype=np.int64), band_names=("x",), **fields,
    )  # fmt: skip


def test_between_which_seconds_a_price_is_even():
    """From the full minute before to the one after; where own power is left over, minute by minute."""
    knots_s, step = _knots(line(), 0, 130, 1210)
    assert knots_s.tolist() == [120, 600, 1200, 1260]
    assert step.tolist() == [1, 2, 3]
    knots_s, step = _knots(line(), 0, 120, 600)
    assert (knots_s.tolist(), step.tolist()) == ([120, 600], [1])
    own = line(surplus_mw=np.zeros(4, dtype=np.int64), export_micro_per_kwh=1)
    knots_s, step = _knots(own, 0, 480, 720)
    assert (knots_s.tolist(), step.tolist()) == ([480, 540, 600, 660, 720], [1, 1, 2, 2])


def test_another_load_is_on_while_its_window_is_open():
    """From its first second on, and off with its last."""
    load = OtherLoad(name="Oven", power_w=2000.0, from_min=600, to_min=660)
    at_s = np.array([99.0, 100.0, 199.0, 200.0, 300.0, 350.0])
    assert _other_w(((100.0, 200.0), (300.0, 400.0)), load, at_s).tolist() == [0, 2000, 2000, 0, 2000, 2000]


def test_a_chance_has_the_error_of_its_number():
    """A quarter of 100 draws: sqrt(0.25 x 0.75 / 100)."""
    found = _chance("sag", "Mash", np.arange(100) < 25)
    assert (found.frac, found.error) == (0.25, pytest.approx(0.0433, abs=1e-4))


def test_values_stand_at_the_places_of_what_was_brewed():
    """Zero where it was not."""
    assert _put(np.array([5.0, 6.0]), np.array([True, False, True, False])).tolist() == [0.0, 5.0, 0.0, 6.0]


def test_failures_of_one_step_are_one_line():
    """Added up over the blocks, the most frequent first, with the first words."""
    found = _summed([Failure(step="A", draws=2, message="a"), Failure(step="B", draws=3, message="b"),
                     Failure(step="A", draws=4, message="c")])  # fmt: skip
    assert [(one.step, one.draws, one.message) for one in found] == [("A", 6, "a"), ("B", 3, "b")]


# The answer ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minute", "second", "then"), [(0, 0, "09:15"), (14, 59, "09:15"), (15, 0, "09:30"), (59, 1, "10:00")]
)
def test_a_day_that_nobody_gave_a_start_begins_at_the_next_quarter(minute, second, then):
    """A full one, later than now."""
    now = datetime(2026, 12, 5, 9, minute, second, 5, tzinfo=UTC)
    assert next_quarter(now).strftime("%H:%M:%S.%f") == f"{then}:00.000000"


def test_fewer_elements_are_told_by_what_the_circuit_takes():
    """The power that the whole check lets pass; where it takes none, that remedy is none; others stay."""
    few, other = Remedy(code="fewer elements", facts={"elements_w": 9.0, "x": 1}), Remedy(code="bigger circuit")
    assert list(_taking([few, other], None)) == [few, other]
    assert list(_taking([few, other], 0.0)) == [other]
    taken, kept = _taking([few, other], 1500.0)
    assert dict(taken.facts) == {"elements_w": 1500.0, "x": 1}
    assert kept is other
