"""The contracted power against what the house draws."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from types import ModuleType

import pytest

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.contract import ContractCheck, StepSpan, contract_check
from energyplan.circuits.findings import Finding
from energyplan.circuits.house import house_of
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml
from energyplan.plan.model import Circuit, HouseSupply, OtherLoad, Step
from energyplan.telling.findings import FindingTeller

START = datetime(2026, 5, 1, 8, tzinfo=UTC)
STEPS = (StepSpan("Strike", 0.0, 3600.0), StepSpan("Mash", 3600.0, 7200.0))
Check = Callable[..., ContractCheck]


@pytest.fixture
def check(builders: ModuleType, profile: Callable[..., LoadProfile]) -> Check:
    """Check a vessel of 2800 W that heats for an hour from 08:00 and then pulses at a tenth for another."""

    def checked(supply: HouseSupply, *loads: OtherLoad, second: bool = False, share: float = 0.1) -> ContractCheck:
        plan = builders.water_plan(Step(name="Heat", target_c=60.0), supply=supply, house_loads=loads)
        steps = [(0, 60, 1.0), (60, 120, share)]
        profiles = [profile("Vessel", steps, power_w=2800.0, voltage_v=230.0, other_w=50.0)]
        if second:
            profiles.append(profile("Second heater", [(90, 110, 1.0)], power_w=1500.0, voltage_v=230.0))
        found = contract_check(house_of(plan, profiles, START, UTC), supply, STEPS)
        assert found is not None
        return found

    return checked


OVEN = OtherLoad(name="Oven", power_w=1200.0, from_min=9 * 60 + 30, to_min=9 * 60 + 45)
LINES = ("L1", "L2", "L3")
LAMP = OtherLoad(name="Lamp", power_w=20.0)


def said(finding: Finding) -> str:
    """Return what a finding says."""
    return str(FindingTeller(START, UTC)(finding).said)


def mend(finding: Finding) -> str:
    """Return what would mend it."""
    told = FindingTeller(START, UTC)(finding)
    return str(told.mend) if told.mend else ""


def test_no_contract_no_judgement(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """Without a contracted power there is nothing to compare with."""
    plan = builders.water_plan(Step(name="Heat", target_c=60.0))
    house = house_of(plan, [profile("Vessel", [(0, 1, 1.0)], power_w=9e3, voltage_v=230.0)], START, UTC)
    assert contract_check(house, HouseSupply(base_load_w=1.0), STEPS) is None


def test_a_pulsed_element_counts_with_its_full_power(check: Check) -> None:
    """2800 + 50 W of vessel and 1200 W of oven are 4.05 kW although the mean is 1.53 kW; 3.3 kW and 10 % are 3.63."""
    found = check(HouseSupply(contracted_w=3300.0, contract_allows_frac=0.1), OVEN, LAMP)
    assert found.finding.severity == "over"
    assert found.peak_w == pytest.approx(2850 + 1200 + 20)
    assert found.limit_w == pytest.approx(3630.0)
    assert found.peak_at_s == 5400.0
    assert found.steps == ("Mash",)
    assert found.finding.margin_frac == pytest.approx(1 - 4070 / 3630)
    assert "4.07 kW at 09:30 (Mash)" in said(found.finding)
    assert "Keep Oven off meanwhile" in mend(found.finding).replace("keep", "Keep")
    assert "Lamp off" not in mend(found.finding)
    assert said(found.finding).count(". ") == 1


def test_ways_out_by_hand(check: Check) -> None:
    """The oven is past 105 min into the day or before it begins.

    Later: at 09:45 or after (the first five minutes at which the day begins after the oven). Earlier: the day's 120
    min must end by 09:30, so it begins 30 min earlier. Elements: 3630 - 50 - 1200 - 20 = 2360, to 50 W: 2350 W.
    Contract: 4070 W / 1.1 = 3700 W.
    """
    found = check(HouseSupply(contracted_w=3300.0, contract_allows_frac=0.1), OVEN, LAMP)
    assert (found.later_s, found.earlier_s) == (105 * 60.0, 30 * 60.0)
    assert found.elements_w == 2350.0
    assert "at least 3.7 kW" in mend(found.finding)


def test_elements_share_the_contract_with_what_is_on_while_they_heat(check: Check) -> None:
    """An hour of 2800 + 50 W beside 600 W, then none: 3.3 kW less 650 W leave the elements 2650 W, to 50 W."""
    found = check(HouseSupply(contracted_w=3300.0), OtherLoad(name="Pump", power_w=600.0), share=0.0)
    assert found.elements_w == 2650.0


def test_within_the_contract_and_at_a_high_voltage(check: Check) -> None:
    """2.85 kW of 3.0 kW; at 253 V and elements 5 % up 2800 x 1.21 x 1.05 + 50 x 1.21 = 3618 W: a note."""
    found = check(HouseSupply(contracted_w=3000.0))
    assert found.finding.severity == "note"
    assert found.high_w == pytest.approx(3618, abs=0.5)
    assert (found.later_s, found.earlier_s, found.elements_w, found.steps) == (None, None, None, ())
    assert mend(found.finding) == ""
    roomy = check(HouseSupply(contracted_w=3700.0))
    assert roomy.finding.severity == "ok"
    assert "high voltage" not in said(roomy.finding)


def test_at_a_high_voltage_all_of_the_house_draws_more(check: Check) -> None:
    """Resistances go with the square: at 253 V the oven and what stands by take 1.21 times, the elements 5 % more."""
    found = check(HouseSupply(contracted_w=6000.0), OVEN)
    assert found.high_w == pytest.approx(1.21 * (2800 * 1.05 + 50 + 1200), abs=1.0)


def test_an_excess_that_lasts_too_long(check: Check) -> None:
    """2.85 kW are drawn from 08:00 for two hours, pulses counted: 2.7 kW and 10 % pass, for 90 min; by the mean 60."""
    supply = HouseSupply(contracted_w=2700.0, contract_allows_frac=0.1, contract_allows_for_s=90 * 60.0)
    found = check(supply)
    assert (found.above_s, found.above_mean_s) == (7200.0, 3600.0)
    assert found.finding.severity == "note"
    assert found.steps == ("Strike", "Mash")
    assert "for 2 h from 08:00" in said(found.finding)
    assert found.elements_w == 2650.0
    assert "at least 2.9 kW" in mend(found.finding)
    by_mean = check(supply.model_copy(update={"contract_allows_for_s": 30 * 60.0}))
    assert by_mean.finding.severity == "over"
    long_enough = check(supply.model_copy(update={"contract_allows_for_s": 120 * 60.0}))
    assert long_enough.finding.severity == "note"  # at a high voltage only
    assert long_enough.elements_w is None


def test_a_second_heater_may_have_to_move(check: Check) -> None:
    """Vessel and second heater pass 3.5 kW without anything of the house; hardly an element may be on beside 3 kW."""
    found = check(HouseSupply(contracted_w=3500.0), LAMP, second=True)
    assert "eep Second heater to other hours" in mend(found.finding)
    assert (found.later_s, found.earlier_s) == (None, None)
    tight = check(HouseSupply(contracted_w=1700.0), second=True)
    assert tight.elements_w is None
    assert tight.steps == ("Strike", "Mash")
    assert mend(tight.finding) == "Contract at least 4.4 kW."
    assert "drops out in Strike and Mash" in said(tight.finding)


def test_the_base_load_counts(check: Check) -> None:
    """2850 W and 500 W of base load pass 3.3 kW by 50 W; the meter knows no slack of plates."""
    found = check(HouseSupply(contracted_w=3300.0, base_load_w=500.0))
    assert found.finding.severity == "over"
    assert "base load 0.50 kW" in said(found.finding)


def test_a_peak_outside_the_steps_is_told_without_a_name(
    builders: ModuleType, profile: Callable[..., LoadProfile]
) -> None:
    """A second heater that comes on before the first step."""
    supply = HouseSupply(contracted_w=1000.0)
    plan = builders.water_plan(Step(name="Heat", target_c=60.0), supply=supply)
    profiles = [
        profile("Vessel", [(0, 10, 1.0)], power_w=500.0, voltage_v=230.0),
        profile("Second heater", [(-20, -5, 1.0)], power_w=1500.0, voltage_v=230.0),
    ]
    found = contract_check(house_of(plan, profiles, START, UTC), supply, STEPS)
    assert found is not None
    assert found.steps == ()
    assert "1.50 kW at 07:40 with all" in said(found.finding)


def test_one_of_three_lines_may_pass_its_part(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """A contract of 9 kW leaves each line 3 kW, for meters that count each by itself.

    2850 W of vessel and 300 W (a third of 900 W of base load) are 3150 W on L1; an oven of 1200 W that nobody placed
    may hang there too: 4350 W. Placed on L2 it leaves L1 as it is, and L2 has 1500 W. (The pump's 50 W are 50.4 at
    231 V.)
    """
    supply = HouseSupply(contracted_w=9000.0, base_load_w=900.0)
    circuit = Circuit(voltage_between_lines_v=400.0, line="L1")
    step = Step(name="Heat", target_c=60.0)
    vessel = profile("Vessel", [(0, 120, 1.0)], power_w=2800.0, voltage_v=400 / 3**0.5, other_w=50.0)

    def found(oven: OtherLoad) -> Finding:
        plan = builders.water_plan(step, supply=supply, circuit=circuit, house_loads=(oven,))
        checked = contract_check(house_of(plan, [vessel], START, UTC), supply, STEPS)
        assert checked is not None
        return checked.finding

    unplaced, placed = found(OVEN), found(OVEN.model_copy(update={"line": "L2"}))
    assert (unplaced.severity, placed.severity) == ("note", "note")
    assert unplaced.facts["by_line"] == {"line": "L1", "line_w": pytest.approx(4350.4, abs=0.1), "part_w": 3000.0}
    assert placed.facts["by_line"]["line_w"] == pytest.approx(3150.4, abs=0.1)
    assert "L1 draws 3.15 kW, more than the 3.00 kW" in said(placed)


def test_lines_within_their_parts_are_no_note(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """A balanced element of 6 kW takes 2 kW of each line; lines add up to the sum at every moment."""
    supply = HouseSupply(contracted_w=9000.0)
    circuit = Circuit(voltage_between_lines_v=400.0, line="all")
    plan = builders.water_plan(Step(name="Heat", target_c=60.0), supply=supply, circuit=circuit)
    vessel = profile("Vessel", [(0, 120, 1.0)], power_w=6000.0, voltage_v=400.0)
    house = house_of(plan, [replace(vessel, by_line=(("all", vessel.heater_w_per_v2),))], START, UTC)
    totals = house.totals()
    assert {line: watts.max() for line, watts in totals.line_w.items()} == pytest.approx(dict.fromkeys(LINES, 2000.0))
    assert sum(totals.line_w.values()) == pytest.approx(totals.on_w)
    checked = contract_check(house, supply, STEPS)
    assert checked is not None
    assert checked.finding.facts["by_line"] == {}


HOUSE = """
[supply]
contracted_power = "3.3 kW"
contract_allows = "10 %"
contract_allows_for = "180 min"
base_load = "200 W"
month_peak = "3.1 kW"
[[house_load]]
name = "Oven"
power = "2 kW"
duty = 0.6
from = "12:00"
to = "13:00"
"""


def test_the_keys_of_the_house_read_and_write() -> None:
    """A share may be written in percent; the plan reads back as it was."""
    plan = parse_plan(demo_plans()["demo"] + HOUSE)
    assert plan.supply == HouseSupply(
        contracted_w=3300.0, contract_allows_frac=0.1, contract_allows_for_s=10800.0, base_load_w=200.0,
        month_peak_w=3100.0,
    )  # fmt: skip
    assert plan.house_loads[0].name == "Oven"
    assert parse_plan(plan_to_toml(plan)) == plan


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[supply]\ncontracted_power = "3 kW"\ncontract_allows = "ten"', "a share such as"),
        ('[supply]\ncontracted_power = "3 kW"\ncontract_allows = "200 %"', "less than or equal to 1"),
        ('[supply]\ncontract_allows = "10 %"', "enter [supply] contracted_power"),
        ('[supply]\ncontracted_power = "3 kW"\ncontract_allows_for = "2 min"', "add how much"),
        ('[supply]\ncontract_allows = 0.1\ncontract_allows_for = "2 min"', "what may pass the contract"),
        ('[[house_load]]\nname = "Oven"\npower = "2 kW"\nfrom = "12:00"\nto = "12:00"', "the same time"),
    ],
)
def test_what_contradicts_itself_is_refused(table: str, said: str) -> None:
    """Each with the table, the key and what to do."""
    with pytest.raises(PlanError) as refused:
        parse_plan(f"{demo_plans()['demo']}\n{table}\n")
    assert said in str(refused.value)


def test_an_excess_by_pulses_alone_is_a_note_and_lasts_as_long_as_it_lasts(check: Check) -> None:
    """Two hours with pulses counted, one by the mean, within what passes even at 253 V: a note from 115 min down."""
    supply = HouseSupply(contracted_w=2700.0, contract_allows_frac=0.4, contract_allows_for_s=115 * 60.0)
    found = check(supply)
    assert found.high_w < found.limit_w
    assert found.finding.severity == "note"
    assert check(supply.model_copy(update={"contract_allows_for_s": 120 * 60.0})).finding.severity == "ok"


def test_the_peak_is_told_of_the_step_in_which_it_lies(check: Check) -> None:
    """An oven from 08:30 to 09:00, when the strike ends: the peak is the strike's."""
    oven = OVEN.model_copy(update={"from_min": 8 * 60 + 30, "to_min": 9 * 60})
    found = check(HouseSupply(contracted_w=3300.0), oven)
    assert "4.05 kW at 08:30 (Strike)" in said(found.finding)
    assert found.steps == ("Strike",)


