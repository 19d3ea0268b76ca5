"""The people's day: tasks, watches, earliest and latest times, who must be in the room."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.advice.draws import latin_hypercube, uncertainties_of
from energyplan.advice.odds import DRAWS
from energyplan.advice.people import PeopleDay, _at_hand, people_day
from energyplan.day.brewday import simulate
from energyplan.day.legs import Conditions
from energyplan.plan.file import read_plan
from energyplan.plan.model import Action, Addition, Plan, Step, Task, Vessel


@pytest.fixture(scope="module")
def demo() -> PeopleDay:
    """The packaged day, with the usual tasks."""
    return people_day(simulate(read_plan("demo")))


def task(name: str, at_step: str, when: str, minutes: float, *, attended: bool = True) -> Task:
    """A task in minutes."""
    return Task.model_validate(
        {"name": name, "at_step": at_step, "when": when, "takes_s": 60 * minutes, "attended": attended}
    )


def with_tasks(plan: Plan, *tasks: Task) -> Plan:
    """The plan with these tasks and no others."""
    return plan.model_copy(update={"tasks": tasks})


def spans(people: PeopleDay) -> dict[str, tuple[float, float]]:
    """Begin and end of each task [min]."""
    return {span.name: (span.begins_s / 60, span.ends_s / 60) for span in people.tasks}


# Tasks ------------------------------------------------------------------------------------------------------


def test_tasks_stand_where_they_belong_by_hand(builders):
    """A pause of 20 min, then one of 30: every border is a sum of minutes.

    Before a step they end with its beginning, during it they begin with it, after it they begin with its end, and
    several at one place follow one another.
    """
    plan = builders.water_plan(Step(name="Rest", pause_s=1200.0), Step(name="Stand", pause_s=1800.0))
    plan = with_tasks(
        plan,
        task("Set up", "Rest", "before", 15), task("Mill", "Rest", "before", 20),
        task("Stir", "Rest", "during", 4), task("Skim", "Rest", "during", 3),
        task("Weigh", "Stand", "before", 10),
        task("Chill", "Stand", "after", 25), task("Clean", "Stand", "after", 40),
    )  # fmt: skip
    people = people_day(simulate(plan))
    assert spans(people) == {
        "Set up": (-35.0, -20.0), "Mill": (-20.0, 0.0), "Stir": (0.0, 4.0), "Skim": (4.0, 7.0), "Weigh": (10.0, 20.0),
        "Chill": (50.0, 75.0), "Clean": (75.0, 115.0),
    }  # fmt: skip
    assert people.begins_s == -35 * 60
    assert people.vessel_ends_s == 50 * 60
    assert people.ends_s == 115 * 60


def test_pauses_do_not_vary_and_ramps_do(builders):
    """Pauses have no uncertain length: earliest and latest are as planned. After a ramp they aren't."""
    plan = builders.water_plan(Step(name="Rest", pause_s=1200.0), Step(name="Warm", target_c=60.0))
    people = people_day(simulate(plan))
    warm = next(moment for moment in people.moments if moment.step == "Warm" and moment.kind == "step")
    end = next(moment for moment in people.moments if moment.kind == "end")
    assert (warm.earliest_s, warm.time_s, warm.latest_s) == (1200.0, 1200.0, 1200.0)
    assert end.earliest_s < end.time_s < end.latest_s


def test_draining_goes_on_while_the_elements_heat():
    """A task beside the ramp to the boil costs the vessel no minute; the same as a pause does."""
    plan = read_plan("lakeside")
    beside = simulate(plan)
    without = simulate(plan.model_copy(update={"tasks": ()}))
    assert beside.duration_s == without.duration_s
    drain = next(span for span in people_day(beside).tasks if "drain" in span.name)
    ramp = next(phase for phase in beside.phases if phase.step == "Towards the boil")
    assert drain.begins_s == pytest.approx(ramp.start_s)
    assert drain.ends_s > ramp.end_s
    assert ramp.element_j > 0
    paused = tuple(
        step.model_copy(update={"pause_s": 1200.0}) if step.name == ramp.step else step for step in plan.steps
    )
    later = simulate(plan.model_copy(update={"steps": paused}))
    assert later.duration_s > beside.duration_s + 1200.0  # it cools meanwhile, and heats longer


