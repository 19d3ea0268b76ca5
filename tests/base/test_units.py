"""Quantities at the edge: text to SI floats and back, for every kind; nothing else gets in."""

import math
import os
import signal
import subprocess
import sys
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from energyplan.base import units
from energyplan.base.errors import UnitsError
from energyplan.base.units import Display, Kind, Power, convert, read_quantity

KINDS = {value.name: value for value in vars(units).values() if isinstance(value, Kind)}
kinds = st.sampled_from(sorted(KINDS.values(), key=lambda kind: kind.name))


class Heater(BaseModel):
    """A model with one quantity."""

    power_w: Power


# Definitions: international pound, inch, US gallon and quart, thermochemical steam-table BTU, mechanical horsepower.
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("3.2 kW", units.POWER, 3200.0),
        ("3200W", units.POWER, 3200.0),
        (" 3.2  kW ", units.POWER, 3200.0),
        ("3.2e3 W", units.POWER, 3200.0),
        ("10000 BTU/h", units.POWER, 2930.71),
        ("152 degF", units.TEMPERATURE, 66.667),
        ("152 °F", units.TEMPERATURE, 66.667),
        ("152 F", units.TEMPERATURE, 66.667),
        ("66 C", units.TEMPERATURE, 66.0),
        ("66 °C", units.TEMPERATURE, 66.0),
        ("339.15 K", units.TEMPERATURE, 66.0),
        ("-5 degC", units.TEMPERATURE, -5.0),
        ("7 gal", units.VOLUME, 26.498),
        ("4 qt", units.VOLUME, 3.7854),
        ("27 L", units.VOLUME, 27.0),
        ("0.27 hl", units.VOLUME, 27.0),
        ("11.5 lb", units.MASS, 5.2163),
        ("14.2 in", units.LENGTH, 0.36068),
        ("980 ft", units.ALTITUDE, 298.70),
        ("36 cm", units.LENGTH, 0.36),
        ("98 in2", units.AREA, 0.063226),
        ("420 cm^2", units.AREA, 0.042),
        ("420 cm**2", units.AREA, 0.042),
        ("1 h", units.DURATION, 3600.0),
        ("90 min", units.DURATION, 5400.0),
        ("4.8 W/K", units.HEAT_LOSS, 4.8),
        ("4.8 W/degC", units.HEAT_LOSS, 4.8),
        ("9.1 BTU/h/degF", units.HEAT_LOSS, 4.8005),
        ("0.04 W/m/K", units.CONDUCTIVITY, 0.04),
        ("0.04 W/mK", units.CONDUCTIVITY, 0.04),
        ("0.04 W/(m K)", units.CONDUCTIVITY, 0.04),
        ("2.5 mm2", units.CROSS_SECTION, 2.5),
        ("2.5 mm²", units.CROSS_SECTION, 2.5),
        ("0.096 gal/lb", units.VOLUME_PER_MASS, 0.80116),
        ("240 V", units.VOLTAGE, 240.0),
        ("13 A", units.CURRENT, 13.0),
        ("0.5 m/s", units.SPEED, 0.5),
    ],
)
def test_quantities_as_people_write_them(text: str, kind: Kind, value: float) -> None:
    """Metric and US customary units by their definitions, with and without spaces."""
    assert read_quantity(text, kind) == pytest.approx(value, rel=2e-5)


