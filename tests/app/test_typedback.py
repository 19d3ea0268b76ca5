"""After the brew: the sheet typed back into one table, the house meter's export beside the plan."""

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
import streamlit as st

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
