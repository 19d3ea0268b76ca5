"""A plan under one edit after the other: whatever still reads can be played through, priced, checked and told.

The machine below edits the packaged plan as a brewer does with a file: other values, steps that come, go and change
places. After each edit the plan is read; if it can be brewed, its answer must hold together.
"""

import contextlib
import copy
import json
import math
import tomllib
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import tomli_w
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from energyplan.advice.answer import Answer, answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.frames import document
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.report import report_told

TARIFF = load_tariff("demo")
FIRST_START = datetime(2026, 3, 28, 20, tzinfo=UTC)  # the evening before a change of the clock

# Values for keys of the plan, from ordinary to the edge of what is read.
VALUES: dict[tuple[str, str], list[Any]] = {
    ("vessel", "diameter"): ["30 cm", "45 cm", "10 cm", "3 m"],
    ("vessel", "height"): ["30 cm", "80 cm", "3 m"],
    ("vessel", "empty_mass"): ["1 g", "10 kg", "2000 kg"],
    ("vessel", "emissivity"): [0.02, 0.25, 1.0],
    ("vessel", "jacket_thickness"): ["0 mm", "1 mm", "80 mm"],
    ("vessel", "jacket_covers"): [[], ["lid"], ["side", "base", "lid"]],
    ("vessel", "fittings"): [1.0, 5.0],
    ("vessel", "heat_loss"): ["0.01 W/K", "4.8 W/K", "200 W/K"],
    ("vessel", "stored_heat"): ["10 J/K", "6 kJ/K", "1 MJ/K"],
    ("vessel", "lid_ajar_open"): [0.0, 0.2, 1.0],
    ("vessel", "power_step"): ["1 W", "100 W", "50 kW"],
    ("vessel", "control"): ["modulated", "switched"],
    ("vessel", "pump"): ["0 W", "30 W", "3 kW"],
    ("vessel", "standby"): ["0 W", "500 W"],
    ("batch", "water"): ["0 L", "5 L", "27 L", "48 L"],
    ("batch", "water_temperature"): ["0 degC", "12 degC", "85 degC", "130 degC"],
    ("batch", "grain"): ["0 kg", "1 g", "5.8 kg", "20 kg"],
    ("batch", "grain_temperature"): ["-20 degC", "15 degC", "60 degC"],
    ("batch", "grain_moisture"): [0.0, 0.04, 0.2],
    ("batch", "absorption"): ["0 L/kg", "0.8 L/kg", "3 L/kg"],
    ("batch", "sparge_water"): ["0 L", "5 L", "30 L"],
    ("batch", "sparge_temperature"): ["5 degC", "75 degC", "100 degC"],
    ("batch", "gravity"): [1.0, 1.000001, 1.05, 1.2],
    ("second_heater", "power"): ["200 W", "1500 W", "20 kW"],
    ("second_heater", "own_circuit"): [True, False],
    ("site", "air"): ["-30 degC", "11 degC", "45 degC"],
    ("site", "surroundings"): ["-30 degC", "45 degC"],
    ("site", "draught"): ["0 m/s", "0.5 m/s", "20 m/s"],
    ("site", "humidity"): [0.0, 1.0],
    ("site", "altitude"): ["-430 m", "240 m", "6000 m"],
    ("circuit", "rules"): ["iec", "nec"],
    ("circuit", "voltage"): ["100 V", "230 V", "240 V"],
    ("circuit", "breaker"): ["6 A", "16 A", "32 A"],
    ("circuit", "outlet"): ["10 A", "16 A"],
    ("circuit", "plug_fuse"): ["3 A", "13 A"],
    ("circuit", "cable"): ["0.5 mm2", "2.5 mm2", "12 AWG"],
    ("circuit", "cable_length"): ["0 m", "18 m", "400 m"],
    ("circuit", "installation"): ["A", "C", "60"],
    ("circuit", "ambient"): ["10 degC", "30 degC", "60 degC"],
    ("circuit", "layout"): ["one phase", "split phase", "three phase"],
    ("circuit", "line"): ["L1", "L3", "all"],
    ("circuit", "extension"): [{"cable": "1.5 mm2", "length": "10 m"}, {"cable": "0.5 mm2", "length": "90 m"}],
}
STEP_VALUES: dict[str, list[Any]] = {
    "target": ["5 degC", "40 degC", "67 degC", "78 degC", "99 degC", "100.3 degC"],
    "pause": ["0 min", "1 s", "20 min", "2 days"],
    "hold": ["0 min", "1 s", "60 min", "3 days"],
    "hold_power": ["0 W", "300 W", "2200 W", "9 kW"],
    "ramp_power": ["600 W", "1500 W", "9 kW"],
    "lid": ["on", "ajar", "off"],
    "pump": [True, False],
    "boil": [True, False],
    "before": [[], ["add grain"], ["remove grain"], ["empty", "add water: 12 L at 12 degC"], ["add sparge water"]],
}


