"""Tests of the page for the electrician: the load stated, entered beside required, what is not known."""

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from typing import Any

import pypdf
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import AMPERES, Style
from energyplan.base.sentence import words
from energyplan.circuits.check import check
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.supply import on_the_circuit
from energyplan.faces.files import file_bytes
from energyplan.faces.sheet import electrician_texts
from energyplan.plan.file import demo_plans, parse_plan, read_plan
from energyplan.plan.model import Circuit, Extension, OtherLoad
from energyplan.tariffs.clock import zone_of
from energyplan.telling.circuit import tell_enough, tell_findings
from energyplan.telling.currents import loads_table
from energyplan.telling.electrician import checked_circuit, tell_electrician
from energyplan.telling.files import file_told
from tests.telling.shown import Begun, Given, headings, seen_rows, titles

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
NANO = """[circuit]
rules = "iec"
voltage_between_lines = "400 V"
line = "all"
breaker = "32 A"
breaker_curve = "C"

"""


def text_of(title: str, *changes: tuple[str, str], demo: str = "demo") -> str:
    """A packaged plan under another title, with other words."""
    text = demo_plans()[demo]
    old_title = {"demo": "Oat stout for the village hall", "lakeside": "Pale ale in the lakeside garage"}[demo]
    for old, new in ((old_title, title), *changes):
        assert old in text
        text = text.replace(old, new, 1)
    return text


def answered(title: str, *changes: tuple[str, str], demo: str = "demo") -> Answer:
    """Its answer."""
    return answer(parse_plan(text_of(title, *changes, demo=demo), source="test"), None, START)


def with_circuit(title: str, circuit: str) -> Answer:
    """The packaged day on another circuit, or on none."""
    text = text_of(title)
    text = text[: text.index("[circuit]")] + circuit + text[text.index("[[other_load]]") :]
    return answer(parse_plan(text, source="test"), None, START)


def page_of(found: Answer, style: Style | None = None) -> dict:
    """Its page as texts."""
    return electrician_texts(tell_electrician(found), style or Style())


def rows(page: dict, table: str) -> dict[str, list[str]]:
    """Rows of a table by their first cell."""
    return {row[0]: row[1:] for row in page[table]["rows"]}


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered("Stout for the ferry")


def test_plates_are_watts_over_volts(day: Answer) -> None:
    """Ohm's law on the plates: 2800 W and 1500 W at 230 V; the drop in the cable lowers what is drawn."""
    loads = rows(page_of(day), "loads")
    assert loads["Vessel"][:4] == ["L1-N", "2800", "230", f"{2800 / 230:.1f}"]
    assert float(loads["Vessel"][4]) <= 2800 / 230 + 0.15
    assert loads["Second heater"] == ["own circuit", "1500", "230", f"{1500 / 230:.1f}", "", "16"]
    assert loads["Fermentation fridge"][:2] == ["L1-N", "120"]


def test_a_load_without_a_plate_voltage_is_meant_at_the_nominal_one() -> None:
    """1200 W at the 230 V that a 240 V supply belongs to: what is drawn at 240 V follows from it."""
    page = page_of(
        answered("On 240 V", ('voltage = "230 V"\nbreaker =', 'voltage = "240 V"\nbreaker ='), ('"120 W"', '"1200 W"'))
    )
    fridge = rows(page, "loads")["Fermentation fridge"]
    assert fridge[1:4] == ["1200", "230", f"{1200 / 230:.1f}"]
    assert float(fridge[4]) == pytest.approx(1200 / 230 * 240 / 230, abs=0.06)


def test_minutes_count_while_elements_are_on(day: Answer) -> None:
    """A vessel's elements rest in its pauses: 8, 20 and 30 min of the packaged day."""
    minutes = float(rows(page_of(day), "loads")["Vessel"][5])
    assert minutes == pytest.approx(day.day.duration_s / 60 - 58, abs=1)
    assert day.circuit is not None
    assert day.circuit.vessel_at_peak_min + day.circuit.vessel_pulses_min <= minutes


