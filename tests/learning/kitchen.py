"""An independent vessel for the tests and the demo logs.

An explicit Euler integrator with a loss of its own, read by a noisy thermometer.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

STEP_S = 4.0
# Loss of an open hot tank's surface, evaporation and radiation together: Engineering ToolBox, "Heat Loss from Open
# Water Tanks" (published; air 15.6 °C, still), converted to SI. Not the model under test.
TANK_C = np.array([20.0, 49.0, 60.0, 66.0, 77.0, 82.0, 93.0, 99.0])
TANK_W_PER_M2 = np.array([0.0, 1480.0, 2590.0, 3280.0, 5100.0, 6310.0, 9460.0, 11360.0])


@dataclass
class Vessel:
    """A vessel that is heated, held, left alone, filled; every second step is recorded.

    ``loss_w_per_k`` is meant at 66 °C in air of ``air_c``; it grows with the temperature difference to ``power - 1``.
    """

    loss_w_per_k: float
    stored_j_per_k: float
    element_w: float
    air_c: float = 20.0
    exponent: float = 1.12
    surface_m2: float = 0.1
    beside_w: float = 0.0
    pump_heat_w: float = 0.0
    temperature_c: float = 15.0
    time_s: float = 0.0
    rows: list[tuple[float, float, float, str]] = field(default_factory=list)

    def loss_at_w_per_k(self, temperature_c: float) -> float:
        """Planted loss with the lid on at a temperature."""
        return self.loss_w_per_k * ((temperature_c - self.air_c) / (66.0 - self.air_c)) ** (self.exponent - 1)

    def _loss_w(self, lid: str) -> float:
        warmer_k = self.temperature_c - self.air_c
        bent = max(abs(warmer_k), 1e-6) / (66.0 - self.air_c)
        closed_w = self.loss_w_per_k * warmer_k * bent ** (self.exponent - 1)
        if lid == "on":
            return closed_w
        open_w = self.surface_m2 * float(np.interp(self.temperature_c, TANK_C, TANK_W_PER_M2))
        return 0.8 * closed_w + open_w

    def run(self, minutes: float, power_w: Callable[[], float] | float = 0.0, lid: str = "on") -> "Vessel":
        """Let time pass at a power (or one that a thermostat gives)."""
        end_s = self.time_s + 60 * minutes
        while self.time_s < end_s - 1e-9:
            watts = power_w() if callable(power_w) else power_w
            self.rows.append((self.time_s, self.temperature_c, watts + self.beside_w, lid))
            self.temperature_c += STEP_S * (watts + self.pump_heat_w - self._loss_w(lid)) / self.stored_j_per_k
            self.time_s += STEP_S
        return self

    def heat_to(self, target_c: float, power_w: float | None = None, lid: str = "on") -> "Vessel":
        """Heat at a power (all elements) to a temperature."""
        while self.temperature_c < target_c:
            self.run(STEP_S / 60, self.element_w if power_w is None else power_w, lid)
        return self

    def hold(self, target_c: float, minutes: float, power_w: float, lid: str = "on") -> "Vessel":
        """Hold under a thermostat that pulses the power in a band of half a kelvin."""
        on = False

        def watts() -> float:
            nonlocal on
            on = self.temperature_c < target_c + 0.25 if on else self.temperature_c < target_c - 0.25
            return power_w if on else 0.0

        return self.run(minutes, watts, lid)

    def boil(self, minutes: float, power_w: float) -> "Vessel":
        """Boil with the lid off: all heat above the loss leaves as steam (2.26 MJ/kg), the temperature stays."""
        boils_c, heat_w = self.temperature_c, power_w + self.pump_heat_w
        for _ in range(round(60 * minutes / STEP_S)):
            steam_kg = STEP_S * max(heat_w - self._loss_w("on"), 0.0) / 2.26e6
            self.run(STEP_S / 60, power_w, lid="off")
            self.temperature_c = boils_c
            self.stored_j_per_k -= 4200.0 * steam_kg
        return self

    def add(self, stored_j_per_k: float, temperature_c: float, also_j: float = 0.0) -> "Vessel":
        """Put something in that has a stored heat and a temperature."""
        heat_j = self.stored_j_per_k * self.temperature_c + stored_j_per_k * temperature_c + also_j
        self.stored_j_per_k += stored_j_per_k
        self.temperature_c = heat_j / self.stored_j_per_k
        return self

    def csv(self, rng: np.random.Generator, columns: str = "", **how: float) -> str:
        """Read the thermometer: noise, rounding, gaps; ``columns`` may name power_w, energy_kwh and lid."""
        noise_k, round_k = how.get("noise_k", 0.3), how.get("round_k", 1.0)
        every = max(1, round(how.get("every_s", 60.0) / STEP_S))
        meter_frac = how.get("meter_frac", 1.0)
        wanted = [name for name in ("power_w", "energy_kwh", "lid") if name in columns]
        energy = np.cumsum([row[2] for row in self.rows]) * STEP_S / 3.6e6 * meter_frac
        lines = [",".join(["time", "temperature_c", *wanted])]
        for place in range(0, len(self.rows), every):
            time_s, true_c, watts, lid = self.rows[place]
            if rng.random() < how.get("gaps_frac", 0.1):
                continue
            shown_c = round((true_c + rng.normal(0, noise_k)) / round_k) * round_k
            total = np.floor(energy[place] / how.get("round_kwh", 0.001)) * how.get("round_kwh", 0.001)
            cells = {"power_w": f"{watts * meter_frac:.1f}", "energy_kwh": f"{total:.4f}", "lid": lid}
            lines.append(
                ",".join(
                    [
                        f"{time_s / 60:.4g}" if every > 8 else f"{time_s / 60:.4f}",
                        f"{shown_c:.2f}",
                        *(cells[name] for name in wanted),
                    ]
                )
            )
        return "\n".join(lines) + "\n"
