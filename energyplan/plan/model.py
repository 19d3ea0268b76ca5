"""What the brewer enters: vessel, batch, place, circuit and the list of steps.

Every class is both the schema of a table of the plan file (the aliases are the file's keys) and a
frozen value object in SI units (the field names carry the unit). Nothing is computed here but what
follows from the words alone, such as which lid a step has when none is named.
"""

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from energyplan.base.errors import Problem
from energyplan.plan import lines as circuitrules
from energyplan.plan import rules
from energyplan.plan.equipment import (
    Batch,
    Circuit,
    Element,
    Extension,
    Fermentation,
    Hours,
    HouseSupply,
    Line,
    OtherLoad,
    SecondHeater,
    Site,
    Vessel,
)
from energyplan.plan.steps import Action, Addition, Lid, Step, Task
from energyplan.plan.values import Name, Table

__all__ = [
    "Action",
    "Addition",
    "Batch",
    "Circuit",
    "Element",
    "Extension",
    "Fermentation",
    "Hours",
    "HouseSupply",
    "Lid",
    "Line",
    "OtherLoad",
    "Plan",
    "SecondHeater",
    "Site",
    "Step",
    "Task",
    "Vessel",
]


class Plan(Table):
    """A whole brew day as the brewer plans it."""

    title: Name = "A brew day"
    vessel: Vessel
    batch: Batch
    second_heater: SecondHeater | None = None
    site: Site = Site()
    circuit: Circuit | None = None
    other_loads: tuple[OtherLoad, ...] = Field(default=(), alias="other_load", max_length=50)
    supply: HouseSupply | None = None
    hours: Hours = Hours()
    house_loads: tuple[OtherLoad, ...] = Field(default=(), alias="house_load", max_length=50)
    fermentation: Fermentation | None = None
    steps: tuple[Step, ...] = Field(alias="step", min_length=1, max_length=500)
    tasks: tuple[Task, ...] = Field(default=(), alias="task", max_length=100)

    @model_validator(mode="after")
    def _obeys_the_rules(self) -> "Plan":
        if problems := self.broken_rules():
            message = "; ".join(str(problem) for problem in problems)
            raise PydanticCustomError("plan_rules", "{message}", {"message": message, "problems": problems})
        return self

    def broken_rules(self) -> tuple[Problem, ...]:
        """Everything in the plan that contradicts itself or physics, in the order of the file."""
        return (
            *rules.batch_problems(self.batch, self.vessel, self.site),
            *rules.second_heater_problems(self.second_heater, self.batch, self.steps),
            *circuitrules.circuit_problems(self.circuit),
            *circuitrules.line_problems(self.circuit, self.vessel, self.second_heater, self.other_loads),
            *circuitrules.window_problems(self.other_loads, self.house_loads),
            *circuitrules.supply_problems(self.supply),
            *rules.hours_problems(self.hours),
            *rules.step_problems(self.steps, self.vessel, self.site),
            *rules.vessel_problems(self.vessel, self.steps),
            *rules.content_problems(self.steps, self.batch, self.site),
            *rules.task_problems(self.tasks, self.steps),
        )

    def __repr__(self) -> str:
        return f"Plan({self.title!r}, {self.batch.water_l:.1f} L, {len(self.steps)} steps)"

    @property
    def grain_c(self) -> float:
        """Temperature of the grain: as entered, else that of the air [°C]."""
        grain_c = self.batch.grain_temperature_c
        return self.site.air_c if grain_c is None else grain_c

    @property
    def voltage_v(self) -> float:
        """Voltage at the board; without a circuit, the first element's nameplate voltage."""
        return self.circuit.voltage_v if self.circuit else self.vessel.elements[0].voltage_v
