"""Advice on the terminal: 80 columns, units said, numbers of the results."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from rich.console import Console, RenderableType

from energyplan.advice.boil import Evaporation, advise_boil
from energyplan.advice.draws import Uncertainty
from energyplan.advice.holds import sag_curve
from energyplan.advice.pricing import Pricing
from energyplan.advice.ramps import ramp_caps
from energyplan.advice.uncertainty import Spread, SpreadRun, spread
from energyplan.base.units import Display
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Hours, Plan, Site, Step
from energyplan.report.advicetext import (
    boil_text,
    ramp_text,
    sag_text,
    spread_text,
)
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff

START = datetime(2026, 12, 5, 9, tzinfo=UTC)
METRIC, US = Display("metric"), Display("us")
WIDTH = 80


def lines(shown: RenderableType, width: int = WIDTH) -> list[str]:
    """What a terminal of 80 columns shows."""
    console = Console(width=width, highlight=False, force_terminal=False)
    with console.capture() as captured:
        console.print(shown)
    return captured.get().splitlines()


def row(shown: list[str], name: str) -> list[str]:
    """The cells of a row after its name."""
    line = next(line for line in shown if line.startswith(name))
    return line.removeprefix(name).split()


@pytest.fixture(scope="module")
def demo() -> Plan:
    """The packaged plan."""
    plan = read_plan("demo")
    assert plan.second_heater is not None
    return plan.model_copy(update={"second_heater": plan.second_heater.model_copy(update={"own_circuit": False})})


@pytest.fixture(scope="module")
def day(demo: Plan) -> BrewDay:
    """Its day."""
    return simulate(demo)


@pytest.fixture(scope="module")
def pricing() -> Pricing:
    """Two rates, any start of the day, somebody there from nine."""
    line = price_line_around(load_tariff("demo"), START - timedelta(days=1), START + timedelta(days=2))
    hours = Hours(somebody_there_min=(540, 1320))
    return Pricing(line=line, start=START, first=START.replace(hour=0), last=START.replace(hour=20), hours=hours)


@pytest.fixture(scope="module")
def ranges(demo: Plan, pricing: Pricing) -> Spread:
    """A small spread with prices."""
    return spread(demo, pricing=pricing, how=SpreadRun(draws=50))


@pytest.fixture(params=["spread", "boil", "ramps", "sag"])
def any_text(request, demo, day, pricing) -> RenderableType:  # type: ignore[no-untyped-def]
    """Each of the renderables."""
    ranges = request.getfixturevalue("ranges")
    makers: dict[str, Callable[[], RenderableType]] = {
        "spread": lambda: spread_text(ranges, US),
        "boil": lambda: boil_text(advise_boil(day), US),
        "ramps": lambda: ramp_text(ramp_caps(day, START, UTC), UTC),
        "sag": lambda: sag_text(sag_curve(day, "Saccharification"), US),
    }
    return makers[request.param]()


def test_everything_fits_80_columns(any_text: RenderableType) -> None:
    """No line is longer, nothing is cut off, no word is broken in two: a wider terminal shows the same words."""
    shown = lines(any_text)
    assert max(len(line.rstrip()) for line in shown) <= WIDTH
    assert not any("…" in line for line in shown)
    assert sorted(" ".join(lines(any_text, width=200)).split()) == sorted(" ".join(shown).split())


def test_spread_shows_ranges_bars_and_chances(ranges: Spread) -> None:
    """Numbers as computed; a bar per driver; a sentence per chance."""
    shown = lines(spread_text(ranges, METRIC))
    energy = ranges.range_of("energy_kwh")
    assert row(shown, "Energy ") == ["kWh", *(f"{v:.2f}" for v in (energy.planned, energy.p10, energy.p50, energy.p90))]
    assert sum("█" in line for line in shown) >= 10
    assert any("breaker: more than 2 % over its rating" in line for line in shown)
    assert any(line.startswith("Measure next: ") for line in shown)


def test_spread_in_us_units(ranges: Spread) -> None:
    """Temperatures in °F, volumes in gallons."""
    shown = lines(spread_text(ranges, US))
    assert row(shown, "Lowest in the mash")[:2] == ["°F", "152.6"]
    assert row(shown, "Volume after the boil")[0] == "gal"


def test_spread_names_draws_that_fail(builders) -> None:
    """Their share and the error; small and full shares are written as such."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=66.0, ramp_power_w=300.0, pump=False), water_c=60.0,
        vessel=builders.vessel(heat_loss_w_per_k=5.0), site=Site(air_c=20.0),
    )  # fmt: skip
    only = (Uncertainty(input="air_c", name="air", low=-1.0, high=22.0),)
    found = spread(plan, uncertainties=only, how=SpreadRun(draws=50))
    shown = " ".join(" ".join(lines(spread_text(found, METRIC))).split())
    assert "can't be brewed at all" in shown
    assert 'of 50: [[step]] "Warm"' in shown


