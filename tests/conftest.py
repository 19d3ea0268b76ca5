"""What all tests share: hypothesis profiles, plans built by hand, a browser before a served app."""

import importlib.util
import os
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from energyplan.cli import main
from energyplan.plan.model import Plan

Run = Callable[..., tuple[int, str, str]]

settings.register_profile("default", deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("default"), max_examples=60, derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))


def _beside(name: str) -> ModuleType:
    """A module of this folder or of one in it; they are no packages."""
    path = Path(__file__).parent / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"tests_{name.replace('/', '_')}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


BUILDERS = _beside("builders")
st.register_type_strategy(Plan, BUILDERS.plans())
# One browser and one server for the walks and for the benchmarks: a process can start Playwright only once.
VISITS = _beside("browser/visits")
served, server, browser, tab = VISITS.served, VISITS.server, VISITS.browser, VISITS.tab


@pytest.fixture(scope="session")
def visits() -> ModuleType:
    """What serves the app and opens it in a browser (`tests/browser/visits.py`)."""
    return VISITS


@pytest.fixture(scope="session")
def readme() -> ModuleType:
    """The module that writes the generated parts of the README."""
    return _beside("readme")


@pytest.fixture(scope="session")
def docs() -> ModuleType:
    """The module that writes the generated parts of the help pages."""
    return _beside("docs")


@pytest.fixture(scope="session")
def builders() -> ModuleType:
    """Plans built by hand (`tests/builders.py`)."""
    return BUILDERS


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """A function that runs ``energyplan`` with arguments."""

    def call(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["energyplan", *arguments])
        monkeypatch.setenv("COLUMNS", "80")
        code = 0
        try:
            main()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(bool(stop.code))
        out, err = capsys.readouterr()
        return code, out, err

    return call
