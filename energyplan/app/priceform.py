"""The entries of a tariff: what the bill says, its bands, its add-ons, or a list of prices."""

from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache, partial
from typing import Any
from zoneinfo import available_timezones

import streamlit as st

from energyplan.app.editing import entry_of
from energyplan.app.header import text_of
from energyplan.app.pieces import plain, problems, quiet, said
from energyplan.app.rows import RowTable, card, cells, edited, table_editor
from energyplan.app.state import current
from energyplan.app.tariffdraft import ADD_ONS, BANDS, TariffDraft, number_or_text, worded
from energyplan.base.errors import EnergyPlanError, Problem, TariffError
from energyplan.tariffs.pricelist import ListHints, PriceList, read_price_list
from energyplan.telling.prices import list_sentences

__all__ = ["form", "messages"]

Found = Mapping[str, tuple[Problem, ...]]

FROM_BANDS, FROM_LIST = "Bands by the clock", "A list of prices (CSV)"
TAX = {True: "yes, tax is in them", False: "no, tax comes on top", None: "not said"}
DAYS = (None, "sun", "sat", "holiday", "mon")
CHARGE = "Shown apart, never part of a brew's cost. A bare number counts the money of the unit: cents under ct/kWh"
KEPT = {"tier": "steps by the month's use", "peak_charge": "a charge for the highest load"}


def form(draft: TariffDraft, found: Found) -> None:
    """Show every entry with what is wrong with it."""
    st.header("On the bill", anchor=False)
    quiet("What stands on the contract or on the last bill.")
    _bill(draft, found)
    st.header("What a kWh costs", anchor=False)
    st.segmented_control(
        "Prices come from", (FROM_BANDS, FROM_LIST), default=FROM_LIST if _is_list(draft) else FROM_BANDS,
        required=True, key=_key(draft, "from"), on_change=_take_kind, args=(_key(draft, "from"),),
    )  # fmt: skip
    if _is_list(draft):
        _list(draft, found)
    else:
        unit = draft.table.get("price_unit", "")
        _rows(draft, BANDS, f"Bands, one row each; prices in {plain(str(unit))}")
        messages(found.get("band", ()))
        _one_band(draft)
    with st.expander("On top of it: add-ons for some hours", expanded="add_on" in draft.table):
        _rows(draft, ADD_ONS, "Add-ons, one row each")
        messages(found.get("add_on", ()))
    with st.expander("Tax, holidays, validity, the meter's clock"):
        _further(draft, found)
    _kept(draft)


def messages(found: Sequence[Problem]) -> None:
    """Show what is wrong, at the rows it belongs to."""
    if found:
        problems(TariffError("", tuple(worded(problem) for problem in found)), what="To mend")


def _is_list(draft: TariffDraft) -> bool:
    return draft.has_series or bool(draft.aside.get("wanted"))


def _key(draft: TariffDraft, *path: str) -> str:
    return f"prices_{draft.version}_{'_'.join(path)}"


def _draft() -> TariffDraft:
    draft = current().draft
    if draft is None:
        raise TariffError("there is no tariff to change; open the page Prices")
    return draft


def _bill(draft: TariffDraft, found: Found) -> None:
    columns = st.columns(3)
    with columns[0]:
        _text(draft, ("name",), "Name", "What you call it")
    with columns[1]:
        _text(draft, ("currency",), "Currency", "Three letters: EUR, GBP, USD")
    with columns[2]:
        _text(draft, ("price_unit",), "Unit of the prices", "ct/kWh, p/kWh, EUR/kWh, EUR/MWh")
    columns = st.columns(3)
    with columns[0]:
        _zone(draft)
    with columns[1]:
        money = str(draft.table.get("price_unit", "")).partition("/")[0]
        _text(draft, ("daily_charge",), f"Charge for a day, {plain(money)}", CHARGE, number=True)
    for key in ("name", "currency", "price_unit", "time_zone", "daily_charge", "tariff"):
        messages(found.get(key, ()))