def test_the_request_is_one_sentence_with_the_numbers(day: Answer) -> None:
    """Power, current, minutes on end, hours of the day, place."""
    request = page_of(day)["request"]
    assert request.startswith("2.8 kW class I heater, plug-in, 12.1 A for up to ")
    assert request.endswith("place not named. May this outlet carry it?")
    assert "in a damp place" not in request
    damp = answered("Damp", ('breaker = "16 A"', 'breaker = "16 A"\nplace = "damp"'))
    assert "a damp place" in page_of(damp)["request"]


def test_entered_beside_required(day: Answer) -> None:
    """Ib <= In <= Iz with its factors, drop, loop by the formula 0.95 x 230 / 80, R1+R2, what is left for Ze."""
    table = rows(page_of(day), "required")
    assert table["Breaker or fuse"] == ["16 A, curve B", "Ib 12.6 A ≤ In ≤ Iz"]
    assert table["Cable, how it lies"] == ["2.5 mm², 18 m; method C", "Iz 27 A at 30 °C: factors 1.00 × 1.00"]
    assert table["Fault loop at the outlet, Zs"] == ["", "at most 2.73 Ω"]
    # IEC 60228: 18 m x (7.41 + 12.1) mΩ/m x 1.2 warm = 0.42 Ω.
    calculated = "R1+R2 0.42 Ω, earth of 1.5 mm² assumed"
    assert table["R1+R2, Ze"] == [calculated, "Ze at most 2.31 Ω"]
    entered = answered("Entered", ('breaker = "16 A"', 'breaker = "16 A"\nprotective_conductor = "2.5 mm2"'))
    assert rows(page_of(entered), "required")["R1+R2, Ze"][0] == "R1+R2 0.32 Ω, calculated"  # 18 x 2 x 7.41 x 1.2
    assert table["Extension lead"] == ["none", ""]
    assert table["Residual current device"] == ["30 mA, type A", "30 mA, type A, covers the outlet"]


def test_what_was_not_entered_is_blank() -> None:
    """Only the voltage is known: cells to fill in, and the findings say what is not known."""
    page = page_of(with_circuit("Little", '[circuit]\nvoltage = "230 V"\n\n'))
    table = rows(page, "required")
    for name in ("Breaker or fuse", "Cable, how it lies", "Outlet and plug", "Voltage drop", "Enclosure"):
        assert table[name][0] == "", name
    assert {"breaker", "cable", "outlet", "disconnection"} <= {found["name"] for found in page["told"]}


def test_findings_come_worst_first_and_none_is_lost() -> None:
    """What is over, then what is not known, then notes on the front; what is in order overleaf."""
    over = answered("Over", ('breaker = "16 A"', 'breaker = "10 A"'), ("own_circuit = true", "own_circuit = false"))
    page = page_of(over)
    assert over.circuit is not None
    assert page["severity"] == "over"
    assert page["verdict"].startswith("Over: breaker")
    assert f"{over.circuit.peak_a:.1f} A of 10 A breaker" in page["verdict"]
    order = [("over", "unknown", "note").index(found["severity"]) for found in page["told"]]
    assert order == sorted(order)
    assert {found["severity"] for found in page["fine"]} == {"ok"}
    assert len(page["told"]) + len(page["fine"]) == len(over.circuit.findings)
    assert any(found["used"].endswith("times") for found in page["told"]), "what is passed is told as times"
    assert not any(found["used"].startswith("-") for found in page["told"])


