"""A measured day beside its plan: borders, sums, and the input that was planted is the one that is named."""

from dataclasses import replace

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.day.brewday import simulate
from energyplan.day.course import extract_kg
from energyplan.day.legs import Conditions
from energyplan.learning.bins import Seen, aligned_phases, binned
from energyplan.learning.explain import Errors, Explanation, explain, with_measured_times
from energyplan.learning.logfile import demo_logs, parse_log, read_log
from energyplan.learning.measured import Likely, _likely, compare_with_log
from energyplan.plan.file import parse_plan, read_plan

AS_PLANNED = Conditions()


@pytest.fixture(scope="module")
def demo():
    """The demo plan."""
    return read_plan("demo")


def log_of(demo, plan=None, conditions=AS_PLANNED, *, meter=True, other_w=0.0, until_s=np.inf):
    """A log of a day that went otherwise than the demo plan: 0.2 K noise, 0.1 K steps, a meter in hundredths.

    The day is simulated by the project itself, with what is planted: this tests the detective work, not the physics.
    """
    day = simulate(plan or demo, conditions, extract=extract_kg(demo))
    times_s = np.arange(0.0, min(day.duration_s, until_s), 60.0)
    true_c = np.interp(times_s, day.trajectory.times_s, day.trajectory.temperatures_c)
    shown_c = np.round(true_c + np.random.default_rng(2).normal(0, 0.2, times_s.size), 1)
    profile = day.profiles[0]
    used_j = np.concatenate([[0.0], np.cumsum(profile.mean_w * np.diff(profile.edges_s))])
    total = (np.interp(times_s, profile.edges_s, used_j) + other_w * times_s) / 3.6e6
    rows = [
        f"{time / 60:.2f},{c:.1f}" + (f",{np.floor(kwh * 100) / 100:.2f}" if meter else "")
        for time, c, kwh in zip(times_s, shown_c, total, strict=True)
    ]
    return parse_log("\n".join(["time,temperature_c" + (",energy_kwh" if meter else ""), *rows]), source="day.csv")


def with_step(plan, name, **changes):
    """The plan with one step changed."""
    steps = tuple(step.model_copy(update=changes) if step.name == name else step for step in plan.steps)
    return plan.model_copy(update={"steps": steps})


# Borders ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("meter", [True, False])
def test_phases_are_found_where_they_were(demo, meter):
    """Ramps within 2 min, holds and boils within 4, energies within 0.05 kWh of the day that was logged."""
    day = simulate(demo)
    seen = aligned_phases(day, binned(log_of(demo, meter=meter)))
    names = [(one.phase.step, one.phase.phase) for one in seen]
    assert ("Boil", "boil") in names
    assert ("Cleaning", "ramp") in names
    for one in seen:
        allowed_s = 120.0 if one.phase.phase == "ramp" else 240.0
        assert one.duration_s == pytest.approx(one.phase.duration_s, abs=allowed_s), one.phase
        assert one.start_s < one.end_s
        if meter:
            assert one.energy_j / 3.6e6 == pytest.approx(one.phase.energy_j / 3.6e6, abs=0.06), one.phase
        else:
            assert one.energy_j is None
    assert sum(one.duration_s for one in seen) == pytest.approx(day.duration_s, abs=300)


def test_a_longer_mash_is_seen_as_longer(demo):
    """90 instead of 60 min of mash: the hold is that long, and its kWh are told apart from the rest."""
    longer = with_step(demo, "Saccharification", hold_s=5400.0)
    found = compare_with_log(demo, log_of(demo, longer))
    hold = next(phase for phase in found.phases if (phase.step, phase.phase) == ("Saccharification", "hold"))
    assert hold.measured_min == pytest.approx(90.0, abs=4.0)
    assert found.longer_kwh == pytest.approx(0.12, abs=0.04)
    assert found.likely.agrees


def test_a_log_that_ends_early_is_compared_as_far_as_it_goes(demo):
    """Cut in the mash: later phases aren't compared, and a note names the step where it ends."""
    found = compare_with_log(demo, log_of(demo, until_s=6000.0))
    assert found.phases[-1].step == "Saccharification"
    (ended,) = (note["step"] for note in found.notes if note.code == "log ends")
    assert ended in ("Mash-out", "Saccharification")
    assert found.planned_kwh < 3.0


def test_a_log_of_something_else_is_an_error(demo):
    """A log that never reaches the first target can't be compared: one sentence with the target."""
    cold = parse_log("time,temperature_c\n" + "\n".join(f"{k},20" for k in range(60)), source="cold.csv")
    with pytest.raises(LogError, match=r"cold.csv: the log never reaches the first target of the plan \(Strike\)"):
        compare_with_log(demo, cold)