def test_nobody_need_be_there_for_what_runs_by_itself(builders):
    """An unattended task is no reason to be in the room."""
    plan = builders.water_plan(Step(name="Rest", pause_s=7200.0))
    people = people_day(simulate(with_tasks(plan, task("Soak", "Rest", "during", 90, attended=False))))
    assert all(why.name != "Soak" for presence in people.presences for why in presence.why)
    assert [round(presence.begins_s) for presence in people.presences] == [0, 7200]  # switching on and off
    assert people.between[0].heats is False


def test_a_variant_without_any_of_the_tasks_steps_has_none(builders):
    """All its tasks stood at steps that were left out: only switching on and off are left."""
    plan = builders.water_plan(Step(name="Rest", pause_s=1800.0), Step(name="Stand", pause_s=1800.0))
    plan = with_tasks(plan, task("Stir", "Stand", "during", 10))
    people = people_day(simulate(plan.model_copy(update={"steps": plan.steps[:1]})))
    assert people.tasks == ()
    assert people.ends_s == 1800.0 + 120.0


def test_a_task_that_outlasts_the_emptying_is_told():
    """Chilling for 30 min with no pause for it before the vessel is emptied: the note names the pause."""
    plan = read_plan("demo")
    hasty = plan.model_copy(update={"steps": tuple(step for step in plan.steps if step.name != "Chill")})
    notes = people_day(simulate(hasty)).notes
    late = next(note for note in notes if note.code == "not over")
    assert (late.step, late.minutes) == ("Cleaning", pytest.approx(30.0))
    assert not any(note.code == "not over" for note in people_day(simulate(plan)).notes)


def test_two_things_at_once_are_told(builders):
    """Attended tasks that overlap by 5 min; an unattended one beside them is no trouble."""
    plan = builders.water_plan(Step(name="Rest", pause_s=1800.0), Step(name="Stand", pause_s=1800.0))
    tasks = (task("Stir", "Rest", "during", 35), task("Weigh", "Stand", "during", 10),
             task("Soak", "Rest", "after", 20, attended=False))  # fmt: skip
    notes = people_day(simulate(with_tasks(plan, *tasks))).notes
    (both,) = (note for note in notes if note.code == "at once")
    assert (both.first, both.second, both.minutes) == ("Stir", "Weigh", pytest.approx(5.0))


def test_the_source_of_the_times_is_told(demo):
    """The usual tasks are common practice; a plan's own are its own."""
    assert any(note.code == "no tasks" for note in demo.notes)
    assert not any(note.code == "no tasks" for note in people_day(simulate(read_plan("lakeside"))).notes)


# Early and late -----------------------------------------------------------------------------------------------


def test_earliest_and_latest_are_quantiles_of_days_run_one_by_one():
    """The draws, simulated one at a time by the project's front door: 5 % and 95 % of the grain's time, by numpy."""
    day = simulate(read_plan("demo"))
    people = people_day(day, draws=60, seed=3)
    inputs = latin_hypercube(uncertainties_of(day.plan), draws=60, seed=3)
    grain_s, end_s = [], []
    for place in range(60):
        own = Conditions(**{name: float(values[place]) for name, values in inputs.items()})
        varied = simulate(day.plan, own, extract=day.wort.extract_kg)
        grain_s.append(next(event.time_s for event in varied.events if event.action == "add grain"))
        end_s.append(varied.duration_s)
    grain = next(moment for moment in people.moments if moment.event and moment.event.action == "add grain")
    end = next(moment for moment in people.moments if moment.kind == "end")
    # Side by side and one by one differ in the grid of the loss curve: 1 s in five hours.
    assert (grain.earliest_s, grain.latest_s) == pytest.approx(np.quantile(grain_s, [0.1, 0.9]), abs=1.0)
    assert (end.earliest_s, end.latest_s) == pytest.approx(np.quantile(end_s, [0.1, 0.9]), abs=1.0)


