"""What the benchmarks share: modules of this folder, which is no package."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


REFERENCE = _beside("reference")


@pytest.fixture(scope="session")
def reference() -> ModuleType:
    """The brew day integrated in the usual ways."""
    return REFERENCE


@pytest.fixture(scope="session")
def how_fast() -> ModuleType:
    """The command that measures the table of speeds."""
    return _beside("how_fast")


@pytest.fixture(scope="session")
def load() -> ModuleType:
    """The command that lets many visitors stroll."""
    return _beside("load")
