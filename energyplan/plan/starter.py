"""A starter plan as TOML text, from a handful of answers; everything else has a comment that says where to look."""

from dataclasses import dataclass

__all__ = ["Starter", "starter_toml"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter:
    """What a first plan needs to know, as the brewer writes it (quantities are texts with units)."""

    title: str = "My brew day"
    diameter: str = "36 cm"
    height: str = "48 cm"
    power: str = "2800 W"
    voltage: str = "230 V"
    water: str = "27 L"
    grain: str = "5.5 kg"
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
    quoted = {name: _quoted(getattr(starter, name)) for name in Starter.__slots__}
    return _TEMPLATE.format(**quoted)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


_TEMPLATE = """\
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

[[step]]
name = "Towards the boil"
target = "97 degC"

[[step]]
name = "Boil"
boil = true
hold = "60 min"
hold_power = "2200 W"

[[step.addition]]
name = "Hops"
left = "60 min"

# [[task]]                      # what people do beside the vessel; without any, usual tasks and times are taken
# name = "Mill the grain"
# at_step = "Strike"            # "before" it, "during" it (from its start) or "after" it
# when = "before"
# takes = "20 min"
# attended = true               # whether somebody must be in the room
"""
