"""Ranges, word for word: the headline, where each range comes from, what goes wrong, what to measure and how."""

from datetime import datetime
from typing import Any, get_args

import pytest

from energyplan.advice.draws import Input, Uncertainty
from energyplan.advice.uncertainty import Chance, Driver, Range
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.telling import uncertainty
from energyplan.telling.uncertainty import drivers_table, measure_told, ranges_table, source_of, uncertainty_told
from tests.telling.shown import Given, headings, seen_rows, titles

AIR = Uncertainty(input="air_c", name="air", low=7.0, high=17.0)
LOSS = Uncertainty(input="loss_factor", name="heat loss", low=0.75, high=1.25)
DRIVERS = (Driver(name="air", correlation=-0.9), Driver(name="heat loss", correlation=0.05),
           Driver(name="water", correlation=0.049), Driver(name="mains", correlation=0.06))  # fmt: skip


def of(key: str, planned: float, p10: float, p50: float, p90: float, *drivers: Driver) -> Range:
    """A range, with its standard errors."""
    return Range(key=key, planned=planned, p10=p10, p50=p50, p90=p90, errors=(0.01, 0.03, 0.02), drivers=drivers)


RANGES = (
    of("energy_kwh", 7.0, 6.5, 7.1, 7.6, *DRIVERS),
    of("cost", 2.0, 1.8, 2.05, 2.2),
    of("minutes", 330.0, 320.0, 331.0, 345.0),
)


def spread(**more: Any) -> Any:
    """Four hundred days under uncertain inputs."""
    vessel = Given(heat_loss_w_per_k=None, heat_loss_within_w_per_k=None, least_boil_w=None)
    given = {
        "plan": Given(vessel=vessel), "draws": 400, "seed": 7, "band_k": 1.0, "uncertainties": (AIR, LOSS),
        "ranges": RANGES, "chances": (), "failed_frac": 0.0, "failures": (), "currency": "EUR", "days": 0,
        "start": datetime(2026, 12, 5, 8, 30), "range_of": lambda key: next(one for one in RANGES if one.key == key),  # noqa: DTZ001
    }  # fmt: skip
    return Given(**{**given, **more})


def narrows(best: Uncertainty = LOSS, cost: float = 0.305, *, helps: bool = True) -> Any:
    """What each input narrows, once it is measured: the loss the most."""
    rows = (Given(input="air_c", narrows_frac=0.1), Given(input="loss_factor", narrows_frac=0.3))
    costs = (Given(input="air_c", narrows_frac=0.1), Given(input="loss_factor", narrows_frac=cost))
    return Given(outputs={"energy_kwh": rows, "cost": costs}, best=best, helps=helps)


@pytest.fixture(autouse=True)
def measured(monkeypatch: pytest.MonkeyPatch) -> None:
    """The ranking of what to measure is given, not worked out."""
    monkeypatch.setattr(uncertainty, "what_to_measure", lambda found: getattr(found, "ranked", narrows()))


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (spread(), ("Eight days of ten take 6.5 to 7.6 kWh and 1.80 to 2.20 EUR if you start at 08:30 on Sat 5 Dec "
                    "2026.")),
        (spread(start=None, days=2), "Eight days of ten take 6.5 to 7.6 kWh and 1.80 to 2.20 EUR, from 2 brewed days."),
        (spread(currency="", failed_frac=0.03, failures=(Given(message="it stalls"),)),
         "Eight days of ten take 6.5 to 7.6 kWh; 3 % of the days can't be brewed as set, and are in no range."),
    ],
)  # fmt: skip
def test_the_headline_is_where_eight_days_of_ten_lie(found: Any, told: str) -> None:
    """Energy, money for its start, the brewed days that it rests on, the days that are in no range."""
    assert words(uncertainty_told(found).headline) == told  # type: ignore[arg-type]


