"""Tests of the pages for the electrician: the load stated, what was entered, findings in order, questions."""

from datetime import UTC, datetime

import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.units import Display
from energyplan.faces.charts.pictures import current_picture, picture_svg
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.report.electricianpage import checked_circuit, electrician_page
from energyplan.report.loadlist import load_list, longest_run_min

METRIC, US = Display("metric"), Display("us")
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)


def answered(title: str, *changes: tuple[str, str], demo: str = "demo") -> Answer:
    """A packaged day under another title, with other words."""
    text = demo_plans()[demo]
    old_title = {"demo": "Oat stout for the village hall", "lakeside": "Pale ale in the lakeside garage"}[demo]
    for old, new in ((old_title, title), *changes):
        assert old in text
        text = text.replace(old, new, 1)
    return answer(parse_plan(text, source="test"), None, START)


def without_circuit(title: str) -> Answer:
    """The packaged day before anybody looked at the board."""
    text = demo_plans()["demo"]
    text = text[: text.index("[circuit]")] + text[text.index("[[other_load]]") :]
    return answer(parse_plan(text.replace("Oat stout for the village hall", title), source="test"), None, START)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered("Stout for the ferry")


def numbers(page: dict) -> dict[str, str]:
    """The strip of numbers, by name."""
    return {item["name"]: item["value"] for item in page["numbers"]}


def test_rated_current_is_watts_over_volts(day: Answer) -> None:
    """Ohm's law on the plates: 2800 W at 230 V, 1500 W at 230 V."""
    vessel, heater, fridge = load_list(day, checked_circuit(day))
    assert (vessel["watts"], vessel["volts"], vessel["rated"]) == ("2800", "230", f"{2800 / 230:.1f}")
    assert (heater["watts"], heater["rated"]) == ("1500", f"{1500 / 230:.1f}")
    assert (fridge["name"], fridge["watts"]) == ("Fermentation fridge", "120")
    # The drop in the cable lowers it, the pump adds 33 W / 230 V.
    assert float(vessel["drawn"]) <= float(vessel["rated"]) + 0.15


def test_a_heater_with_a_circuit_of_its_own_is_listed_and_not_counted(day: Answer) -> None:
    """The packaged day's second heater hangs on another breaker; beside the vessel it draws its current here."""
    heater = load_list(day, checked_circuit(day))[1]
    assert heater["drawn"] == "–"
    assert "not counted here" in heater["words"]
    shared = answered("Shared", ("own_circuit = true", "own_circuit = false"))
    rows = load_list(shared, checked_circuit(shared))
    assert float(rows[1]["drawn"]) > 6
    page = electrician_page(shared, METRIC)
    assert any("separate circuits" in question for question in page["questions"])
    assert any("another breaker" in question for question in electrician_page(day, METRIC)["questions"])


def test_minutes_count_while_elements_are_on(day: Answer) -> None:
    """A vessel's elements rest in its pauses: 8, 20 and 30 min of the packaged day."""
    vessel = load_list(day, checked_circuit(day))[0]
    assert float(vessel["minutes"]) == pytest.approx(day.day.duration_s / 60 - 58, abs=1)
    assert longest_run_min(day.day.profiles[0]) <= float(vessel["minutes"])


def test_loads_say_when_and_how_they_run() -> None:
    """Window, duty and motor of another load; switched elements; one element; no pump."""
    washer = '[[other_load]]\nname = "Dishwasher"\npower = "2 kW"\nfrom = "09:05"\nto = "10:00"\nmotor = true\n\n'
    first = '[[step]]\nname = "Strike"'
    changes = {
        first: washer + first,
        'power_step = "100 W"': 'power_step = "100 W"\ncontrol = "switched"',
        'hold_power = "600 W"': 'hold_power = "1000 W"',
        'hold_power = "400 W"': 'hold_power = "1000 W"',
        'ramp_power = "1500 W"': 'ramp_power = "1800 W"',
        'pump = "30 W"': "",
    }
    mixed = answered("Mixed", *changes.items())
    vessel, _, fridge, dishes = load_list(mixed, checked_circuit(mixed))
    assert vessel["words"] == "elements 1800 W at 230 V, 1000 W at 230 V; switched on and off"
    assert fridge["words"] == "on all day; runs 40 % of the time, counted as on"
    assert dishes["words"] == "09:05 to 10:00; counted as on; a motor starts in it"
    assert dishes["minutes"] == "55"
    lake = answered("Lake", demo="lakeside")
    assert load_list(lake, checked_circuit(lake))[0]["words"].startswith("one element")


