"""Prices: what a kWh costs and when, from the bands of a tariff or from a list, changed in place."""

from datetime import UTC, date, datetime
from functools import lru_cache

import streamlit as st

from energyplan.app.answers import Prices, prices_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, notes, quiet, said, show_table, style
from energyplan.app.priceform import form, messages
from energyplan.app.state import Work, current, file_stem
from energyplan.app.tariffdraft import TariffDraft, begun, placed
from energyplan.base.kinds import DAY, WRITTEN
from energyplan.base.sentence import Sentence, words
from energyplan.faces.charts.charttheme import ChartLook, Document
from energyplan.faces.charts.weekchart import week_chart
from energyplan.telling.prices import prices_told
from energyplan.telling.told import Told

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page: the week first, the form that makes it below."""
    work = at_hand.work
    draft = _draft(work, at_hand)
    day = st.session_state.get("prices_week") or at_hand.wall.date()
    found = prices_of(draft.source, day, datetime.now(UTC).date())
    told = _told(found)
    _answer(at_hand, draft, found, told)
    _week_of(at_hand.wall.date())
    drawn = _document(found, at_hand.look)
    if told is not None and drawn is not None:
        _week(told, drawn)
    if told is not None and told.facts["tiers"].rows:
        _month_use(at_hand.work)
    _hand_over(draft, found)
    form(draft, placed(found.problems))


def _draft(work: Work, at_hand: Desk) -> TariffDraft:
    """The draft of the tariff on the desk; begun anew when another one was put there."""
    if work.draft is None or work.draft.origin != work.tariff:
        work.draft = begun(work.tariff, at_hand.plan.site.time_zone)
    return work.draft


def _answer(at_hand: Desk, draft: TariffDraft, found: Prices, told: Told | None) -> None:
    if found.problems or told is None or told.headline is None:
        at_hand.headline("These prices don't fit together yet.")
    else:
        at_hand.headline(words(told.headline, style()))
    with at_hand.head:
        if draft.origin is None:
            st.text("No tariff is on the desk; here is one price for the whole day to begin with.")
        if told is not None:
            said(*told.sentences)
            notes([one for one in told.findings if one.severity == "note"])


def _week_of(start: date) -> None:
    st.date_input("Week of", start, key="prices_week", format="YYYY-MM-DD", width=200)


@lru_cache(maxsize=32)
def _told(found: Prices) -> Told | None:
    """A tariff in words; None while it doesn't read."""
    return None if found.tariff is None or found.check is None else prices_told(found.tariff, found.check)


@lru_cache(maxsize=32)
def _document(found: Prices, look: ChartLook) -> Document | None:
    """The chart of a week, drawn once for each tariff and theme; None while there is no week."""
    told = _told(found)
    if told is None or not told.facts["week"].rows:
        return None
    heard = f"Prices of each hour of a week. {told.headline} The table below has the numbers."
    return week_chart(told, look, description=heard)


def _week(told: Told, drawn: Document) -> None:
    chart(drawn, key="week")
    holidays = dict.fromkeys((row["day"], row["holiday"]) for row in told.facts["week"] if row["holiday"])
    for day, name in holidays:
        said(Sentence("* {day}: {name}", day=DAY(day), name=WRITTEN(name)))
    with st.expander("The numbers behind the chart"):
        show_table(told.facts["days_alike"], alt="Prices of the week by day and hour, tax and add-ons included")
    for key in ("tiers", "holidays"):
        if told.facts[key].rows:
            show_table(told.facts[key], alt=told.facts[key].title)


def _month_use(work: Work) -> None:
    """Ask for what the month has used so far, on which the steps of the tariff depend."""
    supply = work.plan.supply
    st.session_state["month_kwh"] = None if supply is None else supply.month_kwh_so_far
    st.number_input(
        "Used this month so far, kWh", 0.0, None, step=10.0, key="month_kwh", on_change=_take_month_use, width=260,
        placeholder="not entered", help="As the meter or the supplier's page says; it decides which step the day is on",
    )  # fmt: skip


def _take_month_use() -> None:
    current().enter(("supply", "month_kwh_so_far"), st.session_state["month_kwh"])


def _hand_over(draft: TariffDraft, found: Prices) -> None:
    """Put the draft on the desk, save it, or drop it."""
    is_sound = not found.problems
    if draft.is_changed:
        st.markdown(":orange[**● Changed, not on the desk yet.**]" if is_sound else ":red[**▲ Mend what is marked.**]")
    with st.container(horizontal=True, gap="small"):
        st.button(
            "Use these prices", key="use_prices", type="primary", disabled=not (is_sound and draft.is_changed),
            on_click=_use, help="Every page then answers with them",
        )  # fmt: skip
        st.download_button(
            "Save the tariff", draft.toml, f"{file_stem(str(draft.table.get('name', 'tariff')))}.toml",
            "application/toml", key="save_tariff", on_click="ignore", disabled=not is_sound,
            help="A file for this app and for the command line",
        )  # fmt: skip
        if draft.is_changed and draft.origin is not None:
            st.button("Back to the tariff on the desk", key="drop_prices", on_click=_drop)
    if not draft.is_changed and draft.origin is not None and not draft.origin.is_packaged:
        quiet("These prices are on the desk of this visit only; save the tariff to keep them.")
    if draft.named_series:
        quiet(f"The tariff names {', '.join(name for name, _ in draft.named_series)}; keep that file beside it.")
    messages(placed(found.problems).get("", ()))


def _use() -> None:
    work = current()
    if work.draft is not None:
        work.use_tariff(work.draft.source)


def _drop() -> None:
    current().draft = None