# ASTM B258 by way of NFPA 70 chapter 9 table 8 (as published): 14 AWG 2.08 mm2, 12 3.31, 10 5.26, 8 8.367, 4/0 107.2.
@pytest.mark.parametrize(
    ("text", "area_mm2"),
    [("14 AWG", 2.08), ("12 AWG", 3.31), ("12AWG", 3.31), ("10 awg", 5.26), ("8 AWG", 8.367), ("4/0 AWG", 107.2)],
)
def test_wire_gauges(text: str, area_mm2: float) -> None:
    """American gauges become cross-sections, to the table's digits."""
    assert read_quantity(text, units.CROSS_SECTION) == pytest.approx(area_mm2, rel=2e-3)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("5 kg", units.POWER, '"5 kg" is no power: expected a unit such as in "2 kW"'),
        ("5 kWh", units.POWER, "is no power"),
        ("60 min", units.TEMPERATURE, "is no temperature"),
        ("5 delta_degC", units.TEMPERATURE, "is no temperature"),
        ("12 AWG", units.POWER, "is not known"),
        ("2000", units.POWER, '"2000" has no unit: write a power as "2 kW"'),
        ("1,500.5 W", units.POWER, "with one decimal point"),
        ("1.500,5 W", units.POWER, "with one decimal point"),
        ("1,2,3 W", units.POWER, "with one decimal point"),
        ("27, L", units.VOLUME, "with one decimal point"),
        ("", units.POWER, "is not a number with a unit"),
        ("   ", units.MASS, "is not a number with a unit"),
        ("warm", units.TEMPERATURE, "is not a number with a unit"),
        ("kW 3", units.POWER, "is not a number with a unit"),
        ("nan W", units.POWER, "is not a number with a unit"),
        ("inf W", units.POWER, "is not a number with a unit"),
        ("1e999 W", units.POWER, "is not a finite number"),
        ("-5 W", units.POWER, "is out of range: expected between 0 W and 200000 W"),
        ("5 MW", units.POWER, "is out of range"),
        ("500 degC", units.TEMPERATURE, "is out of range"),
        ("5 K", units.TEMPERATURE, "is out of range"),
        ("5 kilowat", units.POWER, 'the unit "kilowat" is not known'),
        ("5 W W", units.POWER, "is no power"),
        ("5 W+W", units.POWER, '"W+W" is not a unit'),
        ("5 ((W", units.POWER, "is not a unit"),
        ("1 h 30 min", units.DURATION, "is not a unit"),
        ("9" * 70 + " W", units.POWER, "is not a number with a unit"),
    ],
)
def test_what_is_no_quantity_says_why(text: str, kind: Kind, words: str) -> None:
    """One sentence with the text, what was expected, and an example."""
    with pytest.raises(UnitsError) as refused:
        read_quantity(text, kind)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert kind.example in str(refused.value)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("27,5 L", units.VOLUME, 27.5), ("2,25 kW", units.POWER, 2250.0), ("0,500 L", units.VOLUME, 0.5),
        (",5 L", units.VOLUME, 0.5), ("-2,5 degC", units.TEMPERATURE, -2.5), ("1234,567 W", units.POWER, 1234.567),
        ("0,0625 kW", units.POWER, 62.5), ("1,5e3 W", units.POWER, 1500.0),
    ],
)  # fmt: skip
def test_a_decimal_comma_is_read_where_it_can_mean_one_thing(text: str, kind: Kind, value: float) -> None:
    """One comma that no grouping of thousands puts there."""
    assert read_quantity(text, kind) == value


@pytest.mark.parametrize(
    ("text", "whole", "point"),
    [("1,500 W", "1500 W", "1.5 W"), ("12,000 W", "12000 W", "12 W"), ("2,200W", "2200 W", "2.2 W")],
)
def test_a_comma_that_can_mean_two_things_is_refused_with_both(text: str, whole: str, point: str) -> None:
    """Three digits after it: thousands, or a fraction; the message writes both."""
    with pytest.raises(UnitsError) as refused:
        read_quantity(text, units.POWER)
    assert f'can mean "{whole}" or "{point}": write the one you mean' in str(refused.value)


def test_common_spellings_are_read_exactly() -> None:
    """47 cm is 0.47 m, not 0.47000000000000003 m; what is written back is short, and the same."""
    assert read_quantity("47 cm", units.LENGTH) == 0.47
    assert units.LENGTH.written(0.47) == "0.47 m"
    assert units.DURATION.written(3600.0) == "3600 s"
    assert units.POWER.written(1e-7) == "1e-07 W"


HOMELESS = """
from energyplan.base.units import TEMPERATURE, VOLUME_PER_MASS, POWER, read_quantity
assert abs(read_quantity("0.096 gal/lb", VOLUME_PER_MASS) - 0.80116) < 1e-4
"""


@pytest.mark.parametrize("home", ["/proc/nowhere", "/dev/null", ""])
def test_a_home_that_is_missing_or_read_only_is_in_nobodys_way(home: str) -> None:
    """The unit registry's cache can't be written; units are read all the same."""
    clean = {"PATH": os.environ["PATH"], "HOME": home, "PYTHONPATH": os.pathsep.join(sys.path), "XDG_CACHE_HOME": home}
    subprocess.run([sys.executable, "-c", HOMELESS], env=clean, check=True, timeout=60)  # noqa: S603


@pytest.fixture
def alarm() -> Iterator[None]:
    """Stop a test that hangs."""

    def stop(*_: object) -> None:
        pytest.fail("reading a quantity hangs")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(2)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.usefixtures("alarm")
@pytest.mark.parametrize("text", ["5 W**9**9**9", "1 W*9**9**9**9", "1 m^9^9^9^9", "1 W**99999999"])
def test_towers_of_powers_are_no_unit(text: str) -> None:
    """A plan from elsewhere can't keep the program computing for ever."""
    with pytest.raises(UnitsError):
        read_quantity(text, units.POWER)


