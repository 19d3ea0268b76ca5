"""Another size, two on one day, warm water kept: each simulated, side by side."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.batchchoices import BatchQuestion
from energyplan.advice.heat_recovery import KeptWater
from energyplan.app.answers import batches_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import problems, said, show_table
from energyplan.base.errors import EnergyPlanError
from energyplan.base.units import DURATION, TEMPERATURE, VOLUME, Kind, read_quantity
from energyplan.telling.batches import batches_told

__all__ = ["more_beer"]


def more_beer(at_hand: Desk, answer: Answer) -> None:
    """Show the ways to more wort, once they are asked for."""
    with st.expander("A bigger batch, or two on one day"):
        if not st.toggle("Work it out", key="batches_go"):
            return
        try:
            question = _question()
            with st.spinner("Simulating the other ways", show_time=True):
                found = batches_of(at_hand.plan, at_hand.tariff, answer.start, question)
        except EnergyPlanError as error:
            problems(error, what="That can't be worked out")
            return
        told = batches_told(found)
        show_table(told.table("ways"), alt="Energy, cost, time and volume of each way to brew")
        said(*(finding.said for finding in told.findings), *told.sentences, *told.cautions)


def _question() -> BatchQuestion:
    end, between, kept, warm = st.columns(4)
    end_l = _read(end.text_input("Wort after the boil", key="batches_end", placeholder="the most that fits"), VOLUME)
    between_s = _read(between.text_input("Between two batches", "30 min", key="batches_between"), DURATION)
    kept_l = _read(kept.text_input("Chiller water kept", key="batches_kept", placeholder="none"), VOLUME)
    kept_c = _read(warm.text_input("Its temperature", "55 degC", key="batches_warm"), TEMPERATURE)
    water = None if kept_l is None or kept_c is None else KeptWater(volume_l=kept_l, temperature_c=kept_c)
    return BatchQuestion(end_l=end_l, between_s=between_s or 0.0, kept=water)


def _read(text: str, kind: Kind) -> float | None:
    """A quantity with its unit, or None where nothing is entered."""
    return read_quantity(text, kind) if text.strip() else None
