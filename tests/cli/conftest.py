"""Runs a command in this process: exit code, stdout, stderr."""

import sys
from collections.abc import Callable

import pytest

from energyplan.cli import main

Run = Callable[..., tuple[int, str, str]]


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
