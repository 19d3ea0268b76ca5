"""Prices around a day, by hand: which starts are open, how far the prices reach, what lies above the usual."""

from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest

from energyplan.advice.pricing import Pricing, compare_tariffs, cost_above, cost_of_load, pricing_of
from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.day.brewday import simulate
from energyplan.plan.model import Hours
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

HOUR = timedelta(hours=1)
START = datetime(2026, 6, 5, 9, 30, tzinfo=UTC)  # half past ten in Dublin


def flat(price, more=""):
    """One price for all hours in Dublin."""
    return parse_tariff(
        f'[tariff]\nname = "Flat"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n{more}'
        f'[[tariff.band]]\nname = "all"\nprice = {price}\n'
    )


def load_of(name, watts, from_s=0.0):
    """Hours of a load."""
    power = np.array(watts, dtype=float)
    return LoadProfile(name=name, edges_s=from_s + 3600.0 * np.arange(power.size + 1), mean_w=power,
                       heater_w_per_v2=np.zeros(power.size), other_w=power)  # fmt: skip


def test_every_start_of_the_local_day_is_open(demo):
    """Midnight to 23:59 in Dublin's summer, within the usual hours; the prices reach a day back and three on."""
    found = pricing_of(demo, load_tariff("demo"), START, any_start=True)
    assert (found.first, found.last) == (
        datetime(2026, 6, 4, 23, tzinfo=UTC), datetime(2026, 6, 5, 22, 59, tzinfo=UTC),
    )  # fmt: skip
    assert found.may_move
    assert found.hours.somebody_there_min == (360, 1380)
    assert (found.clock, found.local_start.hour, found.local_start.minute) == ("Europe/Dublin", 10, 30)
    edges = found.line.edges_s
    assert edges[0] <= (datetime(2026, 6, 3, 23, tzinfo=UTC)).timestamp()
    assert edges[-1] >= (datetime(2026, 6, 8, 23, tzinfo=UTC)).timestamp()
    fixed = pricing_of(demo, load_tariff("demo"), START)
    assert (fixed.first, fixed.last, fixed.may_move) == (None, None, False)
    assert fixed.starts(simulate(demo)) is None
    mine = demo.model_copy(update={"hours": Hours(earliest_min=480)})
    assert pricing_of(mine, load_tariff("demo"), START).hours == Hours(earliest_min=480)


def test_a_long_day_needs_prices_for_longer(demo):
    """Five days instead of two: as many more of prices."""
    usual, long = (pricing_of(demo, flat(0.3), START, lasts_s=days * 86_400.0) for days in (1, 5))
    assert long.line.edges_s[-1] - usual.line.edges_s[-1] == 3 * 86_400


def test_a_start_is_open_only_with_both_ends(line):
    """One of them alone moves nothing; the brewer's clock is that of the prices unless said."""
    assert not Pricing(line=line, start=START, first=START).may_move
    assert not Pricing(line=line, start=START, last=START).may_move
    assert Pricing(line=line, start=START).clock == line.zone
    assert Pricing(line=line, start=START, zone="Asia/Tokyo").clock == "Asia/Tokyo"


def test_the_cost_of_a_start_is_that_of_its_hours(demo, line):
    """The packaged day by night and by day: each priced at its own start; another one only where it is given."""
    day, night = simulate(demo), datetime(2026, 12, 5, 0, tzinfo=UTC)
    found = Pricing(line=line, start=datetime(2026, 12, 5, 9, tzinfo=UTC))
    assert float(found.cost(day)) == pytest.approx(0.343 * day.energy_kwh, rel=5e-3)
    assert float(found.cost(day, night)) == pytest.approx(0.155 * day.energy_kwh, rel=5e-3)
    assert found.cost_of(day.profiles, night) == found.cost(day, night)


def test_what_is_above_the_usual_is_priced_hour_by_hour():
    """2 and 3 kWh counted, 0.5 and 1 usual, at 0.30: 1.05 EUR; before the start as well."""
    counted, usual = load_of("counted", [2000.0, 3000.0]), load_of("usual", [500.0, 1000.0])
    assert float(cost_above(counted, usual, flat(0.3), START)) == pytest.approx(0.3 * 3.5)
    early = load_of("measured", [2000.0], from_s=-7200.0)
    found = cost_of_load(early, flat(0.3), START)
    assert float(found.total) == pytest.approx(0.6)
    ended = flat(0.3, "valid_from = 2026-06-05\n")
    with pytest.raises(TariffError):
        cost_of_load(load_of("long ago", [2000.0], from_s=-86_400.0), ended, START)
    assert float(cost_of_load(load_of("then", [2000.0]), ended, START).total) == pytest.approx(0.6)


def test_the_best_start_is_the_day_s_own_where_none_is_cheaper(demo):
    """One price all day: it stays; cheap from noon on, within the usual hours: it moves there."""
    day = simulate(demo)
    cheap = parse_tariff(
        '[tariff]\nname = "Noon"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[[tariff.band]]\nname = "dear"\nprice = 0.4\notherwise = true\n'
        '[[tariff.band]]\nname = "noon"\nprice = 0.1\nfrom = "12:00"\nto = "18:00"\n'
    )
    same, moved = compare_tariffs(day, [flat(0.3), cheap], START, habit=(5, time(9)), brews=10)
    assert (same.best.start, same.best.cost) == (START, same.day)
    assert moved.best.cost.units < moved.day.units
    assert datetime(2026, 6, 5, 10, 30, tzinfo=UTC) <= moved.best.start <= datetime(2026, 6, 5, 12, 30, tzinfo=UTC)
    assert same.ends is None
    assert same.why == ""
