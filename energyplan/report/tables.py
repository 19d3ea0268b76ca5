"""Results as DataFrames: what charts draw, what the app shows as tables, what a CSV holds.

Column names end in their unit (``energy_kwh``, ``lowest_c``, ``cost_eur``); `heading` turns them into what
people read. Times are seconds since the start of the day, with the local clock beside them as text.
"""

from energyplan.report.choicetables import (
    driver_table,
    power_table,
    ramp_table,
    range_table,
    sag_table,
    savings_table,
    waterfall_table,
)
from energyplan.report.circuittables import current_table, excess_table, finding_table, rating_table, voltage_table
from energyplan.report.daytables import (
    appliance_table,
    event_table,
    first_second,
    hour_table,
    phase_table,
    price_table,
    temperature_table,
    vessel_table,
)
from energyplan.report.measuredtables import fit_table, measured_table
from energyplan.report.peopletables import clock_table, fact_table, presence_table, room_table
from energyplan.report.tableparts import heading

__all__ = [
    "appliance_table",
    "clock_table",
    "current_table",
    "driver_table",
    "event_table",
    "excess_table",
    "fact_table",
    "finding_table",
    "first_second",
    "fit_table",
    "heading",
    "hour_table",
    "measured_table",
    "phase_table",
    "power_table",
    "presence_table",
    "price_table",
    "ramp_table",
    "range_table",
    "rating_table",
    "room_table",
    "sag_table",
    "savings_table",
    "temperature_table",
    "vessel_table",
    "voltage_table",
    "waterfall_table",
]
