"""The first visit: whose day this is, and the card of seven entries that leads to one's own."""

from dataclasses import replace
from typing import Any

import streamlit as st

from energyplan.advice.firstplan import first_plan
from energyplan.app.answers import TariffText
from energyplan.app.fields import suffix, with_unit
from energyplan.app.pieces import problems, quiet
from energyplan.app.state import Day, Path, Work, packaged_plans
from energyplan.app.yours import row_mark, rows_of
from energyplan.base.errors import EnergyPlanError, PlanError, Problem
from energyplan.base.records import dataclass
from energyplan.base.units import DURATION, POWER, VOLTAGE, read_quantity
from energyplan.plan.file import parse_plan
from energyplan.plan.starter import Starter, starter_of, starter_toml

__all__ = ["first_visit", "own_day"]

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
    litres, kg = ("L", "kg") if work.units == "metric" else ("gal", "lb")
    with st.form("first_card", border=True):
        st.subheader("Your day in seven entries", anchor=False)
        quiet("All else is assumed, and marked with a dot until you change it.")
        typed: dict[str, Any] = {}
        left, right = st.columns(2)
        typed["vessel"] = _typed(left, "1. Your vessel holds, up to the rim", "vessel", litres)
        with right:
            one, two = st.columns(2)
            typed["power"] = _typed(one, "2. Its elements together", "power", "W")
            typed["voltage"] = _typed(two, "at", "voltage", "V")
        typed["water"] = _typed(left, "3. Water at the start", "water", litres)
        typed["grain"] = _typed(right, "4. Grain, or 0 for none", "grain", kg)
        typed["boil"] = _typed(left, "5. Boil", "boil", "min")
        typed["breaker"] = _typed(right, "6. Breaker", "breaker", "A")
        with left:
            one, two = st.columns(2)
            typed["price"] = _typed(one, "7. A kWh costs", "price", "") or ""
            typed["currency"] = two.selectbox("Currency", CURRENCIES, key="card_currency")
        with right:
            one, two, three = st.columns(3)
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
            work.open(own_day(Entries(**typed), work.day, st.context.timezone or "UTC"))
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
    plan = first_plan(parse_plan(starter_toml(starter), source=""))
    elements = [row_mark(path, row) for path, rows in rows_of(plan) if path == ("vessel", "element") for row in rows]
    return Day(
        plan=plan, tariff=tariff, wall=before.wall, file_name="", entered=frozenset({*OWN, *elements, ("step", "boil")})
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
    for text, kind in ((entries.voltage, VOLTAGE), (entries.power, POWER), (entries.boil, DURATION)):
        read_quantity(text or "", kind)
    asked = Starter(
        volume=entries.vessel, power=entries.power or "", voltage=entries.voltage or "", water=entries.water or "",
        grain=None if none else entries.grain, boil=entries.boil or "", breaker=entries.breaker or "",
        time_zone=time_zone,
    )  # fmt: skip
    given = {
        name: getattr(asked, name) for name in ("volume", "power", "voltage", "water", "boil", "breaker", "time_zone")
    }
    return replace(starter_of(given), grain=asked.grain)


def _tariff(entries: Entries, time_zone: str) -> TariffText:
    """One price, or two with their hours."""
    import tomli_w

    first = _price(entries.price)
    bands: list[dict[str, Any]] = [{"name": "all day", "price": first, "otherwise": True}]
    if entries.second_price.strip():
        hours = {"from": entries.from_clock, "to": entries.to_clock}
        bands = [{"name": "other hours", "price": _price(entries.second_price), **hours}, *bands]
        bands[-1]["name"] = "day"
    table = {
        "name": "Your prices", "currency": entries.currency, "price_unit": f"{entries.currency}/kWh",
        "time_zone": time_zone, "prices_include_tax": True, "band": bands,
    }  # fmt: skip
    return TariffText(name="your prices", text=tomli_w.dumps({"tariff": table}))


def _price(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        problem = Problem(where="Price", value=text, message="write a number, such as 0.31")
        raise PlanError("a price can't be read", (problem,)) from None