def test_three_lines_and_a_neutral() -> None:
    """Elements of their own lines are rows of their own, and each line has its current."""
    changes = (('power = "1800 W"\nvoltage = "230 V"', 'power = "1800 W"\nvoltage = "230 V"\nline = "L1"'),
               ('power = "1000 W"\nvoltage = "230 V"', 'power = "1000 W"\nvoltage = "230 V"\nline = "L2"'))  # fmt: skip
    text = text_of("Nano", *changes)
    text = text[: text.index("[circuit]")] + NANO + text[text.index("[[other_load]]") :]
    found = answer(parse_plan(text, source="test"), None, START)
    page = page_of(found)
    elements = [row for row in page["loads"]["rows"] if row[0] == "Vessel"]
    assert [row[1] for row in elements] == ["L1-N", "L2-N"]
    # 1800 W and 1000 W of 230 V on 231 V: 7.9 A (and 0.1 A of pump on the first element's line) and 4.4 A.
    assert [float(row[5]) for row in elements] == pytest.approx([7.9, 4.4], abs=0.25)
    assert "N " in page["lines"]
    assert rows(page, "required")["Supply"][0] == "400 V, three phase"


def test_a_load_on_another_line_is_in_use_all_day_and_may_rest() -> None:
    """A cold room on L3 with a thermostat: its minutes are the day's, and the neutral is fullest while it rests."""
    text = text_of("Nano")
    text = text[: text.index("[circuit]")] + NANO + text[text.index("[[other_load]]") :]
    room = '[[other_load]]\nname = "Cold room"\npower = "1500 W"\nduty = 0.5\nline = "L3"\n\n'
    lines = ('power = "1800 W"\nvoltage = "230 V"', 'power = "1800 W"\nvoltage = "230 V"\nline = "L1"')
    second = ('power = "1000 W"\nvoltage = "230 V"', 'power = "1000 W"\nvoltage = "230 V"\nline = "L1"')
    for before, after in (lines, second):
        text = text.replace(before, after)
    text = text.replace("[[other_load]]", room + "[[other_load]]", 1)
    found = answer(parse_plan(text, source="test"), None, START)
    page = page_of(found)
    loads = rows(page, "loads")
    assert float(loads["Cold room"][5]) == pytest.approx(found.day.duration_s / 60, abs=1)
    assert found.circuit is not None
    peaks = {one.line: one.peak_a for one in found.circuit.lines}
    assert peaks["N"] > 2800 / 231  # the vessel alone on L1; with the cold room on L3 it would be less
    assert "the neutral while loads on other lines rest" in page["lines"]


def test_pulses_are_no_load_on_end() -> None:
    """A mash held by pulses: what is on end is the ramp or the boil; the pulses are told apart."""
    found = answered("Pulses")
    assert found.circuit is not None
    ramps = max(phase.duration_s for phase in found.day.phases if phase.phase != "hold") / 60
    assert found.circuit.vessel_at_peak_min <= ramps + 1
    assert "on end, in pulses for " in page_of(found)["request"]


@pytest.mark.parametrize("layout", ["one line", "three lines"])
def test_what_the_circuit_takes_is_one_number(layout: str) -> None:
    """The mend of what is over names the power that “What would be enough” names, the plates' tolerance in both."""
    text = text_of("Over", ('breaker = "16 A"', 'breaker = "10 A"'))
    if layout == "three lines":
        circuit = NANO.replace('"32 A"', '"6 A"\ncable = "2.5 mm2"\ncable_length = "25 m"')
        text = text[: text.index("[circuit]")] + circuit + text[text.index("[[other_load]]") :]
        for number, power in enumerate(("1800 W", "1000 W"), 1):
            plate = f'power = "{power}"\nvoltage = "230 V"'
            text = text.replace(plate, f'{plate}\nline = "L{number}"')
    found = answer(parse_plan(text, source="test"), None, START)
    takes = tell_enough(found).facts["largest_power"]["power_after_mending_w"]
    breaker = next(one for one in tell_findings(found) if one.code == "breaker")
    assert breaker.severity == "over"
    assert f"elements of at most {takes:.0f} W on" in str(breaker.mend)


