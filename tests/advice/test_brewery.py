"""What was noted of a brewed day, read back; the days of a vessel; a month of them."""

from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from energyplan.advice.brewed import Reading
from energyplan.advice.brewery import _is_own, _place, brewed_answer, day_kwh, kept_of_vessel, months, readings_of
from energyplan.advice.learned import learn
from energyplan.advice.odds import DRAWS, drawn
from energyplan.base.errors import LogError, TariffError
from energyplan.day.brewday import simulate
from energyplan.plan.brewery import brewed_day
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

ZONE = "Europe/Dublin"


def noted(**keys):
    """A brewed day of June, as it was typed."""
    return brewed_day({"date": "2026-06-05", "plan": "demo", **keys})


def test_all_that_was_noted_is_read_back(demo):
    """Summer's 08:30 in Dublin is 07:30 UTC; the boil began 195 min later; air and water are the day's."""
    day = noted(start="2026-06-05T08:30:00", metered="7.1 kWh", readings={"Strike": "2.2 kWh"}, air="16 degC",
                water_temperature="14 degC", boil_began="11:45", boiled_off="3 L")  # fmt: skip
    found = readings_of(demo, day, ZONE)
    assert found.start == datetime(2026, 6, 5, 7, 30, tzinfo=UTC)
    assert found.name == "2026-06-05"
    assert found.noted == {"air_c", "water_c"}
    assert (found.plan.site.air_c, found.plan.batch.water_temperature_c) == (16.0, 14.0)
    assert found.readings == (
        Reading(kind="energy_kwh", step="Strike", value=2.2), Reading(kind="energy_kwh", value=7.1),
        Reading(kind="boil_began_min", value=195.0), Reading(kind="boiled_off_l", value=3.0),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("start", "boil", "minutes"), [("22:10", "01:40", 210.0), ("08:00", "08:00", 0.0), ("08:15", "08:14", 1439.0)]
)
def test_a_boil_may_begin_after_midnight(demo, start, boil, minutes):
    """Hours and minutes since the start, round the clock; without a start nobody knows how many."""
    found = readings_of(demo, noted(start=f"2026-06-05T{start}:00", boil_began=boil), ZONE)
    assert found.readings == (Reading(kind="boil_began_min", value=minutes),)
    with pytest.raises(LogError, match="no reading"):
        readings_of(demo, noted(boil_began=boil), ZONE)


def test_what_was_not_noted_stays_the_plan_s(demo):
    """Air and water, and no start."""
    found = readings_of(demo, noted(metered="7 kWh"), ZONE)
    assert (found.plan, found.noted, found.start) == (demo, frozenset(), None)


def test_days_of_another_vessel_teach_nothing(demo):
    """Of another diameter or height; those of this one are read with its own vessel, which may be measured since."""
    measured = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"heat_loss_w_per_k": 5.0})})
    others = [
        demo.model_copy(update={"vessel": demo.vessel.model_copy(update=size)})
        for size in ({"diameter_m": 0.4}, {"height_m": 0.5})
    ]
    brewed = [(plan, noted(metered="7 kWh")) for plan in (demo, *others)]
    kept = kept_of_vessel(measured, [*brewed, (demo, noted(air="10 degC"))], ZONE)
    assert [day.plan.vessel for day in kept.days] == [measured.vessel]
    ((name, why),) = kept.unusable
    assert name == "2026-06-05"
    assert isinstance(why, LogError)


def test_a_day_s_plan_is_the_open_one_or_lies_beside_the_brewery():
    """By its name, or that of its file; a path of its own stands."""
    files = SimpleNamespace(own=SimpleNamespace(name="demo", path=Path("/somewhere/pale.toml")))
    assert [_is_own(files, name) for name in ("demo", "pale.toml", "days/pale.toml", "other.toml")] == [
        True, True, True, False,
    ]  # fmt: skip
    assert not _is_own(SimpleNamespace(own=SimpleNamespace(name="demo", path=None)), "pale.toml")
    assert _place(Path("/house/brewery.toml"), "pale.toml") == "/house/pale.toml"
    assert _place(Path("/house/brewery.toml"), "/other/pale.toml") == "/other/pale.toml"
    assert _place(None, "pale-ale") == "pale-ale"


def test_what_a_day_takes_over_other_days(demo):
    """The vessel's kWh by numpy over the 400 days of every other range."""
    none = learn(demo, ())
    others = drawn(demo, simulate(demo).wort.extract_kg, DRAWS, 1, None)
    used_kwh = sum(leg.board_w * leg.outcome.duration_s for leg in others.course.legs)[others.brewed] / 3.6e6
    found = day_kwh(demo, none)
    assert [found.p10, found.p50, found.p90] == pytest.approx(np.quantile(used_kwh, [0.1, 0.5, 0.9]))


def test_a_day_as_planned_has_no_causes_and_teaches(demo):
    """Its own total; one that is far off has causes. The day itself is not among those before it."""
    kwh = simulate(demo).profiles[0].energy_kwh
    as_planned, far = (readings_of(demo, noted(metered=f"{times * kwh} kWh"), ZONE) for times in (1.0, 1.2))
    found = brewed_answer(as_planned, (as_planned,), None, demo)
    assert found.causes == ()
    assert found.misfit < 1.2
    assert (found.before.days, found.after.days) == (0, 1)
    assert (found.cost, found.unpriced) == (None, None)
    assert not found.contradicts
    assert found.stretches[-1].measured_kwh == pytest.approx(kwh, rel=1e-6)
    off = brewed_answer(far, (), None, demo)
    assert off.misfit > 1.2
    assert off.causes
    width = [one.p90 - one.p10 for one in (found.range_before, found.range_after)]
    assert width[1] < width[0]


def test_a_month_counts_what_its_meter_saw(demo):
    """Two days of June, one without a meter; July's alone. What lies beyond the prices is counted apart."""
    kwh = simulate(demo).profiles[0].energy_kwh
    start = {"start": "2026-06-05T08:30:00"}
    june = [readings_of(demo, noted(metered="7.5 kWh", **start), ZONE),
            readings_of(demo, noted(boiled_off="3 L", **start), ZONE)]  # fmt: skip
    july = readings_of(demo, brewed_day({"date": "2026-07-01", "plan": "demo", "metered": "8 kWh"}), ZONE)
    first, second = months([july, *june], load_tariff("demo"))
    assert (first.month, first.days, second.month, second.days) == ("2026-06", 2, "2026-07", 1)
    assert (first.metered_kwh, second.metered_kwh) == (pytest.approx(7.5), pytest.approx(8.0))
    assert first.planned_kwh == pytest.approx(kwh)
    wort_l = simulate(demo).wort.end_l
    assert (first.wort_l, first.kwh_per_hl) == (pytest.approx(wort_l), pytest.approx(750 / wort_l))
    assert (first.unpriced, second.unpriced) == (0, 0)
    assert float(first.cost) > 0
    assert second.cost is None  # nobody noted when it began
    over = parse_tariff(
        '[tariff]\nname = "Ended"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        'valid_to = 2026-01-31\n[[tariff.band]]\nname = "all"\nprice = 0.3\n'
    )
    (late,) = months(june[:1], over)
    assert (late.cost, late.unpriced) == (None, 1)
    answered = brewed_answer(june[0], (), over, demo)
    assert isinstance(answered.unpriced, TariffError)
    assert months(june[1:], None)[0].kwh_per_hl is None