SHORT = st.text(max_size=80)
ODD = st.text(st.sampled_from("0123456789.eE+-/*^() kWmhdegCFLAVin²µ°\x00\"'"), max_size=24)
# Towers of powers have their own test; here they would only keep the search busy.
NO_TOWER = ODD.filter(lambda text: "**" not in text and "^" not in text)


@given(st.one_of(SHORT, NO_TOWER, st.builds("{} {}".format, st.floats(), NO_TOWER)), kinds)
@example("1 W\n", units.POWER)
@example("1 W/0", units.POWER)
def test_any_text_is_a_quantity_or_an_error_of_ours(text: str, kind: Kind) -> None:
    """Whatever is written, the answer is a plausible finite number or a UnitsError."""
    if "**" in text or "^" in text:
        return
    try:
        value = read_quantity(text, kind)
    except UnitsError:
        return
    assert math.isfinite(value)
    assert kind.low <= value <= kind.high


@given(kinds, st.data())
def test_written_values_read_back_bit_by_bit(kind: Kind, data: st.DataObject) -> None:
    """What goes into a file comes back as the identical float."""
    value = data.draw(st.floats(kind.low, kind.high))
    text = f"{value!r} {kind.unit}"
    assert read_quantity(text, kind) == value


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_examples_are_examples(kind: Kind) -> None:
    """The example in a kind's error message is itself read."""
    assert kind.low <= read_quantity(kind.example, kind) <= kind.high


# In models -----------------------------------------------------------------------------------------------------------


def test_a_bare_number_from_python_is_si() -> None:
    """Programs give watts; files must write the unit, and the error shows how."""
    assert Heater(power_w=2000).power_w == 2000.0
    assert Heater(power_w="2 kW").power_w == 2000.0
    with pytest.raises(ValidationError, match='a unit is due: write a power as text, such as "2 kW"'):
        Heater.model_validate({"power_w": 2000}, context={"file": True})


@pytest.mark.parametrize("value", [True, None, [2000], {"value": 1}, 3 + 4j])
def test_other_things_are_no_quantities(value: object) -> None:
    """Truth values, lists and tables are refused with an example."""
    with pytest.raises(ValidationError, match='expected a power as text with a unit: "2 kW"'):
        Heater.model_validate({"power_w": value})


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none_are_refused(value: float) -> None:
    """NaN and infinities from a program."""
    with pytest.raises(ValidationError, match="is not a finite number"):
        Heater(power_w=value)


def test_numbers_out_of_range_are_refused() -> None:
    """Negative watts from a program."""
    with pytest.raises(ValidationError, match="is out of range"):
        Heater(power_w=-1)


def test_models_write_numbers_for_programs_and_text_for_files() -> None:
    """JSON has SI numbers; a file has the unit beside them; the schema says text."""
    heater = Heater(power_w=2000)
    assert heater.model_dump() == {"power_w": 2000.0}
    assert heater.model_dump(context={"file": True}) == {"power_w": "2000 W"}
    schema = Heater.model_json_schema()["properties"]["power_w"]
    assert (schema["type"], schema["examples"]) == ("string", ["2 kW"])


# For the reader ------------------------------------------------------------------------------------------------------


def test_conversions_by_definition() -> None:
    """66 °C are 150.8 °F, 26.5 L are 7.0 gal; the same unit is passed through; arrays stay arrays."""
    assert convert(66.0, "degC", "degF") == pytest.approx(150.8)
    assert convert(26.4979, "L", "gallon") == pytest.approx(7.0, abs=1e-4)
    assert convert(5.0, "kg", "kg") == 5.0
    assert convert(np.array([0.0, 100.0]), "degC", "degF") == pytest.approx(np.array([32.0, 212.0]))


def test_metric_display() -> None:
    """Metric numbers with their units."""
    show = Display("metric")
    assert show.temperature(66.04) == "66.0 °C"
    assert show.temperature_unit == "°C"
    assert show.temperature_number(66.04) == 66.04
    assert show.volume(26.5) == "26.5 L"


def test_us_display() -> None:
    """US customary numbers with their units (definitions of gallon, pound, foot; differences without the 32)."""
    show = Display("us")
    assert show.temperature(66.6667, 2) == "152.00 °F"
    assert show.temperature_unit == "°F"
    assert show.temperature_number(np.array([100.0])) == pytest.approx(np.array([212.0]))
    assert show.volume(26.498) == "7.00 gal"


def test_common_spellings_are_what_pint_says() -> None:
    """The factors that spare a plan the loading of pint, each against pint itself."""
    for kind in KINDS.values():
        for spelling in units.COMMON[kind.unit]:
            by_pint = units._by_pint(3.7, spelling, kind, spelling)
            assert units._to_unit(3.7, spelling, kind, spelling) == pytest.approx(by_pint, rel=1e-14)