@pytest.mark.parametrize(("entered", "asked"), [("", "share the breaker?"), ("dedicated = true\n", "as entered?")])
def test_what_was_entered_is_asked_back_not_anew(entered: str, asked: str) -> None:
    """Who said that the breaker feeds nothing else has it confirmed, and is not asked what else it feeds."""
    page = page_of(answered(f"A day {entered}".strip(), ("[circuit]\n", f"[circuit]\n{entered}")))
    text = str(page)
    assert asked in text
    assert ("Which outlets and appliances share the breaker?" in text) == (not entered)


def test_american_words() -> None:
    """Ground-fault protection, the grounding conductor, gauges."""
    table = rows(page_of(answered("Lake", demo="lakeside"), Style("us")), "required")
    assert table["Breaker or fuse"][0] == "20 A, inverse time"
    assert table["Grounding conductor"] == ["", "12 AWG"]
    assert table["Cable, how it lies"][0].startswith("12 AWG, 40 ft")
    assert table["Residual current device"][1].startswith("ground-fault")


def test_without_a_circuit_the_load_alone_is_stated() -> None:
    """Numbers at the voltage of the elements' plates, no finding, no verdict, blanks."""
    bare = with_circuit("Bare", "")
    page = page_of(bare)
    assert page["told"] == page["fine"] == []
    assert "nothing is judged" in page["verdict"]
    assert checked_circuit(bare).peak_a == pytest.approx(2800 / 230, abs=0.8)
    assert rows(page, "required")["Breaker or fuse"][0] == ""


def test_on_paper_a_key_is_named_for_somebody_who_never_saw_the_file(day: Answer) -> None:
    """The pages that are printed say “earth loop” in the plan and never a table of the file."""
    pdf = file_bytes(file_told(day, ".pdf"), ".pdf")
    printed = " ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages)
    assert "“earth loop” in the plan" in " ".join(printed.split())
    assert "[circuit]" not in printed


def test_what_lasts_under_american_rules_and_what_does_not() -> None:
    """Without a load of three hours the breaker's row says so; without a circuit a lead is not known either."""
    lake = answered("Lake", demo="lakeside")
    assert lake.circuit is not None
    assert lake.circuit.continuous_a < 0.05
    assert rows(page_of(lake), "required")["Breaker or fuse"][1] == "14.6 A, nothing of it for 3 h"
    assert rows(page_of(with_circuit("Bare", "")), "required")["Extension lead"] == ["", ""]


@cache
def brewed(rules: Any, voltage_v: float) -> BrewDay:
    """The packaged day without its second heater on a supply; its loads are put on one circuit after another."""
    circuit = Circuit(rules=rules, voltage_v=voltage_v)
    return simulate(read_plan("demo").model_copy(update={"circuit": circuit, "second_heater": None, "other_loads": ()}))


def on(others: tuple[OtherLoad, ...] = (), **fields: Any) -> Any:
    """The day's answer on a circuit of these fields."""
    circuit = Circuit(**{"voltage_v": 230.0, **fields})
    day = brewed(circuit.rules, circuit.voltage_v)
    plan = day.plan.model_copy(update={"circuit": circuit, "other_loads": others})
    found = check(on_the_circuit(plan, day.profiles), circuit, others, Begun.start, zone_of(Begun.zone))
    beside = Given(breaker_a=None, cable_mm2=None, is_region_known=True), Given(power_w=None)
    return Begun(
        circuit=found, findings=found.findings, mended=list, is_over=False, sizes=beside,
        day=Given(plan=plan, profiles=day.profiles, duration_s=day.duration_s, evaporated_kg=3.2),
    )  # fmt: skip


