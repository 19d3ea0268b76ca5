"""The ways to more wort as a DataFrame."""

from typing import TYPE_CHECKING, Any

from energyplan.advice.batchchoices import BatchChoices, BatchRow
from energyplan.base.units import Display, convert
from energyplan.report.tableparts import frame_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["batch_table"]


def batch_table(found: BatchChoices, show: Display) -> "pd.DataFrame":
    """Energy, cost, time, wort and the circuit's verdict of each way; money only where a way has a price."""
    currency = next((row.cost.currency for row in found.rows if row.cost), None)
    checked = any(row.circuit for row in found.rows)
    return frame_of(_row(row, show, currency, checked=checked) for row in found.rows)


def _row(row: BatchRow, show: Display, currency: str | None, *, checked: bool) -> dict[str, Any]:
    money = {} if currency is None else {f"cost_{currency.lower()}": float(row.cost) if row.cost else None}
    volume = {"wort_gal": convert(row.end_l, "L", "gallon")} if show.system == "us" else {"wort_l": row.end_l}
    circuit = {"peak_a": row.circuit.peak_a, "circuit": row.circuit.severity} if row.circuit else {}
    return {
        "way": row.name,
        **money,
        "energy_kwh": row.energy_kwh,
        "energy_per_hl_kwh": row.per_volume.kwh_per_hl,
        **volume,
        "takes_min": row.duration_s / 60,
        **(circuit if checked else {}),
    }
