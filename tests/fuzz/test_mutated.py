"""Mutated files and links: refused in plain words, or gone through to the end with numbers that hold together.

Eight kinds: plans, breweries, tariffs with their lists, logs, rates of the open schema, lists of prices, exports of a
meter, links. `MUTATED=20000` goes through as many, the suite through a few of each.
"""

import importlib.util
import io
import json
import math
import os
import random
import re
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from datetime import time as clock
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from energyplan.advice.answer import Answer, answer
from energyplan.advice.variants import with_hold_caps
from energyplan.app.sharing import with_changes
from energyplan.base.errors import EnergyPlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.supply import on_the_circuit
from energyplan.faces.frames import document
from energyplan.faces.terminal import screen
from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import demo_logs, parse_log
from energyplan.learning.meterfile import parse_meter
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml, read_plan, read_plan_files
from energyplan.plan.model import Plan
from energyplan.plan.writing import write_plan
from energyplan.tariffs.clock import from_utc_s, zone_of
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line, price_line_around
from energyplan.tariffs.pricelist import ListHints, read_price_list
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tarifffile import ListTerms, currency_of_unit, list_tariff_toml, load_tariff, parse_tariff
from energyplan.tariffs.urdb import import_urdb
from energyplan.telling.report import report_told, screen_told

NUMBER = int(os.environ.get("MUTATED", "400"))
LONGEST_S = 5.0  # of processor time for one input
WHOLE = 0.02  # share of the plans that read well whose whole report is made
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
JOULES_PER_KWH = 3.6e6
FOLDER = files("energyplan") / "demo"
DAYS = [(FOLDER / f"{name}.toml").read_text(encoding="utf-8") for name in ("demo", "pale-ale", "sour")]
BREWERY = (FOLDER / "demo-brewery.toml").read_text(encoding="utf-8")
OBEYED = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
BITS = [
    '"\\u001b[31m"',
    "1e999",
    "nan",
    "NaN",
    "-inf",
    "[[step]]",
    "[vessel]",
    'uses = "x.toml"',
    '"5 kg"',
    '"1,500 W"',
    "-1",
    '""',
    "[]",
    "{}",
    '"add grain: 3 kg"',
    "true",
    "\x00",
    "\x1b[31m",
    "é",
    "= =",
    '"\u202e"',
    "\u2066",
    "\ud800",
    "\ufeff",
    ";",
    ",",
    "\t",
    'chill_to = "20 degC"',
    'hold = "40 d"',
    "9" * 400,
    "1e308",
    "-0.0",
    "24:00",
    "2026-02-30",
    "31.12.9999",
    "0001-01-01T00:00",
    "2026-03-29T01:30",
    "=cmd()",
    "<script>",
    "\r",
    "%Y",
    "1_0",
    "0x1F",
    "٣",
    "ct/kWh",
    "MWh",
    "0",
    "100000",
    '[[brewed]]\nplan = "a"\ndate = 2026-01-01\nreadings = { "a" = "1 kWh" }',
    "null",
    "[[[[[[[[",
    "'''",
    '"""',
]
RATE = json.dumps(
    {
        "name": "Invented rate",
        "startdate": 1767225600,
        "enddate": 1798761600,
        "energyratestructure": [
            [{"rate": 0.10, "max": 300, "unit": "kWh"}, {"rate": 0.14}],
            [{"rate": 0.20, "adj": 0.01}],
        ],
        "energyweekdayschedule": [[0] * 12 + [1] * 12] * 12,
        "energyweekendschedule": [[0] * 24] * 12,
        "fixedchargefirstmeter": 10,
        "fixedchargeunits": "$/month",
        "flatdemandstructure": [[{"rate": 5.0}]],
        "flatdemandmonths": [0] * 12,
    },
    indent=1,
)
LISTS = [
    "start;price EUR/MWh\n" + "\n".join(f"2026-12-05T{h:02d}:00;{90 + h},5" for h in range(24)),
    "Zeit;Preis (EUR/MWh)\n" + "\n".join(
        f"05.12.2026 {h:02d}:00 - 05.12.2026 {h + 1:02d}:00;{50 + h},5" for h in range(23)
    ),
    "date,hour,USD/kWh\n" + "\n".join(f"12/05/2026,{h:02d}:00,0.{10 + h}" for h in range(24)),
    "time,price ct/kWh\n"
    + "\n".join(f"2026-12-05T{half // 2:02d}:{half % 2 * 30:02d}:00+01:00,{half}.5" for half in range(48)),
]  # fmt: skip


