"""energyplan: what a brew day on an electric vessel takes from the mains, costs, and may be allowed to draw.

>>> import energyplan as ep
>>> plan = ep.read_plan("demo")
>>> day = ep.simulate(plan)
>>> hottest_c = ep.frame(day)["to_c"].max()
>>> picture = ep.chart(day)

The names below are the public ones; each is imported when it is first used, so that ``import energyplan`` is light.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from energyplan.base import constants

if TYPE_CHECKING:
    from energyplan.advice.answer import Answer, answer
    from energyplan.advice.power import advise
    from energyplan.base.errors import EnergyPlanError
    from energyplan.circuits.check import check
    from energyplan.day.brewday import BrewDay, simulate
    from energyplan.notebook import chart, frame
    from energyplan.plan.file import parse_plan, read_plan
    from energyplan.plan.model import Plan
    from energyplan.tariffs.costs import price
    from energyplan.tariffs.priceline import price_line
    from energyplan.tariffs.starts import find_starts
    from energyplan.tariffs.tarifffile import load_tariff

__version__ = constants.VERSION

__all__ = [
    "Answer",
    "BrewDay",
    "EnergyPlanError",
    "Plan",
    "advise",
    "answer",
    "chart",
    "check",
    "find_starts",
    "frame",
    "load_tariff",
    "parse_plan",
    "price",
    "price_line",
    "read_plan",
    "simulate",
]

_HOMES = {
    "Answer": "advice.answer",
    "BrewDay": "day.brewday",
    "EnergyPlanError": "base.errors",
    "Plan": "plan.model",
    "advise": "advice.power",
    "answer": "advice.answer",
    "chart": "notebook",
    "check": "circuits.check",
    "find_starts": "tariffs.starts",
    "frame": "notebook",
    "load_tariff": "tariffs.tarifffile",
    "parse_plan": "plan.file",
    "price": "tariffs.costs",
    "price_line": "tariffs.priceline",
    "read_plan": "plan.file",
    "simulate": "day.brewday",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'energyplan' has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(f"energyplan.{_HOMES[name]}"), name)
    return found


def __dir__() -> list[str]:
    return sorted({*(name for name in globals() if name.startswith("__")), *__all__})