def test_the_same_seed_gives_the_same_day():
    """No result changes from run to run."""
    first, second = (people_day(simulate(read_plan("demo"))) for _ in range(2))
    assert first.moments == second.moments
    assert first.presences == second.presences


def test_days_that_cant_be_brewed_are_told(builders):
    """A vessel with hardly enough power stalls on many plausible days."""
    plan = builders.water_plan(Step(name="Open", target_c=90.0, lid="off"), water_l=20.0)
    weak = plan.model_copy(update={"vessel": builders.vessel(1300.0)})
    people = people_day(simulate(weak))
    assert 0 < people.draws < DRAWS
    (left_out,) = (note for note in people.notes if note.code == "left out")
    assert (left_out.failed, left_out.draws) == (DRAWS - people.draws, people.draws)


@given(plan=st.from_type(Plan))
@settings(max_examples=12)
def test_times_of_any_day_are_in_order(plan: Plan):
    """Earliest, planned and latest in order; presences apart and in order; everybody is done after the vessel."""
    day = simulate(plan)
    people = people_day(day, draws=20)
    for moment in people.moments:
        assert moment.earliest_s <= moment.time_s <= moment.latest_s
    for span in (*people.tasks, *people.watches):
        assert span.earliest_s <= span.begins_s < span.ends_s <= span.latest_s
    for before, after in pairwise(people.presences):
        assert before.ends_s + 300.0 < after.begins_s
    covered_s = sum(presence.ends_s - presence.begins_s for presence in people.presences)
    between_s = sum(span.ends_s - span.begins_s for span in people.between)
    whole_s = people.presences[-1].ends_s - people.presences[0].begins_s
    assert covered_s + between_s == pytest.approx(whole_s)
    assert people.begins_s <= 0.0
    assert people.ends_s >= people.vessel_ends_s == day.duration_s
    for span in people.tasks:
        if span.attended:
            assert any(p.begins_s <= span.begins_s and span.ends_s <= p.ends_s for p in people.presences)


# Boil-over ------------------------------------------------------------------------------------------------------


def test_the_watch_begins_five_kelvin_below_the_boil(demo):
    """Where the trajectory passes 5 K below the boil, and 10 min past the onset (common practice, no source)."""
    day = simulate(read_plan("demo"))
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    watch = next(span for span in demo.watches if span.watch == "onset")
    at_c = np.interp(watch.begins_s, day.trajectory.times_s, day.trajectory.temperatures_c)
    assert float(at_c) == pytest.approx(boil.from_c - 5.0, abs=0.05)
    assert watch.ends_s == pytest.approx(boil.start_s + 600.0)
    assert watch.begins_s < boil.start_s


def test_the_watch_begins_near_95_degrees_at_sea_level(builders):
    """Wort boils a little above 100 °C there, so that 5 K below it are 95 °C and a few tenths."""
    day = simulate(builders.mash_plan())
    watch = people_day(day).watches[0]
    at_c = float(np.interp(watch.begins_s, day.trajectory.times_s, day.trajectory.temperatures_c))
    assert 95.0 <= at_c <= 95.6


def test_the_first_addition_is_watched_and_the_later_ones_not(builders):
    """Three additions: one watch beside that of the onset, at the one that goes in first."""
    additions = tuple(Addition(name=f"{left} min", left_s=60.0 * left) for left in (20, 45, 5))
    steps = (Step(name="Boil", boil=True, hold_s=3600.0, additions=additions),)
    people = people_day(simulate(builders.water_plan(*steps)))
    onset_s = next(moment.time_s for moment in people.moments if moment.kind == "boil")
    first = next(span for span in people.watches if span.watch == "first addition")
    assert len(people.watches) == 2
    assert first.begins_s == pytest.approx(onset_s + 15 * 60.0)


