"""A starter plan as TOML text, from a handful of answers; everything else has a comment that says where to look."""

import math
from dataclasses import dataclass

from energyplan.base.units import LENGTH, VOLUME, read_quantity

__all__ = ["Starter", "starter_toml"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter:
    """What a first plan needs to know, as the brewer writes it (quantities are texts with units).

    ``volume`` of the vessel up to its rim stands in for diameter and height, in the usual shape of these. Without
    ``grain`` there is no mash.
    """

    title: str = "My brew day"
    volume: str | None = None
    diameter: str = "36 cm"
    height: str = "48 cm"
    power: str = "2800 W"
    voltage: str = "230 V"
    water: str = "27 L"
    grain: str | None = "5.5 kg"
    boil: str = "60 min"
    breaker: str = "16 A"
    rules: str = "iec"
    time_zone: str = "UTC"


def starter_toml(starter: Starter) -> str:
    """Write the text of a plan that `energyplan.plan.file.parse_plan` reads.

    Examples
    --------
    >>> from energyplan.plan.file import parse_plan
    >>> parse_plan(starter_toml(Starter(water="30 L"))).batch.water_l
    30.0
    """
    given = {name: getattr(starter, name) for name in Starter.__slots__}
    if starter.volume is not None:
        given["diameter"], given["height"] = _usual_shape(starter)
    quoted = {name: _quoted(text) for name, text in given.items() if text is not None}
    if starter.grain is None:
        return (_BEFORE_THE_STEPS + _NO_MASH + _BOIL).format(**{**quoted, "grain": '"0 kg"'})
    return (_BEFORE_THE_STEPS + _MASH + _BOIL).format(**quoted)


def _usual_shape(starter: Starter) -> tuple[str, str]:
    """Diameter and height that hold a volume, as high in proportion as the usual ones.

    >>> _usual_shape(Starter(volume="48.86 L"))
    ('36.0 cm', '48.0 cm')
    """
    usual = Starter()
    diameter_m, height_m = read_quantity(usual.diameter, LENGTH), read_quantity(usual.height, LENGTH)
    volume_m3 = read_quantity(starter.volume or "", VOLUME) / 1000
    larger = (volume_m3 / (math.pi / 4 * diameter_m**2 * height_m)) ** (1 / 3)
    return f"{100 * diameter_m * larger:.1f} cm", f"{100 * height_m * larger:.1f} cm"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


_BEFORE_THE_STEPS = """\
title = {title}

[vessel]
diameter = {diameter}             # inside, by tape measure
height = {height}               # inside
empty_mass = "10 kg"            # on a bathroom scale; its stored heat counts
power_step = "100 W"            # smallest change of power that can be set
# jacket_thickness = "10 mm"    # leave out for a bare wall
# heat_loss = "4.8 W/K"         # measured, lid on: replaces the estimate
# element_top = "5 cm"          # how high the elements reach above the floor inside; "0 cm" under the base

[[vessel.element]]              # one table for each element
power = {power}                # on the plate under the base
voltage = {voltage}

[batch]
water = {water}                  # at the start, at its temperature
water_temperature = "12 degC"
grain = {grain}
gravity = 1.048                 # wanted at the end of the boil

[site]
air = "18 degC"                 # where you brew, when you brew
time_zone = {time_zone}

[circuit]                       # ask an electrician for what you don't know; leave it out until then
rules = {rules}                   # "iec" or "nec"
voltage = {voltage}
breaker = {breaker}
# outlet = "16 A"
# cable = "2.5 mm2"
# cable_length = "18 m"

"""

_MASH = """\
[[step]]
name = "Strike"
target = "70 degC"
hold = "5 min"
hold_power = "800 W"

[[step]]
name = "Mash"
before = ["add grain"]
pause = "5 min"
target = "66 degC"
hold = "60 min"
hold_power = "800 W"

[[step]]
name = "Mash-out"
target = "76 degC"
hold = "10 min"
hold_power = "1000 W"

[[step]]
name = "Drain"
before = ["remove grain"]
pause = "15 min"

"""

_NO_MASH = """\
[[step]]
name = "Warm water"
target = "60 degC"

"""

_BOIL = """\
[[step]]
name = "Towards the boil"
target = "97 degC"

[[step]]
name = "Boil"
boil = true
hold = {boil}
hold_power = "2200 W"

[[step.addition]]
name = "Hops"
left = {boil}

# [[task]]                      # what people do beside the vessel; without any, usual tasks and times are taken
# name = "Mill the grain"
# at_step = "Strike"            # "before" it, "during" it (from its start) or "after" it
# when = "before"
# takes = "20 min"
# attended = true               # whether somebody must be in the room
"""
