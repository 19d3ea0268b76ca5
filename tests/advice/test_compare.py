"""Plans side by side, and the waterfall between two."""

import pytest

from energyplan.advice.compare import compare, waterfall
from energyplan.advice.pricing import Pricing
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.circuits.check import check
from energyplan.day.brewday import simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import HouseSupply, Plan, SecondHeater, Site, Step
from energyplan.tariffs.clock import zone_of
from energyplan.telling.comparison import comparison_told


def warmer(plan: Plan, air_c: float = 20.0) -> Plan:
    """The plan in a warmer place."""
    return plan.model_copy(update={"site": plan.site.model_copy(update={"air_c": air_c})})


def jacketed(plan: Plan) -> Plan:
    """The plan with a thick jacket."""
    return plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"jacket_thickness_m": 0.03})})


def test_one_cause_explains_all(demo: Plan) -> None:
    """Only the place differs: one piece, the whole difference, no interaction."""
    fall = waterfall(demo, warmer(demo))
    (piece,) = fall.pieces
    assert piece.causes == ("place",)
    assert piece.in_order_kwh == piece.alone_kwh == fall.to_kwh - fall.from_kwh
    assert fall.interaction_kwh == 0.0


def test_the_same_plan_has_no_pieces(demo: Plan) -> None:
    """Nothing to explain."""
    fall = waterfall(demo, demo)
    assert fall.pieces == ()
    assert fall.interaction_kwh == 0.0


def test_pieces_add_up_and_interaction_is_the_rest(demo: Plan) -> None:
    """Place and jacket act on each other: a jacket is worth less in a warm place."""
    second = with_hold_caps(jacketed(warmer(demo)), {"Boil": 1900.0})
    fall = waterfall(demo, second)
    assert [piece.causes for piece in fall.pieces] == [("place",), ("vessel",), ("powers",)]
    total = fall.to_kwh - fall.from_kwh
    assert sum(piece.in_order_kwh for piece in fall.pieces) == pytest.approx(total, abs=1e-12)
    alone = [piece.alone_kwh for piece in fall.pieces if piece.alone_kwh is not None]
    assert fall.interaction_kwh == pytest.approx(total - sum(alone), abs=1e-12)
    assert abs(fall.interaction_kwh) > 0.01
    jacket = fall.pieces[1]
    assert jacket.alone_kwh is not None
    assert jacket.alone_kwh < jacket.in_order_kwh < 0


def test_every_alone_is_a_direct_simulation(demo: Plan) -> None:
    """The jacket alone, by hand."""
    fall = waterfall(demo, jacketed(warmer(demo)))
    direct = simulate(jacketed(demo)).energy_kwh - simulate(demo).energy_kwh
    assert fall.pieces[1].alone_kwh == pytest.approx(direct, abs=1e-12)


def test_parts_of_the_steps_are_told_apart(builders) -> None:
    """Lids, lengths and powers of the same steps each have a piece."""
    first = builders.mash_plan()
    steps = [
        step.model_copy(update={"lid": "ajar", "hold_s": 5400.0}) if step.name == "Mash" else step
        for step in first.steps
    ]
    steps[-1] = steps[-1].model_copy(update={"hold_power_w": 2200.0})
    causes = [piece.causes for piece in waterfall(first, builders.mash_plan(*steps)).pieces]
    assert causes == [("lids",), ("lengths",), ("powers",)]


def test_other_steps_are_swapped_as_a_whole(demo: Plan) -> None:
    """Two days of other steps: water and grain can't be swapped before the steps, so both go together."""
    other = read_plan("lakeside")
    fall = waterfall(demo, other)
    assert any("steps" in piece.causes for piece in fall.pieces)
    assert sum(p.in_order_kwh for p in fall.pieces) == pytest.approx(fall.to_kwh - fall.from_kwh, abs=1e-12)


def test_a_cause_that_cannot_stand_alone_has_no_number(builders) -> None:
    """A small vessel can't take the large batch, so water alone is no day; the way back has other pairs."""
    small = builders.water_plan(Step(name="Warm", target_c=60.0), water_l=25.0, vessel=builders.vessel(height_m=0.3))
    large = builders.water_plan(Step(name="Warm", target_c=60.0), water_l=45.0, vessel=builders.vessel(height_m=0.6))
    fall = waterfall(small, large)
    assert [piece.causes for piece in fall.pieces] == [("vessel",), ("batch",)]
    assert fall.pieces[1].alone_kwh is None
    assert fall.interaction_kwh is None
    back = waterfall(large, small)
    assert [piece.causes for piece in back.pieces] == [("vessel", "batch")]


def test_second_heater_is_a_cause_of_its_own(demo: Plan) -> None:
    """A heater that wastes more."""
    wasteful = SecondHeater(power_w=1500.0, ready_at_step="Sparge", share_into_water=0.7)
    fall = waterfall(demo, demo.model_copy(update={"second_heater": wasteful}))
    assert [piece.causes for piece in fall.pieces] == [("second_heater",)]
    assert fall.pieces[0].in_order_kwh > 0