# --- the borders: a meter knows no slack of plates, and none of them is passed by what just meets it ---
@pytest.mark.parametrize(("contracted_w", "over"), [(2850.0, False), (2849.9, True)])
def test_what_just_meets_the_contract_keeps_it(check: Check, *, contracted_w: float, over: bool) -> None:
    """2800 + 50 W against themselves and against a tenth of a watt less."""
    found = check(HouseSupply(contracted_w=contracted_w))
    assert (found.finding.severity == "over", found.steps != (), found.elements_w is not None) == (over, over, over)
    assert (found.above_s > 0, "drops out" in said(found.finding)) == (over, over)
    assert ("ontract at least 2.9 kW" in mend(found.finding)) is over


@pytest.mark.parametrize(("until_min", "later_s", "earlier_s"), [
    (20 * 60, 12 * 3600.0, 2 * 3600.0), (20 * 60 + 1, None, 2 * 3600.0), (9 * 60, 3600.0, 2 * 3600.0),
    (8 * 60 + 52, 55 * 60.0, 2 * 3600.0),  # the next step of five minutes
])  # fmt: skip
def test_a_day_moves_by_half_a_day_at_most(
    check: Check, until_min: int, later_s: float | None, earlier_s: float | None
) -> None:
    """An oven from 08:00 on: later is past its end, earlier is so that the day's two hours end by 08:00."""
    oven = OVEN.model_copy(update={"from_min": 8 * 60, "to_min": until_min})
    found = check(HouseSupply(contracted_w=3300.0), oven)
    assert (found.later_s, found.earlier_s) == (later_s, earlier_s)
    minutes = [f"{int(s / 60)} min" if s < 7200 else f"{s / 3600:g} h" for s in (later_s, earlier_s) if s is not None]
    assert all(one in mend(found.finding) for one in minutes), mend(found.finding)


