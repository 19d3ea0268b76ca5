"""What knowing each uncertain input narrows, as a DataFrame."""

from typing import TYPE_CHECKING

from energyplan.advice.value_of_information import WhatToMeasure
from energyplan.report.tableparts import frame_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["narrowing_table"]

NAMES = {"energy_kwh": "energy", "cost": "cost", "hold_cap_w": "hold_cap"}


def narrowing_table(found: WhatToMeasure) -> "pd.DataFrame":
    """A row for each input, what narrows most first: share of the range that goes once it is measured [%]."""
    names = {row.input: row.name for rows in found.outputs.values() for row in rows}
    shares = {
        key: {row.input: 100 * row.narrows_frac for row in rows} for key, rows in found.outputs.items() if key in NAMES
    }
    order = sorted(names, key=lambda one: -sum(by_input[one] for by_input in shares.values()))
    return frame_of(
        {"input": names[one], **{f"{NAMES[key]}_percent": by_input[one] for key, by_input in shares.items()}}
        for one in order
    )
