"""Plans for the tests: small ones built by hand, and any valid one drawn by hypothesis.

`tests/conftest.py` gives this module as the fixture ``builders`` and registers `plans`, so that
``st.from_type(Plan)`` draws whole brew days.
"""

from typing import Any

from hypothesis import strategies as st

from energyplan.plan.model import Action, Batch, Circuit, Element, Extension, Plan, SecondHeater, Site, Step, Vessel

VESSEL: dict[str, Any] = {
    "diameter_m": 0.36, "height_m": 0.48, "empty_mass_kg": 10.0, "pump_w": 30.0, "standby_w": 3.0,
}  # fmt: skip


def vessel(*powers_w: float, **fields: Any) -> Vessel:
    """A 49 litre vessel with 230 V elements, by default one of 3000 W."""
    elements = tuple(Element(power_w=power_w, voltage_v=230.0) for power_w in powers_w or (3000.0,))
    return Vessel(**{**VESSEL, "elements": elements, **fields})


def actions(*kinds: str) -> tuple[Action, ...]:
    """Actions without numbers, such as "add grain"."""
    return tuple(Action(kind=kind) for kind in kinds)


def water_plan(*steps: Step, water_l: float = 25.0, water_c: float = 15.0, **tables: Any) -> Plan:
    """Water only, in a room of 20 °C at sea level."""
    batch = Batch(water_l=water_l, water_temperature_c=water_c)
    return Plan(**{"vessel": vessel(), "batch": batch, "steps": steps, **tables})


def mash_plan(*steps: Step, gravity: float | None = 1.050, **tables: Any) -> Plan:
    """A whole day with 5 kg of grain: strike, mash, sparge, boil."""
    batch = Batch(water_l=26.0, water_temperature_c=12.0, grain_kg=5.0, grain_temperature_c=18.0, gravity=gravity)
    if not steps:
        steps = (
            Step(name="Strike", target_c=70.0, hold_s=300.0),
            Step(name="Mash", before=actions("add grain"), pause_s=300.0, target_c=66.0, hold_s=3600.0),
            Step(name="Drain", before=actions("remove grain"), pause_s=900.0),
            Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=2500.0),
        )
    return Plan(**{"vessel": vessel(), "batch": batch, "steps": steps, **tables})


def _seconds(low_min: float, high_min: float) -> st.SearchStrategy[float]:
    return st.one_of(st.just(0.0), st.floats(low_min * 60, high_min * 60))


@st.composite
def vessels(draw: st.DrawFn) -> Vessel:
    """Vessels of 20 to 95 litres whose elements can boil them open."""
    diameter_m = draw(st.floats(0.28, 0.46))
    power_w = diameter_m**2 * draw(st.floats(24e3, 40e3))
    shares = draw(st.sampled_from([(1.0,), (0.6, 0.4), (0.5, 0.3, 0.2)]))
    loss_w_per_k = draw(st.none() | st.floats(1.5, 7.0))
    within_frac = None if loss_w_per_k is None else draw(st.none() | st.floats(0.02, 0.4))
    voltage_v = draw(st.sampled_from([220.0, 230.0, 240.0]))
    return Vessel(
        diameter_m=diameter_m,
        height_m=diameter_m * draw(st.floats(1.1, 1.4)),
        empty_mass_kg=draw(st.floats(3.0, 20.0)),
        emissivity=draw(st.none() | st.floats(0.1, 1.0)),
        jacket_thickness_m=draw(st.none() | st.floats(0.002, 0.03)),
        jacket_covers=draw(st.sampled_from([("side",), ("side", "lid"), ("side", "base", "lid")])),
        fittings=draw(st.floats(1.0, 1.6)),
        heat_loss_w_per_k=loss_w_per_k,
        heat_loss_within_w_per_k=within_frac and within_frac * loss_w_per_k,
        lid_ajar_open=draw(st.floats(0.0, 1.0)),
        control=draw(st.sampled_from(["modulated", "switched"])),
        pump_w=draw(st.floats(0.0, 60.0)),
        pump_heat=draw(st.floats(0.0, 1.0)),
        standby_w=draw(st.floats(0.0, 10.0)),
        elements=tuple(Element(power_w=power_w * share, voltage_v=voltage_v) for share in shares),
    )


