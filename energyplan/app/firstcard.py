"""The first visit: seven entries for a day of one's own, and what is still assumed."""

import json
from dataclasses import replace
from typing import Any

import streamlit as st

from energyplan.advice.firstplan import Starter, first_plan, is_us, starter_of, starter_toml
from energyplan.app.answers import TariffText, tariff_of
from energyplan.app.editing import assumed, default_of, entry_of, plan_tables, row_mark, rows_of
from energyplan.app.entries import SECTIONS, with_unit
from energyplan.app.fields import entry_at, field, suffix
from energyplan.app.pieces import plain, popped, problems, quiet
from energyplan.app.rows import ELEMENTS, LOADS, STEPS, cells
from energyplan.app.state import Day, Path, Work, current, file_stem, packaged_plans
from energyplan.base.errors import EnergyPlanError, PlanError, Problem, TariffError, UnitsError
from energyplan.base.records import dataclass
from energyplan.base.units import DURATION, POWER, VOLTAGE, VOLUME, read_quantity
from energyplan.plan.file import parse_plan

__all__ = ["assumed_values", "count_words", "first_visit", "name_of", "own_day", "rows_assumed", "value_of"]

CURRENCIES = ("EUR", "GBP", "USD", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK", "CAD", "AUD", "NZD", "ZAR", "JPY", "KWD")


OWN: tuple[Path, ...] = (
    ("batch", "water"), ("batch", "grain"), ("circuit", "voltage"), ("circuit", "breaker"), ("prices",)
)  # fmt: skip


def first_visit(work: Work) -> None:
    """A strip over a day that is not the visitor's, and on demand the card."""
    if work.entering:
        _card(work)
    elif not work.greeted and work.file_name in packaged_plans() and not work.day.entered:
        with st.container(border=True, horizontal=True, vertical_alignment="center", key="first_visit"):
            st.markdown("**You see an invented day.**")
            st.button("Enter mine", key="enter_mine", type="primary", on_click=_open, args=(work,))
            st.button("Look around", key="look_around", on_click=_look_around, args=(work,))


def _open(work: Work) -> None:
    work.entering = True


def _look_around(work: Work) -> None:
    work.greeted, work.entering = True, False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entries:
    """The seven entries as they were typed, bare numbers with their units."""

    vessel: str | None
    power: str | None
    voltage: str | None
    water: str | None
    grain: str | None
    boil: str | None
    breaker: str | None
    price: str
    second_price: str = ""
    from_clock: str = "22:00"
    to_clock: str = "06:00"
    currency: str = "EUR"


def _card(work: Work) -> None:
    """Seven entries on one card; what is wrong with one leaves the others as they are."""
    litres, kg, money = ("L", "kg", "EUR") if work.units == "metric" else ("gal", "lb", "USD")
    with st.form("first_card", border=True):
        st.subheader("Your day in seven entries", anchor=False)
        quiet("All else is assumed, and marked with a dot until you change it.")
        typed: dict[str, Any] = {}
        left, right = st.columns(2)
        typed["vessel"] = _typed(left, "1. Your vessel holds, up to the rim", "vessel", litres)
        one, two = right.columns(2)
        typed["power"] = _typed(one, "2. Its elements together", "power", "W")
        typed["voltage"] = _typed(two, "at", "voltage", "V")
        left, right = st.columns(2)  # a row of its own for each pair: a phone sets columns below one another
        typed["water"] = _typed(left, "3. Water at the start", "water", litres)
        typed["grain"] = _typed(right, "4. Grain, or 0 for none", "grain", kg)
        left, right = st.columns(2)
        typed["boil"] = _typed(left, "5. Boil", "boil", "min")
        typed["breaker"] = _typed(right, "6. Breaker", "breaker", "A")
        left, right = st.columns(2)
        one, two = left.columns(2)
        typed["price"] = _typed(one, "7. A kWh costs", "price", "") or ""
        typed["currency"] = two.selectbox("Currency", CURRENCIES, CURRENCIES.index(money), key="card_currency")
        one, two, three = right.columns(3)
        typed["second_price"] = _typed(one, "At other hours", "second_price", "") or ""
        typed["from_clock"] = _typed(two, "from", "from_clock", "", value="22:00") or ""
        typed["to_clock"] = _typed(three, "to", "to_clock", "", value="06:00") or ""
        with st.container(horizontal=True):
            asked = st.form_submit_button("Show my day", type="primary", key="card_show")
            left_aside = st.form_submit_button("Not now", key="card_leave")
    if left_aside:
        _look_around(work)
        st.rerun()
    if asked:
        try:
            entries, zone = Entries(**typed), st.context.timezone or "UTC"
            work.open(own_day(entries, work.day, zone), keeps_brewery=True)
            if is_us(_starter(entries, zone)):
                st.session_state["units"] = work.units = "us"
        except EnergyPlanError as error:
            problems(error, what="One more look")
            return
        st.rerun()


def _typed(place: Any, label: str, name: str, unit: str, *, value: str = "") -> str | None:
    key = f"card_{name}"
    if unit:
        suffix(key, unit)
    return with_unit(place.text_input(label, value, key=key), unit)


def own_day(entries: Entries, before: Day, time_zone: str) -> Day:
    """The day that seven entries make, with the usual values for the rest.

    Raises
    ------
    EnergyPlanError
        If an entry is missing, can't be read, or they can't be brewed together.
    """
    starter, tariff = _starter(entries, time_zone), _tariff(entries, time_zone)
    text = starter_toml(starter)
    plan = first_plan(parse_plan(text, source=""), us=is_us(starter))
    elements = [row_mark(path, row) for path, rows in rows_of(plan) if path == ("vessel", "element") for row in rows]
    return Day(
        plan=plan, tariff=tariff, wall=before.wall, file_name="",
        entered=frozenset({*OWN, *elements, ("step", "boil")}),
        texts=((f"{file_stem(plan.title)}.toml", text),),
    )  # fmt: skip


NAMES = {
    "vessel": "what the vessel holds", "power": "the watts of its elements", "voltage": "their volts",
    "water": "the water", "grain": "the grain, 0 for none", "boil": "the minutes of the boil",
    "breaker": "the amperes of the breaker", "price": "what a kWh costs",
}  # fmt: skip


def _starter(entries: Entries, time_zone: str) -> Starter:
    missing = [words for name, words in NAMES.items() if not getattr(entries, name)]
    if missing:
        problem = Problem(where="The card", message=f"Still to enter: {', '.join(missing)}")
        raise PlanError("entries are missing", (problem,))
    none = (entries.grain or "").split()[0] in {"0", "0.0", "none", "no"}
    for name, kind in (("vessel", VOLUME), ("power", POWER), ("voltage", VOLTAGE), ("boil", DURATION)):
        try:
            read_quantity(getattr(entries, name), kind)
        except UnitsError as error:
            problem = Problem(where=f"{NAMES[name][:1].upper()}{NAMES[name][1:]}", message=error.said)
            raise PlanError("an entry can't be read", (problem,)) from None
    asked = Starter(
        volume=entries.vessel, power=entries.power or "", voltage=entries.voltage or "", water=entries.water or "",
        grain=None if none else entries.grain, boil=entries.boil or "", breaker=entries.breaker or "",
        time_zone=time_zone,
    )  # fmt: skip
    given = {
        name: getattr(asked, name) for name in ("volume", "power", "voltage", "water", "boil", "breaker", "time_zone")
    }
    return replace(starter_of(given), grain=asked.grain)


PRICE_FIELDS = {"price": "A kWh costs", "from": "At other hours, from", "to": "At other hours, to"}


def _tariff(entries: Entries, time_zone: str) -> TariffText:
    """One price, or two with their hours.

    Raises
    ------
    PlanError
        If a price or a time can't be read.
    """
    import tomli_w

    first = _price(entries.price)
    bands: list[dict[str, Any]] = [{"name": "all day", "price": first, "otherwise": True}]
    if entries.second_price.strip():
        hours = {"from": entries.from_clock, "to": entries.to_clock}
        if hours["from"] == hours["to"]:
            message = "ends when it begins; leave the price at other hours empty where a kWh always costs the same"
            raise PlanError("no hours", (Problem(where="At other hours", value=hours["from"], message=message),))
        bands = [{"name": "other hours", "price": _price(entries.second_price), **hours}, *bands]
        bands[-1]["name"] = "day"
    table = {
        "name": "Your prices", "currency": entries.currency, "price_unit": f"{entries.currency}/kWh",
        "time_zone": time_zone, "prices_include_tax": True, "band": bands,
    }  # fmt: skip
    source = TariffText(name="your prices", text=tomli_w.dumps({"tariff": table}))
    try:
        tariff_of(source)
    except TariffError as error:
        raise PlanError("prices can't be read", tuple(_of_the_card(one) for one in error.problems)) from None
    return source


def _of_the_card(problem: Problem) -> Problem:
    """What is wrong with a tariff, at its field on the card."""
    where = PRICE_FIELDS.get(str(problem.where).rpartition(" ")[2], "Your prices")
    return Problem(where=where, value=problem.value, message=problem.message)


def _price(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        problem = Problem(where="Price", value=text, message="write a number, such as 0.31")
        raise PlanError("a price can't be read", (problem,)) from None


LISTS = {
    ("step",): "Step", ("vessel", "element"): "Element", ("other_load",): "Other load", ("task",): "Task",
    ("house_load",): "Load of the house",
}  # fmt: skip


OTHERS = {
    ("site", "time_zone"): "Time zone",
    ("hours",): "Hours",
    ("second_heater", "ready_at_step"): "Step of the second heater",
    ("second_heater", "own_circuit"): "Second water heater on another breaker",
}


TABLES = {("step",): STEPS, ("vessel", "element"): ELEMENTS, ("other_load",): LOADS, ("house_load",): LOADS}


SHOWN = 3


def still_assumed(work: Work) -> tuple[Path, ...]:
    """Everything that counts and that the visitor never wrote; packaged prices last."""
    own_prices = work.tariff is not None and not work.tariff.is_packaged
    is_priced = own_prices or work.tariff is None or ("prices",) in work.day.entered
    return (*assumed(work.plan, work.day.entered), *(() if is_priced else (("prices",),)))


def count_words(number: int) -> str:
    """How many values are assumed.

    >>> count_words(12), count_words(1), count_words(0)
    ('12 values are assumed', '1 value is assumed', 'Every value is yours')
    """
    if number == 0:
        return "Every value is yours"
    return f"{number} values are assumed" if number > 1 else "1 value is assumed"


def assumed_values(work: Work) -> None:
    """Count them, and lead through them: each is confirmed, mended, or left for later."""
    paths = still_assumed(work)
    box = popped(count_words(len(paths)), icon=":material/help:", key="assumed")
    if box is None:
        return
    with box:
        if not paths:
            quiet("A dot marks what nobody measured or wrote down yet; none is left.")
            return
        place = st.session_state.setdefault("assumed_place", 0) % len(paths)
        quiet("A dot marks what nobody measured or wrote down yet. One after the other:")
        for path in (paths[place:] + paths[:place])[:SHOWN]:
            _one(work, path)
        left, right = st.columns(2)
        left.button("Later", key="assumed_later", on_click=_later, args=(place + SHOWN,), width="stretch")
        right.button(
            "They are so", key="assumed_so", on_click=_so, args=((paths[place:] + paths[:place])[:SHOWN],),
            width="stretch", help="Takes the dots off these; Undo brings them back",
        )  # fmt: skip


def _one(work: Work, path: Path) -> None:
    entry = entry_at(path)
    if entry is not None:
        field(work, entry, prefix="led_")
        return
    st.markdown(f"**{plain(name_of(path))}**  \n{plain(value_of(work, path))}")


def name_of(path: Path) -> str:
    """What stands at a path, in the words of its field."""
    entry = entry_at(path)
    if entry is not None:
        section = next(part for part in SECTIONS if entry in (*part.entries, *part.further))
        return f"{section.title}: {entry.label}"
    if path[:-1] in LISTS:
        row = json.loads(path[-1])
        return f"{LISTS[path[:-1]]} {row.get('name', '')}".strip()
    return {("prices",): "Prices", **OTHERS}.get(path, " ".join(path[-1].split("_")).capitalize())


def value_of(work: Work, path: Path) -> str:
    """What stands at a path without a field of its own, as its table or the page would write it."""
    if path == ("prices",):
        return "Invented prices that come with the program. Enter yours on the page Your brewery."
    if path == ("hours",):
        return "From 06:00 to 23:00, somebody there. Change them above."
    if path[:-1] in LISTS:
        return ", ".join(f"{label} {said}" for label, said in _cells_of(path[:-1], json.loads(path[-1]), work))
    value = entry_of(plan_tables(work.plan), path)
    return _words(default_of(path) if value is None else value)


def _cells_of(path: Path, row: dict[str, Any], work: Work) -> list[tuple[str, str]]:
    """A row as its table shows it, or word by word where the form has no table of it; without its name."""
    if (table := TABLES.get(path)) is not None:
        shown = cells([row], table, work.units)[0]
        found = [(column.label, shown[column.key]) for column in table.columns if column.key != "name"]
        return [(label, said) for label, said in found if said]
    return [(key.replace("_", " ").capitalize(), _words(value)) for key, value in row.items() if key != "name"]


def _words(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(_words, value))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value).replace(" degC", " °C")


def _later(place: int) -> None:
    st.session_state["assumed_place"] = place


def _so(paths: tuple[Path, ...]) -> None:
    work = current()
    day = replace(
        work.day, entered=work.day.entered | {path if path != ("hours",) else ("hours", "earliest") for path in paths}
    )
    work.lay(replace(work.lying, day=day))


def rows_assumed(work: Work, path: Path) -> None:
    """Which rows of a list nobody wrote: said below it, because a table's cells take no mark."""
    rows = [name_of(one).partition(" ")[2] or "all" for one in assumed(work.plan, work.day.entered) if one[:-1] == path]
    if rows:
        st.markdown(f":orange[●] :small[Still assumed: {plain(', '.join(dict.fromkeys(rows)))}.]")
