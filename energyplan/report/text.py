"""Results on the terminal: rich renderables, at most 80 columns wide."""

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.answer import Answer
from energyplan.advice.power import PowerAdvice
from energyplan.advice.worst import COLDER_K, Worst
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.money import shown_parts
from energyplan.base.units import Display
from energyplan.day.brewday import BrewDay
from energyplan.faces.charts.palette import PHASE_COLOURS
from energyplan.report.circuittext import circuit_text
from energyplan.report.daybar import day_bar
from energyplan.report.peopletext import clock_text, presence_text
from energyplan.report.roomtext import room_text
from energyplan.report.sentences import (
    CAUTIONS,
    circuit_sentence,
    day_sentence,
    power_sentence,
    strike_sentence,
    wort_sentence,
)

__all__ = ["power_text", "report_text"]


def report_text(answer: Answer, show: Display) -> RenderableType:
    """The whole report."""
    return Group(
        Text(answer.day.plan.title, style="bold"),
        Text(day_sentence(answer)),
        Text(circuit_sentence(answer)),
        Text(power_sentence(answer, show)),
        "",
        day_bar(answer),
        "",
        _phase_table(answer, show),
        *_totals(answer),
        "",
        _heading("Wort"),
        *_sentences([strike_sentence(answer, show), wort_sentence(answer, show)]),
        "",
        circuit_text(answer),
        "",
        power_text(answer.power, show),
        "",
        _heading("By the clock"),
        clock_text(answer, show),
        "",
        _heading("Who must be there"),
        presence_text(answer),
        "",
        _heading("The room"),
        room_text(answer, show),
        "",
        *_sentences([*answer.day.notes, *CAUTIONS], style="dim"),
    )


def _heading(words: str) -> Text:
    return Text(words, style="bold underline")


def _sentences(sentences: Sequence[str | None], style: str = "") -> Iterator[Text]:
    return (Text(sentence, style=style) for sentence in sentences if sentence)


def _table(*columns: str, left: int = 1) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place < left else "right", overflow="fold")
    return table


def _phase_table(answer: Answer, show: Display) -> Table:
    money = [f"{answer.price.line.currency}"] if answer.price else []
    table = _table("Step", "", "from", "min", show.temperature_unit, "lowest", "W", "kWh", *money, left=2)
    costs = _shown_costs(answer)
    for place, phase in enumerate(answer.day.phases):
        table.add_row(
            phase.step,
            Text(phase.phase, style=PHASE_COLOURS[phase.phase]),
            f"{answer.clock(phase.start_s):%H:%M}",
            f"{phase.duration_s / 60:.0f}",
            f"{show.temperature_number(phase.from_c):.0f}→{show.temperature_number(phase.to_c):.0f}",
            "" if phase.phase == "ramp" else f"{show.temperature_number(phase.lowest_c):.1f}",
            f"{phase.mean_w:.0f}",
            f"{phase.energy_j / JOULES_PER_KWH:.2f}",
            *([costs[place]] if costs else []),
        )
    for place, (name, energy_kwh) in enumerate(_beside(answer.day)):
        row = [name, "", "", "", "", "", "", f"{energy_kwh:.2f}"]
        table.add_row(*row, *([costs[len(answer.day.phases) + place]] if costs else []))
    return table


def _beside(day: BrewDay) -> list[tuple[str, float]]:
    """Appliances of the day beside the vessel, which is in the phases."""
    return [(profile.name, profile.energy_kwh) for profile in day.profiles[1:]]


def _shown_costs(answer: Answer) -> list[str]:
    """Costs of the rows, rounded so that they add up to the shown total."""
    if answer.price is None:
        return []
    parts = [answer.price.of_phase(phase) for phase in answer.day.phases]
    if _beside(answer.day):
        parts.append(answer.price.beside_vessel)
    return [f"{part}" for part in shown_parts(parts, 2)]


def _totals(answer: Answer) -> Iterator[Text]:
    day = answer.day
    kinds = ", ".join(f"{kind} {day.energy_of(kind):.2f}" for kind in ("ramp", "hold", "boil"))
    other = day.energy_kwh - day.energy_of("ramp", "hold", "boil")
    yield Text(f"Total {day.energy_kwh:.2f} kWh: {kinds}, other {other:.2f}.")
    if answer.price:
        bands = ", ".join(f"{band.name} {band.energy_kwh:.2f} kWh for {band.cost}" for band in answer.price.total.bands)
        yield Text(f"{answer.price.tariff.name}: {answer.price.total.total} ({bands}).")
        if answer.price.tariff.daily_charge:
            charge = f"{float(answer.price.tariff.daily_charge):.2f} {answer.price.line.currency}"
            yield Text(f"The daily charge of {charge} is not part of it.", style="dim")


def power_text(advice: PowerAdvice, show: Display) -> RenderableType:
    """Set, needed and advised power of every hold and boil."""
    headings = ("set W", "needs W", "worst W", "advised W", "lowest", "kWh")
    table = _table("Step", "", show.temperature_unit, *headings, left=2)
    for row in advice.rows:
        table.add_row(
            row.step,
            Text(row.phase, style=PHASE_COLOURS[row.phase]),
            f"{show.temperature_number(row.target_c):.0f}",
            f"{row.set_w:.0f}",
            f"{row.nominal_needed_w:.0f}",
            f"{row.worst_needed_w:.0f}",
            f"{row.advised_w:.0f}",
            f"{show.temperature_number(row.lowest_c):.1f}",
            f"{row.energy_change_kwh:+.2f}",
        )
    whys = [f"{row.step}: {row.why}." for row in advice.rows if row.phase != "hold"]
    cautions = [f"{row.step}: {caution}." for row in advice.rows for caution in row.cautions]
    said = [_worst_sentence(advice.worst, show), *whys, *cautions, *advice.notes]
    return Group(_heading("Power"), table, *_sentences(said))


def _worst_sentence(worst: Worst, show: Display) -> str:
    """What the columns of the table are made for."""
    return (
        f"Needs: as planned. Worst: air {show.difference(COLDER_K, 0)} colder, {worst.voltage_v:.0f} V, a weak "
        f"element, {worst.loss_frac:.0%} of the loss. Lowest: in that case with the advised power."
    )