def test_numbers_have_their_rows() -> None:
    """As planned, one day in ten below, half, one in ten above."""
    table = ranges_table(spread())
    assert headings(table, 0) == ["", "As planned", "1 in 10 below", "Half below", "1 in 10 above"]
    assert seen_rows(table) == [
        ["Energy", "7.00 kWh", "6.50 kWh", "7.10 kWh", "7.60 kWh"],
        ["Cost", "2.00 EUR", "1.80 EUR", "2.05 EUR", "2.20 EUR"],
        ["Duration", "5 h 30 min", "5 h 20 min", "5 h 31 min", "5 h 45 min"],
    ]
    assert document(uncertainty_told(spread()))["ranges"][0]["errors"] == 0.03


def test_what_drives_a_number_has_a_bar_from_a_twentieth_on() -> None:
    """24 cells for a correlation of one; the weakest that is told has one; machines get all."""
    table = drivers_table(spread())
    assert headings(table, 0, short=True) == ["Energy is driven by", "", "rank correlation"]
    assert seen_rows(table) == [["air", "█" * 22, "-0.90"], ["heat loss", "█", "+0.05"], ["mains", "█", "+0.06"]]
    rows = document(uncertainty_told(spread()))["drivers"]
    assert [(row["key"], row["input"], row["correlation"]) for row in rows] == [
        ("energy_kwh", one.name, one.correlation) for one in DRIVERS
    ]


SAG, BOIL, OVER, NEVER = (
    Chance(kind=kind, name=name, frac=frac, error=0.01)
    for kind, name, frac in (
        ("sag", "Mash", 0.02), ("boil", "Boil", 0.3), ("over", "breaker", 0.001), ("boil", "Second", 0.0)
    )
)  # fmt: skip


def test_what_goes_wrong_comes_by_its_share() -> None:
    """Why days fail first; then the likeliest; what never happens is not told."""
    found = uncertainty_told(
        spread(
            chances=(SAG, NEVER, BOIL, OVER),
            failed_frac=0.01,
            failures=(Given(message="it stalls"), Given(message="b")),
        )
    )
    assert [(one.code, one.severity, words(one.said)) for one in found.findings] == [
        ("failed", "note", "Why a day can't be brewed as set: it stalls"),
        ("boil", "note", "30 % of the days: Boil stops boiling."),
        ("sag", "note", "2 % of the days: Mash sags more than 1 K below its target."),
        ("over", "note", "0.1 % of the days: breaker more than 2 % over its rating while elements are on."),
    ]
    assert [row["frac"] for row in document(found)["chances"]] == [0.02, 0.0, 0.3, 0.001]


@pytest.mark.parametrize(
    ("item", "vessel", "days", "told"),
    [
        ("loss_factor", {}, 2, " of what is planned, from 2 brewed days"),
        ("air_c", {}, 2, " [assumption]"),
        ("loss_factor", {}, 0, " of the loss estimated from the size"),
        ("loss_factor", {"heat_loss_within_w_per_k": 0.5}, 0,
         " of the loss estimated from the size, as its half width says"),
        ("loss_factor", {"heat_loss_w_per_k": 5.0}, 0, " of the loss measured"),
        ("loss_factor", {"heat_loss_w_per_k": 5.0, "heat_loss_within_w_per_k": 0.5}, 0,
         " of the loss measured, as its half width says"),
        ("open_surface_factor", {}, 0,
         " of what evaporates near the boil, six tenths of that below 75 °C: published sources differ as much"),
        ("open_surface_factor", {"least_boil_w": 1700.0}, 0,
         " of what evaporates, by the lowest power seen to boil [assumption]"),
        ("element_factor", {}, 0, " of the plate, IEC 60335-1 (from memory)"),
        ("voltage_v", {}, 0, " [assumption]"),
    ],
)  # fmt: skip
def test_a_range_says_where_it_comes_from(item: Input, vessel: dict[str, float], days: int, told: str) -> None:
    """From brewed days, a measurement, the size, a plate; or assumed."""
    plan = spread().plan
    known: Any = Given(vessel=plan.vessel.but(**vessel))
    assert words(source_of(Uncertainty(input=item, name="x", low=0.9, high=1.1), known, days)) == told