CELLS: list[tuple[str, dict[str, Any], list[str]]] = [
    ("Supply", {}, ["230 V, one phase", ""]),
    ("Supply", {"dedicated": True}, ["230 V, one phase, this outlet alone", ""]),
    ("Supply", {"dedicated": False}, ["230 V, one phase, other outlets too", ""]),
    ("Supply", {"rules": "nec", "voltage_v": 240.0}, ["240 V, split phase", ""]),
    ("Breaker or fuse", {}, ["", "Ib {load} ≤ In ≤ Iz"]),
    ("Breaker or fuse", {"breaker_a": 16.0}, ["16 A, curve not known", "Ib {load} ≤ In ≤ Iz"]),
    ("Breaker or fuse", {"breaker_a": 16.0, "breaker_curve": "C"}, ["16 A, curve C", "Ib {load} ≤ In ≤ Iz"]),
    ("Breaker or fuse", {"breaker_a": 20.0, "breaker_curve": "gG"}, ["20 A, gG fuse", "Ib {load} ≤ In ≤ Iz"]),
    ("Breaker or fuse", {"breaker_a": 15.0, "breaker_curve": "BS 3036"}, ["15 A, BS 3036 fuse", "Ib {load} ≤ In ≤ Iz"]),
    ("Breaker or fuse", {"rules": "nec", "voltage_v": 240.0, "breaker_a": 20.0},
     ["20 A", "{load}, nothing of it for 3 h"]),
    ("Cable, how it lies", {}, ["", "Iz {load} or more, and In"]),
    ("Cable, how it lies", {"cable_mm2": 2.5}, ["2.5 mm², length not known; how it lies not known",
                                                "Iz 20 A at 30 °C: factors 1.00 × 1.00"]),
    ("Cable, how it lies", {"cable_mm2": 2.5, "installation": "C", "cable_length_m": 12.0, "ring": True,
                            "breaker_a": 32.0, "ambient_c": 40.0, "grouped_circuits": 2},
     ["2.5 mm², 12 m round the ring; method C", "Iz 30.1 A at 40 °C: factors 0.87 × 0.80"]),
    ("Cable, how it lies", {"rules": "nec", "voltage_v": 240.0, "cable_mm2": 5.26, "installation": "60",
                            "conductor": "aluminium"},
     ["10 AWG, aluminium, length not known; column 60", "Iz 21.6 A at 30 °C: factors 1.00 × 1.00"]),
    ("Outlet and plug", {}, ["", "{load}; sound contacts"]),
    ("Outlet and plug", {"outlet_a": 16.0}, ["16 A", "{load}; sound contacts"]),
    ("Outlet and plug", {"outlet_a": 13.0, "plug_fuse_a": 13.0}, ["13 A, 13 A fuse in the plug", ("{load}; sound "
                                                                                                  "contacts")]),
    ("Extension lead", {}, ["none", ""]),
    ("Extension lead", {"extension": Extension(cable_mm2=1.5, length_m=10.0)},
     ["1.5 mm², 10 m", "carries 16 A, needs {load}"]),
    ("Extension lead", {"extension": Extension(cable_mm2=1.5, length_m=10.0, rating_a=13.0, unwound=False)},
     ["1.5 mm², 10 m, marked 13 A, left wound up", "carries 4.5 A, needs {load}"]),
    ("Residual current device", {}, ["", "30 mA, type A, covers the outlet"]),
    ("Residual current device", {"residual_current_device": True},
     ["there, rating not known", "30 mA, type A, covers the outlet"]),
    ("Residual current device", {"residual_current_device": False}, ["none", "30 mA, type A, covers the outlet"]),
    ("Residual current device", {"residual_current_device": "5 mA", "rules": "nec", "voltage_v": 240.0},
     ["5 mA", "ground-fault, about 5 mA, by place"]),
    ("Voltage drop", {}, ["", "at most 5 % in the fixed cable"]),
    ("Voltage drop", {"cable_mm2": 2.5, "cable_length_m": 20.0, "rules": "nec", "voltage_v": 240.0},
     ["4.6 V, 1.9 %", "at most 3 % in the fixed cable"]),
    ("Fault loop at the outlet, Zs", {}, ["", "by breaker and curve"]),
    # 0.95 x 230 V / (5 x 16 A) = 2.73 Ω; 18 m x 7.41 mΩ/m x 2 x 1.2 warm = 0.32 Ω.
    ("Fault loop at the outlet, Zs", {"breaker_a": 16.0, "breaker_curve": "B", "earth_loop_ohm": 0.8},
     ["0.80 Ω", "at most 2.73 Ω"]),
    ("R1+R2, Ze", {}, ["", ""]),
    ("R1+R2, Ze", {"breaker_a": 16.0, "breaker_curve": "B", "cable_mm2": 2.5, "cable_length_m": 18.0,
                   "protective_conductor_mm2": 2.5}, ["R1+R2 0.32 Ω, calculated", "Ze at most 2.41 Ω"]),
    # 60 m x 16.71 mΩ/m x 1.2 warm = 1.20 Ω against the 0.34 Ω of a D32.
    ("R1+R2, Ze", {"breaker_a": 32.0, "breaker_curve": "D", "cable_mm2": 4.0, "cable_length_m": 60.0,
                   "protective_conductor_mm2": 1.5}, ["R1+R2 1.20 Ω, calculated", "no Ze left"]),
    ("Fault loop at the outlet, Zs", {"earthing": "TT", "residual_current_device": "30 mA, type A",
                                      "earth_loop_ohm": 1300.0}, ["1300 Ω", "at most 1667 Ω"]),
    ("Grounding conductor", {"rules": "nec", "voltage_v": 240.0}, ["", ""]),
    ("Grounding conductor", {"rules": "nec", "voltage_v": 240.0, "breaker_a": 20.0, "protective_conductor_mm2": 3.31},
     ["12 AWG", "12 AWG"]),
    ("Earthing, main fuse", {}, ["", "{load} beside the house"]),
    ("Earthing, main fuse", {"main_fuse_a": 60.0}, ["main fuse 60 A", "{load} beside the house"]),
    ("Earthing, main fuse", {"earthing": "TN-S", "main_fuse_a": 63.0},
     ["TN-S, main fuse 63 A", "{load} beside the house"]),
    ("Isolation", {}, ["", "in sight, all lines"]),
    ("Isolation", {"outlet_a": 16.0}, ["plug", "in sight, all lines"]),
    ("Isolation", {"outlet_a": 16.0, "isolator": True}, ["in sight", "in sight, all lines"]),
    ("Isolation", {"outlet_a": 16.0, "isolator": False}, ["none in sight", "in sight, all lines"]),
    ("Enclosure", {}, ["", "by the place"]),
    ("Enclosure", {"place": "dry"}, ["indoors, dry", "ordinary"]),
    ("Enclosure", {"place": "damp", "enclosure": "IP55"}, ["IP55, a damp place", "IPX4 or better"]),
    ("Enclosure", {"place": "garage"}, ["a garage", "IPX4 or better"]),
    ("Enclosure", {"place": "outdoors"}, ["outdoors", "IP44 or better"]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "fields", "told"), CELLS)
