"""The language of the machine changes no answer: the same bytes where numbers are written with a decimal comma."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

# Everything that writes numbers, weekdays or dates; the program says first which locale it runs under.
WRITING = """
import locale, sys
from datetime import UTC, datetime
locale.setlocale(locale.LC_ALL, "")
sys.stderr.write(locale.localeconv()["decimal_point"] + datetime(2026, 12, 5).strftime("%A"))
from energyplan.learning.calibrate import calibrate
from energyplan.faces.frames import document
from energyplan.learning.logfile import read_log
from energyplan.telling.learning import calibration_told
from energyplan.plan.file import plan_to_toml, read_plan
from energyplan.advice.answer import answer
from energyplan.faces.frames import document
from energyplan.base.kinds import Style
from energyplan.faces.files import Making, file_bytes
from energyplan.telling.files import file_told
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.tariffs.tariffcheck import check_tariff
from energyplan.telling.prices import prices_told
from energyplan.telling.report import report_told
from energyplan.base.units import Display
import json
plan, tariff = read_plan("demo"), load_tariff("demo")
found = answer(plan, tariff, datetime(2026, 12, 5, 8, 30, tzinfo=UTC))
day = datetime(2026, 12, 5).date()
texts = [plan_to_toml(plan), json.dumps(document(report_told(found)), default=str)]
making = Making(style=Style("us"))
texts += [file_bytes(file_told(found, ending), ending, making).decode() for ending in (".csv", ".ics")]
texts += [json.dumps(document(prices_told(tariff, check_tariff(tariff, day, today=day))))]
texts += [json.dumps(document(calibration_told(calibrate(read_log("heat-up"), plan))), default=str)]
sys.stdout.buffer.write("\\n".join(texts).encode())
"""


@pytest.fixture(scope="module")
def german(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Environment of a German machine; its locale is compiled here, since few machines of tests have it."""
    if shutil.which("localedef") is None or not Path("/usr/share/i18n/locales/de_DE").exists():
        pytest.skip("no localedef, or no source of a German locale")
    folder = tmp_path_factory.mktemp("locales")
    command = ["localedef", "-i", "de_DE", "-f", "UTF-8", str(folder / "de_DE.UTF-8")]
    subprocess.run(command, check=True, capture_output=True)  # noqa: S603
    return {**os.environ, "LOCPATH": str(folder), "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}


def written(environment: dict[str, str]) -> tuple[bytes, str]:
    """What the program writes, and how the machine writes a decimal and a Saturday."""
    ended = subprocess.run(  # noqa: S603
        [sys.executable, "-c", WRITING], env=environment, capture_output=True, check=True
    )
    return ended.stdout, ended.stderr.decode()


def test_a_german_machine_writes_the_same_bytes(german: dict[str, str]) -> None:
    """Plan, report, table, calendar, week of the tariff and calibration are those of an English machine."""
    here, machine = written(german)
    there, plain = written({**os.environ, "LC_ALL": "C.UTF-8"})
    assert machine == ",Samstag"
    assert plain == ".Saturday"
    assert here == there
