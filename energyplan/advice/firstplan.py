"""A first plan that works at once, from a few answers: as TOML text with a strike, powers, a lid, common values."""

import math
import os
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

from energyplan.advice.power import advise, with_advised_caps
from energyplan.base.errors import EnergyPlanError, UnitsError
from energyplan.base.files import read_text
from energyplan.base.records import dataclass
from energyplan.base.tomltext import quoted_text
from energyplan.base.units import LENGTH, MASS, POWER, TEMPERATURE, VOLTAGE, VOLUME, Kind, convert, read_quantity
from energyplan.day.brewday import simulate
from energyplan.day.legs import Conditions
from energyplan.plan.brewery import split_toml
from energyplan.plan.file import LARGEST_FILE_BYTES, PlanText, plan_files
from energyplan.plan.model import Plan, Step
from energyplan.plan.writing import plan_text

__all__ = [
    "Starter", "first_day_toml", "first_plan", "first_plan_toml", "is_us", "starter_of", "starter_toml",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter:
    """What a first plan needs to know, as the brewer writes it (quantities are texts with units).

    ``volume`` of the vessel up to its rim stands in for diameter and height, in the usual shape of these. Without
    ``grain`` there is no mash, without ``time_zone`` the clock is that of the prices.
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
    time_zone: str | None = None


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
    quoted = {name: quoted_text(text) for name, text in given.items() if text is not None}
    quoted["measured"] = "; from what it holds, so measure it" if starter.volume is not None else ""
    quoted |= {name: quoted_text(text) for name, text in (_US_USUAL if is_us(starter) else _USUAL).items()}
    quoted["clock"] = _NO_CLOCK if starter.time_zone is None else f"time_zone = {quoted['time_zone']}"
    if starter.grain is None:
        return _aligned((_BEFORE_THE_STEPS + _NO_MASH + _BOIL).format(**{**quoted, "grain": '"0 kg"'}))
    return _aligned((_BEFORE_THE_STEPS + _MASH + _BOIL).format(**quoted))


def _aligned(text: str) -> str:
    """The same with the remarks behind its values in one column."""
    return re.sub(
        r"^(# )?([a-z_]+ = [^#\n]*?) +# ", lambda match: f"{(match[1] or '') + match[2]:<31} # ", text, flags=re.M
    )


#: What nobody is asked for, in round values of either kind of units; common practice, no source.
_USUAL = {
    "mass": "10 kg", "jacket": "10 mm", "top": "5 cm", "tap": "12 degC", "air": "18 degC", "wire": "2.5 mm2",
    "run": "18 m", "strike": "70 degC", "mash": "66 degC", "mash_out": "76 degC", "warm": "60 degC", "near": "97 degC",
}  # fmt: skip
_US_USUAL = {
    "mass": "22 lb", "jacket": "0.4 in", "top": "2 in", "tap": "54 degF", "air": "64 degF", "wire": "12 AWG",
    "run": "60 ft", "strike": "158 degF", "mash": "151 degF", "mash_out": "169 degF", "warm": "140 degF",
    "near": "207 degF",
}  # fmt: skip

_US_UNITS = re.compile(r"[\s\d](?:gal|gallons?|qt|quarts?|lbs?|pounds?|oz|in|inch|inches|ft|feet)\s*$", re.IGNORECASE)


def is_us(starter: Starter) -> bool:
    """Whether somebody answers in US units.

    >>> is_us(Starter(water="7 gal")), is_us(Starter())
    (True, False)
    """
    asked = (starter.water, starter.grain, starter.volume, starter.diameter, starter.height)
    return any(_US_UNITS.search(text or "") for text in asked)


LOW_V = 150.0  # between the two families of mains voltage; common practice, no source


# Rated currents of breakers [A]: preferred values of IEC 60898-1, and of NFPA 70, 240.6(A) (both from memory).
_BREAKERS_A = {
    "iec": (10, 13, 16, 20, 25, 32, 40, 50, 63),
    "nec": (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100),
}


_CONTINUOUS = {"iec": 1.0, "nec": 1.25}  # over the current; NFPA 70, 210.20(A), for three hours or more


_ROOM, _GRAIN_L_PER_KG = 1.45, 0.67  # of a vessel over its water; common practice, no source


def starter_of(answers: Mapping[str, str]) -> Starter:
    """What a few answers say, and the usual for what they leave open.

    The rules follow from the voltage, the breaker from power and rules, the vessel's size from water and grain, the
    clock from the machine's, where that tells a place.

    Examples
    --------
    >>> small = starter_of({"power": "1500 W", "voltage": "120 V", "time_zone": "America/Chicago"})
    >>> small.rules, small.breaker, small.time_zone
    ('nec', '20 A', 'America/Chicago')
    """
    starter = replace(Starter(), **answers)
    if us := is_us(starter):
        starter = replace(starter, **({"water": "7 gal", "grain": "12 lb"} | dict(answers)))
    low = _number(starter.voltage, VOLTAGE, 230.0) < LOW_V
    american = low or (starter.time_zone or "").startswith(("America/", "US/"))
    rules = answers.get("rules") or ("nec" if american else "iec")
    starter = replace(starter, rules=rules, time_zone=answers.get("time_zone") or _machine_zone())
    if "breaker" not in answers:
        starter = replace(starter, breaker=_usual_breaker(starter))
    if not {"diameter", "height", "volume"} & set(answers):
        water_l, grain_kg = _number(starter.water, VOLUME, 27.0), _number(starter.grain or "0 kg", MASS, 5.5)
        volume_l = _ROOM * water_l + _GRAIN_L_PER_KG * grain_kg
        starter = replace(starter, volume=f"{convert(volume_l, 'L', 'gallon'):.0f} gal" if us else f"{volume_l:.0f} L")
    return starter


def _number(text: str, kind: Kind, otherwise: float) -> float:
    """A quantity, or a usual one where the text is none: the reader of the plan names what is wrong with it."""
    try:
        return read_quantity(text, kind)
    except UnitsError:
        return otherwise


def _usual_breaker(starter: Starter) -> str:
    sizes_a = _BREAKERS_A.get(starter.rules, _BREAKERS_A["iec"])
    current_a = _number(starter.power, POWER, 2800.0) / _number(starter.voltage, VOLTAGE, 230.0)
    needed_a = current_a * _CONTINUOUS.get(starter.rules, 1.0)
    return f"{next((size for size in sizes_a if size >= needed_a), sizes_a[-1])} A"


def _machine_zone() -> str | None:
    """The time zone that the machine's clock is set to, by its name; None where that is no place."""
    named = os.environ.get("TZ", "").removeprefix(":")
    try:
        named = named or str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
        ZoneInfo(named)
    except (OSError, ValueError, KeyError):
        return None
    return None if named in ("", "Etc/UTC", "UTC") else named


def _usual_shape(starter: Starter) -> tuple[str, str]:
    """Diameter and height that hold a volume, as high in proportion as the usual ones.

    >>> _usual_shape(Starter(volume="48.86 L"))
    ('36.0 cm', '48.0 cm')
    """
    usual = Starter()
    diameter_m, height_m = read_quantity(usual.diameter, LENGTH), read_quantity(usual.height, LENGTH)
    volume_m3 = read_quantity(starter.volume or "", VOLUME) / 1000
    larger = (volume_m3 / (math.pi / 4 * diameter_m**2 * height_m)) ** (1 / 3)
    unit, per_m = ("in", convert(1.0, "m", "inch")) if is_us(starter) else ("cm", 100.0)
    return f"{per_m * diameter_m * larger:.1f} {unit}", f"{per_m * height_m * larger:.1f} {unit}"


_BEFORE_THE_STEPS = """\
title = {title}

[vessel]
diameter = {diameter} # inside{measured}
height = {height} # inside
empty_mass = {mass} # on a bathroom scale; its stored heat counts
power_step = "100 W" # smallest change of power that can be set
# jacket_thickness = {jacket} # leave out for a bare wall
# heat_loss = "4.8 W/K" # measured, lid on: replaces the estimate
# element_top = {top} # how high the elements reach above the floor inside; 0 under the base

[[vessel.element]]              # one table for each element
power = {power} # on the plate under the base
voltage = {voltage}

[batch]
water = {water} # at the start, at its temperature
water_temperature = {tap}
grain = {grain}
gravity = 1.048 # wanted at the end of the boil

[site]
air = {air} # where you brew, when you brew
{clock}

[circuit]                       # ask an electrician for what you don't know; leave it out until then
rules = {rules} # "iec" or "nec"
voltage = {voltage}
breaker = {breaker}
# outlet = "16 A"
# cable = {wire}
# cable_length = {run}

"""


_NO_CLOCK = '# time_zone = "Europe/Dublin"   # the clock you live by; left out: that of your prices'


_MASH = """\
[[step]]
name = "Strike"
target = {strike}
hold = "5 min"
hold_power = "800 W"

[[step]]
name = "Mash"
before = ["add grain"]
pause = "5 min"
target = {mash}
hold = "60 min"
hold_power = "800 W"

[[step]]
name = "Mash-out"
target = {mash_out}
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
target = {warm}

"""


_BOIL = """\
[[step]]
name = "Towards the boil"
target = {near}

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
# at_step = "Strike" # "before" it, "during" it (from its start) or "after" it
# when = "before"
# takes = "20 min"
# attended = true # whether somebody must be in the room
"""


# Common practice, no source.
USUAL_YIELD_FRAC = 0.68  # extract from the mass of malt, at home
SAME_BOIL_K = 0.3  # a boil that stays this close to its boiling point boils
WEAK_FRAC = 0.95  # of the nameplate, and of the mains
NARROW_OPEN = 0.1  # of the surface, under a lid that covers most of it


def first_plan_toml(starter: Starter, *, source: str = "the answers") -> str:
    """The text of a first plan, with comments that say where to look for the rest.

    Raises
    ------
    EnergyPlanError
        If an answer can't be read, or no day can be brewed with them; the message names the entry.

    Examples
    --------
    >>> "[circuit]" in first_plan_toml(Starter(power="1500 W", voltage="120 V", rules="nec", water="20 L"))
    True
    """
    files = plan_files(PlanText(source, starter_toml(starter)), None)
    return plan_text(files, first_plan(files.plan, us=is_us(starter)))


def first_day_toml(starter: Starter, brewery: Path, folder: Path) -> str:
    """The text of a first day, for a folder, in a brewery that has its file already.

    Raises
    ------
    EnergyPlanError
        As for `first_plan_toml`; also if the brewery's file can't be read, or is not enough for a plan.
    """
    _, own = split_toml(starter_toml(starter), brewery.name)
    shared = PlanText(str(brewery), read_text(brewery, LARGEST_FILE_BYTES, what="a brewery"), brewery)
    files = plan_files(PlanText("the answers", own), shared)
    return plan_text(files, first_plan(files.plan, us=is_us(starter)), beside=folder)


def first_plan(plan: Plan, *, us: bool = False) -> Plan:
    """A starter plan with what nobody who has just come can know.

    The strike lands on the rest, the gravity is what the grain gives, holds have the advised powers, and the lid is
    ajar in the boil where the elements are too weak for an open one. In US units the strike is a whole degree of
    Fahrenheit.
    """
    plan = _with_gravity(_landed(_boiling(plan), us=us))
    return with_advised_caps(plan, advise(simulate(plan)))


def _boiling(plan: Plan) -> Plan:
    """The plan with all power in the boil, and with the lid over it as far as that takes."""
    plan = _with_steps(plan, lambda step: {"hold_power_w": None} if step.boil else {})
    plan = plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": None})})
    if _boils(plan):
        return plan
    ajar = _with_steps(plan, lambda step: {"lid": "ajar"} if step.boil else {})
    if _boils(ajar):
        return ajar
    vessel = plan.vessel.model_copy(update={"lid_ajar_open": NARROW_OPEN})
    return ajar.model_copy(update={"vessel": vessel})


def _boils(plan: Plan) -> bool:
    """Whether its boils stay at the boil, with weak elements on weak mains."""
    weak = Conditions(element_factor=WEAK_FRAC, voltage_v=WEAK_FRAC * plan.voltage_v)
    try:
        phases = simulate(plan, weak, extract=USUAL_YIELD_FRAC * plan.batch.grain_kg).phases
    except EnergyPlanError:
        return False
    return all(phase.lowest_c > phase.from_c - SAME_BOIL_K for phase in phases if phase.phase == "boil")


def _landed(plan: Plan, *, us: bool) -> Plan:
    """The plan with the strike temperature that lands on the first rest, to about half a degree."""
    strike = simulate(plan).strike
    if strike is None or strike.wanted_c is None:
        return plan
    before = next(place for place, step in enumerate(plan.steps) if step.name == strike.step) - 1
    target_c, name = round(2 * strike.wanted_c) / 2, plan.steps[before].name
    if us:
        target_c = read_quantity(f"{convert(strike.wanted_c, 'degC', 'degF'):.0f} degF", TEMPERATURE)
    return _with_steps(plan, lambda step: {"target_c": target_c} if step.name == name else {})


def _with_gravity(plan: Plan) -> Plan:
    """The plan with the gravity that its grain gives at home."""
    if plan.batch.grain_kg <= 0:
        return plan
    gravity = simulate(plan, extract=USUAL_YIELD_FRAC * plan.batch.grain_kg).wort.gravity_end
    return plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": round(gravity, 3)})})


def _with_steps(plan: Plan, change: Callable[[Step], dict[str, object]]) -> Plan:
    return plan.model_copy(update={"steps": tuple(step.model_copy(update=change(step)) for step in plan.steps)})