@st.composite
def batches(draw: st.DrawFn, volume_l: float) -> Batch:
    """Water, grain and sparge water that fit into a vessel of a volume."""
    water_l = volume_l * draw(st.floats(0.45, 0.6))
    grain_kg = water_l * draw(st.floats(0.1, 0.22))
    return Batch(
        water_l=water_l,
        water_temperature_c=draw(st.floats(4.0, 25.0)),
        grain_kg=grain_kg,
        grain_temperature_c=draw(st.none() | st.floats(-5.0, 30.0)),
        grain_moisture=draw(st.floats(0.0, 0.1)),
        absorption_l_per_kg=draw(st.floats(0.3, 1.05)),
        sparge_water_l=volume_l * draw(st.floats(0.02, 0.15)),
        sparge_temperature_c=draw(st.floats(60.0, 80.0)),
        gravity=draw(st.none() | st.floats(1.0, 1.0 + 0.18 * grain_kg / water_l)),
    )


@st.composite
def programmes(draw: st.DrawFn, kettle: Vessel) -> tuple[Step, ...]:
    """Steps from strike to cleaning; ramps have enough power, holds may have too little."""
    powers_w = [element.power_w for element in kettle.elements]
    power_w = sum(powers_w)
    least_w = min(powers_w) if kettle.control == "switched" else 50.0
    ramp_w = st.none() | st.floats(max(0.75 * power_w, least_w), power_w)
    hold_w = st.none() | st.floats(least_w, 1.2 * power_w)
    lids = st.sampled_from([None, "on", "ajar"])
    pumps = st.sampled_from([None, True, False])
    first, *rests_c = sorted(draw(st.lists(st.floats(38.0, 78.0), min_size=2, max_size=4)))
    steps = [Step(name="Strike", target_c=first + 4, ramp_power_w=draw(ramp_w), hold_s=draw(_seconds(1, 20)))]
    for number, rest_c in enumerate([first, *rests_c]):
        steps.append(
            Step(
                name=f"Rest {number + 1}", before=actions("add grain") if number == 0 else (),
                pause_s=draw(_seconds(1, 15)), target_c=rest_c, ramp_power_w=draw(ramp_w),
                hold_s=draw(_seconds(5, 90)), hold_power_w=draw(hold_w), lid=draw(lids), pump=draw(pumps),
            )
        )  # fmt: skip
    steps.append(Step(name="Sparge", before=actions("remove grain", "add sparge water"), pause_s=600.0))
    steps.append(Step(name="Boil", boil=True, hold_s=draw(_seconds(20, 90)), lid=draw(st.sampled_from([None, "ajar"]))))
    if draw(st.booleans()):
        filling = Action(
            kind="add water", volume_l=draw(st.floats(5.0, 12.0)), temperature_c=draw(st.floats(5.0, 25.0))
        )
        cleaning = (*actions("empty"), filling)
        steps.append(Step(name="Cleaning", before=cleaning, target_c=60.0, hold_s=draw(_seconds(5, 30))))
    return tuple(steps)


@st.composite
def circuits(draw: st.DrawFn) -> Circuit:
    """Circuits of either family of rules, with and without an extension lead."""
    lead = Extension(cable_mm2=draw(st.sampled_from([1.5, 2.5])), length_m=draw(st.floats(1.0, 20.0)))
    return Circuit(
        rules=draw(st.sampled_from(["iec", "nec"])),
        voltage_v=draw(st.floats(215.0, 250.0)),
        breaker_a=draw(st.none() | st.floats(10.0, 40.0)),
        cable_mm2=draw(st.none() | st.sampled_from([1.5, 2.5, 4.0])),
        cable_length_m=draw(st.floats(0.0, 40.0)),
        residual_current_device=draw(st.none() | st.booleans()),
        extension=draw(st.none() | st.just(lead)),
    )


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Whole brew days that can be brewed."""
    kettle = draw(vessels())
    volume_l = 785.0 * kettle.diameter_m**2 * kettle.height_m
    return Plan(
        title=draw(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=20)),
        vessel=kettle,
        batch=draw(batches(volume_l)),
        second_heater=draw(st.none() | st.just(SecondHeater(power_w=1500.0, ready_at_step="Sparge"))),
        site=Site(
            air_c=draw(st.floats(-5.0, 32.0)),
            surroundings_c=draw(st.none() | st.floats(-5.0, 32.0)),
            draught_m_per_s=draw(st.sampled_from([0.0, 0.0, 0.3])),
            humidity=draw(st.floats(0.0, 1.0)),
            altitude_m=draw(st.floats(-100.0, 2500.0)),
        ),
        circuit=draw(st.none() | circuits()),
        steps=draw(programmes(kettle)),
    )
