"""The list of facts before a vessel heats with nobody there, on the terminal and as JSON."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.unattended import FACT_KEYS, UnattendedCheck
from energyplan.report.sentences import CAUTIONS
from energyplan.report.tableparts import frame_of
from energyplan.tariffs.clock import to_local

__all__ = ["fact_table", "unattended_document", "unattended_sentence", "unattended_text"]

if TYPE_CHECKING:
    import pandas as pd

Document = dict[str, Any]
HOW = 'Answer with --yes WORD or --no WORD, the limit with --limit "3 kWh".'
NOT_SEEN = (
    "Nothing here sees the vessel. Being there when it heats is the better way; the instructions, your insurer and "
    "local rules decide whether it may run alone at all."
)


def fact_table(found: UnattendedCheck) -> "pd.DataFrame":
    """The facts that must hold before a vessel heats with nobody there."""
    return frame_of(
        {"fact": fact.words, "state": fact.state, "why": fact.why, "word": fact.key} for fact in found.facts
    )


def unattended_sentence(found: UnattendedCheck) -> str:
    """Whether it is refused, and for how many reasons."""
    if found.result == "refuse":
        return f"Refused: {len(found.reasons)} of {len(found.facts)} facts are unknown or do not hold."
    return f"No objection found: all {len(found.facts)} facts hold, by your word and by the plan."


def unattended_text(found: UnattendedCheck, start: datetime, zone: str) -> RenderableType:
    """The answer, the stretch without hands, the list."""
    first, until = to_local(start, zone), to_local(start + timedelta(seconds=found.until_s), zone)
    stretch = (
        f"Heating with nobody there from {first:%a %H:%M} to {until:%a %H:%M}: {found.energy_kwh:.2f} kWh as planned, "
        f"and {found.power_after_w:.0f} W on and on if nobody comes."
    )
    table = Table(box=None, padding=(0, 1, 0, 0), show_edge=False, show_header=False)
    for heading in ("state", "word", "fact"):
        table.add_column(heading, overflow="fold", no_wrap=heading != "fact")
    for fact in found.facts:
        style = "" if fact.state == "yes" else "bold"
        table.add_row(Text(fact.state, style=style), fact.key, Text(f"{fact.words} ({fact.why})", style=style))
    asked = [Text(HOW, style="dim")] if any(fact.key in FACT_KEYS for fact in found.reasons) else []
    cautions = (Text(words, style="dim") for words in (NOT_SEEN, *CAUTIONS))
    return Group(Text(unattended_sentence(found), style="bold"), Text(stretch), "", table, "", *asked, *cautions)


def unattended_document(found: UnattendedCheck, start: datetime, zone: str) -> Document:
    """The document of ``unattended --json``."""

    def at(seconds: float) -> str:
        moment = to_local(start + timedelta(seconds=seconds), "UTC")
        return moment.isoformat(timespec="seconds").replace("+00:00", "Z")

    return {
        "result": found.result,
        "start": at(0.0),
        "until": at(found.until_s),
        "time_zone": zone,
        "energy_kwh": found.energy_kwh,
        "power_after_w": found.power_after_w,
        "water_depth_m": found.water_depth_m,
        "facts": [
            {"fact": fact.key, "state": fact.state, "words": fact.words, "why": fact.why} for fact in found.facts
        ],
        "reasons": [fact.key for fact in found.reasons],
    }
