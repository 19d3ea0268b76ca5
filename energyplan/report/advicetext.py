"""Advice on the terminal: savings, ranges, comparisons, the best plan; boil and ramps. At most 80 columns wide."""

from collections.abc import Iterable, Iterator
from datetime import datetime, tzinfo

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.boil import BoilAdvice, BoilOutcome
from energyplan.advice.holds import SagCurve
from energyplan.advice.ramps import RampAdvice
from energyplan.advice.uncertainty import Range, Spread
from energyplan.advice.value_of_information import WhatToMeasure, what_to_measure
from energyplan.base.units import Display
from energyplan.telling.findings import FindingTeller

__all__ = ["boil_text", "ramp_text", "sag_text", "spread_text"]

BAR_CELLS = 24
SAG_ROWS = 12


def _heading(words: str) -> Text:
    return Text(words, style="bold underline")


def _dim(sentences: Iterable[str]) -> list[Text]:
    return [Text(sentence, style="dim") for sentence in sentences]


def _table(*columns: str, left: int = 1) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place < left else "right", overflow="fold")
    return table


def _signed(value: float, digits: int) -> str:
    """A number with its sign, and no minus on a zero."""
    text = f"{value:+.{digits}f}"
    return text.replace("-", "+") if float(text) == 0 else text


# Ranges -------------------------------------------------------------------------------------------------------


def spread_text(found: Spread, show: Display) -> RenderableType:
    """Ranges, what drives them, and how likely something goes wrong."""
    table = _table("", "unit", "as planned", "1 in 10 below", "half below", "1 in 10 above", left=2)
    for row in found.ranges:
        table.add_row(*_range_cells(row, show))
    return Group(
        _heading(f"Ranges from {found.draws} days with uncertain inputs"),
        table,
        "",
        *_driver_bars(found),
        *_chance_lines(found),
        *_measure_next(found),
        *_dim(f"{item.name}: {item.why}." for item in found.uncertainties),
        *_dim([f"Every value in a range is taken as equally likely. Seed {found.seed}."]),
    )


def _range_cells(row: Range, show: Display) -> tuple[str, ...]:
    values = (row.planned, row.p10, row.p50, row.p90)
    digits = {"energy_kwh": 2, "cost": 2, "minutes": 0}.get(row.key, 1)
    if row.key == "lowest_mash_c":
        return (row.name, show.temperature_unit, *(f"{show.temperature_number(value):.1f}" for value in values))
    if row.key == "end_volume_l":
        shown = [show.volume(value).split() for value in values]
        return (row.name, shown[0][1], *(number for number, _ in shown))
    return (row.name, row.unit, *(f"{value:.{digits}f}" for value in values))


def _driver_bars(found: Spread) -> Iterator[RenderableType]:
    """Rank correlations of each number that varies, as bars."""
    for row in found.ranges:
        strong = [driver for driver in row.drivers if abs(driver.correlation) >= 0.05]
        if not strong:
            continue
        table = _table(f"{row.name}: driven by", "", "rank correlation", left=2)
        for driver in strong:
            bar = "█" * max(round(abs(driver.correlation) * BAR_CELLS), 1)
            table.add_row(driver.name, bar, _signed(driver.correlation, 2))
        yield table
        yield ""


def _chance_lines(found: Spread) -> Iterator[Text]:
    words = {
        "sag": "{name}: sags more than {band:g} K below its target",
        "boil": "{name}: stops boiling",
        "over": "{name}: more than 2 % over its rating while elements are on",
    }
    for chance in found.chances:
        said = words[chance.kind].format(name=chance.name, band=found.band_k)
        yield Text(f"{_percent(chance.frac):>6} {said}", style="" if chance.frac > 0 else "dim")
    if found.failed_frac > 0:
        yield Text(
            f"{_percent(found.failed_frac):>6} can't be brewed at all, and are left out of the ranges:", style="bold"
        )
        for failure in found.failures:
            yield Text(f"       {failure.draws} of {found.draws}: {failure.message}")
    yield Text("")


def _measure_next(found: Spread) -> Iterator[RenderableType]:
    """What knowing each input would narrow, and how the best of them is measured."""
    ranked = what_to_measure(found)
    keys = [key for key in ranked.outputs if key != "cost" or _differs(ranked)]
    table = _table("Once measured, narrows", *(found.range_of(key).name for key in keys), left=1)
    for item in sorted(found.uncertainties, key=lambda item: item is not ranked.best):
        rows = [row for key in keys for row in ranked.outputs[key] if row.input == item.input]
        table.add_row(item.name, *(f"{row.narrows_frac:.0%}" for row in rows))
    yield table
    if not ranked.helps:
        yield Text("Every input is known as well as it can be measured.")
        return
    yield Text(f"Measure next: {ranked.best.measure}. {ranked.best.how}")


def _differs(ranked: WhatToMeasure) -> bool:
    """Whether cost narrows otherwise than energy does, by a point of a hundred or more."""
    energy = {row.input: row.narrows_frac for row in ranked.outputs["energy_kwh"]}
    return any(abs(row.narrows_frac - energy[row.input]) >= 0.01 for row in ranked.outputs.get("cost", ()))