@lru_cache(maxsize=1)
def _all_zones() -> tuple[str, ...]:
    """Names of all time zones, which are looked for on the disk."""
    return tuple(sorted(available_timezones()))


def _zone(draft: TariffDraft) -> None:
    zones, now = _all_zones(), str(draft.base["tariff"].get("time_zone", ""))
    zones = zones if now in zones else (now, *zones)
    key = _key(draft, "time_zone")
    st.selectbox(
        "Time zone", zones, zones.index(now), key=key, on_change=_take, args=(("time_zone",), key),
        help="Whose clock the hours follow; type to search",
    )  # fmt: skip


def _text(draft: TariffDraft, path: tuple[str, ...], label: str, hint: str, *, number: bool = False) -> None:
    key, value = _key(draft, *path), entry_of(draft.base, ("tariff", *path))
    st.text_input(
        label, "" if value is None else str(value), key=key, max_chars=120, help=hint, placeholder="not entered",
        on_change=_take_number if number else _take, args=(path, key),
    )  # fmt: skip


def _take(path: tuple[str, ...], key: str) -> None:
    value = st.session_state[key]
    _draft().enter(path, value.strip() if isinstance(value, str) else value)


def _take_number(path: tuple[str, ...], key: str) -> None:
    _draft().enter(path, number_or_text(st.session_state[key]))


def _take_kind(key: str) -> None:
    draft, wanted = _draft(), st.session_state[key] == FROM_LIST
    draft.aside["wanted"] = wanted
    if wanted and (before := draft.aside.get("prices")):
        text = dict(draft.series).get(before["file"], "")
        draft.take_series(before["file"], text, before)
    elif not wanted and draft.has_series:
        draft.take_bands()


def _rows(draft: TariffDraft, table: RowTable, title: str) -> None:
    """An editor for bands or add-ons; every change is checked at once."""
    shown = cells(entry_of(draft.base, table.path) or [], table, "metric")
    table_editor(shown, table, title=title, key=_key(draft, *table.path), take=_take_rows)


def _take_rows(table: RowTable, key: str) -> None:
    draft = _draft()
    before = entry_of(draft.base, table.path) or []
    draft.enter(table.path[1:], edited(before, table, st.session_state[key]))


def _one_band(draft: TariffDraft) -> None:
    """One band, entry by entry: a row of the table for narrow screens."""
    shown = cells(draft.table.get("band", []), BANDS, "metric")
    if not shown:
        return
    with st.expander("One band, entry by entry"):
        names = [row["name"] or f"Row {place + 1}" for place, row in enumerate(shown)]
        chosen = st.selectbox(
            "Band", range(len(shown)), format_func=lambda place: f"{place + 1}. {names[place]}",
            key=f"one_band_{len(shown)}", width=260,
        )  # fmt: skip
        place = chosen or 0
        card(shown[place], BANDS, key=lambda column: _key(draft, "one", str(place), column),
             take=partial(_take_cell, place))  # fmt: skip


def _take_cell(place: int, column: str, key: str) -> None:
    draft = _draft()
    change = {"edited_rows": {place: {column: st.session_state[key]}}}
    draft.enter(("band",), edited(draft.table.get("band", []), BANDS, change))
    draft.redraw()


def _further(draft: TariffDraft, found: Found) -> None:
    columns = st.columns(3)
    with columns[0]:
        _choice(draft, ("prices_include_tax",), "Is tax in the prices", (True, False, None), TAX.__getitem__)
        _date(draft, "valid_from", "Valid from")
        _text(draft, ("holidays", "country"), "Holidays of", "Two letters: IE, AT, US. Empty: none")
    with columns[1]:
        _text(draft, ("tax_percent",), "Tax, %", "On top of the prices", number=True)
        _date(draft, "valid_to", "Valid to")
        _text(draft, ("holidays", "region"), "Part of the country", 'A code, or "national" for the whole country')
    with columns[2]:
        _choice(draft, ("clock",), "The meter's clock", ("wall", "standard"), _meter)
        _choice(draft, ("holidays", "treat_as"), "A holiday counts as", DAYS, lambda day: day or "its own weekday")
    keys = ("prices_include_tax", "tax_percent", "valid_from", "valid_to", "clock", "holidays")
    for key in keys:
        messages(found.get(key, ()))