def test_a_log_that_the_plan_cant_be_is_an_error(demo):
    """A boil of 24 h would boil the vessel dry: told as a fault of the pair, not as a crash."""
    log = log_of(demo)
    boils = np.flatnonzero(log.temperature_c > 99.0)[5]
    rows = [f"{t / 60:.2f},{c:.1f}" for t, c in zip(log.times_s[:boils], log.temperature_c[:boils], strict=True)]
    rows += [f"{log.times_s[boils] / 60 + 2 * k:.2f},99.3" for k in range(720)]
    with pytest.raises(LogError, match="as long as in the log"):
        compare_with_log(demo, parse_log("time,temperature_c\n" + "\n".join(rows)))


def test_a_plan_without_a_boil():
    """A hold that ends the plan lasts as long as planned, marked as a guess."""
    plan = parse_plan(
        '[vessel]\ndiameter = "36 cm"\nheight = "48 cm"\n[[vessel.element]]\npower = "2500 W"\nvoltage = "230 V"\n'
        '[batch]\nwater = "20 L"\nwater_temperature = "15 degC"\n'
        '[[step]]\nname = "Wash"\ntarget = "60 degC"\nhold = "20 min"\n'
        '[[step]]\nname = "Rinse"\nbefore = ["empty", "add water: 15 L at 15 degC"]\ntarget = "50 degC"\n'
        '[[step]]\nname = "Rest"\npause = "15 min"\n'
    )
    found = compare_with_log(plan, log_of(plan))
    assert [(phase.step, phase.phase) for phase in found.phases] == [
        ("Wash", "ramp"), ("Wash", "hold"), ("Rinse", "ramp"), ("Rest", "pause"),
    ]  # fmt: skip
    assert found.phases[-1].guessed
    assert found.within_meter_error


def test_a_log_in_seconds_is_no_day(demo):
    """Sixty times as long as the plan: it is asked whether the times are seconds, and nothing is compared."""
    head, *rows = demo_logs()["brew-day"].strip().splitlines()
    times = [row.partition(",") for row in rows]
    seconds = parse_log("\n".join([head, *(f"{60 * float(time):g},{rest}" for time, _, rest in times)]))
    with pytest.raises(LogError, match=r"the log lasts 333.* where the plan takes 5.*: are its times in minutes"):
        compare_with_log(demo, seconds)


# What explains the difference -------------------------------------------------------------------------------


def test_a_day_as_planned_needs_no_explanation(demo):
    """Nothing planted: within the meter's error, nothing to explain, misfit below 1."""
    found = compare_with_log(demo, log_of(demo))
    assert found.within_meter_error
    assert found.misfit < 1.0
    assert found.likely.agrees
    assert found.explanations == ()
    assert found.measured_kwh == pytest.approx(found.planned_kwh, rel=0.02)


PLANTED = {
    "loss": ({"conditions": Conditions(loss_factor=1.8)}, 1.8, 0.1),
    "power": ({"conditions": Conditions(element_factor=0.86)}, 0.86 * 2707, 100.0),
    "start": ({"conditions": Conditions(water_c=5.0)}, 5.0, 1.0),
    "start, warm from the tap": ({"conditions": Conditions(water_c=34.0)}, 34.0, 1.0),
    "other": ({"other_w": 300.0}, 300.0, 25.0),
}


@pytest.mark.parametrize("key", PLANTED)
def test_the_planted_cause_is_named(demo, key):
    """One thing off at a time: it comes first, explains more than half, and its value comes out."""
    how, value, tolerance = PLANTED[key]
    found = compare_with_log(demo, log_of(demo, **how))
    best = found.explanations[0]
    assert best.key == key.partition(",")[0]
    assert best.share > 0.5
    assert best.value == pytest.approx(value, abs=tolerance)
    assert found.likely.causes[0] is best
    unplanned = {"loss": 1.0, "other": 0.0, "start": demo.batch.water_temperature_c}
    assert best.planned == unplanned.get(best.key, best.planned)
    if key == "other":  # runs through every measured phase
        hours = sum(one.measured_min for one in found.phases) / 60
        assert best.more_kwh == pytest.approx(best.value / 1000 * hours, rel=0.02)


@pytest.mark.parametrize(("water_c", "at_limit"), [(5.0, False), (46.0, True)])
def test_a_cause_beyond_what_is_tried_says_that_it_is_at_the_limit(demo, water_c, at_limit):
    """Water from the tap is tried up to 25 K above what was planned (12 °C): 46 °C is beyond that."""
    found = compare_with_log(demo, log_of(demo, conditions=Conditions(water_c=water_c)))
    start = next(one for one in found.explanations if one.key == "start")
    assert start.at_limit is at_limit