def test_cautions_are_the_inputs_and_the_draws() -> None:
    """Each with its range in its own kind."""
    assert [words(one) for one in uncertainty_told(spread()).cautions] == [
        "air: 7 to 17 °C [assumption].", "heat loss: 75 to 125 % of the loss estimated from the size.",
        "From 400 days; every value in a range is taken as equally likely; seed 7.",
    ]  # fmt: skip
    facts = document(uncertainty_told(spread()))
    assert titles(uncertainty_told(spread())) == ["Ranges", "Ranges", "Drivers", "What each would narrow"]
    assert titles(measure_told(spread())) == ["What to measure next", "What each would narrow"]
    assert uncertainty_told(spread()).facts["chances"].title == "Chances"
    assert {key: facts[key] for key in ("draws", "seed", "band_k", "failed_frac", "currency", "measure_next")} == {
        "draws": 400, "seed": 7, "band_k": 1.0, "failed_frac": 0.0, "currency": "EUR", "measure_next": "loss_factor",
    }  # fmt: skip


@pytest.mark.parametrize(("cost", "columns"), [(0.309, ["Energy"]), (0.31001, ["Energy", "Cost"])])
def test_what_narrows_most_comes_first(cost: float, columns: list[str]) -> None:
    """The best measurement, then the others; money is told apart where it narrows otherwise by a percent."""
    table = measure_told(spread(ranked=narrows(cost=cost))).table("narrows")
    assert headings(table, 0) == ["Once measured, narrows", *columns]
    assert [row[:2] for row in seen_rows(table)] == [["heat loss", "30 %"], ["air", "10 %"]]
    best_is_air = measure_told(spread(ranked=narrows(best=AIR))).table("narrows")
    assert [row[0] for row in seen_rows(best_is_air)] == ["air", "heat loss"]


def test_where_nothing_helps_there_is_no_table() -> None:
    """One sentence, and what the shares would be of."""
    told = measure_told(spread(ranked=narrows(helps=False)))
    assert [words(one) for one in told.sentences] == ["Every input is known as well as it can be measured."]
    assert not told.tables
    assert words(told.cautions[0]) == (
        "Share of each range that goes once the input is measured. The hold cap is the lowest that keeps the mash."
    )


WAYS = {
    "air_c": "Measure next: a thermometer where you brew, on the day. Hang a thermometer beside the vessel, at its "
    "height, out of steam, sun and draught; read it after ten minutes and enter it as [site] air.",
    "water_c": "Measure next: a thermometer in the water before you switch on. Run the tap until it stays cold, fill "
    "a jug, stir and read after a minute; enter it as [batch] water_temperature.",
    "loss_factor": "Measure next: one cool-down from mash temperature, lid on, with a thermometer and a clock. At mash "
    "temperature switch the heater off, leave lid and jacket on and the pump running, and note temperature and time; "
    "note both again after 60 to 90 minutes, at best every 10. Two readings are ten minutes of work; calibrating "
    "makes [vessel] heat_loss of them.",
    "open_surface_factor": "Measure next: the lowest power that keeps the boil, lid off. In the boil, lid off, turn "
    "the power down a step at a time until it stops rolling, and up again until it rolls; enter the lowest power "
    "that kept it as [vessel] least_boil.",
    "element_factor": "Measure next: a plug-in meter at full power, with the voltage beside it. Put a plug-in energy "
    "meter that is made for the current before the vessel, switch on full power, and note watts and volts together "
    "after two minutes; enter them as the element's power and voltage.",
    "voltage_v": "Measure next: a plug-in meter's volts at the hour you brew, under load. Read a plug-in meter's "
    "volts at the hour you brew, with the elements on; enter what the board has, so add the drop of cable and lead, "
    "or read with the elements off.",
    "grain_c": "Measure next: a thermometer in the milled grain. Push a thermometer into the middle of the milled "
    "grain for five minutes; enter it as [batch] grain_temperature.",
}


@pytest.mark.parametrize("key", get_args(Input))
def test_a_measurement_has_its_way(key: Input) -> None:
    """What to use, how, and where it is entered."""
    item = Uncertainty(input=key, name="x", low=0.9, high=1.1)
    assert words(measure_told(spread(ranked=narrows(best=item))).sentences[0]) == WAYS[key]