@pytest.mark.parametrize(("beside_w", "left_w"), [(3000.0, 250.0), (3050.0, 200.0), (3051.0, None)])
def test_elements_that_are_left_are_told_in_fifties(check: Check, beside_w: float, left_w: float | None) -> None:
    """3.3 kW less 50 W of pump and the load beside; less than 200 W brews nothing."""
    found = check(HouseSupply(contracted_w=3300.0), OtherLoad(name="Boiler", power_w=beside_w))
    assert found.elements_w == left_w


def test_a_load_that_may_stay_is_not_sent_off(check: Check) -> None:
    """Beside 2850 W a kettle of 900 W and an oven of 1200 W pass 3.9 kW together: the larger goes, the lamp stays."""
    kettle = OVEN.model_copy(update={"name": "Kettle", "power_w": 900.0})
    found = check(HouseSupply(contracted_w=3900.0), OVEN, kettle, LAMP)
    assert "eep Oven off meanwhile" in mend(found.finding)
    assert "Kettle off" not in mend(found.finding)


def test_a_third_of_the_contract_is_each_line_s_own(builders: ModuleType, profile: Callable[..., LoadProfile]) -> None:
    """3000 W on L1 are just the third of 9 kW, one watt more is passed."""
    supply = HouseSupply(contracted_w=9000.0)
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L1")
    plan = builders.water_plan(Step(name="Heat", target_c=60.0), supply=supply, circuit=circuit)
    for power_w, severity in ((3000.0, "ok"), (3001.0, "note")):
        vessel = profile("Vessel", [(0, 120, 1.0)], power_w=power_w, voltage_v=230.0)
        checked = contract_check(house_of(plan, [vessel], START, UTC), supply, STEPS)
        assert checked is not None
        assert checked.finding.severity == severity


