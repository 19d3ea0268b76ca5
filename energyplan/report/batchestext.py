"""Bigger and more batches on the terminal and as JSON."""

from collections.abc import Iterator
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.batchchoices import BatchChoices, BatchRow
from energyplan.advice.batches import SizedBatch, TwoBatches
from energyplan.base.units import Display
from energyplan.report.plainvalues import plain
from energyplan.report.sentences import RATINGS_CAUTION

__all__ = ["batch_sentences", "batches_document", "batches_text"]


def batches_text(found: BatchChoices, show: Display) -> RenderableType:
    """The ways side by side, then what is to be known of each."""
    return Group(
        _heading("One batch, a bigger one, or two on one day"),
        _table(found.rows, show),
        Text("Volumes of wort after the boil, cold; the beer that is packaged is less.", style="dim"),
        "",
        *(Text(line) for line in batch_sentences(found, show)),
        Text(RATINGS_CAUTION, style="dim"),
    )


def batch_sentences(found: BatchChoices, show: Display) -> Iterator[str]:
    """What is to be known of each way; lines that go on with the one before begin with a space."""
    yield from _bigger(found.bigger, show)
    yield from _two(found)
    yield from _chiller(found, show)
    yield from _fermentation(found)


def _heading(words: str) -> Text:
    return Text(words, style="bold underline")


def _table(rows: tuple[BatchRow, ...], show: Display) -> Table:
    currency = next((row.cost.currency for row in rows if row.cost), None)
    volume = show.volume(1.0).split()[1]
    money = [currency, f"{currency}/{volume}"] if currency else []
    checked = any(row.circuit for row in rows)
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    table.add_column("", overflow="fold")
    for name in ("kWh", *money, "h", volume, "kWh/hL", *(["A", "circuit"] if checked else [])):
        table.add_column(name, justify="right", overflow="fold")
    for row in rows:
        table.add_row(row.name, *_cells(row, show, priced=bool(money), checked=checked))
    return table


def _cells(row: BatchRow, show: Display, *, priced: bool, checked: bool) -> Iterator[str]:
    yield f"{row.energy_kwh:.2f}"
    if priced:
        per_l = row.per_volume.cost_per_l
        shown = row.end_l / float(show.volume(row.end_l).split()[0]) if row.end_l else 1.0
        yield f"{float(row.cost):.2f}" if row.cost else "no price"
        yield f"{per_l * shown:.3f}" if per_l is not None else ""
    yield f"{row.duration_s / 3600:.1f}"
    yield show.volume(row.end_l).split()[0]
    yield f"{row.per_volume.kwh_per_hl:.1f}"
    if checked:
        yield f"{row.circuit.peak_a:.1f}" if row.circuit else ""
        yield row.circuit.severity if row.circuit else ""


def _bigger(bigger: SizedBatch, show: Display) -> Iterator[str]:
    name = f"{show.volume(bigger.end_l)} in one batch ({bigger.times:.2f} times the planned one)"
    if bigger.day is None:
        yield f"{name} can't be brewed here: {bigger.why_not}"
        return
    batch = bigger.day.plan.batch
    sparge = f" and {show.volume(batch.sparge_water_l)} to sparge with" if batch.sparge_water_l else ""
    yield f"{name}: {show.volume(batch.water_l)} of water, {show.mass(batch.grain_kg)} of grain{sparge}."
    yield from (f" {note}" for note in bigger.notes)
    if bigger.why_not:
        yield f" More does not go: {bigger.why_not}"


def _two(found: BatchChoices) -> Iterator[str]:
    two, once = found.two, found.rows[0].circuit
    once_only = len(two.first.plan.steps) < len(two.second.plan.steps)
    cleaned = ", with one cleaning at the end" if once_only else ""
    yield (
        f"Two on one day: {two.energy_kwh:.2f} kWh instead of {two.apart_kwh:.2f} on two days{cleaned}; the second "
        f"begins {_hours(two.second_s)} after the first."
    )
    in_all_s, stretch_s = two.heating_s
    yield (
        f" Elements are on for {_hours(in_all_s)}, pulses counted, and for {_hours(stretch_s)} at a stretch that no "
        "quarter of an hour breaks."
    )
    yield from _findings(two, set() if once is None else {finding.message for finding in once.findings})