def test_each_row_has_what_was_entered_beside_what_is_required(
    name: str, fields: dict[str, Any], told: list[str]
) -> None:
    """Blank where nobody entered it; the load is what the check found, with pump and standby.

    27 A of method C are 27 x 0.87 x 0.80 x 1.6 = 30.1 A round a ring; 13 A wound up 0.35 x 13 = 4.5 A; 20 m of 2.5 mm²
    lose 12.8 A x 40 m x 7.41 mΩ/m x 1.2 = 4.6 V.
    """
    found = on(**fields)
    page = tell_electrician(found)
    cells = {row[0]: row[1:] for row in seen_rows(page.table("required"), detail=2)}
    load = f"{found.circuit.peak_a:.1f} A".replace(".0 A", " A")
    assert cells[name] == [one.format(load=load) for one in told]


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "on an outlet not named, {} {} in a day of {}, place not named"),
        ({"outlet_a": 16.0, "place": "garage"}, "plug-in, {} {} in a day of {}, a garage"),
        ({"outlet_a": 16.0, "place": "outdoors"}, "plug-in, {} {} in a day of {}, outdoors"),
        ({"place": "dry"}, "on an outlet not named, {} {} in a day of {}, indoors, dry"),
    ],
)  # fmt: skip
def test_what_is_asked(fields: dict[str, Any], told: str) -> None:
    """Power, outlet, amps, how long, where."""
    found = on(**fields)
    day = tell_electrician(found).table("loads")
    steady, pulses = round(found.circuit.vessel_at_peak_min), round(found.circuit.vessel_pulses_min)
    amps = f"{found.circuit.vessel_a:.1f} A".replace(".0 A", " A")
    lasts = f"for up to {steady} min on end, in pulses for {pulses} min"
    minutes = round(found.day.duration_s / 60)
    hours = f"{minutes // 60} h {minutes % 60:02d} min"
    assert words(tell_electrician(found).headline) == (  # type: ignore[arg-type]
        f"2.8 kW class I heater, {told.format(amps, lasts, hours)}. May this outlet carry it?"
    )
    assert headings(day, 0, short=True) == ["Load", "Line", "W", "V", "A, plate", "A, drawn", "in use, min"]


