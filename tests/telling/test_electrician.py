"""Tests of the page for the electrician: the load stated, entered beside required, what is not known."""

from datetime import UTC, datetime
from io import BytesIO

import pypdf
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.faces.files import file_bytes
from energyplan.faces.sheet import electrician_texts
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.telling.circuit import tell_enough, tell_findings
from energyplan.telling.electrician import checked_circuit, tell_electrician
from energyplan.telling.files import file_told

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
