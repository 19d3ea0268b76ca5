"""Three days of our own, each walked from the plan to the meter with the commands that a brewer would use.

A small kitchen on 120 V, a cold garage on a long lead with an element made for 240 V, a 65 litre vessel on three
phases that is brewed in twice. Structure and laws only: no figure of ours is pinned.
"""

import csv
import io
import json
import sys
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest

from energyplan.cli import main
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.file import read_plan

FOLDER = Path(__file__).parent
DAYS = ("small_kitchen", "cold_garage", "two_batches")
START = ("--start", "2026-12-05T08:30")
METER_FRAC = 1.04  # the vessel of the meter takes so much more than planned

Ask = Callable[..., str]


def files_of(name: str) -> tuple[str, tuple[str, str]]:
    """The plan's path and the option of its tariff."""
    return str(FOLDER / f"{name}.toml"), ("--tariff", str(FOLDER / f"{name}_tariff.toml"))


@pytest.fixture
def ask(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Run a command that must be answered, and give what it printed."""

    def call(*arguments: str) -> str:
        monkeypatch.setattr(sys, "argv", ["energyplan", *arguments])
        monkeypatch.setenv("COLUMNS", "80")
        code: object = 0
        try:
            main()
        except SystemExit as stop:
            code = stop.code
        out, err = capsys.readouterr()
        assert not code, err
        return out

    return call


def document(ask: Ask, *arguments: str) -> Any:
    """The JSON document of a command."""
    return json.loads(ask(*arguments, "--json"))


def day_of(name: str) -> BrewDay:
    """The simulated day."""
    return simulate(read_plan(files_of(name)[0]))


def measured_day(day: BrewDay) -> str:
    """A log of the day as a thermometer (0.2 K of noise) and a plug-in meter would have read it, minute by minute."""
    rng = np.random.default_rng(5)
    minutes = np.arange(0, day.duration_s / 60 + 1)
    shown_c = np.interp(60 * minutes, day.trajectory.times_s, day.trajectory.temperatures_c)
    shown_c = np.round(shown_c + rng.normal(0, 0.2, minutes.size), 1)
    vessel = day.profiles[0]
    upto_j = np.concatenate([[0.0], np.cumsum(vessel.mean_w * np.diff(vessel.edges_s))])
    total_kwh = METER_FRAC * np.interp(60 * minutes, vessel.edges_s, upto_j) / 3.6e6
    rows = [f"{m:.0f},{c:.1f},{kwh:.3f}" for m, c, kwh in zip(minutes, shown_c, total_kwh, strict=True)]
    return "\n".join(["time,temperature_c,energy_kwh", *rows])


def cooling(day: BrewDay, loss_w_per_k: float) -> str:
    """A cool-down from 75 °C of the plan's water with the pump on, by Newton's law, with a thermometer's noise."""
    rng = np.random.default_rng(6)
    plan = day.plan
    stored_j_per_k = 4185 * plan.batch.water_l + plan.vessel.own_heat_j_per_k
    minutes, pump_heat_w = np.arange(120), plan.vessel.pump_w * plan.vessel.pump_heat
    ends_c = plan.site.air_c + pump_heat_w / loss_w_per_k
    true_c = ends_c + (75 - ends_c) * np.exp(-60 * minutes * loss_w_per_k / stored_j_per_k)
    return "\n".join(
        ["time,temperature_c", *(f"{m},{c:.1f}" for m, c in enumerate(true_c + rng.normal(0, 0.2, minutes.size)))]
    )


@pytest.mark.parametrize("name", DAYS)
def test_the_report_hangs_together(ask: Ask, name: str) -> None:
    """Phases in order without gaps, parts that add up, a heat balance that closes, a circuit that is judged."""
    plan, tariff = files_of(name)
    told = document(ask, "report", plan, *tariff, *START)
    phases, totals = told["phases"], told["totals"]
    assert all(one["end"] == two["start"] for one, two in pairwise(phases))
    assert sum(phase["energy_kwh"] for phase in phases) + totals["other_kwh"] == pytest.approx(
        totals["energy_kwh"], abs=totals["other_kwh"] + 1e-9
    )
    assert sum(phase["cost"] for phase in phases) == pytest.approx(totals["cost"], rel=0.02)
    assert day_of(name).balance_error < 1e-9
    assert told["circuit"]["findings"]
    assert {row["phase"] for row in told["power"]} == {"hold", "boil"}
    for units in ("metric", "us"):
        text = ask("report", plan, *tariff, *START, "--units", units)
        assert text.startswith(told["plan"]["title"])
        assert "safe" not in text.casefold().split()


@pytest.mark.parametrize("name", DAYS)
def test_every_question_is_answered(ask: Ask, name: str) -> None:
    """Circuit, power, starts, savings, spread, compare, batches, a delayed start: none is a dead end."""
    plan, tariff = files_of(name)
    circuit = document(ask, "circuit", plan, *START)
    assert circuit["enough"]["breaker_a"] > 0
    assert document(ask, "power", plan)
    starts = document(ask, "starts", plan, *tariff, "--from", "2026-12-05", "--to", "2026-12-07", *START)
    assert starts["best"]["cost"] <= starts["now"]["cost"] + 1e-9
    assert starts["best"]["cost"] <= starts["worst"]["cost"]
    assert document(ask, "savings", plan, *tariff, *START)
    spread = document(ask, "spread", plan, *tariff, *START, "--draws", "60")
    assert spread
    assert document(ask, "batches", plan, *tariff, *START)
    other = files_of(DAYS[0] if name != DAYS[0] else DAYS[1])[0]
    assert document(ask, "compare", plan, other)
    for command in (["circuit", plan], ["power", plan], ["savings", plan, *tariff], ["compare", plan, other]):
        assert ask(*command).strip()


@pytest.mark.parametrize("name", DAYS)
def test_the_sheets_are_written(ask: Ask, name: str, tmp_path: Path) -> None:
    """A page for the electrician and the brew day, a calendar, a table, a picture."""
    plan, tariff = files_of(name)
    for ending in ("pdf", "ics", "csv", "svg"):
        ask("sheet", plan, *tariff, *START, "-o", str(tmp_path / f"day.{ending}"))
    words = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "day.pdf").pages)
    day = day_of(name)
    assert day.plan.title in words
    assert (tmp_path / "day.ics").read_text().startswith("BEGIN:VCALENDAR")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "day.csv").read_text(encoding="utf-8"))))
    assert [row["step"] for row in rows[: len(day.phases)]] == [phase.step for phase in day.phases]