@pytest.mark.parametrize(
    ("steady_min", "pulses_min", "told"),
    [
        (0.99, 30.0, "in pulses for up to 30 min"), (1.0, 0.99, "for up to 1 min on end"),
        (1.0, 1.0, "for up to 1 min on end, in pulses for 1 min"), (44.0, 0.0, "for up to 44 min on end"),
    ],
)  # fmt: skip
def test_how_long_the_vessel_draws_its_most(steady_min: float, pulses_min: float, told: str) -> None:
    """On end, in pulses, or both; less than a minute of either is not told."""
    found = on()
    circuit = replace(found.circuit, vessel_at_peak_min=steady_min, vessel_pulses_min=pulses_min)
    assert (f" A {told} in a day of ") in words(tell_electrician(found.but(circuit=circuit)).headline)  # type: ignore[arg-type]


@pytest.mark.parametrize(("beyond_a", "told"), [(0.048, ""), (0.052, " (the neutral while loads on other lines rest)")])
def test_the_lines_with_what_they_carry_at_most(beyond_a: float, told: str) -> None:
    """Each line's amps; a neutral that is fuller while other loads rest says so, where a reader could tell it."""
    found = on()
    together_a = {name: float(amps.max()) for name, amps in found.circuit.line_a}
    lines = (Given(line="L1", peak_a=together_a["L1"] + beyond_a),)
    circuit = replace(found.circuit, lines=lines, pulses_at_peak=True, longest_at_peak_min=12.0, rms_60_min_a=11.5)
    high = next(case for case in circuit.voltages if case.name == "high")
    said = words(tell_electrician(found.but(circuit=circuit)).sentences[1])
    assert said == (
        f"At most at once: L1 {words(AMPERES(lines[0].peak_a))}{told}, 12 min in pulses; "
        f"{words(AMPERES(high.peak_a))} at 253 V with elements 5 % strong; RMS of the worst hour 11.5 A."
    )
    steady = replace(circuit, pulses_at_peak=False)
    assert ", 12 min on end; " in words(tell_electrician(found.but(circuit=steady)).sentences[1])


QUESTIONS = [
    "Which outlets and appliances share the breaker?",
    "Which voltage is left at the outlet at {}? Worn contacts, type, age?",
    "How much leakage stands on the residual current device already, and what else is behind it?",
    "If a larger circuit is needed: do the board and the main fuse take it?",
    "Is the brew day a continuous load under our code? As planned, nothing of weight lasts 3 h.",
    "3.20 kg of water go into the room as steam: extract fan, condensation near the board?",
    "May a lead be used at all? If so, which cross-section and which length at most?",
]


