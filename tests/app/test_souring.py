"""A day that sours for 36 hours, in the app."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import quad

Open = Callable[..., Any]

SOURING = """
[vessel]
diameter = "36 cm"
height = "48 cm"
empty_mass = "10 kg"
heat_loss = "5 W/K"
[[vessel.element]]
power = "3000 W"
voltage = "230 V"
[batch]
water = "25 L"
water_temperature = "15 degC"
[site]
air = "20 degC"
time_zone = "Europe/Dublin"
[circuit]
voltage = "230 V"
breaker = "16 A"
[[step]]
name = "Kill"
target = "85 degC"
hold = "10 min"
pump = false
[[step]]
name = "Sour"
chill_to = "38 degC"
chill_time = "20 min"
hold = "36 h"
hold_power = "300 W"
pump = false
[[step]]
name = "Hot"
target = "95 degC"
pump = false
"""


def souring() -> tuple[float, float]:
    """Energy [kWh] and hours of that day: water by IAPWS-95, steel, a loss of 5 W/K, 3000 W, integrated here."""
    kg = 0.025 * PropsSI("D", "T", 288.15, "P", 1e5, "Water")

    def ramp_s(from_c: float, to_c: float) -> float:
        def per_k(at_c: float) -> float:
            stored = kg * PropsSI("C", "T", at_c + 273.15, "P", 2e5, "Water") + 10 * 500.0
            return float(stored / (3000.0 - 5.0 * (at_c - 20.0)))

        return float(quad(per_k, from_c, to_c)[0])

    ramps_s = ramp_s(15.0, 85.0) + ramp_s(38.0, 95.0)
    held_j = 5.0 * 65.0 * 600.0 + 5.0 * 18.0 * 36 * 3600.0
    return (3000.0 * ramps_s + held_j) / 3.6e6, (ramps_s + 600.0 + 1200.0 + 36 * 3600.0) / 3600


def test_a_souring_of_36_hours_goes_through_the_app(visit: Open) -> None:
    """Uploaded, on every page: kWh and end agree with an integrator within 0.3 %, and clocks carry their date."""
    there = visit()
    there.at.file_uploader(key="plan_file").set_value([("sour.toml", SOURING.encode(), "application/toml")])
    there.run()
    assert there.work.problem is None
    kwh, hours = souring()
    assert float(re.search(r"([\d.]+) kWh", there.headline)[1]) == pytest.approx(kwh, rel=3e-3)
    done = re.search(
        r"done at (Sun|Mon) (\d+) (Nov|Dec) (\d\d):(\d\d) if you start at 08:30 on Sat 5 Dec", there.headline
    )
    took_h = 24 * (int(done[2]) - 5) + int(done[4]) + int(done[5]) / 60 - 8.5
    assert took_h == pytest.approx(hours, rel=3e-3)
    for page in ("when", "circuit", "power", "your-brewery", "keep", "take-along"):
        there.go(page)
    there.go("circuit")
    assert "A of 16 A" in there.words or "16 A" in there.headline