def test_numbers_are_those_of_the_check(day: Answer) -> None:
    """Maximum demand, its longest stretch, RMS over an hour, what lasts 3 h, voltage drop."""
    checked = day.circuit
    assert checked is not None
    shown = numbers(electrician_page(day, METRIC))
    assert shown["Maximum demand"] == f"{checked.peak_a:.1f} A"
    assert shown["Hottest hour"] == f"{checked.rms_60_min_a:.1f} A"
    assert shown["Voltage drop"] == f"{100 * checked.voltage_drop_frac:.1f} %"
    hours, minutes = divmod(round(checked.longest_at_peak_min), 60)
    assert shown["Longest at it"] == f"{hours} h {minutes:02d} min"
    assert shown["For 3 h or more"] == f"{checked.continuous_a:.1f} A"


def test_a_standby_is_no_continuous_load() -> None:
    """4 W at 240 V are 0.017 A: written as none, not as 0.0 A."""
    lake = answered("Lake at night", demo="lakeside")
    page = electrician_page(lake, US)
    assert numbers(page)["For 3 h or more"] == "none"
    assert any("nothing of weight lasts 3 h. Does the 80 % limit" in question for question in page["questions"])


def test_over_comes_first_and_is_named() -> None:
    """The verdict names what is over; findings stand worst first; short stretches are told in minutes."""
    over = answered("Over", ('breaker = "16 A"', 'breaker = "10 A"'), ("own_circuit = true", "own_circuit = false"))
    page = electrician_page(over, METRIC)
    assert over.circuit is not None
    assert page["severity"] == "over"
    assert page["verdict"].startswith(f"{over.circuit.peak_a:.1f} A of 10.0 A while the elements are on. Over ")
    assert "breaker" in page["verdict"]
    severities = [found["severity"] for found in page["told"]]
    assert severities == sorted(severities, reverse=True), "over, then note"
    assert {found["severity"] for found in page["fine"]} == {"ok"}
    assert len(page["told"]) + len(page["fine"]) == len(over.circuit.findings)
    assert numbers(page)["Longest at it"] == f"{over.circuit.longest_at_peak_min:.0f} min"
    assert any(found["margin"].startswith("-") for found in page["told"])


def test_within_the_ratings_the_verdict_says_so(day: Answer) -> None:
    """Nothing over: the sentence of the report."""
    assert electrician_page(day, METRIC)["verdict"].startswith("Within the ratings you entered")


def test_supply_as_entered(day: Answer) -> None:
    """Every rating with its unit; what was not entered is left to be written in."""
    supply = dict(electrician_page(day, METRIC)["supply"])
    assert supply["Supply"] == "230 V, one phase"
    assert supply["Breaker"] == "16 A, curve B"
    assert supply["Residual current device"] == "yes"
    assert supply["Outlet and plug"] == "16 A"
    assert supply["Cable"] == "2.5 mm², 18 m one way"
    assert supply["Laid"] == "method C, clipped to a wall; 30 °C around it"
    assert supply["Extension lead"] == "none"
    assert supply["Circuit feeds"] is None
    assert "Fuse in the plug" not in supply


def test_supply_with_everything_entered() -> None:
    """Fuse, lead, ring, grouping, lines, a circuit of its own."""
    more = """cable = "2.5 mm2"
ring = true
grouped_circuits = 3
dedicated = true
plug_fuse = "13 A"
extension = { cable = "1.5 mm2", length = "10 m", rating = "13 A", unwound = false, rating_wound = "5 A" }
layout = "three phase"
line = "L2"
"""
    changes = {
        'cable = "2.5 mm2"\n': more,
        "residual_current_device = true": "residual_current_device = false",
        'breaker_curve = "B"\n': "",
    }
    supply = dict(electrician_page(answered("Everything", *changes.items()), US)["supply"])
    assert supply["Supply"] == "230 V, three phase, on L2"
    assert supply["Breaker"] == "16 A, curve not known"
    assert supply["Residual current device"] == "no"
    assert supply["Fuse in the plug"] == "13 A"
    assert supply["Cable"] == "2.5 mm², 59.1 ft round the ring"
    assert supply["Laid"].endswith("86 °F around it, beside 2 others")
    assert supply["Extension lead"] == "1.5 mm², 32.8 ft, marked 13 A, left wound up"
    assert supply["Circuit feeds"] == "the vessel's outlet alone"