@pytest.mark.parametrize(("placed", "parts_w"), [
    ("L2", (0.0, 1200.0, 0.0)), ("L2-L3", (0.0, 600.0, 600.0)), ("all", (400.0, 400.0, 400.0)),
    (None, (1200.0, 1200.0, 1200.0)),  # nobody said where: it may be on any of them
])  # fmt: skip
def test_where_a_load_of_the_house_counts(
    builders: ModuleType, profile: Callable[..., LoadProfile], placed: str | None, parts_w: tuple[float, float, float]
) -> None:
    """An oven beside a second heater of 600 W of no known line, a vessel of 1000 W on L3 and 300 W of base load."""
    supply = HouseSupply(base_load_w=300.0)
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L3")
    plan = builders.water_plan(
        Step(name="Heat", target_c=60.0), supply=supply, circuit=circuit,
        house_loads=(OVEN.model_copy(update={"line": placed, "from_min": 0, "to_min": 1440}),),
    )  # fmt: skip
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=900.0, voltage_v=230.0, other_w=100.0)
    heater = profile("Second heater", [(0, 60, 1.0)], power_w=600.0, voltage_v=230.0)
    totals = house_of(plan, [vessel, heater], START, UTC).totals()
    found_w = [float(totals.line_w[line][0]) for line in LINES]
    own_w = (700.0, 700.0, 1700.0)  # 100 W of base load, 600 W of heater, and the vessel on L3
    assert found_w == pytest.approx([own + part for own, part in zip(own_w, parts_w, strict=True)])
    assert totals.on_w[0] == pytest.approx(1000 + 600 + 1200 + 300)
