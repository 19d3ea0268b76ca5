"""Makes the packaged demo logs: ``python -m tests.learning.demologs``.

They are invented: the independent vessel of `kitchen.py` (explicit Euler, 4 s steps, a loss of its own) lives
through two kitchen tests and the demo plan's brew day, read by a thermometer with 0.1 K noise and 0.1 K steps, with
5 % of the readings missing. It loses 5.9 W/K at 66 degC, its elements give 2680 W, it stores 5.6 kJ/K itself.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np

try:
    from tests.learning.kitchen import Vessel
except ImportError:  # loaded by its path, in a test
    from tests_kitchen import Vessel  # type: ignore[import-not-found, no-redef]

FOLDER = Path(__file__).parent.parent.parent / "energyplan" / "demo"
ELEMENT_W, VESSEL_J_PER_K = 2680.0, 5600.0
WATER_J_PER_K = 27 * 0.9995 * 4183.0


def new_vessel(temperature_c: float) -> Vessel:
    """Give the invented vessel with the demo plan's water, in its utility room."""
    return Vessel(
        loss_w_per_k=5.9,
        stored_j_per_k=WATER_J_PER_K + VESSEL_J_PER_K,
        element_w=ELEMENT_W,
        air_c=11.0,
        exponent=1.1,
        beside_w=33.0,
        pump_heat_w=18.0,
        temperature_c=temperature_c,
    )


def cool_down() -> Vessel:
    """Water from 75 degC, left alone with the lid on and the pump on for 100 minutes."""
    return new_vessel(75.0).run(100)


def heat_up() -> Vessel:
    """Cold water to 78 degC at full power."""
    return new_vessel(12.0).heat_to(78.0)


def brew_day() -> Vessel:
    """The demo plan's day, a mash of 64 minutes in it; malt of 1670 J/kgK and 19 kJ/kg of wetting."""
    day = new_vessel(12.0).heat_to(71.0).hold(71.0, 6, 600).add(5.8 * 1670, 15.0, 5.8 * 19_000)
    day.run(8).heat_to(67.0, 1485).hold(67.0, 64, 396).heat_to(76.0, 1980).hold(76.0, 10, 1500)
    # The grain leaves with 0.8 L of wort per kg; 5 L of sparge water at 75 degC come in.
    day.stored_j_per_k -= 4.1 * 1670 + 5.8 * 0.8 * 4100
    day.add(5 * 4190.0, 75.0).run(22).heat_to(98.0).heat_to(99.3).boil(72, 2200 * ELEMENT_W / 2707)
    day.run(31)  # a hop stand before the wort is drawn off through the chiller
    day.stored_j_per_k, day.temperature_c = 12 * 4190.0 + VESSEL_J_PER_K, 14.0
    return day.heat_to(60.0).hold(60.0, 20, 1000)


LOGS: dict[str, tuple[Callable[[], Vessel], str]] = {
    "cool-down": (cool_down, ""),
    "heat-up": (heat_up, "power_w"),
    "brew-day": (brew_day, "energy_kwh lid"),
}


def log_text(name: str) -> str:
    """CSV of one log; the same each time."""
    make, columns = LOGS[name]
    rng = np.random.default_rng(sum(map(ord, name)))
    return make().csv(rng, columns, noise_k=0.1, round_k=0.1, gaps_frac=0.05, round_kwh=0.01)


if __name__ == "__main__":
    for log in LOGS:
        (FOLDER / f"{log}.csv").write_text(log_text(log), encoding="utf-8")
