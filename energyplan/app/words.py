"""Sentences that only the app says: the answers of its pages beside the day's own."""

import re

from energyplan.advice.answer import Answer
from energyplan.advice.savings import Saving, Savings
from energyplan.advice.startsanswer import StartsAnswer
from energyplan.advice.uncertainty import Spread
from energyplan.base.units import Display
from energyplan.report.retold import retold
from energyplan.report.sentences import circuit_sentence
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.starts import StartOption

__all__ = [
    "cheapest_sentence",
    "circuit_headline",
    "count_sentence",
    "plateau_sentence",
    "range_sentence",
    "savings_headline",
    "start_headline",
    "starts_sentence",
    "together_sentence",
]

METRIC = Display("metric")
SHOWN_KWH = 0.005  # what is told as 0.01 kWh
NEXT_TO_NOTHING = 0.01  # a share of the cost; the plateau around the best start has the same


def circuit_headline(answer: Answer) -> str:
    """The verdict on the circuit, as far as its first full stop, colon or semicolon after the verdict's own."""
    verdict, colon, rest = circuit_sentence(answer).partition(": ")
    if not colon:
        return verdict
    first = re.split(r"[:;] |\. ", rest, maxsplit=1)[0].rstrip(".")
    return f"{verdict}: {first}."


def start_headline(found: StartsAnswer) -> str:
    """The best start and how far one may stray from it."""
    search = found.search
    best = to_local(search.best.start, search.zone)
    return f"Start at {best:%H:%M} on {best:%a %d %b}: {search.best.cost}. {plateau_sentence(found)}"


def cheapest_sentence(found: StartsAnswer) -> str:
    """When to start instead, within a week, and what that saves; or that there is nothing to save."""
    search = found.search
    if search.now is None:
        return f"The cheapest start of the week is {_when(search.best, search.zone)}: {search.best.cost}."
    saved = search.now.cost - search.best.cost
    if float(saved) <= NEXT_TO_NOTHING * abs(float(search.best.cost)):
        return "No start of the coming week, by day, is cheaper by more than 1 %."
    best = _when(search.best, search.zone)
    return f"The cheapest start of the coming week, by day, is {best}: {search.best.cost}, {saved} less."


def range_sentence(answer: Answer, found: Spread) -> str:
    """Where energy, cost and finish lie on eight days in ten."""
    energy, minutes = found.range_of("energy_kwh"), found.range_of("minutes")
    cost = ""
    if answer.price is not None:
        money = found.range_of("cost")
        cost = f", {money.p10:.2f} to {money.p90:.2f} {found.currency}"
    early, late = (answer.clock(minute * 60) for minute in (minutes.p10, minutes.p90))
    return (
        f"Eight days in ten: {energy.p10:.1f} to {energy.p90:.1f} kWh{cost}, done between {early:%H:%M} and "
        f"{late:%H:%M}. Measure next: {found.next_measurement.measure}."
    )


def savings_headline(found: Savings, show: Display = METRIC) -> str:
    """The change that is worth most; where money leads, the one that saves most energy beside it."""
    if not found.rows:
        return "Nothing can be changed in this plan."
    first, most = found.rows[0], max(found.rows, key=lambda row: row.saved_kwh)
    said = f"Most for least: {_named(first)}, {_worth(first)} a brew."
    if first is not most and found.objective != "energy":
        said = f"{said} In energy: {_named(most)}, {_worth(most)}."
    return retold(said, show)


def _named(row: Saving) -> str:
    return f"{row.name[:1].lower()}{row.name[1:]}"


def _worth(row: Saving) -> str:
    energy = f"{row.saved_kwh:.2f} kWh" if abs(row.saved_kwh) >= SHOWN_KWH else ""
    return " and ".join(part for part in (energy, f"{row.saved_money}" if row.saved_money else "") if part)


def together_sentence(found: Savings, show: Display = METRIC) -> str:
    """What the best combination saves, and that savings don't add up."""
    if found.together is None:
        return ""
    money = f" and {found.together.saved_money}" if found.together.saved_money else ""
    return (
        f"All that is worth it together saves {found.together.saved_kwh:.2f} kWh{money} a brew; one by one the same "
        f"changes would add up to {found.added_up_kwh:.2f} kWh, because they act on each other. It is: "
        f"{retold(found.together.name, show)}."
    )


def plateau_sentence(found: StartsAnswer) -> str:
    """The stretch around the best start that costs next to nothing more."""
    search = found.search
    first, last = (to_local(moment, search.zone) for moment in search.best_stretch)
    if first == last:
        return "Only that minute is within 1 %."
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%H:%M on %a %d %b}"
    return f"Anything from {first:%H:%M} to {until} is within 1 %."


def starts_sentence(found: StartsAnswer) -> str:
    """The start on the desk and the dearest one, against the best."""
    search = found.search
    lines = []
    if search.now is not None:
        more = search.now.cost - search.best.cost
        lines.append(f"Your start, {_when(search.now, search.zone)}, costs {search.now.cost}, {more} more.")
    lines.append(f"The dearest, {_when(search.worst, search.zone)}, costs {search.worst.cost}.")
    if search.best.carbon_g is not None:
        lines.append(f"The grid emits {search.best.carbon_g / 1000:.1f} kg of carbon dioxide for the best start.")
    return " ".join(lines)


def count_sentence(found: StartsAnswer) -> str:
    """How many starts the answer rests on."""
    return (
        f"{found.search.count} starts were costed, one a minute. Each cell shows the cheapest start of its hour; an "
        "empty cell has none that suits you."
    )


def _when(option: StartOption, zone: str) -> str:
    local = to_local(option.start, zone)
    return f"{local:%H:%M on %a %d %b}"