def _meter(clock: str) -> str:
    return "as on the wall" if clock == "wall" else "never moved to summer time"


def _choice(draft: TariffDraft, path: tuple[str, ...], label: str, options: Sequence[Any], words: Any) -> None:
    key, now = _key(draft, *path), entry_of(draft.base, ("tariff", *path))
    listed = [*options] if now in options or now is None else [*options, now]
    start = listed.index(now) if now in listed else 0
    st.selectbox(label, listed, start, format_func=words, key=key, on_change=_take, args=(path, key))


def _date(draft: TariffDraft, name: str, label: str) -> None:
    key, now = _key(draft, name), draft.base["tariff"].get(name)
    start = now if isinstance(now, date) else None
    st.date_input(label, start, key=key, format="YYYY-MM-DD", on_change=_take, args=((name,), key),
                  min_value=date(1990, 1, 1), max_value=date(2100, 12, 31))  # fmt: skip


def _list(draft: TariffDraft, found: Found) -> None:
    """A list of prices: the file, its columns, and how its times are meant."""
    key = _key(draft, "list")
    st.file_uploader(
        "List of prices (CSV)", type=["csv"], key=key, on_change=_take_list, args=(key,),
        help="As the supplier hands it out: a row for each step, with its time or its beginning and end, and a price",
    )  # fmt: skip
    fault = draft.aside.get("fault")
    if isinstance(fault, EnergyPlanError):
        problems(fault, what="This list can't be used as it is")
    if draft.has_series:
        _list_entries(draft)
        messages(found.get("prices", ()))
    else:
        quiet("Hand in a list; until then the bands stay.")


def _take_list(key: str) -> None:
    draft, given = _draft(), st.session_state[key]
    draft.aside["fault"] = None
    if given is None:
        return
    try:
        found = _read_list(text_of(given), draft)
    except EnergyPlanError as error:
        draft.aside["fault"] = error
        return
    source = {"unit": found.reading.unit, "clock": "utc", "step_minutes": found.reading.step_min}
    draft.aside["reading"] = tuple(list_sentences(found, str(draft.table.get("time_zone", "UTC"))))
    draft.take_series(_plain_name(given.name), found.csv_text(), source)


def _read_list(text: str, draft: TariffDraft) -> PriceList:
    """The list as it is handed in; where it says no unit, in that of the tariff."""
    zone = str(draft.table.get("time_zone", "UTC"))
    try:
        return read_price_list(text, zone=zone)
    except TariffError:
        return read_price_list(text, zone=zone, hints=ListHints(unit=str(draft.table.get("price_unit", ""))))


def _plain_name(name: str) -> str:
    """A file name without folders, whatever the browser sent."""
    kept = "".join(letter for letter in name.removesuffix(".csv") if letter.isprintable() and letter not in "/\\:")
    return f"{kept.strip(' .')[:80] or 'prices'}.csv"


def _list_entries(draft: TariffDraft) -> None:
    """How the list was read, and the unit that may be put right."""
    said(*draft.aside.get("reading", ()))
    _text(draft, ("prices", "unit"), "Unit in the list", "Empty: that of the tariff, above. EUR/MWh, ct/kWh")
    quiet(f"From {draft.base['tariff']['prices']['file']}; unit and zone of the tariff stand above.")


def _kept(draft: TariffDraft) -> None:
    """Say what the file carries that has no entry here."""
    words = [words for key, words in KEPT.items() if key in draft.table]
    words += [f"the table {key}" for key in draft.tables if key != "tariff"]
    if words:
        quiet(f"Kept as it stands in the file: {', '.join(words)}.")