def _findings(two: TwoBatches, known: set[str]) -> Iterator[str]:
    """What the joined day does to the circuit that one day does not, and what it means for a load of three hours."""
    for finding in two.circuit.findings if two.circuit else ():
        if finding.message not in known and (finding.severity != "ok" or finding.code == "continuous"):
            yield f" {finding.severity}: {finding.message}"


def _hours(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def _chiller(found: BatchChoices, show: Display) -> Iterator[str]:
    gives = f"Chilled to {show.temperature(20.0, 0)} the wort gives off {found.chilled_kwh:.1f} kWh"
    if found.reuse is None or found.two_kept is None:
        yield f'{gives}. None of it counts until it is kept in a tank: give --kept "25 L at 55 degC".'
        return
    saved, two = found.reuse, found.two_kept
    yield (
        f"{gives}; {show.volume(saved.kept.volume_l)} at {show.temperature(saved.kept.temperature_c, 0)} hold "
        f"{saved.kept_kwh:.1f} kWh of it, and still have {show.temperature(saved.used_c, 0)} after "
        f"{saved.kept.wait_s / 60:.0f} min."
    )
    if saved.cleaning_saved_kwh is not None:
        yield f" {show.volume(saved.cleaning_l)} of it for the cleaning save {saved.cleaning_saved_kwh:.2f} kWh."
    yield (
        f" Or {show.volume(saved.strike_l)} of it for the next strike save {saved.strike_saved_kwh:.2f} kWh; the "
        f"second batch then begins at {show.temperature(two.second_start_c, 0)}."
    )


def _fermentation(found: BatchChoices) -> Iterator[str]:
    whole = found.whole
    if whole is None:
        return
    cost = f" and {whole.cost}" if whole.cost else ""
    yield (
        f"With the fermentation ({whole.fermentation_kwh:.1f} kWh) the planned batch takes {whole.energy_kwh:.1f} "
        f"kWh{cost}, {whole.per_volume.kwh_per_hl:.1f} kWh/hL."
    )
    if not whole.cost and found.rows[0].cost:
        yield f" Its cost is not known: {whole.why_no_cost}."


def batches_document(found: BatchChoices) -> dict[str, Any]:
    """The document of ``batches --json``."""
    return {
        "ways": [_row_document(row) for row in found.rows],
        "bigger": {
            "end_volume_l": found.bigger.end_l,
            "times": found.bigger.times,
            "fits": found.bigger.day is not None,
            "why_not": found.bigger.why_not,
            "notes": list(found.bigger.notes),
            "batch": found.bigger.day.plan.batch.model_dump(mode="json") if found.bigger.day else None,
        },
        "two": _two_document(found.two),
        "two_kept": _two_document(found.two_kept) if found.two_kept else None,
        "chilled_kwh": found.chilled_kwh,
        "reuse": plain(found.reuse) if found.reuse else None,
        "whole": plain(found.whole) if found.whole else None,
    }


def _row_document(row: BatchRow) -> dict[str, Any]:
    document: dict[str, Any] = plain(row)
    return document | {"minutes": row.duration_s / 60, "circuit": _circuit_document(row)}


def _circuit_document(row: BatchRow) -> dict[str, Any] | None:
    if row.circuit is None:
        return None
    return {
        "severity": row.circuit.severity,
        "peak_a": row.circuit.peak_a,
        "continuous_a": row.circuit.continuous_a,
        "longest_at_peak_min": row.circuit.longest_at_peak_min,
        "findings": [plain(finding) for finding in row.circuit.findings],
    }


def _two_document(two: TwoBatches) -> dict[str, Any]:
    return {
        "energy_kwh": two.energy_kwh,
        "apart_kwh": two.apart_kwh,
        "minutes": two.duration_s / 60,
        "second_after_min": two.second_s / 60,
        "second_start_c": two.second_start_c,
        "end_volume_l": two.end_l,
    }
