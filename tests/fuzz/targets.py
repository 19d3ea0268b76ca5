"""What a fuzzer may throw at the readers of files: each target passes over the project's own errors, and no others.

With atheris installed, ``python tests/fuzz/targets.py plan -max_total_time=200`` searches on for text that crashes the
reader of plans (or ``tariff``, ``log``). It begins with the packaged demos and keeps what it finds in a temporary
folder; a crash is written to the present folder as ``crash-…``.
"""

import sys
import tempfile
from collections.abc import Callable
from datetime import UTC
from pathlib import Path

import numpy as np

from energyplan.base.errors import EnergyPlanError
from energyplan.learning.logfile import demo_logs, parse_log
from energyplan.learning.meterfile import parse_meter
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml
from energyplan.tariffs.tarifffile import packaged_tariffs, parse_tariff

#: Between a tariff and the series beside it in one fuzzed text.
SEPARATOR = "\x1e"
SERIES_NAME = "prices.csv"
SERIES_TARIFF = """\
[tariff]
name = "Half-hours"
currency = "EUR"
price_unit = "EUR/MWh"
time_zone = "Europe/Dublin"
[tariff.prices]
file = "prices.csv"
step_minutes = 30
clock = "local"
[carbon]
file = "prices.csv"
carbon_column = "price"
step_minutes = 30
clock = "local"
"""
SERIES = "start;price\n2026-03-28T23:00;91,5\n2026-03-28 23:30;-4\n2026-03-29 00:00;0\n2026-03-29 00:30;1e2\n"


METER_CSV = "Start;End;Usage kWh\n" + "\n".join(
    f"{1 + k // 24:02d}.03.2026 {k % 24:02d}:00;{1 + (k + 1) // 24:02d}.03.2026 {(k + 1) % 24:02d}:00;0,{k % 7}5"
    for k in range(60)
)
METER_XML = (
    "<feed><ReadingType><powerOfTenMultiplier>-1</powerOfTenMultiplier><uom>72</uom></ReadingType>"
    + "".join(
        f"<IntervalReading><timePeriod><duration>3600</duration><start>{1_772_323_200 + 3600 * k}</start></timePeriod>"
        f"<value>{k % 7}</value></IntervalReading>"
        for k in range(60)
    )
    + "</feed>"
)


def fuzz_plan(text: str) -> None:
    """A text is a plan that survives its own file, or an error of ours."""
    try:
        plan = parse_plan(text)
    except EnergyPlanError as error:
        _printable(error)
        return
    assert parse_plan(plan_to_toml(plan)) == plan


def fuzz_tariff(text: str) -> None:
    """A text, and the series behind the separator, are a tariff, or an error of ours."""
    toml, _, series = text.partition(SEPARATOR)
    try:
        tariff = parse_tariff(toml, series_texts={SERIES_NAME: series})
    except EnergyPlanError as error:
        _printable(error)
        return
    for one in tariff.series.values():
        edges_s, values, known = one.steps()
        assert (np.diff(edges_s) > 0).all()
        assert values.shape == known.shape == (edges_s.size - 1,)


def fuzz_meter(text: str) -> None:
    """A text is an export of a meter with finite energy, or an error of ours."""
    try:
        log = parse_meter(text, UTC)
    except EnergyPlanError as error:
        _printable(error)
        return
    assert np.isfinite(log.kwh).all()
    assert np.isfinite(log.start_s).all()


def fuzz_log(text: str) -> None:
    """A text is a log of finite temperatures in the order of time, or an error of ours."""
    try:
        log = parse_log(text)
    except EnergyPlanError as error:
        _printable(error)
        return
    assert np.isfinite(log.temperature_c).all()
    assert np.isfinite(log.times_s).all()
    assert (np.diff(log.times_s) > 0).all()
    if log.energy_kwh is not None:
        told = log.energy_kwh[~np.isnan(log.energy_kwh)]
        assert (np.diff(told) >= 0).all()


def _printable(error: EnergyPlanError) -> None:
    """An error must be told: in text that can be written as UTF-8, and not by the page."""
    told = str(error)
    assert told.strip()
    assert len(told) < 100_000
    told.encode()


TARGETS: dict[str, Callable[[str], None]] = {
    "plan": fuzz_plan,
    "tariff": fuzz_tariff,
    "log": fuzz_log,
    "meter": fuzz_meter,
}


def starting_texts(name: str) -> list[str]:
    """Texts from which a target's search sets out."""
    if name == "plan":
        return list(demo_plans().values())
    if name == "meter":
        return [METER_CSV, METER_XML]
    if name == "log":
        return ["\n".join(text.splitlines()[:20]) for text in demo_logs().values()]
    packaged = {path.read_text(encoding="utf-8") for path in packaged_tariffs().values()}
    return [*sorted(packaged), SERIES_TARIFF + SEPARATOR + SERIES]


def main(name: str, *options: str) -> None:
    """Search with atheris, the coverage-guided fuzzer, for as long as the options say."""
    import atheris

    atheris.instrument_all()

    def one_input(data: bytes) -> None:
        TARGETS[name](data.decode("utf-8", "ignore"))

    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(starting_texts(name)):
            (Path(folder) / str(number)).write_text(text, encoding="utf-8")
        atheris.Setup([sys.argv[0], folder, "-max_len=6000", *options], one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