def test_cleaning_water_is_not_watched():
    """It has no foam: the boil of the cleaning step has an onset, but no watch."""
    plan = read_plan("demo")
    cleaning = plan.steps[-1].model_copy(update={"target_c": None, "boil": True, "hold_s": 300.0})
    people = people_day(simulate(plan.model_copy(update={"steps": (*plan.steps[:-1], cleaning)})))
    assert [moment.step for moment in people.moments if moment.kind == "boil"] == ["Boil", "Cleaning"]
    assert {span.step for span in people.watches} == {"Boil"}


def test_a_boil_that_begins_above_the_mark_is_watched_from_the_start(builders):
    """Water put in at 98 °C passes no mark on the way up."""
    day = simulate(builders.water_plan(Step(name="Boil", boil=True, hold_s=1800.0), water_c=98.0))
    watch = people_day(day).watches[0]
    assert watch.begins_s == pytest.approx(0.0, abs=1e-6)


# The lid, the second heater ----------------------------------------------------------------------------------------


def test_the_lid_is_told_where_it_changes(demo):
    """On through the mash, off for the boil, on again while the wort chills."""
    lids = [(moment.step, moment.lid) for moment in demo.moments if moment.kind == "lid"]
    assert lids == [("Boil", "off"), ("Chill", "on")]


def test_the_second_heater_calls_somebody(demo):
    """It is switched on by hand, some minutes before its water is due."""
    switched = [moment for moment in demo.moments if moment.kind == "switch"]
    assert [moment.step for moment in switched] == ["Strike", "Second heater"]
    assert any(why.name == "Second heater" for presence in demo.presences for why in presence.why)


def test_a_longer_ramp_moves_all_that_follows():
    """Half the power: the boil's additions come later by what the ramps take longer, and the tasks with them."""
    plan = read_plan("demo")
    weaker = plan.vessel.model_copy(update={"elements": plan.vessel.elements[:1]})
    assert isinstance(weaker, Vessel)
    strong, weak = simulate(plan), simulate(plan.model_copy(update={"vessel": weaker}))
    first, second = people_day(strong), people_day(weak)
    chill_s = [next(span.begins_s for span in people.tasks if "Chill" in span.name) for people in (first, second)]
    boil_ends_s = [next(p.end_s for p in day.phases if p.phase == "boil") for day in (strong, weak)]
    assert chill_s == pytest.approx(boil_ends_s)
    assert chill_s[1] > chill_s[0]


# Borders, by hand ---------------------------------------------------------------------------------------------------


def waiting(builders, *minutes: float, tasks: tuple[Task, ...] = ()) -> PeopleDay:
    """Pauses one after the other, without heat."""
    steps = tuple(Step(name=f"Rest {place}", pause_s=60.0 * lasts) for place, lasts in enumerate(minutes))
    return people_day(simulate(with_tasks(builders.water_plan(*steps), *tasks)), draws=0)


@pytest.mark.parametrize(("minutes", "stays"), [(10.0, 1), (10.1, 2)])
def test_nobody_leaves_for_five_minutes(builders, minutes: float, stays: int):
    """Hands for five minutes at the switch, a task of one at the tenth minute: a break of five is one stay."""
    at = task("Look", "Rest 1", "during", 1)
    found = waiting(builders, minutes, 60.0, tasks=(at,))
    assert len(found.presences) == stays + 1  # and the end of the day
    assert found.presences[0].ends_s == (660.0 if stays == 1 else 300.0)
    assert len(found.presences[0].why) == 3 - stays


def test_how_long_hands_are_at_something(demo):
    """Switching and what goes in or out five minutes, an addition and the end two, the lid one; a step none."""
    lasting = {"switch": 300.0, "action": 300.0, "addition": 120.0, "lid": 60.0, "end": 120.0}
    stays = list(_at_hand(demo.moments))
    assert [moment for _, moment in stays] == [moment for moment in demo.moments if moment.kind in lasting]
    assert {moment.kind for _, moment in stays} == set(lasting)
    for span, moment in stays:
        assert (span.begins_s, span.ends_s) == (moment.time_s, pytest.approx(moment.time_s + lasting[moment.kind]))
        assert (span.earliest_s, span.latest_s) == (
            moment.earliest_s, pytest.approx(moment.latest_s + lasting[moment.kind]),
        )  # fmt: skip
        assert span.attended