@pytest.mark.parametrize("name", DAYS)
def test_from_the_meter_back_to_the_plan(ask: Ask, name: str, tmp_path: Path) -> None:
    """A metered day shows its excess; a cool-down gives the vessel's own loss; the plan with it can be reported."""
    plan, tariff = files_of(name)
    day = day_of(name)
    log, cool, measured = (tmp_path / file for file in ("day.csv", "cool.csv", "measured.toml"))
    log.write_text(measured_day(day))
    beside = document(ask, "compare", plan, "--log", str(log))
    measured_kwh = METER_FRAC * day.profiles[0].energy_kwh
    phases, planned = beside["phases"], iter(phase.step for phase in day.phases)
    assert all(phase["step"] in planned for phase in phases), "in the order of the plan"
    assert phases[-1]["step"] == day.phases[-1].step, "followed to the end"
    assert sum(phase["measured_kwh"] for phase in phases) == pytest.approx(measured_kwh, rel=0.01)
    planted_w_per_k = 1.1 * min(phase.needed_w / (phase.to_c - day.plan.site.air_c) for phase in day.phases[:4])
    cool.write_text(cooling(day, planted_w_per_k))
    found = document(ask, "calibrate", str(cool), "--plan", plan, "--write", str(measured))
    loss = found["heat_loss_w_per_k"]
    assert 0.97 * loss["low"] < planted_w_per_k < 1.03 * loss["high"]
    again = document(ask, "report", str(measured), *tariff, *START)
    assert again["totals"]["energy_kwh"] > 0
    assert read_plan(str(measured)).vessel.heat_loss_w_per_k == pytest.approx(loss["value"], rel=1e-3)


def test_the_kitchen_is_judged_by_the_rules_of_its_code(ask: Ask) -> None:
    """120 V: 80 % for one appliance or 125 % for a continuous load are looked at (NFPA 70, 210.23 and 210.20)."""
    found = document(ask, "circuit", files_of("small_kitchen")[0], *START)
    rules = " ".join(finding["rule"] or "" for finding in found["findings"])
    assert "210.23" in rules or "210.20" in rules
    # 1500 W at 120 V are 12.5 A; the toaster adds 850 W, 7.1 A (P = U I).
    assert found["peak_a"] == pytest.approx((1500 + 15 + 2 + 850) / 120, rel=0.03)


def test_the_garage_gives_less_heat_than_the_plate_says() -> None:
    """An element made for 240 V gives (230/240)^2 of its plate, and less behind a lead (P = U^2 / R)."""
    day = day_of("cold_garage")
    ramp = next(phase for phase in day.phases if phase.phase == "ramp")
    plate_w = 3000.0 * (230 / 240) ** 2
    assert 0.80 * plate_w < ramp.element_j / ramp.duration_s / 0.95 < plate_w


def test_three_phases_share_the_elements(ask: Ask) -> None:
    """Each line carries one of three elements of 3 kW at 230 V: 13.0 A, a third of what one line would carry."""
    plan = files_of("two_batches")[0]
    found = document(ask, "circuit", plan, *START)
    assert found["peak_a"] == pytest.approx(3000 / 230, rel=0.03)


def test_two_batches_in_one_day(ask: Ask) -> None:
    """Twice the wort takes less than twice the energy, for there is one cleaning; it takes twice the hours."""
    plan, tariff = files_of("two_batches")
    told = ask("batches", plan, *tariff, *START, "--kept", "25 L at 55 degC")
    assert "Two on one day" in told
