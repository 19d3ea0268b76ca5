"""The first sentences on circuit and powers. Used on the terminal, in the app and on the sheets."""

from energyplan.advice.answer import Answer
from energyplan.advice.power import PowerRow
from energyplan.base.units import Display

__all__ = [
    "CAUTIONS",
    "power_sentence",
]

MAINS_CAUTION = (
    "Mains current, water and 100 °C wort: keep leads dry and fully unwound, test the residual current device, "
    "and leave nothing that heats unattended."
)
RATINGS_CAUTION = (
    "The check compares the plan with the ratings you entered. It is no design; local codes rule, and a licensed "
    "electrician decides."
)
METRIC = Display("metric")
CAUTIONS = (MAINS_CAUTION, RATINGS_CAUTION)

# A hold is called enough when the lowest temperature stays this close to its target.
BAND_K = 0.5


def power_sentence(answer: Answer, show: Display = METRIC) -> str:
    """How many steps could be set lower, and what that is worth."""
    holds = [row for row in answer.power.rows if row.phase == "hold"]
    lower = sum(row.advised_w < row.set_w for row in holds)
    short = [row.step for row in holds if row.set_lowest_c < row.target_c - BAND_K]
    parts = []
    if short:
        parts.append(f"In the worst plausible case the power set for {_listed(short)} lets the temperature sag.")
    if lower:
        parts.append(f"{lower} of {len(holds)} holds can be capped lower, which saves next to no energy.")
    parts += [_boil(row, show) for row in answer.power.rows if row.phase == "boil" and row.advised_w != row.set_w]
    return " ".join(parts) or "The powers set are the ones advised."


def _boil(row: PowerRow, show: Display) -> str:
    """What a boil at the advised power changes."""
    energy = f"{abs(row.energy_change_kwh):.2f} kWh {_more_or_less(row.energy_change_kwh)}"
    steam = f"{show.mass(abs(row.evaporation_change_kg))} {_more_or_less(row.evaporation_change_kg)} steam"
    return f"The boil at {row.advised_w:.0f} W instead of {row.set_w:.0f} W: {energy}, {steam}."


def _more_or_less(change: float) -> str:
    return "more" if change > 0 else "less"


def _listed(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