@pytest.mark.parametrize(("minutes", "told"), [(31.0, False), (31.1, True)])
def test_an_overlap_of_a_minute_is_none(builders, minutes: float, told: bool):  # noqa: FBT001
    """A task that lasts a minute into the next one."""
    tasks = (task("Stir", "Rest 0", "during", minutes), task("Weigh", "Rest 1", "during", 10))
    notes = [note for note in waiting(builders, 30.0, 30.0, tasks=tasks).notes if note.code == "at once"]
    assert bool(notes) is told
    if told:
        assert notes[0].minutes == pytest.approx(1.1)


@pytest.mark.parametrize(("minutes", "told"), [(31.0, False), (31.1, True)])
def test_a_task_may_last_a_minute_into_the_emptying(builders, minutes: float, told: bool):  # noqa: FBT001
    """Chilling for 31 min in a pause of 30 is let pass; one of the emptying's own step never is late."""
    water = Action(kind="add water", volume_l=10.0, temperature_c=15.0)
    steps = (Step(name="Chill", pause_s=1800.0),
             Step(name="Clean", before=(Action(kind="empty"), water), pause_s=600.0))  # fmt: skip
    tasks = (task("Cool it", "Chill", "during", minutes), task("Scrub", "Clean", "during", 40))
    notes = [note for note in people_day(simulate(with_tasks(builders.water_plan(*steps), *tasks)), draws=0).notes
             if note.code == "not over"]  # fmt: skip
    assert [(note.first, note.step) for note in notes] == ([("Cool it", "Clean")] if told else [])


@pytest.mark.parametrize(("draws", "codes"), [(9, ["as planned"]), (10, [])])
def test_fewer_than_ten_days_tell_no_range(builders, draws: int, codes: list[str]):
    """Then earliest and latest are the planned ones, and that is said."""
    plan = with_tasks(builders.water_plan(Step(name="Warm", target_c=60.0)), task("Look", "Warm", "during", 1))
    found = people_day(simulate(plan), draws=draws)
    end = next(moment for moment in found.moments if moment.kind == "end")
    assert [note.code for note in found.notes] == codes
    assert (end.earliest_s < end.time_s) is (draws == 10)
    assert (end.latest_s > end.time_s) is (draws == 10)


@pytest.mark.parametrize(("boil_min", "watched_min"), [(60.0, 10.0), (5.0, 5.0)])
def test_a_boil_is_watched_for_ten_minutes_or_as_long_as_it_lasts(builders, boil_min: float, watched_min: float):
    """From its onset; and an addition for five minutes."""
    hops = Addition(name="Hops", left_s=60.0 * boil_min)
    step = Step(name="Boil", boil=True, hold_s=60.0 * boil_min, additions=(hops,))
    found = people_day(simulate(builders.water_plan(step)), draws=0)
    onset_s = next(moment.time_s for moment in found.moments if moment.kind == "boil")
    watch, first = found.watches
    assert (watch.watch, watch.ends_s) == ("onset", pytest.approx(onset_s + 60.0 * watched_min))
    assert (first.begins_s, first.ends_s) == (pytest.approx(onset_s), pytest.approx(onset_s + 300.0))


def test_between_two_stays_the_elements_may_heat(builders):
    """Heated for more than half an hour with nobody there; then a rest in which they are off."""
    steps = Step(name="Warm", target_c=60.0), Step(name="Rest", pause_s=3600.0)
    tasks = (task("Look", "Rest", "during", 5),)
    found = people_day(simulate(with_tasks(builders.water_plan(*steps), *tasks)), draws=0)
    assert [between.heats for between in found.between] == [True, False]
    assert [(between.begins_s, between.ends_s) for between in found.between] == [
        (before.ends_s, after.begins_s) for before, after in pairwise(found.presences)
    ]
