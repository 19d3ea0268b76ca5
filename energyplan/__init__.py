"""energyplan: what a brew day on an electric vessel takes from the mains, costs, and may be allowed to draw.

>>> import energyplan
>>> day = energyplan.simulate(energyplan.read_plan("demo"))
>>> round(day.balance_error, 9)
0.0

The names below are the public ones; each is imported when it is first used, so that ``import energyplan`` is light.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from energyplan.advice.answer import Answer as Answer
    from energyplan.advice.answer import answer as answer
    from energyplan.advice.power import advise as advise
    from energyplan.base.errors import EnergyPlanError as EnergyPlanError
    from energyplan.circuits.check import check as check
    from energyplan.day.brewday import BrewDay as BrewDay
    from energyplan.day.brewday import simulate as simulate
    from energyplan.plan.file import parse_plan as parse_plan
    from energyplan.plan.file import read_plan as read_plan
    from energyplan.plan.model import Plan as Plan
    from energyplan.tariffs.costs import price as price
    from energyplan.tariffs.priceline import price_line as price_line
    from energyplan.tariffs.starts import find_starts as find_starts
    from energyplan.tariffs.tarifffile import load_tariff as load_tariff

__version__ = "0.2.0"

_HOMES = {
    "Answer": "energyplan.advice.answer",
    "BrewDay": "energyplan.day.brewday",
    "EnergyPlanError": "energyplan.base.errors",
    "Plan": "energyplan.plan.model",
    "advise": "energyplan.advice.power",
    "answer": "energyplan.advice.answer",
    "check": "energyplan.circuits.check",
    "find_starts": "energyplan.tariffs.starts",
    "load_tariff": "energyplan.tariffs.tarifffile",
    "parse_plan": "energyplan.plan.file",
    "price": "energyplan.tariffs.costs",
    "price_line": "energyplan.tariffs.priceline",
    "read_plan": "energyplan.plan.file",
    "simulate": "energyplan.day.brewday",
}

__all__ = sorted(_HOMES)  # noqa: PLE0605 - a sorted list of str


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'energyplan' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
