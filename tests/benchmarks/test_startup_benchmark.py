"""How long a command takes, as a multiple of importing pandas in the same run."""

import os
import subprocess
import sys
import time

import pytest


def _seconds(*command: str) -> float:
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    begun = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, capture_output=True, env=env)  # noqa: S603
    return time.perf_counter() - begun


@pytest.mark.parametrize("arguments", [("--help",), ("report", "demo", "--tariff", "demo")])
def test_command_against_importing_pandas(benchmark, arguments):
    """A whole command in a new process; the ratio to ``python -c "import pandas"`` is kept with the figures."""
    command = ("-m", "energyplan", *arguments)
    rounds = 5 if benchmark.enabled else 1
    reference_s = min(_seconds("-c", "import pandas") for _ in range(rounds))
    own_s = min(_seconds(*command) for _ in range(rounds))
    benchmark.extra_info["times_import_pandas"] = own_s / reference_s
    benchmark.pedantic(_seconds, args=command, rounds=rounds)
    assert own_s > 0
