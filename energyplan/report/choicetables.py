"""What can be chosen, as DataFrames: powers, caps and their sag, starts."""

from typing import TYPE_CHECKING, Any

from energyplan.advice.holds import SagCurve
from energyplan.advice.power import PowerAdvice
from energyplan.report.tableparts import frame_of, temperature_key
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.starts import StartSearch, hour_costs
from energyplan.units import Display

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["best_start_table", "hour_cost_table", "power_table", "sag_table", "start_marks"]


def power_table(advice: PowerAdvice, show: Display) -> "pd.DataFrame":
    """Set, needed and advised power of every hold and boil, with the lowest temperature in the worst case."""
    key = temperature_key(show)
    return frame_of(
        {
            "step": row.step,
            "phase": row.phase,
            f"target_{key}": show.temperature_number(row.target_c),
            "set_w": row.set_w,
            "needed_w": row.needed_w,
            "advised_w": row.advised_w,
            f"lowest_as_set_{key}": show.temperature_number(row.set_lowest_c),
            f"lowest_as_advised_{key}": show.temperature_number(row.lowest_c),
            "change_kwh": row.energy_change_kwh,
            "current_freed_a": row.current_freed_a,
        }
        for row in advice.rows
    )


def sag_table(curve: SagCurve, show: Display) -> "pd.DataFrame":
    """Lowest temperature of a hold against its cap."""
    return frame_of(
        {
            "cap_w": float(cap_w),
            f"lowest_{temperature_key(show)}": float(show.temperature_number(float(lowest_c))),
            "outside_band_min": float(outside_min),
        }
        for cap_w, lowest_c, outside_min in zip(curve.caps_w, curve.lowest_c, curve.outside_band_min, strict=True)
    )


def hour_cost_table(search: StartSearch) -> "pd.DataFrame":
    """Cheapest allowed start of each local hour; the cost is empty where none is allowed."""
    column = f"cost_{search.currency.lower()}"
    seen: dict[tuple[Any, int], dict[str, Any]] = {}
    for cell in hour_costs(search):
        cost = None if cell.cost is None else float(cell.cost)
        row = {"day": f"{cell.day:%a %d %b}", "order": cell.day.toordinal(), "hour": cell.hour, column: cost}
        before = seen.setdefault((cell.day, cell.hour), row)
        # An hour that the clock shows twice is one cell: the cheaper of both.
        if cost is not None and (before[column] is None or cost < before[column]):
            before[column] = cost
    return frame_of(seen.values(), ("day", "order", "hour", column))


def start_marks(search: StartSearch) -> "pd.DataFrame":
    """Cells of the heat map that are marked: the best start, and the one asked about."""
    marks = [("best start", search.best)] + ([("your start", search.now)] if search.now else [])
    rows = []
    for text, option in marks:
        local = to_local(option.start, search.zone)
        rows.append({"day": f"{local:%a %d %b}", "hour": local.hour, "text": text})
    shown = {cell["day"] for cell in hour_cost_table(search)[["day"]].to_dict("records")}
    return frame_of((row for row in rows if row["day"] in shown), ("day", "hour", "text"))


def best_start_table(search: StartSearch) -> "pd.DataFrame":
    """Best allowed start of each local day."""
    rows, column = [], f"cost_{search.currency.lower()}"
    for option in search.best_per_day:
        local = to_local(option.start, search.zone)
        row: dict[str, Any] = {"day": f"{local:%a %d %b}", "start_clock": f"{local:%H:%M}", column: float(option.cost)}
        rows.append(row if option.carbon_g is None else {**row, "carbon_g": option.carbon_g})
    return frame_of(rows)