def test_supply_with_little_entered() -> None:
    """Only voltage and a shared circuit: the rest are lines to fill in, and the drop is not known."""
    text = demo_plans()["demo"]
    known = """voltage = "230 V"
dedicated = false
cable = "2.5 mm2"
installation = "B"
grouped_circuits = 2
extension = { cable = "1.5 mm2", length = "5 m" }

"""
    head, rest = text.replace("Oat stout for the village hall", "Little").split("[circuit]\n")
    text = f"{head}[circuit]\n{known}{rest[rest.index('[[other_load]]') :]}"
    little = answer(parse_plan(text, source="test"), None, START)
    supply = dict(electrician_page(little, METRIC)["supply"])
    assert supply["Breaker"] is None
    assert supply["Outlet and plug"] is None
    assert supply["Residual current device"] is None
    assert supply["Cable"] == "2.5 mm², length not known"
    assert supply["Laid"] == "method B, in a conduit on a wall; 30 °C around it, beside 1 other"
    assert supply["Extension lead"] == "1.5 mm², 5 m"
    assert supply["Circuit feeds"] == "other outlets too"
    assert numbers(electrician_page(little, METRIC))["Voltage drop"] != "not known"


def test_a_cable_that_is_not_known() -> None:
    """Neither size nor length: a line to fill in, and no drop."""
    unknown = answered("Unknown cable", ('cable = "2.5 mm2"\n', ""))
    page = electrician_page(unknown, METRIC)
    assert dict(page["supply"])["Cable"] is None
    assert numbers(page)["Voltage drop"] == "not known"


def test_a_way_of_laying_that_is_not_known() -> None:
    """A line to fill in."""
    assert dict(electrician_page(answered("Laid?", ('installation = "C"\n', "")), METRIC)["supply"])["Laid"] is None


def test_a_supply_with_split_phase() -> None:
    """The American packaged day: two legs, ground-fault protection at 5 mA, the larger circuit in AWG."""
    page = electrician_page(answered("Split", ('installation = "60"', 'installation = "60"\nline = "all"'),
                                     demo="lakeside"), US)  # fmt: skip
    supply = dict(page["supply"])
    assert supply["Supply"] == "240 V, split phase, on all lines"
    assert supply["Breaker"] == "20 A, inverse time"
    assert supply["Judged by"] == "NFPA 70"
    questions = " ".join(page["questions"])
    assert "about 5 mA" in questions
    assert "AWG or more" in questions
    assert len(page["questions"]) == 9, "no second heater, no question about it"


def test_questions_carry_the_days_numbers(day: Answer) -> None:
    """Current, hours, steam and the smallest circuit of the tables stand in the questions."""
    questions = " ".join(electrician_page(day, METRIC)["questions"])
    vessel_a = float(checked_circuit(day).appliances[0].on_a.max())
    assert f"carry {vessel_a:.1f} A for up to {longest_run_min(day.day.profiles[0]) / 60:.1f} h on end" in questions
    assert f"{day.day.wort.evaporated_kg:.2f} kg of water" in questions
    assert "By the tables the day as planned asks for 16 A on " in questions
    assert "The present one leaves " in questions


def test_a_load_beyond_the_tables_gets_no_size() -> None:
    """Where no breaker of the tables is enough, the question names none."""
    huge = answered("Huge", ('power = "1800 W"\nvoltage = "230 V"', 'power = "60 kW"\nvoltage = "230 V"'),
                    ('breaker = "16 A"\n', ""), ('outlet = "16 A"\n', ""), ('cable = "2.5 mm2"\n', ""),
                    ('breaker_curve = "B"\n', ""))  # fmt: skip
    question = next(q for q in electrician_page(huge, METRIC)["questions"] if q.startswith("If a larger"))
    assert question.endswith("main fuse take it?")
    assert any("rating and curve" in q for q in electrician_page(huge, METRIC)["questions"])


def test_without_a_circuit_the_load_alone_is_stated() -> None:
    """Numbers at the voltage of the elements' plates, no finding, no verdict, blanks."""
    bare = without_circuit("Bare")
    page = electrician_page(bare, METRIC)
    assert page["told"] == page["fine"] == []
    assert "nothing is judged" in page["verdict"]
    shown = numbers(page)
    assert shown["Voltage drop"] == "not known"
    fridge_a, pump_a = 120 / 230, 33 / 230
    assert float(shown["Maximum demand"].split()[0]) == pytest.approx(2800 / 230 + fridge_a + pump_a, abs=0.06)
    assert dict(page["supply"])["Breaker"] is None
    assert dict(page["supply"])["Supply"] == "230 V, from the plate of the element"
    assert "ratings" not in current_picture(bare).words
    assert "<svg" in picture_svg(current_picture(bare))


def test_the_day_stands_in_the_head(day: Answer) -> None:
    """Date, clock and zone."""
    assert electrician_page(day, METRIC)["when"].startswith("Sat 05 Dec 2026, 08:30 to 13:")
    assert electrician_page(day, METRIC)["when"].endswith(", Europe/Dublin")