def test_more_water_than_entered_is_named(demo):
    """30 L instead of 27 L."""
    more = demo.model_copy(update={"batch": demo.batch.model_copy(update={"water_l": 30.0})})
    found = compare_with_log(demo, log_of(demo, more))
    assert found.explanations[0].key == "water"
    assert found.explanations[0].value == pytest.approx(30.0, abs=1.0)
    assert found.within_meter_error is False


def test_without_a_meter_minutes_and_temperatures_are_compared(demo):
    """A weak element shows in the ramps alone; kWh aren't claimed."""
    found = compare_with_log(demo, log_of(demo, conditions=Conditions(element_factor=0.86), meter=False))
    assert found.measured_kwh is None
    assert found.within_meter_error is None
    assert found.explanations[0].key == "power"
    assert "other" not in {one.key for one in found.explanations}
    assert any(note.code == "no meter" for note in found.notes)


def test_a_rest_that_cools_twice_as_far_points_at_the_loss(demo):
    """Without a meter, from one rest alone: its temperatures are what tells, unless its borders are but guessed."""
    rest = max((phase for phase in simulate(demo).phases if phase.phase == "pause"), key=lambda one: one.duration_s)
    to_c = rest.from_c - 2 * (rest.from_c - rest.to_c)
    seen = Seen(phase=rest, start_s=rest.start_s, end_s=rest.end_s, from_c=rest.from_c, to_c=to_c, lowest_c=to_c,
                energy_j=None, guessed=False)  # fmt: skip
    (best, *_), misfit = explain(demo, [seen], extract_kg(demo), Errors(meter_frac=0.01))
    assert misfit > 10
    assert best.key == "loss"
    assert 1.6 < best.value < 2.2
    unsure = Errors(meter_frac=0.01, time_s=60.0)
    _, misfit = explain(demo, [replace(seen, guessed=True)], extract_kg(demo), unsure)
    assert misfit < 0.1


def test_the_packaged_day_points_at_the_heat_loss(demo):
    """The independent vessel of the packaged log loses 1.45 times the estimate: that is among what stands out."""
    found = compare_with_log(demo, read_log("brew-day"))
    loss = next(one for one in found.explanations if one.key == "loss")
    assert loss in found.likely.causes
    assert loss.value == pytest.approx(1.45, abs=0.25)
    assert found.within_meter_error is False


def test_an_input_that_cant_be_brewed_is_left_out_of_the_race(demo):
    """Values for which a ramp stalls count as infinitely bad; the search still ends with the others."""
    weak = with_step(demo, "Saccharification", ramp_power_w=320.0)
    log = log_of(weak, weak, conditions=Conditions(water_c=5.0))
    found = compare_with_log(weak, log)
    assert found.explanations
    assert all(np.isfinite(one.share) for one in found.explanations)


def test_explanations_mind_the_times_as_measured(demo):
    """Pauses, holds and boils take the measured times before inputs are blamed."""
    day = simulate(demo)
    seen = aligned_phases(day, binned(log_of(demo)))
    timed = with_measured_times(demo, seen)
    for before, after in zip(demo.steps, timed.steps, strict=True):
        assert after.hold_s == pytest.approx(before.hold_s, abs=240)
        assert after.target_c == before.target_c
    explanations, misfit = explain(timed, seen, extract_kg(demo), Errors(meter_frac=0.02))
    assert misfit < 1.0
    assert [one.share for one in explanations] == sorted((one.share for one in explanations), reverse=True)


# What stands out --------------------------------------------------------------------------------------------

LOSS = Explanation(key="loss", planned=1.0, value=1.6, share=0.8, at_limit=False, more_kwh=0.4)
AIR = Explanation(key="air", planned=11.0, value=2.0, share=0.75, at_limit=True, more_kwh=0.3)


def test_what_does_as_well_is_named_beside_it():
    """Two inputs whose shares are within 0.1 both stand out; a third far behind does not."""
    assert _likely((LOSS,), 5.0, within=False).causes == (LOSS,)
    assert _likely((LOSS, AIR, replace(AIR, key="start", share=0.4)), 5.0, within=False).causes == (LOSS, AIR)


def test_a_small_share_is_no_explanation():
    """Unless it leaves only what the errors allow; no misfit needs none."""
    weak = replace(LOSS, share=0.3)
    assert _likely((weak,), 9.0, within=False) == _likely((), 9.0, within=False) == Likely(agrees=False)
    assert _likely((weak,), 2.5, within=False).causes == (weak,)
    assert _likely((weak,), 0.9, within=None).agrees
    assert not _likely((LOSS,), 0.9, within=False).agrees
