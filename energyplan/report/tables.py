"""Results as DataFrames: what charts draw, what the app shows as tables, what a CSV holds.

Column names end in their unit (``energy_kwh``, ``lowest_c``, ``cost_eur``); `heading` turns them into what
people read. Times are seconds since the start of the day, with the local clock beside them as text.
"""

from energyplan.report.circuittables import current_table, excess_table, rating_table
from energyplan.report.tableparts import heading

__all__ = [
    "current_table",
    "excess_table",
    "heading",
    "rating_table",
]