def hangs_together(found: Answer) -> None:
    """No number that is none, a heat balance that closes, parts that add up to the whole."""
    day = found.day
    assert day.balance_error < 1e-6
    assert np.isfinite(day.trajectory.times_s).all()
    assert np.isfinite(day.trajectory.temperatures_c).all()
    phases_kwh = sum(phase.energy_j for phase in day.phases) / JOULES_PER_KWH
    others_kwh = sum(profile.energy_kwh for profile in day.profiles[1:])
    assert math.isclose(phases_kwh + others_kwh, day.energy_kwh, rel_tol=1e-9)
    assert found.price is not None
    parts = sum(found.price.of_phase(phase).units for phase in day.phases) + found.price.beside_vessel.units
    assert parts == found.price.total.total.units
    json.dumps(document(report_told(found)), allow_nan=False, default=str)


class EditedPlan(RuleBasedStateMachine):
    """The tables of a plan, edited one by one."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: dict[str, Any] = {}
        self.start = FIRST_START

    @initialize(name=st.sampled_from(sorted(demo_plans())))
    def open_a_packaged_plan(self, name: str) -> None:
        """Begin with a plan that can be brewed."""
        self.tables = tomllib.loads(demo_plans()[name])

    @rule(where=st.sampled_from(sorted(VALUES)), choice=st.integers(0, 3))
    def set_a_value(self, where: tuple[str, str], choice: int) -> None:
        """Another value, in a table that may not have been there."""
        table, key = where
        self.tables.setdefault(table, {})[key] = VALUES[where][choice % len(VALUES[where])]

    @rule(where=st.sampled_from(sorted(VALUES)))
    def drop_a_value(self, where: tuple[str, str]) -> None:
        """Leave a key to its default."""
        table, key = where
        self.tables.get(table, {}).pop(key, None)

    @rule(table=st.sampled_from(["second_heater", "circuit", "site"]))
    def drop_a_table(self, table: str) -> None:
        """Plans without a second heater, a circuit, a place."""
        self.tables.pop(table, None)

    @rule(data=st.data(), key=st.sampled_from(sorted(STEP_VALUES)))
    def set_a_value_of_a_step(self, data: st.DataObject, key: str) -> None:
        """Another value of a step."""
        data.draw(st.sampled_from(self.tables["step"]))[key] = data.draw(st.sampled_from(STEP_VALUES[key]))

    @rule(begin=st.integers(0, 20), end=st.integers(0, 20))
    def move_a_step(self, begin: int, end: int) -> None:
        """A step in another place."""
        steps = self.tables["step"]
        steps.insert(end % len(steps), steps.pop(begin % len(steps)))

    @rule(which=st.integers(0, 20))
    def double_a_step(self, which: int) -> None:
        """A step once more, under another name."""
        steps = self.tables["step"]
        again = copy.deepcopy(steps[which % len(steps)])
        steps.append({**again, "name": f"{again['name'][:60]} again {len(steps)}"})

    @rule(which=st.integers(0, 20))
    def drop_a_step(self, which: int) -> None:
        """A step less, while there is more than one."""
        steps = self.tables["step"]
        if len(steps) > 1:
            del steps[which % len(steps)]

    @rule(hours=st.integers(0, 30), minutes=st.integers(0, 59))
    def start_at_another_time(self, hours: int, minutes: int) -> None:
        """Starts around the night of a change of the clock."""
        self.start = FIRST_START + timedelta(hours=hours, minutes=minutes)

    @invariant()
    def the_answer_hangs_together(self) -> None:
        """The plan as it stands is an error of ours, or has a sound answer and survives its own file."""
        if not self.tables:
            return
        before = copy.deepcopy(self.tables)
        with contextlib.suppress(EnergyPlanError):
            plan = parse_plan(tomli_w.dumps(self.tables))
            assert parse_plan(plan_to_toml(plan)) == plan
            hangs_together(answer(plan, TARIFF, self.start))
        assert self.tables == before


EditedPlan.TestCase.settings = settings(parent=settings.get_profile("default"), max_examples=15, stateful_step_count=14)
TestEditedPlan = EditedPlan.TestCase