@pytest.mark.parametrize(("frac", "said"), [(0.0, "0 %"), (0.0004, "<0.1 %"), (0.1234, "12.3 %"), (1.0, "100 %")])
def test_shares_are_written_honestly(ranges: Spread, frac: float, said: str) -> None:
    """Not nought where it is a little."""
    chance = replace(ranges.chances[0], frac=frac)
    shown = lines(spread_text(replace(ranges, chances=(chance,)), METRIC))
    assert any(line.split(chance.name)[0].strip() == said for line in shown if "sags" in line)


def test_boil_says_what_follows(day: BrewDay) -> None:
    """Three lids, the powers, kWh and litres saved."""
    advice = advise_boil(day)
    shown = lines(boil_text(advice, METRIC))
    assert row(shown, "lid off") == [f"{advice.lids[2].least_w:.0f}", f"{advice.lids[2].worst_least_w:.0f}"]
    assert any(f"It saves {advice.saved_kwh:.2f} kWh" in " ".join(shown[i : i + 2]) for i in range(len(shown)))


def test_boil_that_cannot_be_restored_or_stops(builders, day: BrewDay) -> None:
    """Two rows instead of three; what is too much is marked."""
    plan = builders.water_plan(
        Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=1000.0), water_l=46.0, vessel=builders.vessel(4000.0)
    )
    advice = advise_boil(simulate(plan), evaporation=Evaporation(litres_per_h=4.0))
    shown = lines(boil_text(replace(advice, restored=None), METRIC))
    assert not any(line.startswith("advised, end volume kept") for line in shown)
    assert "(stops)" in next(line for line in shown if line.startswith("as set"))
    weak = replace(advice, lids=tuple(replace(x, boils=False, boils_at_worst=False) for x in advice.lids))
    assert sum(line.count("(too much)") for line in lines(boil_text(weak, METRIC))) == 6


def test_ramps_name_the_ways_out(day: BrewDay) -> None:
    """The packaged plan's second heater meets a ramp behind a small breaker; one that stalls a step lower says so."""
    circuit = day.plan.circuit.model_copy(update={"breaker_a": 12.5})
    advice = ramp_caps(simulate(day.plan.model_copy(update={"circuit": circuit})), START, UTC)
    shown = lines(ramp_text(advice, UTC))
    assert row(shown, "Mash-out")[2] == "none"
    assert any(line.startswith("Way out: ") for line in shown)
    stalling = replace(advice, rows=tuple(replace(r, less_min=None) for r in advice.rows))
    assert row(lines(ramp_text(stalling, UTC)), "Mash-out")[-1] == "stalls"
    lowest = replace(advice, rows=tuple(replace(r, less_w=0.0, less_min=None) for r in advice.rows))
    assert len(row(lines(ramp_text(lowest, UTC)), "Mash-out")) == 5
    still = replace(advice, ways_out=tuple(replace(w, over=("outlet",)) for w in advice.ways_out))
    assert any("still over: outlet" in line for line in lines(ramp_text(still, UTC)))


def test_sag_curve_names_its_knee(day: BrewDay) -> None:
    """From where on it keeps the target; or that nothing does."""
    curve = sag_curve(day, "Saccharification")
    shown = " ".join(lines(sag_text(curve, METRIC)))
    assert f"From {curve.knee_w:.0f} W on it keeps 67.0 °C" in shown
    assert "No cap keeps the target" in " ".join(lines(sag_text(replace(curve, knee_w=None), METRIC)))
