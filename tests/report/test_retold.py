"""Tests of sentences told in the units of the display."""

import pytest

from energyplan.base.units import Display
from energyplan.report.retold import retold

US, METRIC = Display("us"), Display("metric")


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("Boil at 100 degC.", "Boil at 212 °F."),
        ("air 5 K colder", "air 9 °F colder"),
        ("off by 0.5 K", "off by 0.9 °F"),
        ("±2 K [assumption]", "±3.6 °F [assumption]"),
        ("from 6 to 20 °C", "from 43 to 68 °F"),
        ("10 kg of grain in 20 L", "22.0 lb of grain in 5.3 gal"),
    ],
)
def test_quantities_are_converted(metric: str, us: str) -> None:
    """By the definitions: 1.8 °F to the kelvin, 0.45359237 kg to the pound, 3.785412 L to the gallon."""
    assert retold(metric, US) == us


@pytest.mark.parametrize("text", ["4.9 W/K with the lid on", "0.8 L/kg", "B16 K", "400 W for 20 min", "5 Kilbrackan"])
def test_what_only_looks_like_one_stays(text: str) -> None:
    """Compound units, names and other units are left alone."""
    assert retold(text, US) == text
    assert retold(text, METRIC) == text


def test_metric_sentences_get_the_sign_that_people_read() -> None:
    """The library writes degC where a plan file would."""
    assert retold("near 75 degC, 60 to 65 degC", METRIC) == "near 75 °C, 60 to 65 °C"