def test_what_a_plan_can_not_answer_is_asked() -> None:
    """Overleaf: what shares the breaker, what lasts, where the second heater hangs, the steam, a lead."""
    found = on()
    amps = words(AMPERES(found.circuit.peak_a))
    page = tell_electrician(found)
    (overleaf,) = page.parts
    assert titles(page)[1:] == ["What is connected", "Entered and required", "Overleaf"]
    assert titles(overleaf)[1:] == ["What the rules say", "Open questions"]
    (questions,) = overleaf.parts
    assert [words(said) for said in questions.sentences] == [one.format(amps) for one in QUESTIONS]
    assert [words(said) for said in overleaf.sentences[1:]] == [
        "For this day no size of the tables is enough: ask an electrician about a supply of its own.",
        "The largest power is not known: no rating was entered.",
    ]
    alone = on(dedicated=True, rules="nec", voltage_v=240.0)
    lasting = alone.but(circuit=replace(alone.circuit, continuous_a=0.05))
    said = [words(one) for one in tell_electrician(lasting).parts[0].parts[0].sentences]
    assert said[0] == "Does the breaker feed this outlet alone, as entered?"
    assert said[4] == (
        "Is the brew day a continuous load under our code? As planned, 0.1 A last 3 h or more. Does the 80 % limit "
        "for a plugged-in appliance apply?"
    )
    for own, asked in ((True, "does its outlet really hang on another breaker, and on which line?"),
                       (False, "beside the vessel: on separate circuits, or on separate lines?")):  # fmt: skip
        heater = read_plan("demo").second_heater
        assert heater is not None
        plan = found.day.plan.model_copy(update={"second_heater": heater.model_copy(update={"own_circuit": own})})
        told = tell_electrician(found.but(day=found.day.but(plan=plan))).parts[0].parts[0].sentences
        assert words(told[5]) == f"Second heater: {asked}"


def test_day_and_hours_are_those_of_the_place() -> None:
    """Its date, from and to, its zone; a circuit with nothing over has the gravest of its findings."""
    found = on()
    facts = tell_electrician(found).facts
    ends = found.clock(found.day.duration_s)
    assert words(facts["when"]) == f"Sat 5 Dec 2026, 08:30 to {ends:%H:%M}, Europe/Dublin"
    assert facts["severity"] == found.circuit.severity != "over"
    assert tell_electrician(found.but(is_over=True)).facts["severity"] == "over"
    assert headings(tell_electrician(found).table("required"), 0) == ["", "Entered", "Required"]


def test_a_load_that_nobody_placed_has_no_plate_current() -> None:
    """On three lines a load without a line may hang anywhere; a balanced one is counted in each, 1.73 times less."""
    oven = (OtherLoad(name="Oven", power_w=2300.0),)
    elements = tuple(one.model_copy(update={"line": "all"}) for one in read_plan("demo").vessel.elements)
    found = on(oven)
    plan = found.day.plan
    circuit = Circuit(voltage_between_lines_v=400.0, line="all")
    plan = plan.model_copy(
        update={
            "circuit": circuit,
            "vessel": plan.vessel.model_copy(update={"elements": elements}),
            "other_loads": oven,
        }
    )
    day = simulate(plan)
    checked = check(on_the_circuit(plan, day.profiles), circuit, oven, Begun.start, zone_of(Begun.zone))
    vessel, load = seen_rows(loads_table(Begun(day=day, circuit=checked), checked))  # type: ignore[arg-type]
    assert vessel[:4] == ["Vessel", "L1-L2-L3", "2800", "230"]
    assert vessel[4] == f"{2800 / 230 / 3**0.5:.1f}"
    assert load[:5] == ["Oven", "not said", "2300", "", ""]
