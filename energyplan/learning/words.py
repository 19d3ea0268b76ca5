"""The sentences of a calibration: why a log can't tell something, which test would, what to mind."""

from collections.abc import Collection
from typing import Literal

from energyplan.learning.logfile import Log
from energyplan.learning.result import Measured
from energyplan.learning.setting import Setting

__all__: list[str] = []

COOL_DOWN = "Cool-down: water near 75 degC, elements off, lid on, pump on, 60 to 90 min."
HEAT_UP = "Heat-up: a measured volume of cold water, full power, lid on, a plug-in meter beside it, to about 80 degC."
HEAT_UP_PLAIN = "Heat-up: a measured volume of cold water, full power without a break, lid on, to about 80 degC."

LID_WAS_OFF = (
    "the lid was off: most of the heat left with the vapour, so the loss with the lid on can't be told from it; "
    "a cool-down with the lid on would"
)
COOLED_OPEN = (
    "this looks like a cool-down with the lid off: the loss is far above the estimate and falls with the temperature "
    "as that of an open surface does; taken as heat loss it would be 2 to 4 times too large. "
    "Repeat it with the lid on, from 75 degC"
)
STORED_TOO_SHORT = (
    "the metered stretch heats too little to tell the stored heat from the heat loss; a heat-up from cold water to "
    "80 degC with the meter beside it would"
)
NEVER_FULL = (
    "the elements never ran steadily at full power for some minutes, so their full power can't be told from the "
    "duty of the thermostat; a heat-up at full power would tell"
)
WAS_OFF = (
    "the elements were off, and a cool-down can't tell power from stored heat; a heat-up at full power would measure it"
)
NO_OPEN = "no stretch with the lid off is marked in a column lid"
OPEN_UNCLEAR = "the stretch with the lid off is too short to tell the open surface from the walls"
TAKEN_AS_OFF = "Without a power column the elements are taken as off, and the pump as running, while it cools."


def loss_unclear(kinds: Collection[str], half: float) -> str:
    """Say why the heat loss can't be told."""
    width = f"(±{half:.0%})" if half < 2 else ""
    if "cooling" in kinds:
        return f"the scatter of the readings leaves the heat loss open {width}; a longer cool-down would tell"
    other = "the stored heat" if "metered" in kinds else "the element power"
    return (
        f"a heat-up bends with the heat loss as it does with {other}, and this log can't tell the two apart {width}; "
        "a cool-down of 60 to 90 min with the lid on would"
    )


def stored_unclear(planned_j_per_k: float, water_l: float) -> str:
    """Say why the stored heat can't be told."""
    return (
        "temperatures alone tell heat loss and power only per stored heat, so these can't be told apart; the scale is "
        f"set by {water_l:.1f} L of water and the vessel's mass as entered ({planned_j_per_k / 1000:.0f} kJ/K). "
        "A heat-up with a plug-in meter beside it would measure it"
    )


def vessel_unclear(stored_j_per_k: float, contents_j_per_k: float) -> str:
    """Say why the vessel's own share of the stored heat can't be told."""
    return (
        f"{stored_j_per_k / 1000:.1f} kJ/K in all less {contents_j_per_k / 1000:.1f} kJ/K for the contents leaves too "
        "little to tell the vessel's own share: a smaller, well measured volume of water in the heat-up would"
    )


def power_unclear(half: float) -> str:
    """Say why the element power can't be told."""
    return (
        f"the heat-up is too short to tell the element power from the heat loss (±{half:.0%}); a longer one at full "
        "power, or a cool-down beside it, would"
    )


def weak_power(found_w: float, setting: Setting) -> str:
    """Say that the elements gave too little to be at full power."""
    from energyplan.learning.elements import likely_on

    alone = likely_on(found_w, setting)
    hint = f"; it is what {' + '.join(f'{watts:.0f} W' for watts in alone)} alone would give" if alone else ""
    return (
        f"the elements gave {found_w:.0f} W at most where {setting.full_w:.0f} W are planned{hint}: either a cap was "
        "set, or an element is dead; a heat-up at full power would tell the two apart"
    )


def scale_note(scale: Literal["volume", "meter"], setting: Setting) -> str:
    """Say what pins the scale."""
    if scale == "meter":
        return "The meter sets the scale: where it reads 1 % high, heat loss, stored heat and power are 1 % too high."
    water_l = setting.plan.batch.water_l
    return (
        f"The water as entered ({water_l:.1f} L) sets the scale: 1 % more water makes heat loss and power 1 % larger."
    )


def loss_note(factor: float, loss: Measured, reference_c: float, setting: Setting) -> str:
    """Say where the heat loss is meant, how it compares, and what it hangs on."""
    vessel = setting.plan.vessel
    beside = "the measured one in the plan" if vessel.heat_loss_w_per_k is not None else "the estimate from its size"
    per_k = 100 / max(reference_c - setting.air_c, 1.0)
    enough = (
        "good enough to plan with"
        if loss.half_width_frac <= 0.1
        else "usable; a longer cool-down would narrow it"
    )  # fmt: skip
    doubt = " That is a lot: was the lid on, is the jacket as entered, was there a draught?" if factor > 1.7 else ""
    return (
        f"The heat loss is meant at {reference_c:.0f} degC and is {factor:.2f} times {beside} ({enough}). With air at "
        f"{setting.air_c:.1f} degC as entered; 1 K more makes it {per_k:.1f} % larger.{doubt}"
    )


def stored_note(factor: float) -> list[str]:
    """Compare the stored heat with what was entered."""
    if abs(factor - 1) <= 0.04:
        return []
    more = "more" if factor > 1 else "less"
    compared = f"The stored heat is {abs(factor - 1):.0%} {more} than water and vessel as entered"
    return [f"{compared}: check the volume, [vessel] empty_mass and the meter."]


def nothing_found(log: Log) -> str:
    """Say that a log holds no stretch to learn from."""
    low_c, high_c = float(log.temperature_c.min()), float(log.temperature_c.max())
    return (
        f"between {low_c:.0f} and {high_c:.0f} degC over {log.duration_s / 60:.0f} min nothing cools by itself, heats "
        "at full power or is metered for long enough to tell heat loss, stored heat and power apart"
    )


def next_tests(loss: Measured, stored: Measured, power: Measured) -> tuple[str, ...]:
    """Tests that would tell what is still open."""
    tests = []
    if not loss.known or loss.half_width_frac > 0.1:
        tests.append(COOL_DOWN)
    if not stored.known:
        tests.append(HEAT_UP)
    elif not power.known:
        tests.append(HEAT_UP_PLAIN)
    return tuple(tests)