def test_side_by_side_with_prices(demo: Plan, pricing: Pricing) -> None:
    """Energy, cost and circuit are those of the days themselves."""
    found = compare([demo, warmer(demo), jacketed(demo)], pricing=pricing)
    assert len(found.days) == 3
    assert len(found.waterfalls) == 2
    for one, plan in zip(found.days, [demo, warmer(demo), jacketed(demo)], strict=True):
        day = simulate(plan)
        assert one.day.energy_kwh == day.energy_kwh
        assert one.cost == pricing.cost(day)
        assert plan.circuit is not None
        checked = check(day.profiles, plan.circuit, plan.other_loads, pricing.start, zone_of("Europe/Dublin"))
        assert one.circuit is not None
        assert one.circuit.peak_a == checked.peak_a


@pytest.mark.parametrize(("contracted_w", "severity"), [(1500.0, "over"), (20_000.0, "unknown")])
def test_what_the_contract_says_counts_beside_the_circuit(pricing: Pricing, contracted_w: float, severity: str) -> None:
    """2.8 kW behind a contract of 1.5 kW are over, as the report says; behind 20 kW the circuit's verdict is left."""
    plain = read_plan("demo")
    plan = plain.model_copy(update={"supply": HouseSupply(contracted_w=contracted_w)})
    told = comparison_told(compare([plan, plain], pricing=pricing))
    assert [row["severity"] for row in told.table("days")] == [severity, "unknown"]


def test_side_by_side_without_prices(demo: Plan, pricing: Pricing) -> None:
    """No start, no circuit; a start alone is enough for it."""
    bare = compare([demo, warmer(demo)])
    assert all(one.cost is None and one.circuit is None for one in bare.days)
    assert all(one.circuit for one in compare([demo, warmer(demo)], start=pricing.start).days)


def test_plans_without_a_circuit_or_place(builders, pricing: Pricing) -> None:
    """They have no circuit to check; the clock is then UTC."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), site=Site())
    assert compare([plan, plan], start=pricing.start).days[0].circuit is None


def test_one_plan_is_refused(demo: Plan) -> None:
    """Two or more."""
    with pytest.raises(PlanError, match="1 plan to compare"):
        compare([demo])


def test_causes_of_the_packaged_plans_add_up() -> None:
    """Two plans with other steps and other tasks: the pieces in order add up to the whole difference."""
    first, second = read_plan("demo"), read_plan("lakeside")
    fall = waterfall(first, second)
    whole_kwh = simulate(second).energy_kwh - simulate(first).energy_kwh
    assert sum(piece.in_order_kwh for piece in fall.pieces) == pytest.approx(whole_kwh, abs=1e-9)
    assert any("steps" in piece.causes for piece in fall.pieces)


def test_whatever_else_is_different_is_a_cause_too(demo: Plan) -> None:
    """Nothing that a plan knows is left out: the causes in order add up, whichever key it is."""
    slower = demo.steps[3].model_copy(update={"pause_s": demo.steps[3].pause_s + 3600.0})
    other = demo.model_copy(update={"steps": (*demo.steps[:3], slower, *demo.steps[4:]), "title": "Slower"})
    fall = waterfall(demo, other)
    assert sum(piece.in_order_kwh for piece in fall.pieces) == pytest.approx(fall.to_kwh - fall.from_kwh, abs=1e-9)
    assert [piece.causes for piece in fall.pieces] == [("lengths",)]


# What each swap takes along ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "cause"),
    [
        ("diameter_m", 0.38, "vessel"), ("emissivity", 0.5, "vessel"), ("stored_heat_j_per_k", 6000.0, "vessel"),
        ("pump_w", 60.0, "elements"), ("standby_w", 9.0, "elements"), ("pump_heat", 0.9, "elements"),
        ("power_step_w", 50.0, None),
    ],
)  # fmt: skip
def test_fields_of_a_vessel_belong_to_walls_or_to_elements(demo: Plan, field: str, value: object, cause: str) -> None:
    """What holds the heat, and what makes it; a step of the cap takes no energy."""
    other = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={field: value})})
    fall = waterfall(demo, other)
    named = [one for piece in fall.pieces for one in piece.causes]
    assert named == ([cause] if cause else ["elements"])
    assert fall.to_kwh - fall.from_kwh == pytest.approx(sum(piece.in_order_kwh for piece in fall.pieces))
    if cause is None:
        assert fall.pieces[0].in_order_kwh == 0.0


@pytest.mark.parametrize(
    ("field", "value", "cause"),
    [
        ("lid", "ajar", "lids"), ("pump", False, "lids"), ("hold_s", 1800.0, "lengths"), ("target_c", 65.0, "lengths"),
        ("pause_s", 900.0, "lengths"), ("ramp_power_w", 1200.0, "powers"), ("hold_power_w", 300.0, "powers"),
        ("name", "Other", "steps"),
    ],
)  # fmt: skip
def test_fields_of_a_step_belong_to_lids_lengths_or_powers(demo: Plan, field: str, value: object, cause: str) -> None:
    """Of the mash; another name makes it another step."""
    steps = tuple(
        step.model_copy(update={field: value}) if step.name == "Saccharification" else step for step in demo.steps
    )
    fall = waterfall(demo, demo.model_copy(update={"steps": steps}))
    assert [piece.causes for piece in fall.pieces] == [(cause,)]
    assert fall.interaction_kwh == pytest.approx(0.0, abs=1e-9)
    (piece,) = fall.pieces
    assert piece.in_order_kwh == pytest.approx(fall.to_kwh - fall.from_kwh)
    assert piece.alone_kwh == pytest.approx(fall.to_kwh - fall.from_kwh)
