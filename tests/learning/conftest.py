"""What the tests of calibration share: an independent vessel, a plan, outside data."""

import csv
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from energyplan.plan.file import parse_plan, read_plan
from energyplan.plan.model import Plan

FOLDER = Path(__file__).parent


def load(path: Path) -> ModuleType:
    """Load a module that is no part of a package."""
    name = f"tests_{path.stem}"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


KITCHEN = load(FOLDER / "kitchen.py")
load(FOLDER / "byhand.py")  # tests import it as tests_byhand


@pytest.fixture(scope="session")
def outside_fits() -> ModuleType:
    """Give the module that holds the model against outside data."""
    return load(FOLDER.parent / "benchmarks" / "how_far_off.py")


@pytest.fixture(scope="session")
def demologs() -> ModuleType:
    """Give the module that makes the packaged logs."""
    return load(FOLDER / "demologs.py")


@pytest.fixture(scope="session")
def vessel():
    """Give the class of the independent vessel."""
    return KITCHEN.Vessel


@pytest.fixture(scope="session")
def water_j_per_k():
    """Stored heat of water and vessel; 4183 J/kgK (CoolProp, IAPWS-95, 15 to 75 degC: 4178 to 4192)."""

    def stored(litres: float, vessel_j_per_k: float = 5000.0) -> float:
        return litres * 0.9991 * 4183.0 + vessel_j_per_k

    return stored


@pytest.fixture(scope="session")
def plan() -> Plan:
    """A bare vessel with water only; 2500 W in two elements."""
    return parse_plan(PLAN)


@pytest.fixture(scope="session")
def demo_plan() -> Plan:
    """The packaged plan, with grain."""
    return read_plan("demo")


@pytest.fixture(scope="session")
def outside():
    """Columns of a data file of outside measurements, by its name."""

    def columns(name: str) -> dict[str, np.ndarray]:
        with (FOLDER / "data" / f"{name}.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
        return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}

    return columns


PLAN = """
[vessel]
diameter = "36 cm"
height = "48 cm"
empty_mass = "10 kg"
standby = "3 W"
[[vessel.element]]
power = "1500 W"
voltage = "230 V"
[[vessel.element]]
power = "1000 W"
voltage = "230 V"
[batch]
water = "27 L"
water_temperature = "15 degC"
[site]
air = "20 degC"
[[step]]
name = "Strike"
target = "70 degC"
"""