def _targets() -> Any:
    spec = importlib.util.spec_from_file_location("tests_fuzz_texts", Path(__file__).with_name("targets.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TEXTS = _targets()
TARIFFS = TEXTS.starting_texts("tariff")
METERS = TEXTS.starting_texts("meter")
LOGS = [text for name, text in demo_logs().items() if name != "brew-day"]
DEMO, DEMO_TARIFF = read_plan("demo"), load_tariff("demo")
STEADY = LoadProfile(
    name="Vessel", edges_s=np.array([0.0, 3600.0, 7200.0]), mean_w=np.array([2000.0, 500.0]),
    heater_w_per_v2=np.zeros(2), other_w=np.zeros(2),
)  # fmt: skip


def mutated(text: str, draw: random.Random) -> str:
    """A text with a few things cut, put in, doubled, or replaced."""
    for _ in range(draw.choice((1, 1, 1, 2, 4))):
        text = _changed(text, draw) or " "
    return text


def _changed(text: str, draw: random.Random) -> str:
    how, place = draw.randrange(7), draw.randrange(len(text))
    until = min(len(text), place + draw.randint(1, 40))
    if how < 3:
        between = ("", draw.choice(BITS), text[place:until] * 2)[how]
        return text[:place] + between + text[place if how == 1 else until :]
    if how < 5:
        lines = text.split("\n")
        cut = draw.randrange(len(lines))
        return "\n".join([*lines[:cut], *([draw.choice(lines)] if how == 3 else []), *lines[cut + (how == 4) :]])
    if how == 5:
        return re.sub(r"\d+", lambda n: draw.choice("0179") + "00" if draw.random() < 0.03 else n[0], text)
    values = list(re.finditer(r'[=:,;] ?(".*?"|[\d.]+|true|\[.*\])', text))
    value = draw.choice(values) if values else None
    return text if value is None else text[: value.start(1)] + draw.choice(BITS) + text[value.end(1) :]


def a_day(draw: random.Random, folder: Path) -> None:
    """A plan alone: read, played, checked, priced; some told whole."""
    plan = parse_plan(mutated(draw.choice(list(demo_plans().values())), draw))
    assert parse_plan(plan_to_toml(plan)) == plan
    holds_together(plan, draw)


def a_brewery(draw: random.Random, folder: Path) -> None:
    """A plan and its brewery in files: read, played, written back as they were changed."""
    plan, own = folder / "a.toml", draw.choice(DAYS).replace("demo-brewery", "b")
    _store(plan, mutated(own, draw) if draw.random() < 0.4 else own)
    _store(folder / "b.toml", mutated(BREWERY, draw))
    found = read_plan_files(plan)
    if draw.random() < 0.3:
        after = with_hold_caps(found.plan, {found.plan.steps[0].name: 512.0})
        write_plan(found, after)
        assert read_plan_files(plan).plan == after
    holds_together(found.plan, draw)


def a_link(draw: random.Random, folder: Path) -> None:
    """An address: whatever it says, a plan comes of it."""
    paths = [
        "title",
        "title.x.y",
        "vessel.diameter",
        "vessel.diameter.x.y",
        "batch.water",
        "batch.grain",
        "step.0.hold",
        "step.1.name",
        "step.9.hold",
        "step.-1.hold",
        "step.0.addition.0.left",
        "circuit.breaker",
        "circuit.extension.cable",
        "vessel.element.0.power",
        "site.air",
        "site",
        "step",
        "__class__.x",
        "batch.water.x",
        "vessel.element",
        "hours.earliest",
        "other_load.0.power",
        "tariff",
        "units",
        "start",
        "plan",
        "second_heater.power",
        "supply.tiers",
        "batch.gravity",
    ]
    words = ["30 L", "2 kW", "40 degC", "1 h", "true", "{}", "0.5", "16 A", "1.5 mm2", "1.06", *BITS]
    asked = {draw.choice(paths): mutated(draw.choice(words) or " ", draw) for _ in range(draw.randint(1, 4))}
    found = with_changes(DEMO, asked)
    assert isinstance(found, Plan)
    holds_together(found, draw)


def a_tariff(draw: random.Random, folder: Path) -> None:
    """A tariff, and the list beside it."""
    toml, _, series = mutated(draw.choice(TARIFFS), draw).partition(TEXTS.SEPARATOR)
    prices(parse_tariff(toml, series_texts={TEXTS.SERIES_NAME: series}))


def a_rate(draw: random.Random, folder: Path) -> None:
    """A rate of the open schema becomes a tariff that is read again, or is refused."""
    prices(parse_tariff(import_urdb(mutated(RATE, draw), time_zone="America/Chicago").toml))


def a_list(draw: random.Random, folder: Path) -> None:
    """A list of prices becomes a tariff with the list beside it."""
    found = read_price_list(mutated(draw.choice(LISTS), draw), zone="Europe/Dublin", hints=ListHints())
    currency = currency_of_unit(found.reading.unit) or "EUR"
    terms = ListTerms(name="By the list", currency=currency, time_zone="Europe/Dublin")
    prices(parse_tariff(list_tariff_toml(found, terms, "list.csv"), series_texts={"list.csv": found.csv_text()}))


def a_meter(draw: random.Random, folder: Path) -> None:
    """An export of a meter: finite energy in intervals that have a length."""
    log = parse_meter(mutated(draw.choice(METERS), draw), UTC)
    assert np.isfinite(log.kwh).all()
    assert np.isfinite(log.start_s).all()


def a_log(draw: random.Random, folder: Path) -> None:
    """A log: finite temperatures in the order of time; some are fitted."""
    log = parse_log(mutated(draw.choice(LOGS), draw))
    assert np.isfinite(log.temperature_c).all()
    assert (np.diff(log.times_s) > 0).all()
    if draw.random() < 0.1:
        found = calibrate(log, DEMO)
        assert found.rmse_k is None or math.isfinite(found.rmse_k)


KINDS: dict[str, Callable[[random.Random, Path], None]] = {
    "plan": a_day, "brewery": a_brewery, "link": a_link, "tariff": a_tariff, "rate": a_rate, "list": a_list,
    "meter": a_meter, "log": a_log,
}  # fmt: skip


def _store(path: Path, text: str) -> None:
    path.write_bytes(text.encode("utf-8", "surrogatepass"))


def holds_together(plan: Plan, draw: random.Random) -> None:
    """A heat balance that closes, finite numbers, and parts that add up to the whole: heat, energy, money."""
    day = simulate(plan)
    assert day.balance_error < 1e-6
    numbers = [
        *day.trajectory.temperatures_c,
        *day.trajectory.times_s,
        day.energy_kwh,
        day.wort.end_l,
        day.wort.gravity_end,
    ]
    assert np.isfinite(numbers).all()
    parts_kwh = sum(phase.energy_j for phase in day.phases) / JOULES_PER_KWH
    others_kwh = sum(other.energy_kwh for other in day.profiles[1:])
    assert math.isclose(parts_kwh + others_kwh, day.energy_kwh, rel_tol=1e-9, abs_tol=1e-9)
    if day.duration_s > 40 * 86400:
        return
    if draw.random() < WHOLE:
        told_whole(answer(plan, DEMO_TARIFF, START))
        return
    if plan.circuit is not None:
        checked = check(on_the_circuit(plan, day.profiles), plan.circuit, plan.other_loads, START, UTC)
        assert math.isfinite(checked.peak_a)
    adds_up(day, DEMO_TARIFF)


def adds_up(day: BrewDay, tariff: Tariff) -> None:
    """Money of the phases and of what runs beside them is the day's money, to the last unit."""
    line = price_line_around(tariff, START - timedelta(days=3), START + timedelta(seconds=day.duration_s + 3600))
    total, vessel = price(day.profiles, line, START), price(day.profiles[0], line, START)
    parts = sum(vessel.between(phase.start_s, phase.end_s).units for phase in day.phases)
    beside = total.total.units - vessel.total.units
    assert parts + beside == total.total.units
    assert sum(band.cost.units for band in total.bands) == total.total.units


def told_whole(found: Answer) -> None:
    """The whole report as a document: no number that is none, nothing that a terminal would obey, costs that add up."""
    told = document(report_told(found))
    assert not OBEYED.search(json.dumps(told, allow_nan=False, default=str))
    page = io.StringIO()
    Console(file=page, width=80, color_system=None).print(screen(screen_told(found)))
    assert not OBEYED.search(page.getvalue())
    costs = [row["cost"] for row in (*told["phases"], *told["appliances"]) if row["cost"] is not None]
    assert math.isclose(math.fsum(costs), told["totals"]["cost"], abs_tol=1e-6 + 1e-9 * abs(told["totals"]["cost"]))


def prices(tariff: Tariff) -> None:
    """Two hours of a load on a tariff: parts that add up, where there is a price."""
    begin = datetime(2026, 12, 5, 11, tzinfo=UTC)
    if (listed := tariff.series.get("prices")) is not None:
        begin = from_utc_s(int(listed.steps()[0][0]))
    elif tariff.table.valid_from is not None:
        begin = datetime.combine(tariff.table.valid_from, clock(11), zone_of(tariff.time_zone))
    line = price_line(tariff, begin.date() - timedelta(days=1), begin.date() + timedelta(days=2))
    found = price(STEADY, line, begin)
    halves = found.between(0, 3600).units + found.between(3600, 7200).units
    assert halves == found.total.units
    assert sum(band.cost.units for band in found.bands) == found.total.units


def inputs(number: int) -> Iterator[tuple[str, random.Random]]:
    """Kinds in turn, each with its own numbers."""
    for place in range(number):
        yield list(KINDS)[place % len(KINDS)], random.Random(place)  # noqa: S311 - no secret


def test_mutated_inputs_are_refused_in_plain_words_or_go_through(tmp_path: Path) -> None:
    """No traceback, no hang, no number that is none, no character that is obeyed, no part that doesn't add up."""
    through, slowest = Counter[str](), (0.0, "")
    for place, (kind, draw) in enumerate(inputs(NUMBER)):
        begin_s = time.process_time()
        try:
            KINDS[kind](draw, tmp_path)
            through[kind] += 1
        except EnergyPlanError as error:
            said = str(error)
            assert not OBEYED.search(said.replace(str(tmp_path), "")), (place, kind, said)
            assert 0 < len(said) < 100_000
        except Exception as error:  # noqa: BLE001 - whatever else comes out is what is looked for
            pytest.fail(f"input {place}, a {kind}: {type(error).__name__}: {error}")
        slowest = max(slowest, (time.process_time() - begin_s, f"input {place}, a {kind}"))
        assert slowest[0] < LONGEST_S, slowest
    assert all(through[kind] > NUMBER / len(KINDS) / 50 for kind in KINDS), through
    print(NUMBER, "inputs:", dict(through), "went through; the slowest took", slowest)  # noqa: T201 - for whoever asks
