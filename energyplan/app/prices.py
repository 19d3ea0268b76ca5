"""Prices: what a kWh costs and when, from the bands of a tariff or from a list, changed in place."""

from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.app.answers import Prices, prices_of
from energyplan.app.desk import Desk
from energyplan.app.header import file_stem
from energyplan.app.pieces import chart, quiet
from energyplan.app.plaintext import plain
from energyplan.app.priceform import form, messages
from energyplan.app.pricewords import prices_headline, prices_left
from energyplan.app.state import Work, current
from energyplan.app.tariffdraft import TariffDraft, begun, placed
from energyplan.faces.charts.chartparts import Document
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.charts.weekchart import week_chart, week_prices, week_table
from energyplan.report.tables import heading
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import TariffCheck

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page: the week first, the form that makes it below."""
    work = at_hand.work
    draft = _draft(work, at_hand)
    day = st.session_state.get("prices_week") or at_hand.wall.date()
    found = prices_of(draft.source, day, datetime.now(UTC).date())
    _answer(at_hand, draft, found)
    _week_of(at_hand.wall.date())
    drawn = _document(found, at_hand.look)
    if found.check is not None and found.tariff is not None and drawn is not None:
        _week(found.tariff, found.check, drawn)
    _hand_over(draft, found)
    form(draft, placed(found.problems))


def _draft(work: Work, at_hand: Desk) -> TariffDraft:
    """The draft of the tariff on the desk; begun anew when another one was put there."""
    if work.draft is None or work.draft.origin != work.tariff:
        work.draft = begun(work.tariff, at_hand.plan.site.time_zone)
    return work.draft


def _answer(at_hand: Desk, draft: TariffDraft, found: Prices) -> None:
    week = found.check.week if found.check else ()
    span = week_prices(week, found.tariff) if found.tariff else None
    if found.problems or found.tariff is None:
        at_hand.headline("These prices don't fit together yet.")
    elif span is None:
        at_hand.headline("There is no price in this week.")
    else:
        at_hand.headline(prices_headline(span, found.tariff))
    with at_hand.head:
        if draft.origin is None:
            st.text("No tariff is on the desk; here is one price for the whole day to begin with.")
        if span is not None and span.without_min:
            st.text(prices_left(span))
        for warning in found.check.warnings if found.check else ():
            st.markdown(f":orange[**● Note**] {plain(warning[:1].upper() + warning[1:])}.")


def _week_of(start: date) -> None:
    st.date_input("Week of", start, key="prices_week", format="YYYY-MM-DD", width=200)


@lru_cache(maxsize=32)
def _document(found: Prices, look: ChartLook) -> Document | None:
    """The chart of a week, drawn once for each tariff and theme; None while there is no week."""
    if found.tariff is None or found.check is None or not found.check.week:
        return None
    span = week_prices(found.check.week, found.tariff)
    told = prices_headline(span, found.tariff) if span else "None of them has a price."
    words = f"Prices of each hour of a week. {told} The table below has the numbers."
    return week_chart(found.check.week, found.tariff, look, description=words)


def _week(tariff: Tariff, check: TariffCheck, drawn: Document) -> None:
    chart(drawn, key="week")
    holidays = [f"{day.day:%a %d %b}: {day.holiday}" for day in check.week if day.holiday]
    if holidays:
        quiet(f"* {'; '.join(holidays)}")
    with st.expander("The numbers behind the chart"):
        frame = week_table(check.week, tariff)
        numbers = {name for name in frame.columns if frame[name].dtype.kind == "f"}
        config: dict[str, Any] = {
            str(name): st.column_config.NumberColumn(f"{heading(str(name))}, {tariff.currency}/kWh", format="%.4f")
            if name in numbers
            else st.column_config.TextColumn(heading(str(name)))
            for name in frame.columns
        }
        st.dataframe(
            frame, hide_index=True, column_config=config, height="content", row_height=30, placeholder="",
            alt="Prices of the week by day and hour, tax and add-ons included",
        )  # fmt: skip


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
