"""After the brew: the sheet typed back into one table, the house meter's export beside the plan."""

from datetime import UTC, datetime, timedelta
from importlib.resources import files
from typing import Any

import numpy as np
import pandas as pd
import pytest
import streamlit as st

from energyplan.app.storage import BREWED
from energyplan.day.brewday import simulate
from energyplan.plan.file import parse_plan_files
from tests.app.conftest import Visit

Open = Any


def export() -> str:
    """Six weeks of half-hours with 7.5 kWh more on the day of the visit."""
    rng = np.random.default_rng(1)
    begin = datetime(2026, 11, 1, tzinfo=UTC)
    kwh = 0.1 + rng.normal(0, 0.01, 48 * 42)
    kwh[48 * 34 + 17 : 48 * 34 + 27] += 0.75
    rows = [f"{(begin + timedelta(minutes=30 * k)).isoformat()},{value:.3f}" for k, value in enumerate(kwh)]
    return "start,used kWh\n" + "\n".join(rows)


def test_readings_are_one_table_and_are_answered(visit: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """A row for each step; with two totals typed: plan beside meter, cost, cause, what it taught."""
    seen: list[pd.DataFrame] = []

    def editor(frame: pd.DataFrame, **how: Any) -> pd.DataFrame:
        if how.get("key") != "sheet_readings":
            return frame
        seen.append(frame)
        typed = frame.copy()
        typed.loc[typed["step"] == "Strike", "total_kwh"] = 2.2
        typed.loc[typed["step"] == "Boil", "total_kwh"] = 7.0
        return typed

    monkeypatch.setattr(st, "data_editor", editor)
    there: Visit = visit("your-vessel")
    assert list(seen[0]["step"])[:2] == ["Strike", "Saccharification"]
    assert seen[0]["total_kwh"].isna().all()
    assert "The meter counted 7.00 kWh" in there.words
    assert "on the meter cost" in there.words
    assert "from 1 brewed day" in there.words


def test_a_total_that_falls_is_refused(visit: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page says which step's total is lower than the one before."""

    def editor(frame: pd.DataFrame, **how: Any) -> pd.DataFrame:
        typed = frame.copy()
        if how.get("key") == "sheet_readings":
            typed.loc[typed["step"] == "Strike", "total_kwh"] = 20.0
            typed.loc[typed["step"] == "Boil", "total_kwh"] = 7.0
        return typed

    monkeypatch.setattr(st, "data_editor", editor)
    assert "look whether one is mistyped" in visit("your-vessel").words


def test_an_export_shows_the_day_on_the_desk(visit: Open) -> None:
    """The day's kWh above the household's usual; a file that is none says what was looked for."""
    there: Visit = visit("your-vessel")
    there.at.file_uploader(key="meter_file").set_value(("house.csv", export().encode(), "text/csv"))
    there.run()
    assert "above the household's usual" in there.words
    assert "used kWh" in there.words
    there.at.file_uploader(key="meter_file").set_value(("house.csv", b"nothing", "text/csv"))
    there.run()
    assert "This export can't be used" in there.words


def typed(monkeypatch: pytest.MonkeyPatch, totals: dict[str, float]) -> None:
    """Let these totals stand in the table of the sheet."""

    def editor(frame: pd.DataFrame, **how: Any) -> pd.DataFrame:
        there = frame.copy()
        if how.get("key") == "sheet_readings":
            for step, kwh in totals.items():
                there.loc[there["step"] == step, "total_kwh"] = kwh
        return there

    monkeypatch.setattr(st, "data_editor", editor)


def test_a_kept_day_teaches_and_comes_back(visit: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """Typed, kept, learned: the year's table, the ranges of the day, of its people and its powers; after a reload too.

    Forgotten, or undone, it teaches no more.
    """
    typed(monkeypatch, {"Strike": 2.2, "Boil": 7.0})
    there: Visit = visit("your-vessel")
    assert "Brewed so far" not in there.words
    there.at.text_input(key="noted_air").set_value("9 degC")
    there.run()
    there.click("keep_brewed")
    assert "Brewed so far" in there.words
    assert "1 brewed day: 7.00 kWh metered" in there.words
    assert there.at.button(key="keep_brewed").disabled
    kept = {name: text for name, text in there.at.session_state["storage"].texts().items() if name.startswith(BREWED)}
    (text,) = kept.values()
    assert "9" in text
    later: Visit = visit(kept=there.at.session_state["storage"].texts())
    assert [one.day.air_c for one in later.work.lying.brewed] == [pytest.approx(9.0)]
    assert "from 1 brewed day" in later.words
    later.go("power")
    assert "from 1 brewed day" in later.words
    later.go("your-vessel")
    later.click("forget_brewed_0")
    assert later.work.lying.brewed == ()
    assert "Brewed so far" not in later.words
    later.click("undo")
    assert len(later.work.lying.brewed) == 1


def test_days_of_another_vessel_teach_nothing(visit: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """Kept with the demo's vessel, they say nothing about lakeside's; what can't be read is left aside."""
    typed(monkeypatch, {"Boil": 7.0})
    there: Visit = visit("your-vessel")
    there.click("keep_brewed")
    texts = there.at.session_state["storage"].texts()
    other: Visit = visit(kept=texts, plan="lakeside")
    assert len(other.work.lying.brewed) == 1
    assert "brewed day" not in other.words
    (name,) = (name for name in texts if name.startswith(BREWED))
    broken: Visit = visit(kept={**texts, name: texts[name].replace("7 kWh", "7 kg")})
    assert broken.work.lying.brewed == ()


@pytest.mark.parametrize(("key", "text"), [("noted_air", "9 kWh"), ("noted_boil_began", "noon")])
def test_what_was_noted_must_make_sense(visit: Open, monkeypatch: pytest.MonkeyPatch, key: str, text: str) -> None:
    """The entry is named."""
    typed(monkeypatch, {"Boil": 7.0})
    there: Visit = visit("your-vessel")
    there.at.text_input(key=key).set_value(text)
    there.run()
    assert "These readings can't be used" in there.words
    assert key.removeprefix("noted_") in there.words


def packaged(*names: str) -> list[tuple[str, bytes, str]]:
    """Packaged files as somebody uploads them."""
    folder = files("energyplan") / "demo"
    return [(name, (folder / name).read_bytes(), "application/toml") for name in names]


def comments(text: str) -> set[str]:
    """All comments of a file."""
    return {line[line.index("#") :] for line in text.splitlines() if "#" in line}


def test_three_days_of_a_brewery_go_round_in_the_app(visit: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan, readings, learned, saved: three days uploaded with their brewery, typed back, kept; the files read back.

    Each file keeps its comments, the plan its `uses`; the brewery has the brewed days.
    """
    there: Visit = visit("your-vessel")
    for day, name in enumerate(("demo.toml", "pale-ale.toml", "sour.toml"), start=1):
        there.at.file_uploader(key="plan_file").set_value(packaged(name, "demo-brewery.toml"))
        there.run()
        there.work.start_at(datetime(2026, 11, day, 8, 30))  # noqa: DTZ001 - the wall's
        vessel_kwh = sum(phase.energy_j for phase in simulate(there.work.plan).phases) / 3.6e6
        typed(monkeypatch, {there.work.plan.steps[-1].name: round(1.02 * vessel_kwh, 2)})
        there.run()
        there.click("keep_brewed")
    assert "3 brewed days" in there.words
    there.go("")
    assert "from 3 brewed days" in there.words
    saved = {name: there.work.file_text(name) for name in there.work.file_names}
    assert list(saved) == ["sour.toml", "demo-brewery.toml"]
    for name, text in saved.items():
        assert comments(text) == comments(packaged(name)[0][1].decode())
    found = parse_plan_files(saved["sour.toml"], source="sour.toml", beside=saved)
    assert found.plan == there.work.plan
    assert [day.plan for day in found.brewery.brewed] == ["demo.toml", "pale-ale.toml", "sour.toml"]
    again: Visit = visit()
    given = [(name, text.encode(), "application/toml") for name, text in saved.items()]
    again.at.file_uploader(key="plan_file").set_value([*given, *packaged("demo.toml", "pale-ale.toml")])
    again.run()
    assert [one.day.date.day for one in again.work.lying.brewed] == [1, 2, 3]
    assert "from 3 brewed days" in again.words


def test_what_is_saved_keeps_comments_and_spelling(visit: Open) -> None:
    """A packaged day with a changed entry: the text is still that of its file."""
    there: Visit = visit("batch", **{"batch.water": "26 L"})
    text = there.work.file_text(*there.work.file_names)
    assert "# for days with sparge water" in text
    assert 'water = "26 L"' in text
    assert 'cable = "2.5 mm2"' in text