def _percent(frac: float) -> str:
    if 0 < frac < 0.001:
        return "<0.1 %"
    return f"{100 * frac:.1f} %" if 0 < frac < 1 else f"{100 * frac:.0f} %"


# Boil, ramps, holds -------------------------------------------------------------------------------------------


def boil_text(found: BoilAdvice, show: Display) -> RenderableType:
    """Powers of a boil, and what follows from the one advised."""
    power = found.power
    lids = _table("Lowest power that boils, W", "as planned", "worst case")
    for lid in found.lids:
        lids.add_row(
            f"lid {lid.lid}",
            f"{lid.least_w:.0f}" + ("" if lid.boils else " (too much)"),
            f"{lid.worst_least_w:.0f}" + ("" if lid.boils_at_worst else " (too much)"),
        )
    unit = show.volume(1.0).split()[1]
    table = _table("", "W", f"steam {unit}", f"{unit}/h", f"end {unit}", "gravity", f"water {unit}", "kWh")
    outcomes = [("as set", found.as_set), ("as advised", found.as_advised)]
    if found.restored is not None:
        outcomes.append(("advised, end volume kept", found.restored))
    for name, outcome in outcomes:
        table.add_row(name, *_outcome_cells(outcome, show))
    return Group(
        _heading(f"{power.step}: which power"),
        lids,
        "",
        table,
        Text(
            f"Advised: {power.advised_w:.0f} W ({found.evaporation.words} would take {power.wanted_w:.0f} W, a rolling "
            f"boil {power.rolling_w:.0f} W). It saves {found.saved_kwh:.2f} kWh and {show.volume(found.saved_l)} of "
            "water."
        ),
        Text(f"{found.fill_frac:.0%} full as it comes to the boil, {show.length(found.headspace_m)} below the rim."),
        *(Text(note) for note in found.notes),
        *_dim(["Volumes cold, at 20 °C (68 °F). kWh of the whole day."]),
    )


def _outcome_cells(outcome: BoilOutcome, show: Display) -> tuple[str, ...]:
    def litres(value_l: float) -> str:
        return show.volume(value_l).split()[0]

    return (
        f"{outcome.power_w:.0f}" + ("" if outcome.boils else " (stops)"),
        litres(outcome.evaporated_l),
        litres(outcome.evaporated_l_per_h),
        litres(outcome.end_l),
        f"{outcome.gravity_end:.3f}",
        litres(outcome.water_l),
        f"{outcome.day_kwh:.2f}",
    )


def ramp_text(found: RampAdvice, zone: tzinfo) -> RenderableType:
    """The fastest ramps that keep every rating at their time of day."""
    table = _table("Ramp", "from", "set W", "fastest W", "taken W", "min", "a step less: W", "min", left=2)
    for row in found.rows:
        moment = datetime.fromtimestamp(found.start.timestamp() + row.start_s, tz=zone)
        table.add_row(
            row.step,
            f"{moment:%H:%M}",
            f"{row.set_w:.0f}",
            "none" if row.fastest_w is None else f"{row.fastest_w:.0f}",
            f"{row.taken_w:.0f}",
            f"{row.taken_min:.0f}",
            f"{row.less_w:.0f}" if row.less_w > 0 else "",
            "stalls"
            if row.less_min is None and row.less_w > 0
            else f"{row.less_min or 0:.0f}"
            if row.less_w > 0
            else "",
        )
    over = [Text(f"Over: {told.said}", style="bold") for told in FindingTeller(found.start, zone).all(found.over_after)]
    ways = [
        Text(
            f"Way out: {way.words} {_signed(way.added_min, 0)} min, {_signed(way.added_kwh, 2)} kWh"
            + (f"; still over: {', '.join(way.over)}." if way.over else "; then within the ratings you entered.")
        )
        for way in found.ways_out
    ]
    change = f"Against the powers set: {_signed(found.added_min, 0)} min, {_signed(found.added_kwh, 2)} kWh."
    return Group(_heading("Ramps on this circuit"), table, Text(change), *over, *ways, *_dim(found.notes))


def sag_text(curve: SagCurve, show: Display) -> RenderableType:
    """Lowest temperature of a hold against its cap."""
    table = _table("cap W", f"lowest {show.temperature_unit}", "outside the band, min", left=0)
    every = max(len(curve.caps_w) // SAG_ROWS, 1)
    for cap_w, lowest_c, outside_min in zip(
        curve.caps_w[::every], curve.lowest_c[::every], curve.outside_band_min[::every], strict=True
    ):
        table.add_row(f"{cap_w:.0f}", f"{show.temperature_number(lowest_c):.1f}", f"{outside_min:.0f}")
    knee = (
        "No cap keeps the target: all elements together give too little."
        if curve.knee_w is None
        else f"From {curve.knee_w:.0f} W on it keeps {show.temperature(curve.target_c)} "
        f"(worst plausible case, unless told otherwise); from {curve.band_w or curve.knee_w:.0f} W on it stays within "
        f"{show.difference(curve.band_k)} for its {curve.hold_min:.0f} min."
    )
    return Group(_heading(f"{curve.step}: how low it sags"), table, Text(knee))
