"""Colours that mean the same everywhere: terminal, charts, sheets, app."""

PHASE_COLOURS = {"ramp": "#C8553D", "hold": "#2F6690", "boil": "#7A4FA3", "pause": "#9AA5AB", "chill": "#2A8C7E"}
PHASE_COLOURS_DARK = {"ramp": "#F08A72", "hold": "#7DB6E3", "boil": "#C09BE3", "pause": "#A9B4BA", "chill": "#74D3C4"}
SEVERITY_COLOURS = {"over": "#B3261E", "unknown": "#3D4F7D", "note": "#8A5A00", "ok": "#1B1B1B"}
SEVERITY_STYLES = {"over": "bold #D9534A", "note": "#C08A1E", "ok": ""}
